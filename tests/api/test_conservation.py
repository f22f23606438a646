"""No millimetre is used twice, what is left is always known, and what is on hold can't be fed, sent or certified."""
import pytest

from support import new_key

FEED0 = "/body/lines/0/feeds/0"


def left(api, lot):
    answer = api.lot(lot)
    assert answer["left_mm"] == sum(b - a for a, b in answer["left"])
    return answer["left"]


# --- consumption ----------------------------------------------------------------------------------


def test_a_second_claim_is_refused_with_the_first_ones_name(api, bench):
    lot = bench.rod(1000)
    first = bench.run_body([{"lot": lot, "from_mm": 200, "to_mm": 500}], [300])
    api.put("run", first)
    for lo, hi in ((0, 201), (499, 600), (200, 500), (300, 400), (0, 1000)):
        problem = api.refuse("run", bench.run_body([{"lot": lot, "from_mm": lo, "to_mm": hi}], [100]), "already-consumed",
                             FEED0 + "/from_mm", 409)
        assert first["run"] in problem["detail"] and lot in problem["detail"]
    bench.wind([{"lot": lot, "from_mm": 0, "to_mm": 200}], [200])
    bench.wind([{"lot": lot, "from_mm": 500, "to_mm": 1000}], [500])
    assert left(api, lot) == []
    assert api.lot(lot)["state"] == "consumed"
    api.refuse("run", bench.run_body([lot]), "already-consumed", FEED0 + "/lot", 409)
    api.refuse("run", bench.run_body([{"lot": lot, "take_mm": 1}]), "already-consumed", None, 409)


def test_two_feeds_of_one_run_cannot_share_a_length(api, bench):
    lot = bench.rod(1000)
    body = bench.run_body([{"lot": lot, "from_mm": 0, "to_mm": 600}, {"lot": lot, "from_mm": 599, "to_mm": 1000}], [1000])
    api.refuse("run", body, "already-consumed", "/body/lines/0/feeds/1/from_mm", 409)
    body = bench.run_body([], [500], process="strand", lines=[
        {"line": str(i), "feeds": [{"lot": lot, "take_mm": 501}]} for i in (1, 2)])
    api.refuse("run", body, ("already-consumed", "out-of-range"), "/body/lines/1/feeds/0/take_mm")


@pytest.mark.parametrize("off,expected", [("outer", [[0, 700]]), ("inner", [[300, 1000]]), (None, [[0, 700]])])
def test_take_is_from_the_end_it_pays_off_from(api, bench, off, expected):
    lot = bench.rod(1000)
    bench.wind([dict({"lot": lot, "take_mm": 300}, **({"off": off} if off else {}))], [300])
    assert left(api, lot) == expected


def test_without_an_interval_all_that_is_left(api, bench):
    lot = bench.rod(1000)
    bench.wind([{"lot": lot, "take_mm": 300}], [300])
    bench.wind([{"lot": lot, "take_mm": 100, "off": "inner"}], [100])
    assert left(api, lot) == [[100, 700]]
    out, = bench.wind([lot], [600])
    assert left(api, lot) == []
    assert api.spans("lot:" + out, "back")[lot]["certain"] == [[100, 700]]


def test_all_that_is_left_in_two_pieces_keeps_their_order(api, bench):
    """Paid off from the outer end, what is further out comes first; from the inner end, last."""
    for off, first in (("outer", [600, 1000]), ("inner", [0, 500])):
        lot = bench.rod(1000)
        bench.wind([{"lot": lot, "from_mm": 500, "to_mm": 600}], [100])
        out, = bench.wind([{"lot": lot, "off": off}], [900], tolerance_ppm=0)
        n = first[1] - first[0]
        assert api.spans("lot:" + out, "back", from_mm=0, to_mm=n)[lot]["certain"] == [first]


def test_samples_and_scrap_and_dispatch_take_too(api, bench):
    lot = bench.rod(1000)
    t = bench.code("T")
    api.put("test", {"test": t, "lot": lot, "at_mm": 400, "sample_mm": 50, "results": {"torsions": 20}})
    assert left(api, lot) == [[0, 400], [450, 1000]]
    problem = api.refuse("run", bench.run_body([{"lot": lot, "from_mm": 0, "to_mm": 401}]), "already-consumed",
                         FEED0 + "/from_mm", 409)
    assert t in problem["detail"]
    api.refuse("test", {"test": bench.code("T"), "lot": lot, "at_mm": 420, "sample_mm": 50, "results": {"torsions": 20}},
               "already-consumed", None, 409)
    api.put("test", {"test": bench.code("T"), "lot": lot, "at_mm": 420, "results": {"torsions": 20}})
    api.put("scrap", {"lot": lot, "from_mm": 0, "to_mm": 100, "reason": "kink"})
    api.refuse("scrap", {"lot": lot, "from_mm": 50, "to_mm": 150, "reason": "kink"}, "already-consumed", "/body/from_mm", 409)
    assert left(api, lot) == [[100, 400], [450, 1000]]
    cn = bench.code("CN")
    api.put("dispatch", {"consignment": cn, "consignee": "Deep Mine", "lots": [lot]})
    answer = api.lot(lot)
    assert (answer["left"], answer["state"]) == ([], "dispatched")
    assert answer["consignment"]["consignee"] == "Deep Mine"
    assert sorted((u["what"], u["from_mm"], u["to_mm"]) for u in answer["to"]) == [
        ("dispatch", 100, 400), ("dispatch", 450, 1000), ("sample", 400, 450), ("scrap", 0, 100)]
    problem = api.refuse("run", bench.run_body([{"lot": lot, "from_mm": 200, "to_mm": 300}]), "already-consumed")
    assert cn in problem["detail"]
    api.refuse("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [lot]}, "already-consumed",
               "/body/lots/0", 409)
    whole = bench.rod(1000)
    api.put("scrap", {"lot": whole, "reason": "rust"})
    assert api.lot(whole)["state"] == "scrapped"


