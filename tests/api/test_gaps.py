"""Gaps: each kind is found where it was made, weighs what traces say, and completeness adds up."""
import csv
import io
import random

import pytest
from support import ROOT, Bench, run_cli, serving

DEMO = ROOT / "demo-data" / "mill.ndjson"


def gaps(api, **query):
    return api.get("/api/gaps", **query)


def of_kind(api, kind, **query):
    return gaps(api, kind=kind, **query)["gaps"]


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    ledger = tmp_path_factory.mktemp("demo") / "mill.kw"
    assert run_cli("load", "--ledger", ledger, DEMO, timeout=1200).returncode == 0
    with serving(ledger) as s:
        yield s.api


# --- weights, by the traces that anyone can ask for -------------------------------------------------


def unite(spans):
    out = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1]:
            out[-1][1] = max(out[-1][1], b)
        else:
            out.append([a, b])
    return out


def both(a, b):
    return [[max(x[0], y[0]), min(x[1], y[1])] for x in a for y in b if max(x[0], y[0]) < min(x[1], y[1])]


class Sold:
    """What was sent of each lot, from the lots' own answers."""

    def __init__(self, api):
        self.api, self.sent = api, {}

    def of(self, lot):
        if lot not in self.sent:
            gone = [u for u in self.api.lot(lot)["to"] if u["what"] == "dispatch"]
            self.sent[lot] = unite([[u["from_mm"], u["to_mm"]] for u in gone])
        return self.sent[lot]

    def reach(self, origin):
        """{lot: spans of what was sent that a trace reaches}"""
        out = {}
        for row in self.api.trace(origin)["lots"]:
            if row["consignee"]:
                reached = both(self.of(row["lot"]), row["possible"])
                if reached:
                    out[row["lot"]] = reached
        return out


def total(reached):
    return sum(b - a for spans in reached.values() for a, b in spans)


def test_a_weight_is_what_a_trace_finds(demo):
    sold = Sold(demo)
    found = gaps(demo)["gaps"]
    checked = 0
    some = [g for g in found if g["kind"] in ("no-heat", "balance", "no-times", "finding", "put-right") and
            g["type"] in ("lot", "run") and g["code"]]
    for g in random.Random(5).sample(some, min(8, len(some))):
        reached = sold.reach("%s:%s" % (g["type"], g["code"]))
        assert g["sold_mm"] == total(reached), g
        assert g["lots"] == len(reached), g
        checked += g["sold_mm"] > 0
    assert checked >= 3


def test_a_kind_counts_what_two_gaps_reach_once(demo):
    sold = Sold(demo)
    answer = gaps(demo, kind="no-heat")
    together = {}
    for g in answer["gaps"]:
        for lot, spans in sold.reach("%s:%s" % (g["type"], g["code"])).items():
            together[lot] = unite(together.get(lot, []) + spans)
    under = [k["under_mm"] for k in answer["kinds"] if k["kind"] == "no-heat"]
    assert under == [total(together)] and under[0] > 0
    assert sum(g["sold_mm"] for g in answer["gaps"]) > under[0]


def test_the_sums_hold_together(demo):
    answer = gaps(demo)
    assert answer["sold_mm"] == sum(m["sold_mm"] for m in answer["months"]) > 0
    assert answer["whole_mm"] == sum(m["whole_mm"] for m in answer["months"])
    assert answer["unbroken_mm"] == sum(m["unbroken_mm"] for m in answer["months"]) >= answer["whole_mm"]
    assert [m["month"] for m in answer["months"]] == sorted({m["month"] for m in answer["months"]})
    for k in answer["kinds"]:
        assert k["under_mm"] == sum(m["under"][k["kind"]] for m in answer["months"])
        assert k["gaps"] == sum(g["kind"] == k["kind"] for g in answer["gaps"])
    for m in answer["months"]:
        for under in m["under"].values():
            assert m["whole_mm"] <= m["sold_mm"] - under
    weights = [g["sold_mm"] for g in answer["gaps"]]
    assert weights == sorted(weights, reverse=True) and answer["count"] == len(weights) and answer["after"] is None


def test_pages_and_csv_give_the_same_list(demo):
    whole = gaps(demo)
    paged, after = [], 0
    while after is not None:
        page = gaps(demo, after=after, limit=37)
        paged += page["gaps"]
        after = page["after"]
    assert paged == whole["gaps"]
    answer = demo.request("GET", "/api/gaps", headers={"Accept": "text/csv"})
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert [(r["kind"], int(r["sold_mm"])) for r in rows] == [(g["kind"], g["sold_mm"]) for g in whole["gaps"]]


