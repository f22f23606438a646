"""Certificates in an evidence pack: as they were issued, how they stand at its head, and what is told of a forged one."""
import hashlib
import json
import subprocess
import zipfile

import pytest
from packs import repack, unpack
from support import KINWIRE, ROOT, new_key, run_cli

DEMO = ROOT / "demo-data" / "mill.ndjson"
AT = "2026-11-02T09:00:00Z"


def load(ledger, *entries):
    data = "".join(json.dumps({"key": new_key(), "kind": kind, "at": AT, "body": body}) + "\n" for kind, body in entries)
    done = subprocess.run([KINWIRE, "load", "--ledger", str(ledger), "-"], input=data, capture_output=True, text=True, timeout=1200)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    """IC-0080 is withdrawn; IC-0138 comes to be marked, IC-0137 to be marked and cleared; A-1 takes the place of A/1."""
    ledger = tmp_path_factory.mktemp("demo") / "mill.kw"
    assert run_cli("load", "--ledger", ledger, DEMO).returncode == 0
    load(ledger, ("hold", {"hold": "HD-X", "reason": "a letter of the customer's", "lots": [{"lot": "RL-0813"}, {"lot": "RL-0803"}]}))
    load(ledger, ("clear", {"certificate": "IC-0137", "reason": "the reel was looked at and found good"}))
    load(ledger, ("certify", {"certificate": "A/1", "type": "2.2", "reels": ["RL-0802"]}))
    load(ledger, ("withdraw", {"certificate": "A/1", "reason": "its statement named another order"}))
    load(ledger, ("certify", {"certificate": "A-1", "type": "2.2", "reels": ["RL-0802"], "replaces": "A/1"}))
    return ledger


def pack_of(mill, origin, path):
    done = run_cli("export", "--ledger", mill, origin, "--as", "pack", "-o", path)
    assert done.returncode == 0, done.stderr
    assert run_cli("verify", path).returncode == 0
    return path


def listed(folder):
    return {c["certificate"]: c for c in map(json.loads, (folder / "certificates.ndjson").read_text().splitlines())}


def script(folder):
    done = subprocess.run(["python3", "check.py"], cwd=folder, capture_output=True, text=True)
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def folder(mill, tmp_path_factory):
    at = tmp_path_factory.mktemp("packs")
    return unpack(pack_of(mill, "lot:RL-0802", at / "p.zip"), at / "p")


def test_each_is_there_as_it_was_issued_with_how_it_stands(mill, folder):
    found = listed(folder)
    assert {code: c["state"] for code, c in found.items()} == {"IC-0137": "stands", "A/1": "withdrawn", "A-1": "stands"}
    entries = {e["seq"]: e for e in map(json.loads, (folder / "entries.ndjson").read_text().splitlines())}
    for code, c in found.items():
        issued = subprocess.run([KINWIRE, "certificate", "--ledger", str(mill), code], capture_output=True)
        assert (folder / c["pdf"]).read_bytes() == issued.stdout and issued.stdout.startswith(b"%PDF")
        document = entries[c["document_entry"]]["body"]["document"]
        text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert hashlib.sha256(text.encode()).hexdigest() == c["document_sha256"]
    assert found["A/1"]["pdf"] != found["A-1"]["pdf"], "a stroke and a dash are two codes"
    # the mark of IC-0137 comes of a hold on the other reel it is of
    hold, clear = found["IC-0137"]["marks"][0], found["IC-0137"]["cleared"][0]
    assert entries[hold["entry"]]["kind"] == "hold" and entries[clear["entry"]]["kind"] == "clear"
    status, said = script(folder)
    assert status == 0, said
    assert "certificate A/1: withdrawn" in said and "certificate IC-0137: stands" in said
    assert json.loads((folder / "head.json").read_text())["certificates"] == 3


@pytest.mark.parametrize("origin, wanted", [("lot:RL-0813", ("IC-0138", "marked")), ("lot:RL-0486", ("IC-0080", "withdrawn")),
                                            ("certificate:IC-0080", ("IC-0080", "withdrawn"))])