def test_balance_adds_up(api, bench):
    lot = bench.rod(1_000_000, mass_g=186_500)
    api.put("test", {"test": bench.code("T"), "lot": lot, "at_mm": 999_000, "sample_mm": 1000, "results": {"torsions": 20}})
    api.put("scrap", {"lot": lot, "from_mm": 0, "to_mm": 5000, "reason": "kink"})
    out, = bench.wind([{"lot": lot, "from_mm": 5000, "to_mm": 505_000}], [500_000])
    b = api.lot(lot, "/balance")
    assert b["unaccounted_mm"] == 0 and b["left_mm"] == 494_000
    assert sum(t["length_mm"] for t in b["taken"]) + b["left_mm"] == b["length_mm"]
    assert abs(sum(t["mass_g"] for t in b["taken"]) + b["left_g"] - b["mass_g"]) <= len(b["taken"])
    made = api.lot(out, "/balance")["made_by"]
    assert made["in"] == [{"lot": lot, "length_mm": 500_000, "mass_g": 93_250}]
    assert made["in_g"] == sum(x["mass_g"] for x in made["in"])
    assert made["out_g"] == sum(x["mass_g"] for x in made["out"])
    assert made["unaccounted_g"] == made["in_g"] - made["out_g"]


# --- holds ----------------------------------------------------------------------------------------


def hold(api, bench, *lots):
    code = bench.code("HD")
    api.put("hold", {"hold": code, "reason": "seams", "lots": [x if isinstance(x, dict) else {"lot": x} for x in lots]})
    return code


def test_what_is_on_hold_cannot_be_used_sent_or_certified(api, bench):
    reel, = bench.wind([bench.rod(1000)], [1000], kind="reel")
    hd = hold(api, bench, reel)
    assert api.lot(reel)["state"] == "on-hold"
    for problem in (
            api.refuse("run", bench.run_body([reel]), "on-hold", FEED0 + "/lot", 409),
            api.refuse("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [reel]}, "on-hold",
                       "/body/lots/0", 409),
            api.refuse("certify", {"certificate": bench.code("K"), "type": "3.1", "reels": [reel]}, "on-hold",
                       "/body/reels/0", 409)):
        assert hd in problem["detail"]
    # it may still be looked into, moved and scrapped
    api.put("test", {"test": bench.code("T"), "lot": reel, "at_mm": 990, "sample_mm": 10, "results": {"torsions": 20}})
    api.put("move", {"lots": [reel], "location": "Cage"})
    api.put("release", {"hold": hd, "disposition": "release", "reason": "clean"})
    assert api.lot(reel)["state"] == "in-stock"
    api.put("certify", {"certificate": bench.code("K"), "type": "3.1", "reels": [reel]})
    api.put("dispatch", {"consignment": bench.code("CN"), "consignee": "X", "lots": [reel]})


def test_a_hold_on_a_part_bars_just_that_part(api, bench):
    lot = bench.rod(1000)
    hd = hold(api, bench, {"lot": lot, "from_mm": 400, "to_mm": 600})
    bench.wind([{"lot": lot, "from_mm": 0, "to_mm": 400}], [400])
    bench.wind([{"lot": lot, "from_mm": 600, "to_mm": 700}], [100])
    for lo, hi in ((400, 401), (599, 600), (450, 500)):
        api.refuse("run", bench.run_body([{"lot": lot, "from_mm": lo, "to_mm": hi}]), "on-hold", FEED0 + "/lot", 409)
    api.refuse("run", bench.run_body([lot]), "on-hold", FEED0 + "/lot", 409)
    bench.wind([{"lot": lot, "take_mm": 300}], [300])
    api.refuse("run", bench.run_body([{"lot": lot, "take_mm": 1}]), "on-hold")
    api.put("release", {"hold": hd, "disposition": "regrade", "reason": "part", "lots": [{"lot": lot, "from_mm": 500, "to_mm": 600}]})
    bench.wind([{"lot": lot, "take_mm": 100}], [100])
    api.refuse("run", bench.run_body([lot]), "on-hold")
    one, = [h for h in api.lot(lot)["holds"] if h["hold"] == hd]
    assert (one["open"], one["spans"], one["open_spans"]) == (True, [[400, 600]], [[400, 500]])
    assert one["released"][0]["disposition"] == "regrade" and one["released"][0]["spans"] == [[500, 600]]