def test_a_longer_way_leaves_fewer_gaps(demo):
    usual = {g["code"]: g["figure"] for g in of_kind(demo, "proportion")}
    longer = {g["code"]: g["figure"] for g in of_kind(demo, "proportion", long_m=100000)}
    assert longer == {code: mm for code, mm in usual.items() if mm > 100_000_000} and 0 < len(longer) < len(usual)
    assert gaps(demo, long_m=100000)["settings"] == {"long_mm": 100_000_000, "late_s": 72 * 3600}


def test_questions_that_are_refused(demo):
    for query in ({"kind": "nothing"}, {"limit": 0}, {"after": -1}, {"long_m": "far"}, {"late_h": 0}, {"size": 3}):
        demo.get("/api/gaps", status=400, **query)


# --- each kind where it is made -----------------------------------------------------------------------


@pytest.fixture
def mill(fresh):
    """A rod that became a bobbin and a reel that was sent, with nothing wrong with it but what a test adds."""
    return Mill(fresh)


class Mill:
    START, END = "2026-03-02T06:00:00Z", "2026-03-02T09:00:00Z"

    def __init__(self, api):
        self.api, self.bench = api, Bench(api)

    def put(self, kind, body, **more):
        return self.api.put(kind, body, **more)

    def heat(self, **more):
        self.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D", "mill_certificate": "NS-1",
                          "analysis_ppm": {"C": 8200}, **more})

    def rod(self, lot="RC-1", **more):
        self.put("receive", {"lot": lot, "heat": "H1", "diameter_um": 5500, "length_mm": 1_000_000, **more})

    def wind(self, feeds, made, **more):
        body = {"run": "R-" + made, "process": "wind", "machine": "W-1", "started": self.START, "ended": self.END,
                "lines": [{"line": "1", "feeds": [f if isinstance(f, dict) else {"lot": f} for f in feeds]}],
                "packages": [{"lot": made, "kind": "reel", "length_mm": 1_000_000 * len(feeds), "diameter_um": 5500}]}
        body.update(more)
        return self.put("run", body)

    def sent(self, lot="RL-1"):
        self.put("instrument", {"instrument": "TT-1", "what": "tensile tester", "calibrated": "2020-01-01T00:00:00Z",
                                "valid_until": "2099-01-01T00:00:00Z"})
        self.put("test", {"test": "T-" + lot, "lot": lot, "instrument": "TT-1", "results": {"torsions": 30}, "verdict": "pass"})
        self.put("dispatch", {"consignment": "DN-1", "consignee": "Alder Lifts", "lots": [lot]})

    def found(self):
        return [(g["kind"], g["type"], g["code"], g["sold_mm"]) for g in gaps(self.api)["gaps"]]


def test_nothing_is_wrong_with_a_whole_record(mill):
    mill.heat()
    mill.rod()
    mill.wind(["RC-1"], "RL-1")
    mill.sent()
    answer = gaps(mill.api)
    assert answer["gaps"] == [] and answer["sold_mm"] == answer["whole_mm"] == 1_000_000


def test_metal_without_a_heat(mill):
    mill.heat()
    mill.put("supply", {"supply": "S1", "what": "wire", "supplier": "Calder Wire"})
    mill.put("receive", {"lot": "BW-1", "kind": "bobbin", "supply": "S1", "diameter_um": 5500, "length_mm": 1_000_000})
    mill.put("receive", {"lot": "FC-1", "kind": "core", "supply": "S1", "length_mm": 1_000_000})
    mill.wind(["BW-1"], "RL-1")
    mill.sent()
    assert mill.found() == [("no-heat", "lot", "BW-1", 1_000_000)]


def test_a_heat_without_papers(mill):
    mill.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D", "mill_certificate": "NS-1"})
    mill.rod()
    mill.wind(["RC-1"], "RL-1")
    mill.sent()
    assert mill.found() == [("heat-papers", "heat", "H1", 1_000_000)]
    assert gaps(mill.api)["gaps"][0]["detail"] == "analysis"


def test_a_reel_sold_untested_and_a_test_that_a_specification_asks_for(mill):
    mill.heat()
    mill.put("spec", {"spec": "S-9", "version": 1, "what": "rope", "limits": {"breaking_n": {"min": 1}},
                      "tests": [{"property": "breaking_n", "per": "lot", "n": 2}],
                      "source": "agreed with the customer"})
    mill.rod()
    mill.wind(["RC-1"], "RL-1")
    mill.put("dispatch", {"consignment": "DN-1", "consignee": "Alder Lifts", "lots": ["RL-1"]})
    found = of_kind(mill.api, "no-test")
    assert sorted((g["code"], g["detail"], g["figure"]) for g in found) == [("RL-1", "breaking_n S-9", 2), ("RL-1", "none", None)]


