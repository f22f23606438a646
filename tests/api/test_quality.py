"""Tests judged by specifications and calibrations, joints against their distance, a rope's strength from its wires: over HTTP,
each answer held against the contract."""

AT = "2026-03-04T09:12:00Z"
LIMITS = {"tensile_kpa": {"min": 1_770_000, "max": 2_090_000}, "torsions": {"min": 26}}


def coil(api, lot, diameter_um=1200):
    api.put("receive", {"lot": lot, "kind": "coil", "heat": "H1", "diameter_um": diameter_um, "length_mm": 1_000_000})


def mill(api):
    api.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    coil(api, "C1")


def spec(version, limits, **more):
    return {"spec": "W-1770", "version": version, "what": "wire", "limits": limits, "tests": [], **more}


def codes(receipt):
    return [f["code"] for f in receipt["findings"]]


def test_a_test_is_judged_by_the_version_that_stood(fresh):
    mill(fresh)
    fresh.put("spec", spec(1, LIMITS))
    fresh.put("test", {"test": "T1", "lot": "C1", "results": {"tensile_kpa": 1_800_000, "torsions": 30}})
    fresh.put("spec", spec(2, {"tensile_kpa": {"min": 1_900_000}}))
    fresh.put("test", {"test": "T2", "lot": "C1", "results": {"tensile_kpa": 1_800_000}})
    first, second = fresh.get("/api/lots/C1")["tests"]
    assert (first["verdict"], first["said"], first["judged"]["version"]) == ("pass", None, 1)
    assert first["judged"]["margins"] == [
        {"property": "tensile_kpa", "value": 1_800_000, "min": 1_770_000, "max": 2_090_000, "margin": 30_000},
        {"property": "torsions", "value": 30, "min": 26, "max": None, "margin": 4}]
    assert (second["verdict"], second["judged"]["verdict"], second["judged"]["margins"][0]["margin"]) == ("fail", "fail", -100_000)
    assert [(s["version"], s["stands"]) for s in fresh.get("/api/specs")["specs"]] == [(1, False), (2, True)]
    # the computed failure is where a recall starts, and it stands on the list of what needs attention
    assert fresh.get("/api/trace", origin="test:T2")["lots"][0]["verdict"] == "certain"
    assert [f["test"] for f in fresh.get("/api/attention")["failed_tests"]] == ["T2"]


def test_a_verdict_that_differs_is_kept_and_told(fresh):
    mill(fresh)
    fresh.put("spec", spec(1, LIMITS))
    receipt = fresh.put("test", {"test": "T1", "lot": "C1", "results": {"torsions": 20}, "verdict": "pass"})
    assert codes(receipt) == ["verdict-differs"]
    test, = fresh.get("/api/lots/C1")["tests"]
    assert (test["verdict"], test["said"], test["judged"]["verdict"]) == ("pass", "pass", "fail")


def test_the_same_version_twice_is_refused(fresh):
    fresh.put("spec", spec(1, LIMITS))
    fresh.refuse("spec", spec(1, {}), "code-taken")


def test_a_test_outside_the_calibration_is_a_finding(fresh):
    mill(fresh)
    fresh.put("instrument", {"instrument": "UTM-1", "what": "tensile machine", "calibrated": "2026-01-01T00:00:00Z",
                             "valid_until": "2026-03-01T00:00:00Z"})
    late = {"test": "T1", "lot": "C1", "instrument": "UTM-1", "results": {"tensile_kpa": 1}}
    assert codes(fresh.put("test", late, at=AT)) == ["out-of-calibration"]
    fresh.put("instrument", {"instrument": "UTM-1", "what": "tensile machine", "calibrated": "2026-03-02T00:00:00Z"})
    assert codes(fresh.put("test", dict(late, test="T2"), at=AT)) == []
    shown, = fresh.get("/api/instruments")["instruments"]
    assert (shown["calibrated"], shown["valid_until"], shown["entries"], shown["last_used"]) == ("2026-03-02T00:00:00Z", None, 2, AT)
    assert fresh.get("/api/things/instrument/UTM-1")["type"] == "instrument"


def rope(api):
    """Strand S1 of two wires with a joint each, 300 mm apart, in a rope of 16 mm."""
    mill(api)
    for lot in ("C2", "C3", "C4"):
        coil(api, lot)
    api.put("run", {"run": "ST-1", "process": "strand", "machine": "TUBE", "tolerance_ppm": 0, "lines": [
        {"line": "1", "feeds": [{"lot": "C1", "take_mm": 5000}, {"lot": "C2", "take_mm": 5000, "weld": "W1"}]},
        {"line": "2", "feeds": [{"lot": "C3", "take_mm": 5300}, {"lot": "C4", "take_mm": 4700, "weld": "W2"}]}],
        "packages": [{"lot": "S1", "kind": "strand", "length_mm": 10_000}]})
    api.put("run", {"run": "CL-1", "process": "close", "machine": "CLOSER", "tolerance_ppm": 0,
                    "lines": [{"line": "1", "feeds": [{"lot": "S1"}]}, {"line": "2", "feeds": [{"lot": "C1", "take_mm": 10_000}]}],
                    "packages": [{"lot": "R1", "kind": "rope", "length_mm": 10_000, "diameter_um": 16_000,
                                  "construction": "6x36WS-IWRC"}]})


