"""The auditor, who has only what the mill sends, and believes none of it: a pack, notes, a proof, and common tools."""
import hashlib
import json
import re
import shutil
import subprocess

import pytest
from packs import repack, unpack
from support import EXAMPLES, run_cli
from test_export import export, load

ENTRIES = [json.loads(x) for x in (EXAMPLES / "5-small-mill" / "entries.ndjson").read_text().splitlines()]
HALF = len(ENTRIES) // 2


def lines(entries):
    return "".join(json.dumps(e) + "\n" for e in entries).encode()


def note(ledger, key, to):
    done = run_cli("witness", "--ledger", ledger, "--key", key, "-o", to)
    assert done.returncode == 0, done.stderr
    return to


def sold(ledger):
    """A reel or rope with something behind it."""
    made = [p["lot"] for x in export(ledger, "all", "entries").splitlines() for p in json.loads(x)["body"].get("packages", [])
            if p.get("kind") in ("rope", "reel")]
    return "lot:" + made[-1]


class Sent:
    """What lies in the auditor's folder."""

    def __init__(self, folder):
        self.mill = folder / "mill.kw"
        self.key = folder / "key"
        self.at = folder / "auditor"
        self.at.mkdir()
        assert run_cli("witness", "--make-key", self.key).returncode == 0
        load(self.mill, lines(ENTRIES[:HALF]))
        note(self.mill, self.key, self.at / "EARLIER.txt")
        load(self.mill, lines(ENTRIES[HALF:]))
        note(self.mill, self.key, self.at / "NOTE.txt")
        done = run_cli("witness", "--check", self.at / "EARLIER.txt", self.at / "NOTE.txt", "--ledger", self.mill, "-o",
                       self.at / "PROOF.json")
        assert done.returncode == 0, done.stderr
        self.origin = sold(self.mill)
        export(self.mill, self.origin, "pack", to=self.at / "PACK.zip")
        done = run_cli("witness", "--sign", self.at / "PACK.zip", "--key", self.key, "-o", self.at / "PACK.txt")
        assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    return Sent(tmp_path_factory.mktemp("sent"))


@pytest.fixture
def pack(sent, tmp_path):
    return unpack(sent.at / "PACK.zip", tmp_path / "pack")


def script(folder, name, *words):
    """Exit status and words of a script of the pack; it never fails in a way that only a programmer reads."""
    done = subprocess.run(["python3", name, *map(str, words)], cwd=folder, capture_output=True, text=True)
    assert "Traceback" not in done.stderr, done.stderr
    return done.returncode, done.stdout + done.stderr


def verified(text, folder):
    """Whether OpenSSL finds the signature of a note good, as HOWTO.txt has it."""
    if not shutil.which("openssl"):
        pytest.skip("no openssl")
    signed, _, signature = text.rpartition(b"signature ")
    (folder / "key.der").write_bytes(bytes.fromhex("302a300506032b6570032100") +
                                     bytes.fromhex(re.search(rb"^key (\w+)$", signed, re.M).group(1).decode()))
    (folder / "signed").write_bytes(signed)
    (folder / "signature").write_bytes(bytes.fromhex(signature.decode().strip()))
    return subprocess.run(["openssl", "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", "key.der", "-rawin", "-in",
                           "signed", "-sigfile", "signature"], cwd=folder, capture_output=True).returncode == 0


# --- all is well ----------------------------------------------------------------------------------