def test_a_test_on_the_rope_counts_for_the_reel(mill):
    mill.heat()
    mill.rod()
    mill.put("test", {"test": "T-1", "lot": "RC-1", "results": {"torsions": 30}, "verdict": "pass"})
    mill.wind(["RC-1"], "RL-1")
    mill.put("dispatch", {"consignment": "DN-1", "consignee": "Alder Lifts", "lots": ["RL-1"]})
    assert mill.found() == []


def test_masses_that_do_not_balance_or_are_not_known(mill):
    mill.heat()
    mill.rod()
    mill.wind(["RC-1"], "RL-1", packages=[{"lot": "RL-1", "kind": "reel", "length_mm": 1_000_000, "mass_g": 150_000}])
    mill.sent()
    assert [x[:3] for x in mill.found()] == [("balance", "run", "R-RL-1")]


def test_a_long_way_without_a_seen_joint(mill):
    mill.heat()
    for i in range(4):
        mill.rod("RC-%d" % i, length_mm=30_000_000)
    feeds = [{"lot": "RC-%d" % i} for i in range(4)]
    mill.wind(feeds, "RL-1", packages=[{"lot": "RL-1", "kind": "reel", "length_mm": 120_000_000, "diameter_um": 5500}])
    assert [(g["code"], g["figure"]) for g in of_kind(mill.api, "proportion")] == [("R-RL-1", 120_000_000)]
    # between joints that were seen nothing is in doubt; the third was not seen, so from the second to the end is
    for i in range(4, 8):
        mill.rod("RC-%d" % i, length_mm=30_000_000)
    feeds = [{"lot": "RC-4"}, {"lot": "RC-5", "seen_at_mm": 30_000_000}, {"lot": "RC-6", "seen_at_mm": 60_000_000}, {"lot": "RC-7"}]
    mill.wind(feeds, "RL-2", packages=[{"lot": "RL-2", "kind": "reel", "length_mm": 120_000_000, "diameter_um": 5500}])
    second = [g for g in of_kind(mill.api, "proportion") if g["code"] == "R-RL-2"]
    assert [(g["figure"], g["metal_mm"]) for g in second] == [(60_000_000, 60_000_000)]
    mill.put("dispatch", {"consignment": "DN-1", "consignee": "Alder Lifts", "lots": ["RL-2"]})
    assert [(g["code"], g["sold_mm"]) for g in of_kind(mill.api, "proportion")] == [("R-RL-2", 60_000_000), ("R-RL-1", 0)]


def test_a_run_without_times(mill):
    mill.heat()
    mill.rod()
    mill.put("run", {"run": "R-1", "process": "wind", "machine": "W-1", "started": Mill.START,
                     "lines": [{"line": "1", "feeds": [{"lot": "RC-1"}]}],
                     "packages": [{"lot": "RL-1", "kind": "reel", "length_mm": 1_000_000, "diameter_um": 5500}]})
    mill.sent()
    assert mill.found() == [("no-times", "run", "R-1", 1_000_000)]
    assert gaps(mill.api)["gaps"][0]["detail"] == "ended"


def test_a_certificate_that_a_hold_overtook(mill):
    mill.heat()
    mill.rod()
    mill.wind(["RC-1"], "RL-1")
    mill.sent()
    mill.put("certify", {"certificate": "C-1", "type": "3.1", "reels": ["RL-1"], "tests": ["T-RL-1"]})
    assert mill.found() == []
    mill.put("hold", {"hold": "Q-1", "reason": "recall", "lots": [{"lot": "RL-1"}]})
    assert mill.found() == [("overtaken", "certificate", "C-1", 1_000_000)]
    assert gaps(mill.api)["gaps"][0]["detail"] == "recalled"
    mill.put("clear", {"certificate": "C-1", "reason": "another heat was meant", "holds": ["Q-1"]})
    assert mill.found() == [], "cleared, as its own page says"
    mill.put("hold", {"hold": "Q-2", "reason": "recall", "lots": [{"lot": "RL-1"}]})
    assert mill.found() == [("overtaken", "certificate", "C-1", 1_000_000)]
    mill.put("withdraw", {"certificate": "C-1", "reason": "recall"})
    assert mill.found() == []


