"""Drills and samples: a choice that anyone can draw again, and figures that add up."""
import hashlib
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
import rfc9162

from support import Bench, new_key, run_cli, serving

DEMO = Path(os.environ.get("KINWIRE_DEMO", Path(__file__).resolve().parent.parent.parent / "demo-data" / "mill.ndjson"))


def draws(leaves, kind, size, root, text):
    """The rule as schema/entry.schema.json states it, over the entries as hashed."""
    entries = [json.loads(x) for x in leaves[:size]]
    candidates = [e for e in entries if e["kind"] == kind]
    k = 0
    while True:
        digest = hashlib.sha256(b"\n".join([root.encode(), text.encode(), b"%d" % k])).digest()
        yield k, candidates[int.from_bytes(digest, "big") % len(candidates)], len(candidates)
        k += 1


def taken_back(leaves):
    keys = {json.loads(x)["body"]["entry"] for x in leaves if json.loads(x)["kind"] == "void"}
    return keys


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    ledger = tmp_path_factory.mktemp("demo") / "mill.kw"
    assert run_cli("load", "--ledger", ledger, DEMO).returncode == 0
    with serving(ledger) as s:
        yield s.api


@pytest.mark.parametrize("text", ["rain on Tuesday", "Señor Ñ, 17", "x"])
def test_a_lot_is_drawn_by_the_seed_alone(mill, text):
    head = mill.get("/api/ledger/head")
    receipt = mill.put("drill", {"seed": {"size": head["size"], "text": text}, "note": "with the auditor",
                                 "found": {"lots": 1}, "chosen": {"lot": "RC-0001"}})
    chosen, found = receipt["body"]["chosen"], receipt["body"]["found"]
    assert chosen["seed_root"] == head["root"]
    leaves = mill.leaves()
    void = taken_back(leaves)
    for k, entry, of in draws(leaves, "receive", head["size"], head["root"], text):
        if entry["key"] not in void:
            break
    assert (chosen["draw"], chosen["entry"], chosen["of"], chosen["lot"]) == (k, entry["seq"], of, entry["body"]["lot"])
    assert found["size"] == receipt["seq"] - 1 and found["took_us"] > 0


def test_what_a_drill_finds_is_what_a_trace_finds(mill):
    head = mill.get("/api/ledger/head")
    body = mill.put("drill", {"seed": {"size": head["size"], "text": "what is found"}})["body"]
    found, trace = body["found"], mill.trace("lot:" + body["chosen"]["lot"])
    assert (found["lots"], found["certain"] + found["possible"]) == (len(trace["lots"]), found["lots"])
    assert found["certain"] == sum(t["certain"] for t in trace["totals"])
    assert found["left_mm"] == sum(x["affected_left_mm"] for x in trace["lots"])
    assert found["consignments"] == len(trace["containment"]["consignments"])
    assert found["consignees"] == sorted({c["consignee"] for c in trace["containment"]["consignments"]})
    unplaced = sorted(x["lot"] for x in trace["lots"] if x["affected_left_mm"] and x["location"] is None)
    assert found["unplaced"] == unplaced[:100] and found["unplaced_lots"] == len(unplaced)
    for unit in ("mm", "g"):
        assert found["made_" + unit] == sum(found[x + unit] for x in ("left_", "sent_", "lost_"))
        assert found["found_" + unit] <= found["made_" + unit]
    assert found["made_mm"] - found["found_mm"] == sum(
        x["affected_left_mm"] for x in trace["lots"] if x["location"] is None)


def test_a_small_recall_worked_out_by_hand(fresh):
    """1 km of rod, 100 g a metre: 200 m scrapped, a 1 m sample, 300 m wound and sent, the rest left in no place."""
    bench = Bench(fresh)
    lot = bench.rod(1_000_000, mass_g=100_000)
    fresh.put("scrap", {"lot": lot, "from_mm": 0, "to_mm": 200_000, "reason": "kink"})
    fresh.put("test", {"test": "T-1", "lot": lot, "at_mm": 999_000, "sample_mm": 1000, "results": {"torsions": 9}})
    out, = bench.wind([{"lot": lot, "from_mm": 200_000, "to_mm": 500_000}],
                      [{"lot": "BB-1", "kind": "bobbin", "length_mm": 300_000, "mass_g": 30_000}])
    fresh.put("dispatch", {"consignment": "DN-1", "consignee": "Deep Mine", "lots": [out]})
    found = fresh.put("drill", {"lot": lot})["body"]["found"]
    assert {k: found[k] for k in found if k not in ("size", "root", "took_us")} == {
        "lots": 2, "certain": 2, "possible": 0, "unweighed": 0,
        "left_mm": 499_000, "left_g": 49_900, "sent_mm": 300_000, "sent_g": 30_000, "lost_mm": 201_000, "lost_g": 20_100,
        "made_mm": 1_000_000, "made_g": 100_000, "found_mm": 501_000, "found_g": 50_100,
        "unplaced_lots": 1, "unplaced": [lot], "consignments": 1, "consignees": ["Deep Mine"]}
    fresh.put("move", {"lots": [lot], "location": "BAY 1"})
    found = fresh.put("drill", {"lot": lot})["body"]["found"]
    assert (found["found_g"], found["unplaced"]) == (100_000, [])


