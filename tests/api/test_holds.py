"""Holds: the question they came of, what a release allows, and that two people release what failed or was recalled."""
FEED0 = "/body/lines/0/feeds/0/lot"


def hold(api, bench, *lots, **more):
    code = bench.code("HD")
    api.put("hold", {"hold": code, "reason": "seams", "lots": list(lots), **more})
    return code


def release(api, hold, disposition, **more):
    return api.put("release", {"hold": hold, "disposition": disposition, "reason": "decided", **more})


def run_of(bench, process, feeds, **more):
    return bench.run_body(feeds, [100], process=process, **more)


# --- the question --------------------------------------------------------------------------------


def test_a_hold_keeps_the_question_it_came_of_and_where_the_ledger_stood(api, bench):
    heat = bench.heat()
    lot = bench.rod(1000, heat)
    head = api.get("/api/ledger/head")
    asked = {"origin": "heat:" + heat, "direction": "forward", "size": head["size"], "root": head["root"]}
    code = hold(api, bench, lot, trace=asked, decides="J. Ferro")
    again = api.get("/api/ledger/head")
    for wrong, pointer, slug in (
            ({"root": again["root"]}, "/body/trace/root", "bad-value"),
            ({"size": head["size"] - 1}, "/body/trace/root", "bad-value"),
            ({"size": again["size"] + 1}, "/body/trace/size", "out-of-range"),
            ({"origin": "heat:NONE"}, "/body/trace/origin", "unknown-heat"),
            ({"origin": "lot:NONE"}, "/body/trace/origin", "unknown-lot")):
        api.refuse("hold", {"hold": bench.code("HD"), "reason": "r", "lots": [lot], "trace": {**asked, **wrong}}, slug, pointer)
    hold(api, bench, lot, trace={**asked, "origin": "machine:NOWHERE", "since": "2026-01-01T00:00:00Z"})
    # whoever releases it alone is said to have been alone: here nobody has to have signed in
    receipt = release(api, code, "release")
    assert [(f["code"], f["values"]) for f in receipt["findings"]] == [("one-person", {"as": "recalled", "test": ""})]


# --- what each disposition allows ----------------------------------------------------------------


