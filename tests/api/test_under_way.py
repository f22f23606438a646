"""Runs as they happen: opened, loaded, doffed, closed. Once closed, a run is in every respect like one logged whole."""
import pytest

from oracle import Mill, as_answer, total
from random_mill import RandomMill
from support import entry, new_key, serving

SEEDS = [41, 42, 43]


def loads(run, mill):
    """(loads in order, what is given back): a lot of which a stated length was taken last on its line is loaded whole instead."""
    out, back = [], []
    lots = [f["lot"] for line in run["lines"] for f in line["feeds"]]
    for line in run["lines"]:
        for feed in line["feeds"]:
            load = dict(feed, run=run["run"], line=line["line"])
            lot = mill.lots[feed["lot"]]
            if feed is line["feeds"][-1] and "take_mm" in feed and lots.count(lot.code) == 1 and len(lot.left) == 1:
                taken = load.pop("take_mm")
                back.append({"line": line["line"], "left_mm": total(lot.left) - taken})
            out.append(load)
    return out, back


def as_it_happens(entries):
    """Each run of the mill taken apart into its steps."""
    out, mill = [], Mill([])
    for e in entries:
        run, at = e["body"], e["at"]
        if e["kind"] != "run":
            out.append(e)
        else:
            kept = ("run", "process", "machine", "started", "batch", "tolerance_ppm", "supplies")
            loaded, back = loads(run, mill)
            out.append(entry("open", dict({k: run[k] for k in kept if k in run}, lines=[x["line"] for x in run["lines"]]), at))
            out += [entry("load", load, at) for load in loaded]
            out += [entry("doff", dict(p, run=run["run"]), at) for p in run["packages"]]
            out.append(entry("close", {"run": run["run"], "ended": run["ended"], "left": back}, at))
        mill.take(e["kind"], run, at)
    return out


@pytest.fixture(scope="module", params=SEEDS, ids=lambda s: "seed %d" % s)
def case(request, tmp_path_factory):
    entries = RandomMill(request.param).entries
    with serving(tmp_path_factory.mktemp("steps") / "mill.kw") as s:
        s.api.load(as_it_happens(entries))
        yield s.api, Mill(entries)


def test_traces_are_those_of_runs_logged_whole(case):
    api, mill = case
    for origin in ["heat:" + h for h in mill.heats] + ["weld:" + w for w in mill.welds] + ["run:" + r for r in mill.runs]:
        assert api.spans(origin) == as_answer(mill.trace(origin)), origin
    for lot in sorted(mill.lots)[::5]:
        for direction in ("forward", "back", "kin"):
            assert api.spans("lot:" + lot, direction) == as_answer(mill.trace("lot:" + lot, direction)), (lot, direction)


def test_what_is_left_is_the_same(case):
    api, mill = case
    for code, lot in mill.lots.items():
        answer = api.lot(code)
        assert [tuple(x) for x in answer["left"]] == lot.left and answer["length_mm"] == lot.length, code
    assert api.get("/api/floor")["runs"] == []


# --- step by step ---------------------------------------------------------------------------------


def opened(api, bench, lines=("1",), **more):
    run = bench.code("R")
    api.put("open", dict({"run": run, "process": "wind", "machine": bench.code("M"), "lines": list(lines)}, **more))
    return run


def opened_and_doffed(api, bench):
    run = opened(api, bench)
    api.put("load", {"run": run, "line": "1", "lot": bench.rod(1000)})
    api.put("doff", {"run": run, "lot": bench.code("BB"), "kind": "bobbin", "length_mm": 1000})
    return run


def test_what_is_left_on_the_bobbin_goes_back(api, bench):
    for off, back in (("outer", [[0, 300]]), ("inner", [[700, 1000]])):
        lot = bench.rod(1000)
        run = opened(api, bench)
        receipt = api.put("load", {"run": run, "line": "1", "lot": lot, "off": off})
        assert receipt["body"]["taken"] == [[0, 1000]]
        assert api.lot(lot)["left"] == [], "while the run is open the whole of it counts as taken"
        api.refuse("run", bench.run_body([{"lot": lot, "take_mm": 1}]), "already-consumed")
        out = bench.code("BB")
        api.put("doff", {"run": run, "lot": out, "kind": "bobbin", "length_mm": 700})
        api.put("close", {"run": run, "left": [{"line": "1", "left_mm": 300}]})
        assert api.lot(lot)["left"] == back
        taken = [[300, 1000]] if off == "outer" else [[0, 700]]
        assert api.spans("lot:" + out, "back")[lot]["certain"] == taken


