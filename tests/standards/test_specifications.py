"""The set of specifications that ships, against figures as published and against the program itself.

Forces and diameters: API Spec 9A Table C.1 (class 6x7, fibre core), as quoted; tensile bands: EN 10264-1:2002 Table 1.
"""
import json
import os
import pathlib
import subprocess
import sys

DEMO = pathlib.Path(__file__).resolve().parents[2] / "demo-data"

# d mm: greatest diameter um, force N at 1770 and at 1960
C1 = {8: (8400, 37600, 41600), 10: (10500, 58800, 65100), 13: (13650, 99300, 110000),
      16: (16800, 150000, 167000), 20: (21000, 235000, 260000), 28: (29400, 461000, 510000), 36: (37800, 762000, 843000)}
BANDS = {(200, 1770): 2160, (500, 1770): 2120, (1000, 1770): 2090, (1500, 1770): 2060, (2000, 1770): 2030, (3500, 1770): 2020,
         (1000, 1570): 1890, (1000, 1960): 2280, (3500, 2160): 2410}


def specs(name):
    return {b["spec"]: b for b in (json.loads(line)["body"] for line in (DEMO / name).read_text().splitlines())}


def test_the_files_are_what_the_program_makes():
    assert subprocess.run([sys.executable, DEMO / "make_specifications.py", "--check"], stdout=subprocess.DEVNULL).returncode == 0


def test_ropes_are_as_published():
    shipped = specs("specifications.ndjson")
    for d, (most, f1770, f1960) in C1.items():
        for grade, force in ((1770, f1770), (1960, f1960)):
            s = shipped["STD-R-6X7-FC-%02d-%d" % (d, grade)]
            assert s["limits"]["breaking_n"] == {"min": force}, s["spec"]
            assert s["limits"]["diameter_um"] == {"min": d * 1000, "max": most}, s["spec"]


def test_wires_are_as_published():
    shipped = specs("specifications.ndjson")
    for (low, grade), most in BANDS.items():
        assert shipped["STD-W-%d-%04d" % (grade, low)]["limits"]["tensile_kpa"] == {"min": grade * 1000, "max": most * 1000}


def test_each_says_its_source_and_memory_is_apart():
    read, recalled = specs("specifications.ndjson"), specs("specifications-from-memory.ndjson")
    assert all(s["source"] and "memory" not in s["source"] for s in read.values())
    assert recalled and all("value from memory" in s["source"] for s in recalled.values())
    assert not set(read) & set(recalled)
    # nothing that is only remembered is a limit in the set that is loaded by default
    assert not any("torsions" in s["limits"] for s in read.values())


def test_they_load_and_judge(tmp_path):
    program = os.environ["KINWIRE"]
    ledger = tmp_path / "mill.kw"
    assert subprocess.run([program, "load", "--ledger", ledger, DEMO / "specifications.ndjson"], stdout=subprocess.DEVNULL).returncode == 0
    mill = [("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"}),
            ("receive", {"lot": "B1", "kind": "bobbin", "heat": "H1", "diameter_um": 1200, "length_mm": 1000000,
                         "tensile_grade_kpa": 1770000}),
            ("test", {"test": "T1", "lot": "B1", "results": {"tensile_kpa": 2090001}})]
    lines = "".join(json.dumps({"key": "00000000-0000-4000-8000-00000000000%d" % i, "kind": kind, "body": body}) + "\n"
                    for i, (kind, body) in enumerate(mill))
    subprocess.run([program, "load", "--ledger", ledger, "-"], input=lines, text=True, stdout=subprocess.DEVNULL, check=True)
    traced = subprocess.run([program, "trace", "--ledger", ledger, "test:T1", "--json"], capture_output=True, text=True, check=True)
    assert json.loads(traced.stdout)["lots"][0]["lot"] == "B1"