def test_two_holds_each_have_to_be_released(api, bench):
    lot = bench.rod(1000)
    one, two = hold(api, bench, lot), hold(api, bench, {"lot": lot, "from_mm": 0, "to_mm": 10})
    api.put("release", {"hold": one, "disposition": "release", "reason": "r"})
    api.refuse("run", bench.run_body([lot]), "on-hold")
    api.refuse("release", {"hold": one, "disposition": "release", "reason": "again"}, "not-open", "/body/hold", 409)
    api.refuse("release", {"hold": two, "disposition": "release", "reason": "r", "lots": [{"lot": lot, "from_mm": 20, "to_mm": 30}]},
               "not-open", None, 409)
    api.put("release", {"hold": two, "disposition": "release", "reason": "r"})
    bench.wind([lot])


def test_release_as_scrap_takes_what_is_left(api, bench):
    lot = bench.rod(1000)
    bench.wind([{"lot": lot, "take_mm": 300}], [300])
    hd = hold(api, bench, {"lot": lot, "from_mm": 500, "to_mm": 1000})
    api.put("release", {"hold": hd, "disposition": "scrap", "reason": "bad"})
    assert left(api, lot) == [[0, 500]]


def test_a_late_run_on_held_metal_needs_an_override_and_puts_its_packages_on_the_hold(api, bench):
    lot = bench.rod(1000)
    hd = hold(api, bench, lot)
    body = bench.run_body([{"lot": lot, "take_mm": 500}], [250, 250])
    api.refuse("run", body, "on-hold", FEED0 + "/lot", 409)
    body["override"] = {"reason": "paper of Tuesday, logged on Thursday"}
    receipt = api.put("run", body)
    assert "on-hold" in [f["code"] for f in receipt["findings"]]
    for p in body["packages"]:
        answer = api.lot(p["lot"])
        assert answer["state"] == "on-hold"
        assert [h["hold"] for h in answer["holds"] if h["open"]] == [hd]
        api.refuse("run", bench.run_body([p["lot"]]), "on-hold")
    listed, = [h for h in api.get("/api/holds")["holds"] if h["hold"] == hd]
    assert {x["lot"] for x in listed["lots"]} == {lot, *(p["lot"] for p in body["packages"])}
    api.refuse("run", dict(bench.run_body([lot]), override={}), "missing", "/body/override/reason", 422)
    api.put("release", {"hold": hd, "disposition": "release", "reason": "r"})
    bench.wind([body["packages"][0]["lot"]])


def test_an_override_where_nothing_is_held_holds_nothing(api, bench):
    body = bench.run_body([bench.rod(1000)], [1000], override={"reason": "not needed"})
    api.put("run", body)
    assert api.lot(body["packages"][0]["lot"])["state"] == "in-stock"


# --- certificates ---------------------------------------------------------------------------------


def test_a_certificate_needs_a_chain_to_heats_and_no_failed_test(api, bench):
    supply = bench.code("S")
    api.put("supply", {"supply": supply, "what": "bought-in wire", "supplier": "A"})
    wire = bench.code("BW")
    api.put("receive", {"lot": wire, "kind": "bobbin", "supply": supply, "diameter_um": 2000, "length_mm": 1000})
    reel, = bench.wind([bench.rod(1000), wire], [2000], kind="reel")
    problem = api.refuse("certify", {"certificate": bench.code("K"), "type": "3.1", "reels": [reel]}, "not-complete",
                         "/body/reels/0", 409)
    assert wire in problem["detail"]
    good, = bench.wind([bench.rod(1000)], [1000], kind="reel")
    t = bench.code("T")
    api.put("test", {"test": t, "lot": good, "results": {"breaking_n": 1}, "verdict": "fail"})
    problem = api.refuse("certify", {"certificate": bench.code("K"), "type": "3.1", "reels": [good]}, "not-complete",
                         "/body/reels/0", 409)
    assert t in problem["detail"]
    api.put("test", {"test": bench.code("T"), "lot": good, "results": {"breaking_n": 9}, "verdict": "pass"})
    k = bench.code("K")
    api.put("certify", {"certificate": k, "type": "3.1", "reels": [good]}, key=new_key())
    api.put("withdraw", {"certificate": k, "reason": "recalled"})
    api.refuse("withdraw", {"certificate": k, "reason": "again"}, "not-open", "/body/certificate", 409)
    one, = api.lot(good)["certificates"]
    assert one["withdrawn"]["reason"] == "recalled"
