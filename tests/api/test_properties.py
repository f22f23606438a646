"""What must hold of any trace, whatever the mill: single millimetres, unions, ways there and back, mass."""
from fractions import Fraction
from math import floor

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from oracle import Mill, clip, total, unite
from random_mill import RandomMill
from support import serving

SEEDS = [5, 6, 7]
HALF = Fraction(1, 2)


@pytest.fixture(scope="module", params=SEEDS, ids=lambda s: "seed %d" % s)
def case(request, tmp_path_factory):
    made = RandomMill(request.param)
    with serving(tmp_path_factory.mktemp("properties") / "mill.kw") as s:
        s.api.load(made.entries)
        yield s.api, Mill(made.entries)


KEPT = settings(max_examples=25, deadline=None, derandomize=True, database=None,
                suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


def draw_lot(data, mill):
    return data.draw(st.sampled_from(sorted(mill.lots)))


def draw_part(data, mill, lot):
    a = data.draw(st.integers(0, mill.lots[lot].length - 1))
    return a, data.draw(st.integers(a + 1, mill.lots[lot].length))


def covers(spans, a, b):
    return any(x <= a and b <= y for x, y in spans)


@KEPT
@given(data=st.data())
def test_a_millimetre_comes_out_where_its_nominal_place_is(case, data):
    api, mill = case
    lot = draw_lot(data, mill)
    at = data.draw(st.integers(0, mill.lots[lot].length - 1))
    got = api.spans("lot:" + lot, from_mm=at, to_mm=at + 1)
    for code, place in mill.image(lot, at + HALF):
        assert code in got, (lot, at, code, place)
        assert any(a <= place <= b for a, b in got[code]["possible"]), (lot, at, code, place)


@KEPT
@given(data=st.data())
def test_a_millimetre_came_from_where_its_nominal_place_is(case, data):
    """From the nominal place of a millimetre, in anything made of it, the way back reaches that millimetre."""
    api, mill = case
    lot = draw_lot(data, mill)
    at = data.draw(st.integers(0, mill.lots[lot].length - 1))
    for code, place in mill.image(lot, at + HALF)[:12]:
        a = min(floor(place), mill.lots[code].length - 1)
        back = api.spans("lot:" + code, "back", from_mm=a, to_mm=a + 1)
        assert lot in back, (lot, at, code, place)
        assert any(x <= at + HALF <= y for x, y in back[lot]["possible"]), (lot, at, code, place)


@KEPT
@given(data=st.data())
def test_certain_lies_within_possible_and_both_on_the_lot(case, data):
    api, mill = case
    lot = draw_lot(data, mill)
    a, b = draw_part(data, mill, lot)
    direction = data.draw(st.sampled_from(["forward", "back", "kin"]))
    for row in api.trace("lot:" + lot, direction, from_mm=a, to_mm=b)["lots"]:
        for spans in (row["certain"], row["possible"]):
            assert spans == [list(x) for x in unite(map(tuple, spans))], "not in order"
            assert all(0 <= x <= y <= row["length_mm"] for x, y in spans)
        assert all(covers(row["possible"], x, y) for x, y in row["certain"])
        assert row["verdict"] == ("certain" if row["certain"] else "possible")
        assert row["possible"]
        assert row["affected_mm"] == total(row["possible"])
        left = [x for a, b in row["left"] for x in clip(map(tuple, row["possible"]), a, b)]
        assert row["affected_left_mm"] == total(left)


@KEPT
@given(data=st.data())
def test_the_trace_of_a_union_holds_the_union_of_the_traces(case, data):
    """Overlapping parts: possible the same to the millimetre, certain no smaller (parts that meet leave no doubtful gap)."""
    api, mill = case
    lot = draw_lot(data, mill)
    length = mill.lots[lot].length
    if length < 10:
        return
    a, d = draw_part(data, mill, lot)
    b = data.draw(st.integers(a, d - 1))
    c = data.draw(st.integers(b + 1, d))
    direction = data.draw(st.sampled_from(["forward", "back"]))
    whole = api.spans("lot:" + lot, direction, from_mm=a, to_mm=d)
    one = api.spans("lot:" + lot, direction, from_mm=a, to_mm=c)
    two = api.spans("lot:" + lot, direction, from_mm=b, to_mm=d)
    assert set(whole) == set(one) | set(two)
    for code, spans in whole.items():
        parts = [p[code] for p in (one, two) if code in p]
        assert spans["possible"] == [list(x) for x in unite(tuple(s) for p in parts for s in p["possible"])], code
        for s in (s for p in parts for s in p["certain"]):
            assert covers(spans["certain"], *s), code


@KEPT
@given(data=st.data())
def test_there_and_back(case, data):
    """What is certain in a product goes back, at least possibly, to the part that it came from."""
    api, mill = case
    lot = draw_lot(data, mill)
    a, b = draw_part(data, mill, lot)
    forward = api.spans("lot:" + lot, from_mm=a, to_mm=b)
    certain = [c for c in sorted(forward) if forward[c]["certain"] and c != lot][:6]
    for code in certain:
        x, y = forward[code]["certain"][0]
        back = api.spans("lot:" + code, "back", from_mm=x, to_mm=y)
        assert any(p < b and a < q for p, q in back[lot]["possible"]), (lot, code)


def test_makeup_covers_every_lot(case):
    api, mill = case
    for code, lot in mill.lots.items():
        parts = api.lot(code, "/makeup?by=heat")["parts"]
        possible = unite(tuple(s) for p in parts for s in p["possible"])
        assert possible == [(0, lot.length)], code
        for one in parts:
            assert all(covers(one["possible"], *s) for s in one["certain"])


def test_certain_heats_of_one_wire_do_not_overlap(case):
    """Where a lot is one wire all the way, two heats cannot both be certain of the same millimetre."""
    api, mill = case
    for code, lot in mill.lots.items():
        if lot.kind not in ("coil", "bobbin"):
            continue
        parts = api.lot(code, "/makeup?by=heat")["parts"]
        spans = sorted(tuple(s) for p in parts for s in p["certain"])
        assert all(a[1] <= b[0] for a, b in zip(spans, spans[1:])), code


def test_no_mass_appears(case):
    """Among the finished lots of a stage that a coil reaches for certain there is not more metal than in the coil."""
    api, mill = case
    for code in sorted(c for c, x in mill.lots.items() if x.heat):
        answer = api.trace("lot:" + code)
        coil = answer["lots"][0]
        assert coil["lot"] == code and coil["affected_g"] == coil["mass_g"]
        for depth in {x["depth"] for x in answer["lots"]} - {0}:
            # drawn, patented or wound: each is made of one wire, and a part of it is certain
            rows = [x for x in answer["lots"] if x["depth"] == depth and x["kind"] in ("coil", "bobbin")]
            grams = sum(x["mass_g"] * total(map(tuple, x["certain"])) // x["length_mm"] for x in rows if x["mass_g"])
            assert grams <= coil["mass_g"] * 105 // 100 + len(rows), (code, depth)


def test_totals_are_the_rows_added_up(case):
    api, mill = case
    for heat in mill.heats:
        answer = api.trace("heat:" + heat)
        for t in answer["totals"]:
            rows = [x for x in answer["lots"] if x["kind"] == t["kind"]]
            assert t["lots"] == len(rows)
            assert t["certain"] == sum(x["verdict"] == "certain" for x in rows)
            assert t["possible"] == sum(x["verdict"] == "possible" for x in rows)
            assert t["affected_mm"] == sum(x["affected_mm"] for x in rows)
        assert {t["kind"] for t in answer["totals"]} == {x["kind"] for x in answer["lots"]}
        assert sorted(answer["containment"]["lots"]) == sorted(x["lot"] for x in answer["lots"] if x["left_mm"])
        reels = sorted(r for c in answer["containment"]["consignments"] for r in c["reels"])
        assert reels == sorted(x["lot"] for x in answer["lots"] if x["consignment"])


def test_the_random_generator_is_the_same_for_a_seed():
    assert RandomMill(3).entries == RandomMill(3).entries
