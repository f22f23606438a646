"""What `meson install` puts on a machine: the program, its units and their score, the man page and that it says all options."""
import os
import re
import shutil
import socket
import subprocess
import time
from pathlib import Path

import pytest

from support import KINWIRE, PATIENCE, run_cli

BUILD = Path(KINWIRE).resolve().parents[2]
INSTALL = BUILD / "server" / "install"
WORST = 15  # tenths of what `systemd-analyze security` counts

pytestmark = pytest.mark.skipif(not (BUILD / "build.ninja").exists(), reason="the program is not in the folder it was built in")


def tool(name):
    if not shutil.which(name):
        pytest.skip("no " + name + " here")
    return name


def commands():
    return re.findall(r"^kinwire (\S+) ", run_cli("--help").stdout.split("usage:\n", 1)[1], re.M)


@pytest.mark.parametrize("unit", ["kinwire.service", "kinwire-backup.service"])
def test_the_units_are_hardened(unit):
    done = subprocess.run([tool("systemd-analyze"), "security", "--offline=yes", "--no-pager", "--threshold=%d" % WORST, str(INSTALL / unit)],
                          capture_output=True, text=True)
    score = re.search(r"Overall exposure level for \S+: ([\d.]+)", done.stdout)
    assert score, done.stdout + done.stderr
    assert "Unknown" not in done.stderr and "ignoring" not in done.stderr, done.stderr
    print("\n%s: %s" % (unit, score[1]))
    assert done.returncode == 0 and float(score[1]) <= WORST / 10, done.stdout


def test_what_the_unit_gives_is_what_serve_takes():
    text = (INSTALL / "kinwire.service").read_text()
    assert re.search(r"^ExecStart=/\S+/kinwire serve --ledger /var/lib/kinwire/mill.kw \$KINWIRE_OPTIONS$", text, re.M)
    named = set(re.findall(r"(--[a-z-]+)", text))
    known = set(re.findall(r"(--[a-z-]+)", run_cli("serve", "--help").stdout))
    assert named <= known, named - known


@pytest.mark.parametrize("unit", ["kinwire.service", "kinwire-backup.service"])
def test_the_units_run_what_is_on_every_machine(unit):
    """Besides kinwire that is the shell alone: a bare Debian has no /bin/kill."""
    programs = re.findall(r"^Exec\w+=[-+!@:]*(\S+)", (INSTALL / unit).read_text(), re.M)
    assert programs and all(p == "/bin/sh" or p.endswith("/bin/kinwire") for p in programs), programs


def page():
    if not (INSTALL / "kinwire.1").exists():
        pytest.skip("the man page was not built")
    return INSTALL / "kinwire.1"


def test_the_man_page_is_well_formed():
    done = subprocess.run([tool("man"), "--warnings", "-E", "UTF-8", "-l", "-Tutf8", "-Z", str(page())], capture_output=True, text=True)
    assert done.returncode == 0 and done.stderr == "", done.stderr


def test_the_man_page_says_all_options():
    text = page().read_text().replace("\\-", "-")
    for name in commands():
        shown = text.split(".SS kinwire %s\n" % name, 1)
        assert len(shown) == 2, name
        part = shown[1].split("\n.SS ")[0].split("\n.SH ")[0]
        options = set(re.findall(r"(?<![\w-])(--[a-z][a-z-]*)", run_cli(name, "--help").stdout))
        missing = {o for o in options if o not in part}
        assert not missing, (name, missing)


def test_the_man_page_says_which_figures_are_worth_an_alarm(fresh):
    there = set(re.findall(r"^# TYPE (\S+) ", fresh.get("/metrics").text, re.M)) | {"kinwire_certificate_seconds_left"}
    said = set(re.findall(r"\bkinwire_\w+", page().read_text()))
    assert said and said <= there, said - there


def test_installed_whole(tmp_path):
    subprocess.run([tool("meson"), "install", "-C", str(BUILD), "--no-rebuild", "--quiet"], check=True, capture_output=True,
                   env=dict(os.environ, DESTDIR=str(tmp_path)))
    names = {p.name: p for p in tmp_path.rglob("*") if p.is_file()}
    for name in ("kinwire", "kinwire.1", "kinwire.service", "kinwire-backup.service", "kinwire-backup.timer"):
        assert any(n.startswith(name) for n in names), name
    assert sum(p.name == "kinwire.conf" for p in tmp_path.rglob("*")) == 2, "sysusers and tmpfiles"
    done = subprocess.run([str(names["kinwire"]), "--version"], capture_output=True, text=True)
    assert done.returncode == 0 and done.stdout.startswith("kinwire ")
    program = re.search(r"^ExecStart=(\S+)", names["kinwire.service"].read_text(), re.M)[1]
    assert (tmp_path / program.lstrip("/")).exists(), program


@pytest.mark.parametrize("abstract", [False, True])
def test_the_service_manager_is_told(tmp_path, abstract):
    name = "\0kinwire-test-%d" % os.getpid() if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as told:
        told.bind(name)
        told.settimeout(PATIENCE)
        env = dict(os.environ, NOTIFY_SOCKET=name.replace("\0", "@"), WATCHDOG_USEC="900000")
        began = time.monotonic()
        p = subprocess.Popen([KINWIRE, "serve", "--ledger", str(tmp_path / "a.kw"), "--listen", "127.0.0.1:0", "--open"],
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env)
        assert p.stdout.readline().startswith("kinwire: http://")
        said = [told.recv(200)]
        while len(said) < 5:
            said.append(told.recv(200))
        took = time.monotonic() - began
        p.terminate()
        while said[-1] != b"STOPPING=1":
            said.append(told.recv(200))
        assert p.wait(PATIENCE) == 0
        p.stdout.close()
        p.stderr.close()
    assert said[0] == b"READY=1" and set(said[1:-1]) == {b"WATCHDOG=1"}
    assert took > 0.6, "a sign of life each third of the time: four of them in %.1f s" % took