def test_what_overtook_it_is_said_and_in_the_pack(mill, tmp_path, origin, wanted):
    folder = unpack(pack_of(mill, origin, tmp_path / "p.zip"), tmp_path / "p")
    code, state = wanted
    c = listed(folder)[code]
    assert c["state"] == state
    entries = {e["seq"]: e["kind"] for e in map(json.loads, (folder / "entries.ndjson").read_text().splitlines())}
    assert [entries[m["entry"]] for m in c["marks"]] == (["hold"] if state == "marked" else [])
    if state == "withdrawn":
        assert entries[c["withdrawn"]["entry"]] == "withdraw"
    assert "certificate %s: %s" % wanted in script(folder)[1]


def test_what_holds_none_says_so(mill, tmp_path):
    folder = unpack(pack_of(mill, "month:2026-01", tmp_path / "p.zip"), tmp_path / "p")
    assert (folder / "certificates.ndjson").read_bytes() == b""
    assert script(folder)[0] == 0


def test_a_month_has_all_of_its_own(mill, tmp_path):
    path = pack_of(mill, "month:2026-09", tmp_path / "month.zip")
    with zipfile.ZipFile(path) as z:
        rows = [json.loads(x) for x in z.read("certificates.ndjson").splitlines()]
        assert len(rows) > 20
        assert {c["pdf"] for c in rows if c["pdf"]} == {n for n in z.namelist() if n.startswith("certificate-")}


def another_sum(c):
    return {**c, "document_sha256": "00" * 32}


def another_entry(c):
    return {**c, "document_entry": c["document_entry"] - 1}


@pytest.mark.parametrize("change, said", [
    (another_sum, "IC-0137"), (another_entry, "IC-0137"), (lambda c: None, "certificates"),
    (lambda c: {**c, "pdf": "certificate-none.pdf"}, "certificate-none.pdf"), (lambda c: [], "certificate"),
    (lambda c: {**c, "pdf": None}, "certificate")])
def test_a_forged_list_is_told(mill, folder, tmp_path, change, said):
    copy = tmp_path / "copy"
    copy.mkdir()
    for x in folder.iterdir():
        (copy / x.name).write_bytes(x.read_bytes())
    rows = [change(c) if code == "IC-0137" else c for code, c in listed(folder).items()]
    (copy / "certificates.ndjson").write_text("".join(json.dumps(c) + "\n" for c in rows if c is not None))
    done = run_cli("verify", repack(copy, tmp_path / "z.zip"))
    assert done.returncode == 1 and said in done.stderr, done.stderr
    if change(listed(folder)["IC-0137"]) != []:
        status, words = script(copy)
        assert status == 1 and said in words, words


def test_a_paper_taken_out_is_told(folder, tmp_path):
    gone = listed(folder)["A-1"]["pdf"]
    copy = tmp_path / "copy"
    copy.mkdir()
    for x in folder.iterdir():
        if x.name != gone:
            (copy / x.name).write_bytes(x.read_bytes())
    done = run_cli("verify", repack(copy, tmp_path / "z.zip"))
    assert done.returncode == 1 and gone in done.stderr
    assert script(copy)[0] == 1 and gone in script(copy)[1]


def test_a_pack_of_a_time_when_it_had_none_is_still_whole(folder, tmp_path):
    copy = tmp_path / "copy"
    copy.mkdir()
    for x in folder.iterdir():
        if not x.name.startswith("certificate") or x.suffix == ".py":
            (copy / x.name).write_bytes(x.read_bytes())
    head = json.loads((copy / "head.json").read_text())
    del head["certificates"]
    head["zip"] = "that time's"
    (copy / "head.json").write_text(json.dumps(head) + "\n")
    assert run_cli("verify", repack(copy, tmp_path / "z.zip")).returncode == 0
    # such a pack has its own script; to today's, who drops the list has something to hide
    status, words = script(copy)
    assert status == 1 and "certificates.ndjson does not tell" in words
