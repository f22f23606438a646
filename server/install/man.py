"""The man page: its fixed parts, and between them what the program itself says of each of its commands."""
import re
import subprocess
import sys

program, version, fixed, to = sys.argv[1:]


def run(*args):
    return subprocess.run([program, *args], capture_output=True, text=True, check=True).stdout


def quote(text):
    text = text.replace("\\", "\\\\").replace("-", "\\-")
    return "\\&" + text if text[:1] in ".'" else text


def items(lines):
    """Options and the like: two spaces, the name, two spaces or a new line, and what it means."""
    out = []
    for line in lines:
        found = re.match(r"  (\S.*?)(?:  +(.*))?$", line)
        if found and not line.startswith("   "):
            out += [".TP", ".B " + quote(found[1])] + ([quote(found[2])] if found[2] else [])
        else:
            out.append(quote(line.strip()))
    return out


def paragraph(text):
    lines = text.split("\n")
    if lines[0].startswith("  "):
        return items(lines)
    return [".PP"] + [quote(line) for line in lines]


def command(name):
    head, usage, *rest = run(name, "--help").rstrip().split("\n\n")
    does = head.split(" - ", 1)[1]
    usage = " ".join(usage.replace("usage: ", "", 1).split())
    usage = re.sub(r" kinwire " + name + " ", "\n.br\nkinwire " + name + " ", usage)
    out = [".SS " + quote("kinwire " + name), quote(does[0].upper() + does[1:]) + ".", ".PP"]
    out += [line if line.startswith(".") else ".B " + quote(line) for line in usage.split("\n")]
    for part in rest:
        out += paragraph(part)
    return out


names = re.findall(r"^kinwire (\S+) ", run("--help").split("usage:\n", 1)[1], re.M)
date = "kinwire " + version
page = ['.TH KINWIRE 1 "" "%s" "wire rope mill"' % date, ".SH NAME", "kinwire \\- a wire rope mill's ledger, to the metre",
        ".SH SYNOPSIS"]
for name in names:
    page += [".B kinwire " + quote(name), ".RI [ option ...]", ".br"]
body = open(fixed).read().replace("@COMMANDS@", "\n".join(line for name in names for line in command(name)))
open(to, "w").write("\n".join(page) + "\n" + body)