def test_while_it_is_open_possible_holds_what_it_will_be(api, bench):
    one, two = bench.rod(1_000_000), bench.rod(1_000_000)
    run = opened(api, bench, tolerance_ppm=10_000)
    made = []
    seen_open = {}
    api.put("load", {"run": run, "line": "1", "lot": one})
    for n in range(4):
        if n == 2:
            api.put("load", {"run": run, "line": "1", "lot": two, "seen_at_mm": 1_000_100})
        made.append(bench.code("BB"))
        api.put("doff", {"run": run, "lot": made[-1], "kind": "bobbin", "length_mm": 500_000})
    for lot in (one, two):
        seen_open[lot] = api.spans("lot:" + lot)
    assert any(seen_open[one][b]["possible"] for b in made if b in seen_open[one])
    api.put("close", {"run": run})
    for lot in (one, two):
        for code, spans in api.spans("lot:" + lot).items():
            for a, b in spans["possible"]:
                assert any(x <= a and b <= y for x, y in seen_open[lot].get(code, {"possible": []})["possible"]), (lot, code, a, b)


def test_the_floor(api, bench):
    order = bench.code("O")
    api.put("order", {"order": order, "customer": "Deep Mine", "pieces": [{"length_mm": 100, "n": 3}]})
    lot, other = bench.rod(1000), bench.rod(1000)
    run = opened(api, bench, lines=("1", "2"), order=order)
    machine = api.get("/api/things/run/" + run)["entry"]["body"]["machine"]
    api.put("load", {"run": run, "line": "2", "lot": lot, "take_mm": 400})
    weld = bench.code("W")
    api.put("load", {"run": run, "line": "2", "lot": other, "off": "inner", "weld": weld, "join": "tuck", "seen_at_mm": 401})
    out = bench.code("BB")
    api.put("doff", {"run": run, "lot": out, "kind": "bobbin", "length_mm": 450})
    shown, = api.get("/api/floor", machine=machine)["runs"]
    assert (shown["run"], shown["order"], shown["length_mm"]) == (run, order, 450)
    one, two = shown["lines"]
    assert one["feeds"] == [] and two["length_mm"] == 1400 and two["seen_mm"] == [401]
    assert [(f["lot"], f["from_mm"], f["to_mm"], f["off"], f["weld"], f["join"]) for f in two["feeds"]] == [
        (lot, 600, 1000, "outer", None, None), (other, 0, 1000, "inner", weld, "tuck")]
    assert [(p["lot"], p["s0"], p["s1"]) for p in shown["packages"]] == [(out, 0, 450)]
    assert [s["kind"] for s in shown["steps"]] == ["open", "load", "load", "doff"]
    assert api.get("/api/floor", machine="NONE")["runs"] == []
    assert machine in [m["machine"] for m in api.get("/api/floor")["machines"]]
    mine, = [o for o in api.get("/api/orders")["orders"] if o["order"] == order]
    assert mine["pieces"] == [{"length_mm": 100, "n": 3}] and mine["one_heat"] is False
    api.get("/api/things/order/" + order)


@pytest.fixture
def joined(api, bench):
    """A closed run of two lots whose joint was seen, and its steps: kind and place -> key and body."""
    run, out = bench.code("R"), bench.code("BB")
    steps = [("open", {"run": run, "process": "wind", "machine": "WIND-1", "lines": ["1"]}),
             ("load", {"run": run, "line": "1", "lot": bench.rod(3000)}),
             ("load", {"run": run, "line": "1", "lot": bench.rod(3000), "seen_at_mm": 2990}),
             ("doff", {"run": run, "lot": out, "kind": "bobbin", "length_mm": 5000}),
             ("doff", {"run": run, "scrap_mm": 40, "reason": "end"}),
             ("close", {"run": run, "left": [{"line": "1", "left_mm": 960}]})]
    keys = [new_key() for _ in steps]
    for key, (kind, body) in zip(keys, steps):
        api.put(kind, body, key=key)
    return run, out, [(key, body) for key, (_, body) in zip(keys, steps)]


