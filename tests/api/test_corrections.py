"""A mistake is put right by a further entry; what follows is recomputed, and what would break the ledger is refused."""
from support import new_key


def correct(api, key, body, reason="slip of the pen"):
    return api.put("correct", {"entry": key, "reason": reason, "body": body})


def run_of(api, bench, feeds, out, **more):
    """(key, body) of a recorded run."""
    key, body = new_key(), bench.run_body(feeds, out, **more)
    api.put("run", body, key=key)
    return key, body


def test_a_correction_moves_everything_downstream(api, bench):
    one, two = bench.rod(1000), bench.rod(1000)
    key, body = run_of(api, bench, [one, two], [1000, 1000], tolerance_ppm=0)
    a, b = (p["lot"] for p in body["packages"])
    below, = bench.wind([a], [1000], tolerance_ppm=0)
    assert set(api.spans("lot:" + one)) == {one, a, below}
    swapped = dict(body, lines=[{"line": "1", "feeds": [{"lot": two}, {"lot": one}]}])
    correct(api, key, swapped)
    assert set(api.spans("lot:" + one)) == {one, b}
    assert set(api.spans("lot:" + two)) == {two, a, below}
    assert api.lot(below, "/makeup?by=lot&kind=rod")["parts"][0]["lot"] == two
    thing = api.get("/api/things/run/" + body["run"])
    assert thing["entry"]["standing"] == "corrected" and thing["entry"]["corrections"][-1]["reason"] == "slip of the pen"
    # and once more, a correction of the same entry replaces the first
    correct(api, key, body)
    assert set(api.spans("lot:" + one)) == {one, a, below}


def test_a_corrected_length_moves_what_is_left_and_the_spans(api, bench):
    lot = bench.rod(2000)
    key, body = run_of(api, bench, [{"lot": lot, "from_mm": 1000, "to_mm": 2000}], [1000])
    assert api.lot(lot)["left"] == [[0, 1000]]
    wider = dict(body, lines=[{"line": "1", "feeds": [{"lot": lot, "from_mm": 500, "to_mm": 2000}]}],
                 packages=[dict(body["packages"][0], length_mm=1500)])
    correct(api, key, wider)
    assert api.lot(lot)["left"] == [[0, 500]]
    assert api.lot(body["packages"][0]["lot"])["length_mm"] == 1500


def test_a_take_after_a_corrected_one_takes_what_is_there_now(api, bench):
    """'All that is left' stays so when an earlier run is put right: nothing is used twice, nothing is left by mistake."""
    lot = bench.rod(1000)
    key, body = run_of(api, bench, [{"lot": lot, "take_mm": 300}], [300])
    rest, = bench.wind([lot], [700], tolerance_ppm=0)
    assert api.spans("lot:" + rest, "back")[lot]["certain"] == [[0, 700]]
    correct(api, key, dict(body, lines=[{"line": "1", "feeds": [{"lot": lot, "take_mm": 200}]}]))
    assert api.lot(lot)["left"] == []
    assert api.spans("lot:" + rest, "back")[lot]["certain"] == [[0, 800]]


def test_a_correction_that_would_use_a_length_twice_is_refused(api, bench):
    lot = bench.rod(1000)
    key, body = run_of(api, bench, [{"lot": lot, "from_mm": 0, "to_mm": 500}], [500])
    other, other_body = run_of(api, bench, [{"lot": lot, "from_mm": 500, "to_mm": 1000}], [500])
    wider = dict(body, lines=[{"line": "1", "feeds": [{"lot": lot, "from_mm": 0, "to_mm": 501}]}])
    problem = api.refuse("correct", {"entry": key, "reason": "r", "body": wider}, "already-consumed", status=409)
    assert other_body["run"] in problem["detail"] or body["run"] in problem["detail"]
    assert api.lot(lot)["left"] == []
    assert api.get("/api/things/run/" + body["run"])["entry"]["standing"] == "stands"


