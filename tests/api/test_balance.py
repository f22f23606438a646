"""Balances of mass: to the gram, by an independent computation in fractions, and in agreement with one another."""
import csv
import io
from fractions import Fraction

import pytest
from support import ROOT, run_cli, serving

DEMO = ROOT / "demo-data" / "mill.ndjson"


def balance(api, origin=None, **query):
    return api.get("/api/balance", **({"origin": origin} if origin else {}), **query)


def closes(b):
    """in = out + unaccounted; nothing in it is lost without being said."""
    for side in ("in", "out"):
        assert b[side + "_g"] == sum(r["mass_g"] for r in b["rows"] if r["side"] == side)
    assert b["unaccounted_g"] == b["in_g"] - b["out_g"]
    assert b["within"] == (abs(b["unaccounted_g"]) <= b["allowed_g"])
    return b


def grams(b, side, what, by="code"):
    out = {}
    for r in b["rows"]:
        if r["side"] == side and r["what"] == what:
            out[r[by]] = out.get(r[by], 0) + r["mass_g"]
    return out


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    ledger = tmp_path_factory.mktemp("demo") / "mill.kw"
    assert run_cli("load", "--ledger", ledger, DEMO, timeout=1200).returncode == 0
    with serving(ledger) as s:
        yield s.api


# --- by hand ------------------------------------------------------------------------------------------
#
#   coil A (heat H1, 60,001 g, 10 m) and coil B (heat H2, 40,000 g, 10 m), drawn to 40 m; the weld was seen at s = 24 m
#   bobbin P: 0..15 m, weighed 37,123 g; scrap 15..17 m; bobbin Q: 17..40 m, weighed 57,900 g
#   of P 3 m went out, of Q a sample of 1 m at 10 m; the rest is there


@pytest.fixture
def small(fresh):
    for heat in ("H1", "H2"):
        fresh.put("heat", {"heat": heat, "supplier": "Northmark Steel", "grade": "C82D"})
    fresh.put("receive", {"lot": "A", "heat": "H1", "diameter_um": 5500, "length_mm": 10_000, "mass_g": 60_001})
    fresh.put("receive", {"lot": "B", "heat": "H2", "diameter_um": 5500, "length_mm": 10_000, "mass_g": 40_000})
    fresh.put("run", {"run": "R", "process": "draw", "machine": "BLOCK-1", "tolerance_ppm": 60_000,
                      "started": "2026-03-02T06:00:00Z", "ended": "2026-03-02T07:00:00Z",
                      "lines": [{"line": "1", "feeds": [{"lot": "A"}, {"lot": "B", "seen_at_mm": 24_000}]}],
                      "packages": [{"lot": "P", "kind": "bobbin", "length_mm": 15_000, "mass_g": 37_123},
                                   {"scrap_mm": 2_000, "reason": "break"},
                                   {"lot": "Q", "kind": "bobbin", "length_mm": 23_000, "mass_g": 57_900}]})
    fresh.put("test", {"test": "T", "lot": "Q", "at_mm": 10_000, "sample_mm": 1_000, "results": {"torsions": 30}, "verdict": "pass"})
    fresh.put("dispatch", {"consignment": "DN", "consignee": "Alder Lifts", "lots": ["P"]})
    return fresh


A, B = Fraction(60_001, 24_000), Fraction(40_000, 16_000)  # g a mm of output: A lies on 0..24 m, B on 24..40 m


def near(got, want, by=1):
    assert abs(got - want) <= by, "%s g, by fractions %s" % (got, float(want))


def test_a_run_by_fractions(small):
    b = closes(balance(small, "run:R"))
    assert grams(b, "in", "fed") == {"A": 60_001, "B": 40_000}
    assert grams(b, "out", "made") == {"P": 37_123, "Q": 57_900}
    near(sum(grams(b, "out", "scrap").values()), 2_000 * A)
    near(b["unaccounted_g"], 100_001 - 37_123 - 57_900 - 2_000 * A)
    assert b["allowed_g"] == 6_000 and b["within"] is True


def test_a_heat_by_fractions(small):
    in_p, in_q = 15_000 * A, 7_000 * A + 16_000 * B
    # of Q the first 7 m are A's; the sample lies beyond them
    for heat, coil, of_p, of_q, scrap, sample in (("H1", 60_001, 15_000 * A, 7_000 * A, 2_000 * A, 0),
                                                  ("H2", 40_000, 0, 16_000 * B, 0, 1_000 * B)):
        b = closes(balance(small, "heat:" + heat))
        assert b["in_g"] == coil
        near(sum(grams(b, "out", "sent").values()), of_p * 37_123 / in_p)
        near(sum(grams(b, "out", "scrap").values()), scrap)
        near(sum(grams(b, "out", "sample").values()), sample * 57_900 / in_q)
        near(sum(grams(b, "out", "left").values()), (of_q - sample) * 57_900 / in_q, 2)
        lost = of_p - of_p * 37_123 / in_p + of_q - of_q * 57_900 / in_q
        near(b["unaccounted_g"], lost, 2)
        assert b["unaccounted_g"] == sum(r["unaccounted_g"] for r in b["runs"])


def test_a_lot_by_fractions(small):
    b = closes(balance(small, "lot:Q"))
    assert b["in_g"] == 57_900 and b["unaccounted_g"] == 0
    near(grams(b, "out", "sample")["T"], Fraction(57_900, 23))
    assert grams(b, "out", "left", by="kind") == {"bobbin": 57_900 - grams(b, "out", "sample")["T"]}
    assert grams(balance(small, "lot:P"), "out", "sent") == {"DN": 37_123}
    assert grams(balance(small, "lot:A"), "out", "fed") == {"R": 60_001}


