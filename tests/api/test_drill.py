"""Drills and samples: a choice that anyone can draw again, and figures that add up."""
import hashlib
import json
import os
from pathlib import Path

import pytest

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