def test_a_drill_is_refused_where_there_is_nothing_to_draw(fresh):
    fresh.put("heat", {"heat": "H-1", "supplier": "Northmark Steel", "grade": "C82D"})
    fresh.refuse("drill", {"seed": {"size": 1, "text": "x"}}, "out-of-range", "/body/seed/size")
    fresh.refuse("drill", {"seed": {"size": 2, "text": "x"}}, "out-of-range", "/body/seed/size")
    fresh.refuse("drill", {"lot": "NONE"}, "unknown-lot", "/body/lot")
    fresh.refuse("sample", {"n": 1, "seed": {"size": 1, "text": "x"}}, "out-of-range", "/body/n")
    key = new_key()
    fresh.put("receive", {"lot": "RC-1", "heat": "H-1", "diameter_um": 5500, "length_mm": 1000}, key=key)
    fresh.put("void", {"entry": key, "reason": "logged twice"})
    fresh.refuse("drill", {"seed": {"size": 2, "text": "x"}}, "out-of-range", "/body/seed/size")
    fresh.put("receive", {"lot": "RC-2", "heat": "H-1", "diameter_um": 5500, "length_mm": 1000})
    assert fresh.put("drill", {"seed": {"size": 4, "text": "x"}})["body"]["chosen"]["lot"] == "RC-2"


def test_the_same_key_again_is_the_same_drill(fresh):
    bench = Bench(fresh)
    lot, key = bench.rod(1000), new_key()
    first = fresh.put("drill", {"lot": lot}, key=key)
    again = fresh.send({"key": key, "kind": "drill", "body": {"lot": lot, "found": {"lots": 99}}})
    assert again.status_code == 200 and again.json()["body"] == first["body"]


def test_certificates_are_drawn_by_the_seed_and_walked_back(mill):
    head = mill.get("/api/ledger/head")
    text = "five of them"
    body = mill.put("sample", {"n": 5, "seed": {"size": head["size"], "text": text}})["body"]
    leaves = mill.leaves()
    void, expected = taken_back(leaves), []
    for k, entry, of in draws(leaves, "certify", head["size"], head["root"], text):
        if entry["key"] not in void and entry["seq"] not in [e for _, e, _ in expected]:
            expected.append((k, entry["seq"], entry["body"]["certificate"]))
        if len(expected) == 5:
            break
    found = body["found"]["certificates"]
    assert body["chosen"]["of"] == of
    assert [(c["draw"], c["entry"], c["certificate"]) for c in found] == expected
    for c in found:
        assert c["proof"] == {"good": True}
        heats = set()
        for reel in json.loads(leaves[c["entry"] - 1])["body"]["reels"]:
            heats |= set(mill.trace("lot:" + reel, "back")["heats"])
        assert c["heats"] == len(heats) and c["reels"] >= 1


def test_a_walk_back_says_what_is_wrong(fresh):
    bench = Bench(fresh)
    reel, = bench.wind([bench.rod(1000)], [1000], kind="reel")
    fresh.put("certify", {"certificate": "C-1", "type": "3.1", "reels": [reel]})
    size = fresh.get("/api/ledger/head")["size"]

    def walk():
        one, = fresh.put("sample", {"n": 1, "seed": {"size": size, "text": "x"}})["body"]["found"]["certificates"]
        return {k: one[k] for k in ("chain", "passed", "free", "standing", "proof")}

    good = {"good": True}
    assert walk() == {"chain": good, "passed": {"good": False}, "free": good, "standing": good, "proof": good}
    fresh.put("test", {"test": "T-1", "lot": reel, "results": {"torsions": 3}, "verdict": "pass"})
    assert walk()["passed"] == good
    fresh.put("test", {"test": "T-2", "lot": reel, "results": {"torsions": 1}, "verdict": "fail"})
    assert walk()["passed"] == {"good": False, "see": "T-2"}
    fresh.put("hold", {"hold": "HO-1", "reason": "r", "lots": [reel]})
    assert walk()["free"] == {"good": False, "see": "HO-1"}
    fresh.put("withdraw", {"certificate": "C-1", "reason": "r"})
    assert walk()["standing"] == {"good": False}
    assert walk()["chain"] == good