def test_the_mill_by_fractions(small):
    b = closes(balance(small))
    assert grams(b, "in", "received", by="kind") == {"rod": 100_001}
    assert grams(b, "out", "sent", by="kind") == {"bobbin": 37_123}
    assert b["unaccounted_g"] == balance(small, "run:R")["unaccounted_g"]
    sample = sum(grams(b, "out", "sample").values())
    assert grams(b, "out", "stock") == {None: 57_900 - sample}


def test_a_mass_that_is_not_known_is_said(fresh):
    fresh.put("supply", {"supply": "S", "what": "fibre core", "supplier": "Calder Fibre"})
    fresh.put("receive", {"lot": "C", "kind": "core", "supply": "S", "length_mm": 1000})
    fresh.put("run", {"run": "R", "process": "wind", "machine": "W", "lines": [{"line": "1", "feeds": [{"lot": "C"}]}],
                      "packages": [{"lot": "D", "kind": "core", "length_mm": 1000}]})
    b = closes(balance(fresh, "run:R"))
    assert b["unknown"] == 2 and b["in_g"] == 0


def test_a_run_under_way_has_the_rest_on_the_machine(fresh):
    fresh.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    fresh.put("receive", {"lot": "A", "heat": "H1", "diameter_um": 5500, "length_mm": 100_000, "mass_g": 18_000})
    fresh.put("open", {"run": "R", "process": "wind", "machine": "W-1", "lines": ["1"]})
    fresh.put("load", {"run": "R", "line": "1", "lot": "A"})
    fresh.put("doff", {"run": "R", "lot": "P", "kind": "bobbin", "length_mm": 40_000})
    for origin in ("run:R", "heat:H1", "machine:W-1"):
        b = closes(balance(fresh, origin))
        assert b["in_g"] == 18_000, origin
        assert sum(grams(b, "out", "machine").values()) > 0, origin


# --- the demo mill: balances agree with one another -----------------------------------------------------


def test_months_add_up_to_all_time(demo):
    whole, months = balance(demo), [closes(balance(demo, month=m)) for m in ("2026-08", "2026-09", "2026-10", "2026-11")]
    growth = lambda b: sum(grams(b, "out", "stock").values()) - sum(grams(b, "in", "stock").values())  # noqa: E731
    assert growth(whole) == sum(map(growth, months))
    assert whole["unaccounted_g"] == sum(m["unaccounted_g"] for m in months)
    assert whole["run_count"] == sum(m["run_count"] for m in months)
    for what in ("received", "sent", "sample", "scrap"):
        side = "in" if what == "received" else "out"
        of = lambda b: sum(grams(b, side, what).values())  # noqa: E731, B023
        assert of(whole) == sum(map(of, months)), what


def test_the_stock_that_flows_left_is_what_lots_have_left(demo):
    stock = demo.get("/api/attention")["stock"]
    lots = sum(s["lots"] for s in stock)
    left = sum(grams(balance(demo), "out", "stock").values())
    assert abs(left - sum(s["left_g"] for s in stock)) <= lots  # each lot's share is rounded there


def test_a_machine_is_the_sum_of_its_runs(demo):
    b = closes(balance(demo, "machine:F-2", month="2026-09"))
    runs = [closes(balance(demo, "run:" + r["run"])) for r in b["runs"]]
    assert len(runs) == b["run_count"] > 10
    for member in ("in_g", "out_g", "unaccounted_g", "allowed_g"):
        assert b[member] == sum(r[member] for r in runs), member


def test_what_one_lot_gives_the_run_takes(demo):
    b = balance(demo, "run:D-0053")
    for lot, g in grams(b, "in", "fed").items():
        assert grams(closes(balance(demo, "lot:" + lot)), "out", "fed")["D-0053"] == g, lot


def test_heats_have_what_their_coils_had_and_no_more_is_sent_than_there_was(demo):
    entries = [e["body"] for e in demo.get("/api/entries", kind="heat", limit=1000)["entries"]]
    whole, sent, received = balance(demo), 0, 0
    for heat in [e["heat"] for e in entries]:
        b = closes(balance(demo, "heat:" + heat))
        assert b["unaccounted_g"] == sum(r["unaccounted_g"] for r in b["runs"]) or b["run_count"] > 200
        assert b["within"], heat
        sent += sum(grams(b, "out", "sent").values())
        received += b["in_g"]
    assert received == grams(whole, "in", "received", by="kind")["rod"]
    # the rest of what was sent is bought-in wire and fibre, which have no heat
    others = whole["in_g"] - received
    all_sent = sum(grams(whole, "out", "sent").values())
    assert all_sent - others <= sent < all_sent


def test_csv_has_the_rows(demo):
    answer = demo.request("GET", "/api/balance", params={"origin": "heat:48504"}, headers={"Accept": "text/csv"})
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    b = balance(demo, "heat:48504")
    assert [(r["side"], r["what"], int(r["mass_g"])) for r in rows[:-1]] == [(r["side"], r["what"], r["mass_g"]) for r in b["rows"]]
    assert rows[-1]["what"] == "unaccounted" and int(rows[-1]["mass_g"]) == b["unaccounted_g"]
    assert "\n" not in answer.text.replace("\r\n", "")


def test_questions_that_are_refused(demo):
    for query in ({"origin": "lot"}, {"origin": "test:T-1"}, {"month": "2026-13"}, {"origin": "run:D-0053", "month": "2026-09"},
                  {"month": "2026-09", "since": "2026-09-01T00:00:00Z"}, {"since": "yesterday"}):
        demo.get("/api/balance", status=400, **query)
    for origin in ("run:NO-SUCH", "lot:NO-SUCH", "heat:NO-SUCH", "machine:NO-SUCH"):
        demo.get("/api/balance", status=404, origin=origin)