def test_a_correction_that_would_shorten_a_used_lot_is_refused(api, bench):
    key, body = run_of(api, bench, [bench.rod(1000)], [1000])
    bobbin = body["packages"][0]["lot"]
    bench.wind([{"lot": bobbin, "from_mm": 0, "to_mm": 900}], [900])
    shorter = dict(body, packages=[dict(body["packages"][0], length_mm=899)])
    api.refuse("correct", {"entry": key, "reason": "r", "body": shorter}, "out-of-range", status=422)
    correct(api, key, dict(body, packages=[dict(body["packages"][0], length_mm=900)]))


def test_a_correction_that_would_make_a_lot_its_own_ancestor_is_refused(api, bench):
    rod = bench.rod(1000)
    key, body = run_of(api, bench, [{"lot": rod, "take_mm": 500}], [500])
    first = body["packages"][0]["lot"]
    second, = bench.wind([first], [500])
    third, = bench.wind([{"lot": second, "take_mm": 100}], [100])
    for ancestor in (second, third):
        looped = dict(body, lines=[{"line": "1", "feeds": [{"lot": ancestor, "take_mm": 50}]}])
        api.refuse("correct", {"entry": key, "reason": "r", "body": looped}, "would-loop", status=409)
    assert set(api.spans("lot:" + rod)) == {rod, first, second, third}


def test_a_correction_may_name_what_was_recorded_later(api, bench):
    """Paper is logged late: the right coil may have been received, in the ledger, after the run that used it."""
    wrong = bench.rod(1000)
    key, body = run_of(api, bench, [wrong], [1000])
    right = bench.rod(1000)
    correct(api, key, dict(body, lines=[{"line": "1", "feeds": [{"lot": right}]}]))
    assert set(api.spans("lot:" + body["packages"][0]["lot"], "back")) == {body["packages"][0]["lot"], right}
    assert api.lot(wrong)["left"] == [[0, 1000]] and api.lot(right)["left"] == []


def test_depth_follows_a_correction(api, bench):
    rod = bench.rod(3000)
    key, body = run_of(api, bench, [{"lot": rod, "take_mm": 1000}], [1000])
    out, = bench.wind([body["packages"][0]["lot"]], [1000])
    deep, = bench.wind([{"lot": rod, "take_mm": 1000}], [1000])
    deeper, = bench.wind([deep], [1000])
    correct(api, key, dict(body, lines=[{"line": "1", "feeds": [{"lot": deeper}]}]))
    rows = {x["lot"]: x for x in api.trace("lot:" + rod)["lots"]}
    assert rows[out]["depth"] == rows[body["packages"][0]["lot"]]["depth"] + 1 == rows[deeper]["depth"] + 2 == 4
    assert rows[out]["possible"] == [[0, 1000]]


def test_the_inner_body_is_checked_like_any(api, bench):
    key, body = run_of(api, bench, [bench.rod(1000)], [1000])
    api.refuse("correct", {"entry": key, "reason": "r", "body": {}}, "missing", status=422)
    api.refuse("correct", {"entry": key, "reason": "r", "body": dict(body, colour=1)}, "unknown-member", "/body/body/colour", 422)
    api.refuse("correct", {"entry": key, "reason": "r", "body": dict(body, lines=[{"line": "1", "feeds": [{"lot": "NONE"}]}])},
               "unknown-lot", "/body/body/lines/0/feeds/0/lot", 422)


def test_what_others_lean_on_cannot_be_taken_back(api, bench):
    heat = new_key()
    code = bench.code("H")
    api.put("heat", {"heat": code, "supplier": "A", "grade": "B"}, key=heat)
    lot, lot_key = bench.code("RC"), new_key()
    api.put("receive", {"lot": lot, "heat": code, "diameter_um": 5500, "length_mm": 1000}, key=lot_key)
    run, body = run_of(api, bench, [lot], [1000])
    out = body["packages"][0]["lot"]
    api.put("test", {"test": bench.code("T"), "lot": out, "results": {"torsions": 1}})
    for key in (heat, lot_key, run):
        problem = api.refuse("void", {"entry": key, "reason": "r"},
                             ("unknown-heat", "unknown-lot", "already-consumed"))
        assert problem["status"] in (409, 422)
    assert api.lot(out)["state"] == "in-stock"