@pytest.mark.parametrize("step,change", [
    (0, {"machine": "WIND-2"}), (2, {"seen_at_mm": 2995}), (3, {"length_mm": 4990}), (3, {"location": "RACK 1"}),
    (4, {"scrap_mm": 30}), (5, {"left": [{"line": "1", "left_mm": 950}]}),
])
def test_a_step_put_right_leaves_the_run_where_it_is(api, joined, step, change):
    run, out, steps = joined
    key, body = steps[step]
    for _ in range(2):
        api.put("correct", {"entry": key, "reason": "mistyped", "body": dict(body, **change)})
        assert api.get("/api/things/run/" + run)["entry"]["body"]["run"] == run
        assert api.lot(out)["length_mm"] == change.get("length_mm", 5000)
    key, body = steps[5]  # what was done once can be done again after it
    api.put("correct", {"entry": key, "reason": "mistyped", "body": dict(body, left=[{"line": "1", "left_mm": 955}])})
    assert api.get("/api/ledger/verify")["ok"]


@pytest.mark.parametrize("step,change,slug", [(3, {"length_mm": 2000}, "bad-order"), (3, None, "bad-order"), (2, {"seen_at_mm": 9000}, "bad-order")])
def test_what_would_not_fit_the_run_any_more_is_refused_and_the_run_stays(api, joined, step, change, slug):
    run, out, steps = joined
    key, body = steps[step]
    right = {"entry": key, "reason": "mistyped"}
    api.refuse("correct" if change else "void", dict(right, body=dict(body, **change)) if change else right, slug)
    assert api.lot(out)["length_mm"] == 5000
    assert api.get("/api/things/run/" + run)["entry"]["body"]["run"] == run


def test_the_last_step_can_be_taken_back(api, bench):
    lot = bench.rod(1000)
    key, run = new_key(), bench.code("R")
    api.put("open", {"run": run, "process": "wind", "machine": "WIND-1", "lines": ["1"]}, key=key)
    load = new_key()
    api.put("load", {"run": run, "line": "1", "lot": lot}, key=load)
    doff = new_key()
    out = bench.code("BB")
    api.put("doff", {"run": run, "lot": out, "kind": "bobbin", "length_mm": 400}, key=doff)
    api.put("void", {"entry": doff, "reason": "undo"})
    api.get("/api/lots/" + out, 404)
    api.put("void", {"entry": load, "reason": "undo"})
    assert api.lot(lot)["left"] == [[0, 1000]]
    api.put("void", {"entry": key, "reason": "undo"})
    assert run not in [r["run"] for r in api.get("/api/floor")["runs"]]


@pytest.mark.parametrize("kind,body,slug", [
    ("load", {"line": "9", "lot": "LOT"}, "bad-value"),
    ("load", {"line": "1", "lot": "NONE"}, "unknown-lot"),
    ("load", {"line": "1", "lot": "LOT", "weld": "W-NEVER"}, "bad-value"),
    ("load", {"line": "1", "lot": "LOT", "take_mm": 1001}, "out-of-range"),
    ("doff", {"lot": "LOT", "kind": "bobbin", "length_mm": 1}, "code-taken"),
    ("close", {}, "not-complete"),
])
def test_steps_that_cannot_be(api, bench, kind, body, slug):
    lot = bench.rod(1000)
    run = opened(api, bench)
    body = {k: lot if v == "LOT" else v for k, v in body.items()}
    api.refuse(kind, dict(body, run=run), slug)


def test_no_steps_after_the_end(api, bench):
    run = opened_and_doffed(api, bench)
    api.put("close", {"run": run})
    for kind, body in (("load", {"line": "1", "lot": bench.rod(10)}), ("close", {}),
                       ("doff", {"lot": bench.code("BB"), "kind": "bobbin", "length_mm": 1})):
        api.refuse(kind, dict(body, run=run), "not-open", "/body/run", 409)
    api.refuse("close", {"run": opened_and_doffed(api, bench), "left": [{"line": "9", "left_mm": 1}]}, "bad-value")
    api.refuse("load", {"run": "NONE", "line": "1", "lot": bench.rod(10)}, "unknown-run", "/body/run", 422)
    api.refuse("open", {"run": bench.code("R"), "process": "wind", "machine": "M", "lines": ["1"], "order": "NONE"}, "unknown-order")