def test_a_recall_that_reaches_a_certified_reel_from_its_wire(mill):
    """A hold on the rod is a gap of the rope's certificate as well, and one that is asked for by a heat, whatever it bars."""
    mill.heat()
    mill.rod()
    mill.wind(["RC-1"], "RB-1", packages=[{"lot": "RB-1", "kind": "bobbin", "length_mm": 1_000_000, "diameter_um": 5500}])
    mill.wind(["RB-1"], "RL-1")
    mill.sent()
    mill.put("certify", {"certificate": "C-1", "type": "3.1", "reels": ["RL-1"], "tests": ["T-RL-1"]})
    assert of_kind(mill.api, "overtaken") == []
    mill.put("hold", {"hold": "Q-1", "reason": "recall", "lots": [{"lot": "RC-1"}]})
    found = of_kind(mill.api, "overtaken")
    assert [(g["code"], g["detail"], g["sold_mm"]) for g in found] == [("C-1", "recalled", 1_000_000)]
    mill.put("release", {"hold": "Q-1", "disposition": "release", "reason": "sound"})
    assert of_kind(mill.api, "overtaken") == []
    mill.rod("RC-2")
    head = mill.api.get("/api/ledger/head")
    mill.put("hold", {"hold": "Q-2", "reason": "a letter", "lots": [{"lot": "RC-2"}],
                      "trace": {"origin": "heat:H1", "direction": "forward", **head}})
    assert [g["code"] for g in of_kind(mill.api, "overtaken")] == ["C-1"]
    mill.put("clear", {"certificate": "C-1", "reason": "another heat was meant"})
    assert of_kind(mill.api, "overtaken") == []


def test_tests_outside_a_calibration_and_without_one(mill):
    mill.heat()
    mill.rod()
    mill.wind(["RC-1"], "RL-1")
    mill.sent()
    mill.put("instrument", {"instrument": "TT-2", "what": "torsion tester", "calibrated": "2026-01-01T00:00:00Z",
                            "valid_until": "2026-02-01T00:00:00Z"})
    late = "2026-06-01T00:00:00Z"
    for i, instrument in enumerate(("TT-2", "TT-2", "TT-3")):
        mill.put("test", {"test": "T-%d" % i, "lot": "RL-1", "instrument": instrument, "results": {"bends": 9},
                          "verdict": "pass"}, at=late)
    found = {(g["code"], g["detail"]): (g["figure"], g["sold_mm"], g["metal_mm"]) for g in of_kind(mill.api, "calibration")}
    assert found == {("TT-2", "outside"): (2, 1_000_000, 1_000_000), ("TT-3", "unknown"): (1, 1_000_000, 1_000_000)}


def test_what_was_logged_late(mill):
    mill.heat()
    mill.rod()
    mill.put("run", {"run": "R-1", "process": "wind", "machine": "W-1", "started": Mill.START, "ended": Mill.END,
                     "lines": [{"line": "1", "feeds": [{"lot": "RC-1"}]}],
                     "packages": [{"lot": "RL-1", "kind": "reel", "length_mm": 1_000_000, "diameter_um": 5500}]},
             at="2026-03-02T09:00:00Z")
    mill.sent()
    found = of_kind(mill.api, "late")
    assert [(g["code"], g["sold_mm"], g["detail"].split()[0]) for g in found] == [("open", 1_000_000, "1")]
    assert found[0]["figure"] > 30 * 86400


def test_what_was_put_right_and_findings_that_nobody_answered(mill):
    mill.heat()
    key = "33333333-3333-4333-8333-333333333333"
    body = {"lot": "RC-1", "heat": "H1", "diameter_um": 5500, "length_mm": 1_000_000}
    mill.put("receive", body, key=key)
    mill.put("correct", {"entry": key, "reason": "the label said so", "body": dict(body, location="YARD 2")})
    mill.put("run", {"run": "R-1", "process": "wind", "machine": "W-1", "started": Mill.START, "ended": Mill.END,
                     "lines": [{"line": "1", "feeds": [{"lot": "RC-1"}]}],
                     "packages": [{"lot": "RL-1", "kind": "reel", "length_mm": 1_100_000, "diameter_um": 5500}]})
    mill.sent()
    found = mill.found()
    assert ("put-right", "lot", "RC-1", 1_100_000) in found
    assert ("finding", "run", "R-1", 1_100_000) in found
    mill.put("note", {"about": "run:R-1", "text": "the counter was 10 % high; length by mass is right"})
    assert "finding" not in [x[0] for x in mill.found()]


def test_what_is_asked_after_an_entry_knows_of_it(mill):
    mill.heat()
    for i in range(20):
        mill.put("supply", {"supply": "S%d" % i, "what": "wire", "supplier": "Calder Wire"})
        mill.put("receive", {"lot": "BW-%d" % i, "kind": "bobbin", "supply": "S%d" % i, "diameter_um": 900, "length_mm": 1000})
        assert gaps(mill.api, limit=1)["count"] == i + 1