def test_of_few_certificates_each_that_stands_is_drawn_once(fresh):
    bench = Bench(fresh)
    reels = bench.wind([bench.rod(1000)], [250] * 4, kind="reel")
    keys = [new_key() for _ in reels]
    for i, reel in enumerate(reels):
        fresh.put("certify", {"certificate": "C-%d" % i, "type": "2.2", "reels": [reel]}, key=keys[i])
    fresh.put("void", {"entry": keys[1], "reason": "typed twice"})
    seed = {"size": fresh.get("/api/ledger/head")["size"], "text": "x"}
    drawn = fresh.put("sample", {"n": 3, "seed": seed})["body"]["found"]["certificates"]
    assert sorted(one["certificate"] for one in drawn) == ["C-0", "C-2", "C-3"]
    refused = fresh.refuse("sample", {"n": 4, "seed": seed}, "out-of-range", "/body/n")
    assert (refused["values"]["of"], refused["values"]["drawn"]) == (4, 3)


# --- on paper -------------------------------------------------------------------------------------


def page_of(pdf, folder):
    """Words of a PDF with single blanks between them, and how many pages it has."""
    for tool in ("pdftotext", "pdfinfo", "qpdf"):
        if not shutil.which(tool):
            pytest.skip("no %s" % tool)
    path = folder / "trial.pdf"
    path.write_bytes(pdf)
    assert subprocess.run(["qpdf", "--check", str(path)], capture_output=True).returncode == 0
    pages = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True).stdout
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True).stdout
    return re.sub(r"\s+", " ", text), int(re.search(r"Pages:\s+(\d+)", pages).group(1))


@pytest.mark.parametrize("kind, body", [("drill", {"seed": {"size": 4000, "text": "'quoted' & Ñ"}, "note": "A visit."}),
                                        ("sample", {"n": 3, "seed": {"size": 4000, "text": "clouds"}})])
def test_a_page_of_a_trial_is_its_entry(mill, tmp_path, kind, body):
    receipt = mill.put(kind, body)
    seq, said = receipt["seq"], receipt["body"]
    pdf = mill.request("GET", "/api/trials/%d.pdf" % seq)
    assert pdf.status_code == 200 and pdf.headers["Content-Type"] == "application/pdf"
    text, pages = page_of(pdf.content, tmp_path)
    assert pages == 1
    leaf = mill.leaves()[seq - 1].encode()
    hashes = re.findall(r"\b[0-9a-f]{64}\b", text)
    at = hashes.index(hashlib.sha256(b"\0" + leaf).hexdigest())
    assert hashes[at + 1] == receipt["head"]
    proof = [bytes.fromhex(h) for h in hashes[at + 2:]]
    assert rfc9162.included(rfc9162.leaf_hash(leaf), seq - 1, seq, proof, bytes.fromhex(receipt["head"]))
    drawn = [said["chosen"]] if kind == "drill" else said["found"]["certificates"]
    for one in drawn:
        digest = hashlib.sha256("\n".join([said["chosen"]["seed_root"], body["seed"]["text"], str(one["draw"])]).encode()).hexdigest()
        assert digest in hashes and "modulo %d is %d," % (said["chosen"]["of"], int(digest, 16) % said["chosen"]["of"]) in text
        assert "entry #%d, %s" % (one["entry"], "lot " + one["lot"] if kind == "drill" else "certificate " + one["certificate"]) in text
    if kind == "drill":
        found = said["found"]
        assert "%d.%03d kg of %d.%03d kg" % (*divmod(found["found_g"], 1000), *divmod(found["made_g"], 1000)) in text
        assert all(name in text for name in found["consignees"] + found["unplaced"][:40] + ["A visit."])
    # nothing that comes later changes it
    mill.put("note", {"about": "lot:RC-0001", "text": "later"})
    assert mill.request("GET", "/api/trials/%d.pdf" % seq).content == pdf.content


def test_a_page_of_a_trial_on_the_command_line(fresh, tmp_path):
    lot = Bench(fresh).rod(1000)
    seq = fresh.put("drill", {"lot": lot})["seq"]
    out = tmp_path / "drill.pdf"
    assert run_cli("drill", "--ledger", tmp_path / "fresh.kw", str(seq), "-o", out).returncode == 0
    assert out.read_bytes() == fresh.request("GET", "/api/trials/%d.pdf" % seq).content
    assert "named by whoever asked" in page_of(out.read_bytes(), tmp_path)[0]
    for word, status in ((str(seq - 1), 1), ("0", 1), ("999999", 1), ("x", 1), ("1" * 41, 2), ("9" * 30, 1)):
        done = run_cli("drill", "--ledger", tmp_path / "fresh.kw", word, "-o", tmp_path / "none")
        assert done.returncode == status and done.stderr.startswith("kinwire drill: "), (word, done.stderr)
    assert not (tmp_path / "none").exists()
    for part in ("%d" % seq, "%d.PDF" % seq, ".pdf", "-1.pdf", "%d.pdf" % (seq - 1), "9" * 30 + ".pdf", "1e3.pdf"):
        assert fresh.request("GET", "/api/trials/" + part).status_code == 404, part