def test_the_pages_commands_are_enough(sent, tmp_path):
    """Every command of HOWTO.txt, as it stands there, in a shell, one after the other."""
    for tool in ("unzip", "sha256sum", "openssl"):
        if not shutil.which(tool):
            pytest.skip("no %s" % tool)
    at = shutil.copytree(sent.at, tmp_path / "fresh")
    how = unpack(sent.at / "PACK.zip", tmp_path / "peek") / "HOWTO.txt"
    commands = [x.strip() for x in how.read_text().splitlines() if x.startswith(" " * 9) and not x.startswith(" " * 20)]
    assert len(commands) >= 8
    done = subprocess.run(["sh", "-e"], input="\n".join(commands), cwd=at, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    head = json.loads((at / "pack" / "head.json").read_text())
    assert "%d entries are in the ledger of size %d with the root %s" % (head["entries"], head["size"], head["root"]) in done.stdout
    assert "Signature Verified Successfully" in done.stdout
    assert "the ledger of %d entries holds the first %d as they were" % (len(ENTRIES), HALF) in done.stdout
    # and nothing of it was written into the pack, which would then have a file too many
    assert script(at / "pack", "check.py")[0] == 0


def test_a_note_of_a_pack(sent, tmp_path):
    text = (sent.at / "PACK.txt").read_bytes()
    assert text.startswith(b"kinwire file\nname PACK.zip\nsha256 %s\ntime " %
                           hashlib.sha256((sent.at / "PACK.zip").read_bytes()).hexdigest().encode())
    assert verified(text, tmp_path) and verified((sent.at / "NOTE.txt").read_bytes(), tmp_path)
    assert not verified(text.replace(b"name P", b"name Q"), tmp_path)
    for words, status in ((("--sign", sent.at / "PACK.zip"), 2), (("--sign", tmp_path / "none", "--key", sent.key), 3),
                          (("--sign", sent.at / "PACK.zip", "--key", tmp_path / "none"), 3)):
        done = run_cli("witness", *words)
        assert done.returncode == status and done.stderr, words
    (tmp_path / "a\nb").write_text("x")
    assert run_cli("witness", "--sign", tmp_path / "a\nb", "--key", sent.key).returncode == 2


def test_every_entry_that_the_report_names_is_in_the_pack(sent, pack):
    if not shutil.which("pdftotext"):
        pytest.skip("no pdftotext")
    text = subprocess.run(["pdftotext", "-layout", "report.pdf", "-"], cwd=pack, capture_output=True, text=True, check=True).stdout
    there = {json.loads(x)["seq"] for x in (pack / "entries.ndjson").read_text().splitlines()}
    named = {int(n) for n in re.findall(r"entry (\d+)", text)}
    named |= {int(n) for n in re.findall(r"^heat .*?\s(\d+)$", text, re.M)}
    assert named and named <= there, named - there
    rows = (pack / "lots.csv").read_text().splitlines()[1:]
    assert {int(r.split(",")[2]) for r in rows} <= there


# --- and what is not ------------------------------------------------------------------------------


def forged_certificates(pack, change):
    told = [json.loads(x) for x in (pack / "certificates.ndjson").read_text().splitlines()]
    told = change(told)
    (pack / "certificates.ndjson").write_text("".join(json.dumps(c) + "\n" for c in told))
    head = json.loads((pack / "head.json").read_text())
    head["certificates"] = len(told)
    (pack / "head.json").write_text(json.dumps(head) + "\n")


def test_a_certificate_that_the_list_keeps_quiet_about(tmp_path):
    ledger = load(tmp_path / "mill.kw", lines(ENTRIES))
    reel = sold(ledger)[4:]
    at = {"at": "2026-12-01T00:00:00Z"}
    load(ledger, lines([{"key": "00000000-0000-4000-8000-00000000ce01", "kind": "certify", **at,
                         "body": {"certificate": "C-1", "type": "2.2", "reels": [reel]}},
                        {"key": "00000000-0000-4000-8000-00000000ce02", "kind": "withdraw", **at,
                         "body": {"certificate": "C-1", "reason": "wrong order"}}]))
    export(ledger, "lot:" + reel, "pack", to=tmp_path / "p.zip")
    for name, change in (("left out", lambda told: []),
                         ("told to stand", lambda told: [{**c, "state": "stands", "withdrawn": None} for c in told])):
        pack = unpack(tmp_path / "p.zip", tmp_path / name)
        assert script(pack, "check.py")[0] == 0
        forged_certificates(pack, change)
        repack(pack, tmp_path / "forged.zip")
        status, said = script(pack, "check.py")
        assert status == 1 and "C-1" in said, (name, said)


@pytest.mark.parametrize("name, text", [
    ("entries.ndjson", b"no json\n"), ("entries.ndjson", b"[]\n"), ("entries.ndjson", b"\xff\n"), ("entries.ndjson", b'{"seq":"x"}\n'),
    ("proofs.ndjson", b"{}\n"), ("proofs.ndjson", b'{"seq":1,"proof":["zz"]}\n'), ("proofs.ndjson", b'{"seq":1,"proof":7}\n'),
    ("head.json", b"{}"), ("head.json", b'{"root":"00","size":-1,"entries":0}'), ("head.json", b"\xff"), ("head.json", b""),
    ("certificates.ndjson", b"7\n"), ("MANIFEST.sha256", b"x\n"), ("MANIFEST.sha256", b"\xff\n")])
def test_what_is_no_pack_is_told_in_words(pack, tmp_path, name, text):
    (pack / name).write_bytes(text)
    if name == "certificates.ndjson":
        forged_certificates_count(pack)
    if name != "MANIFEST.sha256":
        repack(pack, tmp_path / "forged.zip")
    status, said = script(pack, "check.py")
    assert status == 1 and said.strip(), said


def forged_certificates_count(pack):
    head = json.loads((pack / "head.json").read_text())
    head["certificates"] = 1
    (pack / "head.json").write_text(json.dumps(head) + "\n")


def test_a_report_of_something_else_is_told_by_the_note_alone(sent, pack, tmp_path):
    """Sums that are made anew fit anything; that is what the page says, and why a note of the pack is sent."""
    (pack / "report.pdf").write_bytes(b"%PDF-1.5 another")
    repack(pack, tmp_path / "forged.zip")
    assert script(pack, "check.py")[0] == 0
    signed = re.search(rb"^sha256 (\w+)$", (sent.at / "PACK.txt").read_bytes(), re.M).group(1).decode()
    assert hashlib.sha256((tmp_path / "forged.zip").read_bytes()).hexdigest() != signed
    assert "report.pdf, lots.csv" in (pack / "HOWTO.txt").read_text()


class Rewritten:
    """The same mill but for one word of its first entry, with notes signed by the same key."""

    def __init__(self, sent, folder):
        first = json.loads(json.dumps(ENTRIES[0]))
        first["key"] = "00000000-0000-4000-8000-00000000aaaa"
        member = next(k for k in ("supplier", "grade", "what") if k in first["body"])
        first["body"][member] = "Another"
        self.mill = load(folder / "rewritten.kw", lines([first] + ENTRIES[1:HALF]))
        self.half = note(self.mill, sent.key, folder / "half.txt")
        load(self.mill, lines(ENTRIES[HALF:]))
        self.whole = note(self.mill, sent.key, folder / "whole.txt")
        self.proof = folder / "own.json"
        done = run_cli("witness", "--check", self.half, self.whole, "--ledger", self.mill, "-o", self.proof)
        assert done.returncode == 0, done.stderr


def test_another_ledger_and_a_rewritten_one(sent, tmp_path):
    other = Rewritten(sent, tmp_path)
    export(other.mill, sent.origin, "pack", to=tmp_path / "other.zip")
    folder = unpack(tmp_path / "other.zip", tmp_path / "other")
    assert script(folder, "check.py")[0] == 0 and script(folder, "grew.py", other.half, other.whole, other.proof)[0] == 0, "it is whole"
    status, said = script(folder, "grew.py", sent.at / "NOTE.txt", "head.json")
    assert status == 1 and "two roots" in said
    for earlier in (sent.at / "EARLIER.txt", other.half):
        for later in (sent.at / "NOTE.txt", other.whole):
            for proof in (sent.at / "PROOF.json", other.proof):
                own = (earlier == other.half, later == other.whole, proof == other.proof)
                status, said = script(folder, "grew.py", earlier, later, proof)
                assert status == (0 if len(set(own)) == 1 else 1), (own, said)
                assert "as they were" in said if status == 0 else "not shown" in said
    # nor does the mill's program write a proof that is none
    done = run_cli("witness", "--check", sent.at / "EARLIER.txt", other.whole, "--ledger", other.mill, "-o", tmp_path / "none.json")
    assert done.returncode == 1 and not (tmp_path / "none.json").exists()


def test_an_older_head_a_missing_and_a_wrong_proof(sent, pack, tmp_path):
    early, late, proof = sent.at / "EARLIER.txt", sent.at / "NOTE.txt", sent.at / "PROOF.json"
    assert script(pack, "grew.py", early, late, proof)[0] == 0
    assert script(pack, "grew.py", early, "head.json", proof)[0] == 0
    assert script(pack, "grew.py", late, "head.json")[0] == 0
    for words, expected in (((early, late), "ask the mill"), ((late, early, proof), "earlier one first"), ((early,), "EARLIER"),
                            ((early, tmp_path / "none", proof), "can't be read"), ((early, late, early), "can't be read")):
        status, said = script(pack, "grew.py", *words)
        assert status == 1 and expected in said, (words, said)
    good = json.loads(proof.read_text())
    for i in range(len(good["proof"])):
        flipped = list(good["proof"])
        flipped[i] = ("0" if flipped[i][0] != "0" else "1") + flipped[i][1:]
        for bad in (flipped, good["proof"][:i], good["proof"][:i] + good["proof"][i + 1:], good["proof"] + [good["proof"][i]]):
            (tmp_path / "bad.json").write_text(json.dumps({"proof": bad}))
            status, said = script(pack, "grew.py", early, late, tmp_path / "bad.json")
            assert status == 1 and "not shown" in said, said
    (tmp_path / "bad.json").write_text(json.dumps({"proof": []}))
    assert script(pack, "grew.py", early, late, tmp_path / "bad.json")[0] == 1


def test_heads_of_every_two_sizes(tmp_path, pack):
    """grew.py against a reader of the RFC that shares no code with it."""
    import rfc9162
    leaves = [hashlib.sha256(b"\0%d" % n).digest() for n in range(12)]

    def subproof(m, d, whole):
        if m == len(d):
            return [] if whole else [rfc9162.root(d)]
        k = 1 << (len(d) - 1).bit_length() - 1
        if m <= k:
            return subproof(m, d[:k], whole) + [rfc9162.root(d[k:])]
        return subproof(m - k, d[k:], False) + [rfc9162.root(d[:k])]

    space = {}
    exec(compile((pack / "grew.py").read_text(), "grew.py", "exec"), {"__name__": "grew", **space}, space)
    grew = space["grew"]
    grew.__globals__.update(space)
    for n in range(2, 13):
        for m in range(1, n):
            proof = subproof(m, leaves[:n], True)
            first, second = rfc9162.root(leaves[:m]), rfc9162.root(leaves[:n])
            assert grew(m, first, n, second, proof), (m, n)
            assert not grew(m, second, n, second, proof) and not grew(m, first, n, first, proof), (m, n)