# --- asking beforehand ------------------------------------------------------------------------------


def check(api, e):
    before = api.get("/api/ledger/head")
    answer = api.request("POST", "/api/check", json=e)
    assert api.get("/api/ledger/head") == before, "a check recorded something"
    return answer


def test_a_check_answers_as_the_entry_would_be_and_records_nothing(api, bench):
    lot = bench.rod(1000)
    good = entry("run", bench.run_body([{"lot": lot, "take_mm": 500}], [700]))
    asked = check(api, good)
    assert asked.status_code == 200
    assert api.lot(lot)["left"] == [[0, 1000]]
    told = api.send(good).json()
    assert asked.json() == {"body": told["body"], "findings": told["findings"]}
    assert [f["code"] for f in told["findings"]] == ["length-ratio"]
    bad = entry("run", bench.run_body([{"lot": lot, "take_mm": 501}], [501]))
    asked, told = check(api, bad), api.send(bad)
    assert (asked.status_code, asked.json()) == (told.status_code, told.json())


def test_what_differs_from_the_order_is_a_finding(api, bench):
    order = bench.code("O")
    api.put("order", {"order": order, "grade": "C72D", "diameter_um": 3000, "diameter_tolerance_um": 20, "machine": "WIND-9",
                      "one_heat": True})
    body = bench.run_body([bench.rod(500), bench.rod(500)], [
        {"lot": bench.code("BB"), "kind": "bobbin", "length_mm": 1000, "diameter_um": 5500}], order=order)
    findings = {f["code"]: f for f in check(api, entry("run", body)).json()["findings"]}
    assert {"wrong-grade", "wrong-diameter", "wrong-machine", "heats-mixed"} <= set(findings)
    assert findings["wrong-diameter"]["values"] == {"package": 1, "made_um": 5500, "order": order, "asked_um": 3000,
                                                    "most_um": 20}
    assert findings["heats-mixed"]["values"] == {"heats": 2, "order": order}
    assert findings["wrong-grade"]["values"]["asked"] == "C72D"


def test_the_values_of_a_finding_are_the_same_wherever_it_is_shown(api, bench):
    lot = bench.rod(1000)
    body = dict(bench.run_body([lot], [700]), accepted=[{"code": "length-ratio", "reason": "Z\u00e4hler falsch"}])
    told = api.put("run", body)
    values = {"as": "same", "in_mm": 1000, "made_mm": 700, "off_ppm": -300000, "tolerance_ppm": 10000,
              "accepted": "Z\u00e4hler falsch"}
    assert [f["values"] for f in told["findings"]] == [values]
    assert [f["values"] for f in api.get("/api/entries/%d" % told["seq"])["findings"]] == [values]
    assert values in [f["values"] for f in api.get("/api/things/run/%s" % body["run"])["findings"]]
    assert values in [f["values"] for f in api.get("/api/attention")["findings"]]


def test_a_refusal_says_its_values_too(api, bench):
    lot = bench.rod(1000)
    problem = api.refuse("run", bench.run_body([{"lot": lot, "take_mm": 1001}], [1001]), "out-of-range")
    assert problem["values"] == {"as": "too-much", "lot": lot, "asked_mm": 1001, "left_mm": 1000}
    problem = api.refuse("run", bench.run_body([bench.code("NONE")]), "unknown-lot")
    assert list(problem["values"]) == ["code"]
    # through a step of a run under way, which does the whole run again
    run = bench.code("R")
    api.put("open", {"run": run, "process": "wind", "machine": "WIND-1", "lines": ["1"]})
    api.put("load", {"run": run, "line": "1", "lot": lot, "take_mm": 400})
    problem = api.refuse("load", {"run": run, "line": "1", "lot": lot, "take_mm": 601}, "out-of-range")
    assert problem["values"]["as"] == "too-much" and problem["values"]["left_mm"] == 600