def test_rework_goes_only_where_it_was_to_go(api, bench):
    lot = bench.rod(1000)
    code = hold(api, bench, lot)
    release(api, code, "rework", into=["draw", "patent"], lots=[{"lot": lot, "from_mm": 0, "to_mm": 600}])
    release(api, code, "release")
    assert api.lot(lot)["state"] == "in-stock"
    for process in ("wind", "strand", "cut"):
        problem = api.refuse("run", run_of(bench, process, [{"lot": lot, "from_mm": 0, "to_mm": 100}]), "to-rework", FEED0, 409)
        assert code in problem["detail"] and "draw,patent" in problem["detail"]
    api.put("run", run_of(bench, "wind", [{"lot": lot, "from_mm": 600, "to_mm": 700}]))
    api.refuse("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [lot]}, "to-rework", "/body/lots/0", 409)
    made = run_of(bench, "draw", [{"lot": lot, "from_mm": 0, "to_mm": 600}])
    api.put("run", made)
    again = made["packages"][0]["lot"]
    api.put("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [again]})


def test_rework_without_a_process_is_anything_but_cutting(api, bench):
    reel, = bench.wind([bench.rod(1000)], [1000], kind="reel")
    release(api, hold(api, bench, reel), "rework")
    api.refuse("run", run_of(bench, "cut", [reel]), "to-rework", FEED0, 409)
    api.refuse("certify", {"certificate": bench.code("K"), "type": "3.1", "reels": [reel]}, "to-rework", "/body/reels/0", 409)
    api.refuse("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [reel]}, "to-rework", "/body/lots/0", 409)
    api.put("run", run_of(bench, "wind", [reel]))


def test_rework_is_refused_as_it_is_loaded(api, bench):
    lot = bench.rod(1000)
    release(api, hold(api, bench, lot), "rework", into=["draw"])
    stranded, drawn = bench.code("R"), bench.code("R")
    api.put("open", {"run": stranded, "process": "strand", "machine": "STR-1", "lines": ["1"]})
    api.put("open", {"run": drawn, "process": "draw", "machine": "BLOCK-1", "lines": ["1"]})
    problem = api.refuse("load", {"run": stranded, "line": "1", "lot": lot}, "to-rework", "/body/lot", 409)
    assert problem["values"]["into"] == "draw" and problem["values"]["process"] == "strand"
    api.put("load", {"run": drawn, "line": "1", "lot": lot})


def test_what_was_released_for_less_can_be_decided_anew_by_a_correction(api, bench):
    lot = bench.rod(1000)
    code = hold(api, bench, lot)
    receipt = release(api, code, "rework", into=["draw"])
    key = api.get("/api/entries/%d" % receipt["seq"])["key"]
    api.refuse("run", run_of(bench, "wind", [lot]), "to-rework")
    api.put("correct", {"entry": key, "reason": "retested", "body": {"hold": code, "disposition": "release", "reason": "sound"}})
    api.put("run", run_of(bench, "wind", [lot]))


def test_a_regraded_lot_goes_on_as_its_new_grade(api, bench):
    lot = bench.rod(1000)
    release(api, hold(api, bench, {"lot": lot, "from_mm": 500, "to_mm": 1000}), "regrade", grade="C62D")
    order = bench.code("O")
    api.put("order", {"order": order, "process": "wind", "grade": "C82D"})
    findings = {}
    for name, span in (("old", (0, 100)), ("new", (900, 1000)), ("both", (450, 550))):
        body = run_of(bench, "wind", [{"lot": lot, "from_mm": span[0], "to_mm": span[1]}], order=order)
        findings[name] = [f["values"]["grade"] for f in api.put("run", body)["findings"] if f["code"] == "wrong-grade"]
    assert findings == {"old": [], "new": ["C62D"], "both": ["C62D"]}


def test_a_correction_of_the_grade_reaches_what_was_made_since(api, bench):
    lot = bench.rod(1000)
    code = hold(api, bench, lot)
    key = api.get("/api/entries/%d" % release(api, code, "regrade", grade="C62D")["seq"])["key"]
    order = bench.code("O")
    api.put("order", {"order": order, "process": "wind", "grade": "C62D"})
    out, = bench.wind([{"lot": lot, "take_mm": 100}], [100], order=order)
    assert api.lot(out)["findings"] == []
    api.put("correct", {"entry": key, "reason": "mistyped", "body": {"hold": code, "disposition": "regrade", "reason": "r", "grade": "C66D"}})
    run = api.lot(out)["from"]["run"]
    assert "wrong-grade" in [f["code"] for f in api.get("/api/things/run/%s" % run)["findings"]]


def test_a_concession_excuses_a_test_that_failed_before_it(api, bench):
    reel, = bench.wind([bench.rod(1000)], [1000], kind="reel")
    api.put("test", {"test": bench.code("T"), "lot": reel, "at_mm": 900, "results": {"torsions": 3}, "verdict": "fail"})
    certify = {"certificate": bench.code("K"), "type": "3.1", "reels": [reel]}
    api.refuse("certify", certify, "not-complete")
    code = hold(api, bench, reel)
    release(api, code, "concession", lots=[{"lot": reel, "from_mm": 0, "to_mm": 800}])
    api.refuse("certify", certify, "on-hold")
    release(api, code, "concession")
    api.put("certify", certify)
    api.put("test", {"test": bench.code("T"), "lot": reel, "at_mm": 900, "results": {"torsions": 2}, "verdict": "fail"})
    api.refuse("certify", {**certify, "certificate": bench.code("K")}, "not-complete")
