"""Holds: the question they came of, what a release allows, and that two people release what failed or was recalled."""
from people import gatehouse_in
from support import Bench, entry

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


# --- the board -----------------------------------------------------------------------------------


def test_the_board_says_what_is_barred_how_much_and_what_is_left_of_it(api, bench):
    heat = bench.heat()
    lot = bench.rod(1_000_000, heat, mass_g=186_500)
    bench.wind([{"lot": lot, "from_mm": 0, "to_mm": 250_000}], [250_000])
    code = hold(api, bench, {"lot": lot, "from_mm": 0, "to_mm": 500_000}, decides="J. Ferro", question="heat %s forward" % heat)
    h = api.get("/api/holds/" + code)
    assert (h["hold"], h["by"], h["decides"], h["open"], h["open_lots"]) == (code, "open", "J. Ferro", True, 1)
    assert (h["open_mm"], h["open_g"], h["left_mm"], h["left_g"]) == (500_000, 93_250, 250_000, 46_625)
    assert h["second"] == {"needed": True, "failed": None, "agreements": []}
    api.put("agree", {"hold": code, "disposition": "rework", "reason": "as proposed", "into": ["patent", "draw"],
                      "lots": [{"lot": lot, "from_mm": 250_000, "to_mm": 300_000}]})
    agreed, = api.get("/api/holds/" + code)["second"]["agreements"]
    assert (agreed["disposition"], agreed["into"], agreed["used"]) == ("rework", ["draw", "patent"], None)
    assert agreed["lots"] == [{"lot": lot, "from_mm": 250_000, "to_mm": 300_000}]
    release(api, code, "rework", into=["draw", "patent"], lots=[{"lot": lot, "from_mm": 250_000, "to_mm": 300_000}])
    h = api.get("/api/holds/" + code)
    assert (h["open_mm"], h["left_mm"], h["releases"][0]["into"]) == (450_000, 200_000, ["draw", "patent"])
    on_lot, = [x for x in api.lot(lot)["holds"] if x["hold"] == code]
    assert on_lot["released"][0]["into"] == ["draw", "patent"] and on_lot["released"][0]["grade"] is None
    # what was made of what it bars is found by a trace from it
    assert api.spans("hold:" + code)[lot]["certain"] == [[0, 500_000]]
    assert len(api.trace("hold:" + code)["lots"]) == 2
    api.get("/api/holds/NONE", status=404)


def test_the_board_is_paged_and_sorted_by_state(fresh):
    bench = Bench(fresh)
    codes = []
    for i in range(7):
        codes.append(hold(fresh, bench, bench.rod(1000)))
        if i % 2:
            release(fresh, codes[-1], "release")
    pages, before = [], None
    while True:
        answer = fresh.get("/api/holds", state="open", limit=3, **({"before": before} if before else {}))
        pages.append([h["hold"] for h in answer["holds"]])
        before = answer["next"]
        if not before:
            break
    assert pages == [[codes[6], codes[4], codes[2]], [codes[0]]]
    assert [h["hold"] for h in fresh.get("/api/holds", state="closed")["holds"]] == [codes[5], codes[3], codes[1]]
    assert [h["hold"] for h in fresh.get("/api/holds", limit=2)["holds"]] == [codes[6], codes[5]]
    for wrong in ({"state": "shut"}, {"limit": 0}, {"limit": 1001}, {"before": "x"}):
        fresh.get("/api/holds", status=400, **wrong)


# --- signed in: two people -----------------------------------------------------------------------


def test_two_people_release_what_failed_once_they_sign_in(tmp_path):
    for gate in gatehouse_in(tmp_path):
        anna, ben, olaf = (gate.nobody(token=gate.token(name, role), origin=False)
                           for name, role in (("ANNA", "quality"), ("BEN", "quality"), ("OLAF", "operator")))
        anna.put("heat", {"heat": "H-1", "supplier": "Northmark Steel", "grade": "C82D"})
        anna.put("receive", {"lot": "RC-1", "heat": "H-1", "diameter_um": 5500, "length_mm": 1000})
        olaf.put("test", {"test": "T-1", "lot": "RC-1", "results": {"torsions": 3}, "verdict": "fail"})
        olaf.put("hold", {"hold": "HO-1", "reason": "twists", "lots": ["RC-1"]})
        decided = {"hold": "HO-1", "disposition": "concession", "reason": "for fencing"}
        problem = anna.refuse("release", decided, "not-agreed", "/body/hold", 409)
        assert problem["values"] == {"as": "failed", "hold": "HO-1", "test": "T-1"}
        anna.put("agree", decided)
        anna.refuse("release", decided, "not-agreed", "/body/hold", 409)
        agreed = ben.put("agree", decided)["seq"]
        receipt = anna.put("release", decided)
        assert receipt["body"]["agreed"] == agreed and receipt["findings"] == []
        after = anna.get("/api/holds/HO-1")
        assert (after["open"], after["releases"][0]["by"], after["releases"][0]["agreed"]) == (False, "ANNA", agreed)
        assert [(a["by"], a["used"]) for a in after["second"]["agreements"]] == [("ANNA", None), ("BEN", receipt["seq"])]
        # nobody else's word counts; that it was offered is on the record
        for kind in ("agree", "release"):
            olaf.expect(olaf.send(entry(kind, decided)), "not-allowed", None, 403)