def test_joints_nearer_than_the_specification_allows(fresh):
    rope(fresh)
    assert (fresh.lot("R1", "/joints")["distance"], fresh.lot("R1", "/joints")["near"]) == (None, [])
    fresh.put("spec", {"spec": "RP", "version": 1, "what": "rope", "limits": {}, "tests": [], "joint_multiple": 18})
    shown = fresh.lot("R1", "/joints")
    assert shown["distance"]["gap_mm"] == 288 and shown["near"] == []
    fresh.put("spec", {"spec": "RP", "version": 2, "what": "rope", "limits": {}, "tests": [], "joint_multiple": 19})
    assert fresh.lot("R1", "/joints")["near"] == [{"a": "W2", "b": "W1", "strand": "close 1", "gap_mm": 300, "sure": "surely"}]


def test_strength_from_the_wires(fresh):
    rope(fresh)
    for n, lot in enumerate(("C1", "C2", "C3", "C4")):
        fresh.put("test", {"test": "T%d" % n, "lot": lot, "results": {"breaking_n": 2000}})
    fresh.put("test", {"test": "T9", "lot": "R1", "results": {"breaking_n": 5400}})
    shown = fresh.lot("R1", "/strength")
    # the second line of the closer is one wire
    assert (shown["wires_milli"], shown["tested_milli"], shown["aggregate_n"]) == (3000, 3000, 6000)
    assert [(w["lot"], w["wires_milli"]) for w in shown["wires"]] == [("C1", 1500), ("C2", 500), ("C3", 530), ("C4", 470)]
    assert shown["tested"][0]["realisation_ppm"] == 900_000
    # EN 12385-4: 0.356 x 16^2 x 1770 / 1000 = 161 kN
    assert {"grade_kpa": 1_770_000, "force_n": 161_000} in shown["catalogue"]["minimum"]
    assert (shown["catalogue"]["class"], shown["catalogue"]["core"]) == ("6x36", "rope")


def test_charts_over_http(fresh):
    mill(fresh)
    fresh.put("spec", spec(1, LIMITS))
    for i, value in enumerate([1_800_000, 1_820_000, 1_790_000, 2_000_000]):
        fresh.put("test", {"test": f"T{i}", "lot": "C1", "at_mm": 1000 * (4 - i), "results": {"tensile_kpa": value}})
    chart = fresh.get("/api/chart", property="tensile_kpa")
    assert [p["test"] for p in chart["points"]] == ["T0", "T1", "T2", "T3"]
    assert chart["chart"]["mean_milli"] == 1_852_500_000 and chart["capability"]["min"] == 1_770_000
    assert [p["test"] for p in fresh.get("/api/chart", property="tensile_kpa", lot="c1", by="place")["points"]] == [
        "T3", "T2", "T1", "T0"]
    assert fresh.get("/api/chart", property="tensile_kpa", heat="H1", machine="", since="")["points"][0]["sure"] == "surely"
    for wrong in ({}, {"property": "x", "by": "size"}, {"property": "x", "by": "place"}, {"property": "x", "limit": "1"},
                  {"property": "x", "since": "now"}, {"property": "x", "kind": "wire"}, {"property": "x", "as": "pdf"}):
        fresh.get("/api/chart", status=400, **wrong)
    fresh.get("/api/chart", status=404, property="x", heat="H9")


def test_a_test_judged_again_changes_nothing(fresh):
    mill(fresh)
    fresh.put("spec", spec(1, LIMITS))
    fresh.put("test", {"test": "T1", "lot": "C1", "results": {"tensile_kpa": 1_800_000}})
    fresh.put("spec", spec(2, {"tensile_kpa": {"min": 1_900_000}}))
    again = fresh.get("/api/tests/T1/judged", spec="W-1770")
    assert (again["recorded"]["verdict"], again["version"], again["verdict"], again["margins"][0]["margin"]) == (
        "pass", 2, "fail", -100_000)
    assert fresh.get("/api/lots/C1")["tests"][0]["verdict"] == "pass"
    fresh.get("/api/tests/T1/judged", status=400)
    fresh.get("/api/tests/T9/judged", status=404, spec="W-1770")


def test_what_the_server_said_of_a_tolerance_is_not_for_the_sender_to_repeat(fresh):
    mill(fresh)
    fresh.put("spec", spec(1, {}, tolerance_ppm={"wind": 4000}))
    run = {"run": "R1", "process": "wind", "machine": "W", "lines": [{"line": "1", "feeds": [{"lot": "C1"}]}],
           "packages": [{"lot": "B1", "kind": "bobbin", "length_mm": 1_000_000}]}
    entry = {"key": "4d5b1c1e-0000-4000-8000-00000000000a", "kind": "run", "at": AT, "body": run}
    first = fresh.send(entry).json()
    assert (first["body"]["tolerance_ppm"], first["body"]["tolerance_by"]) == (4000, {"spec": "W-1770", "version": 1})
    # sent again, with another version standing by now, and as it was stored
    fresh.put("spec", spec(2, {}, tolerance_ppm={"wind": 9000}))
    assert fresh.send(entry).json()["seq"] == first["seq"]
    assert fresh.send({**entry, "body": first["body"]}).json()["seq"] == first["seq"]


def test_a_calibration_found_bad_gives_its_window(fresh):
    mill(fresh)
    utm = {"instrument": "UTM-1", "what": "tensile machine"}
    fresh.put("instrument", {**utm, "calibrated": "2026-01-01T00:00:00Z", "found": "good"})
    fresh.put("test", {"test": "T1", "lot": "C1", "instrument": "UTM-1", "results": {"tensile_kpa": 1}})
    fresh.put("instrument", {**utm, "calibrated": "2026-03-05T00:00:00Z", "found": "bad"})
    one = fresh.get("/api/instruments/UTM-1")
    window = one["calibrations"][1]["doubtful"]
    assert window == {"since": "2026-01-01T00:00:00Z", "until": None}
    assert fresh.get("/api/trace", origin="instrument:UTM-1", since=window["since"])["lots"][0]["lot"] == "C1"