def test_void_gives_back_what_was_taken(api, bench):
    lot = bench.rod(1000)
    key, body = run_of(api, bench, [lot], [1000])
    out = body["packages"][0]["lot"]
    api.put("void", {"entry": key, "reason": "never happened"})
    assert api.lot(lot)["left"] == [[0, 1000]]
    api.get("/api/lots/" + out, 404)
    assert set(api.spans("lot:" + lot)) == {lot}
    api.refuse("void", {"entry": key, "reason": "twice"}, ("bad-value", "not-open", "unknown-entry"))
    bench.wind([lot])


def test_void_of_hold_release_scrap_dispatch_test(api, bench):
    lot = bench.rod(1000)
    keys = {k: new_key() for k in ("hold", "scrap", "dispatch", "test", "move", "note")}
    hd = bench.code("HD")
    api.put("hold", {"hold": hd, "reason": "r", "lots": [{"lot": lot}]}, key=keys["hold"])
    api.put("void", {"entry": keys["hold"], "reason": "wrong lot"})
    assert api.lot(lot)["state"] == "in-stock"
    api.put("scrap", {"lot": lot, "from_mm": 0, "to_mm": 10, "reason": "r"}, key=keys["scrap"])
    api.put("test", {"test": bench.code("T"), "lot": lot, "at_mm": 20, "sample_mm": 5, "results": {"torsions": 1}}, key=keys["test"])
    api.put("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [lot]}, key=keys["dispatch"])
    api.put("move", {"lots": [lot], "location": "Mars"}, key=keys["move"])
    api.put("note", {"about": "lot:" + lot, "text": "x"}, key=keys["note"])
    for k in ("dispatch", "test", "scrap", "move", "note"):
        api.put("void", {"entry": keys[k], "reason": "r"})
    answer = api.lot(lot)
    assert (answer["left"], answer["state"], answer["location"], answer["tests"], answer["notes"]) == (
        [[0, 1000]], "in-stock", None, [], [])


def test_a_run_put_right_onto_held_metal_needs_the_override(api, bench):
    one, two = bench.rod(1000), bench.rod(1000)
    key, body = run_of(api, bench, [one], [1000])
    hd = bench.code("HD")
    api.put("hold", {"hold": hd, "reason": "r", "lots": [{"lot": two}]})
    moved = dict(body, lines=[{"line": "1", "feeds": [{"lot": two}]}])
    api.refuse("correct", {"entry": key, "reason": "r", "body": moved}, "on-hold", status=409)
    correct(api, key, dict(moved, override={"reason": "it was this coil"}))
    out = api.lot(body["packages"][0]["lot"])
    assert [h["hold"] for h in out["holds"] if h["open"]] == [hd]


def test_correct_cannot_put_right_a_correction_or_change_the_kind(api, bench):
    key, body = run_of(api, bench, [bench.rod(1000)], [1000])
    first = new_key()
    api.put("correct", {"entry": key, "reason": "r", "body": body}, key=first)
    api.refuse("correct", {"entry": first, "reason": "r", "body": body}, ("bad-value", "unknown-entry"))
    api.refuse("void", {"entry": first, "reason": "r"}, ("bad-value", "unknown-entry"))


def test_a_correction_keeps_the_codes_of_unnamed_joints(api, bench):
    one, two = bench.rod(1000), bench.rod(1000)
    key, body = run_of(api, bench, [one, two], [2000])
    joint, = api.lot(body["packages"][0]["lot"], "/joints")["joints"]
    correct(api, key, dict(body, packages=[dict(body["packages"][0], length_mm=2001)]))
    again, = api.lot(body["packages"][0]["lot"], "/joints")["joints"]
    assert again["weld"] == joint["weld"]
