"""What leaves the mill: entries that load again, tables, reports, packs that tell any change, and notes of the head."""
import csv
import io
import json
import random
import re
import shutil
import subprocess
import zipfile
from datetime import datetime, timedelta, timezone

import pytest
from packs import repack, unpack
from support import KINWIRE, ROOT, entry, examples, run_cli

DEMO = ROOT / "demo-data" / "mill.ndjson"


def export(ledger, origin, form, *more, to=None):
    """The bytes of an export."""
    done = subprocess.run([KINWIRE, "export", "--ledger", str(ledger), origin, "--as", form, *more,
                           *(["-o", str(to)] if to else [])], capture_output=True, timeout=1200)
    assert done.returncode == 0, done.stderr.decode()
    return to.read_bytes() if to else done.stdout


def load(ledger, data):
    done = subprocess.run([KINWIRE, "load", "--ledger", str(ledger), "-"], input=data, capture_output=True, timeout=1200)
    assert done.returncode == 0, done.stderr.decode()
    return ledger


def spans(ledger, origin, direction):
    done = run_cli("trace", "--ledger", ledger, origin, "--direction", direction, "--json")
    assert done.returncode == 0, done.stderr
    return {x["lot"]: (x["certain"], x["possible"]) for x in json.loads(done.stdout)["lots"]}


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    ledger = tmp_path_factory.mktemp("demo") / "mill.kw"
    return load(ledger, DEMO.read_bytes())


def codes(lines, kind, member):
    return [json.loads(x)["body"][member] for x in lines if json.loads(x)["kind"] == kind]


def packages(lines, kind):
    return [p["lot"] for x in lines for p in json.loads(x)["body"].get("packages", []) if p.get("kind") == kind]


# --- entries --------------------------------------------------------------------------------------


def test_everything_is_the_leaves_and_loads_again(mill, tmp_path):
    data = export(mill, "all", "entries")
    lines = data.splitlines()
    assert [json.loads(x)["seq"] for x in lines] == list(range(1, len(lines) + 1))
    again = load(tmp_path / "again.kw", data)
    assert run_cli("verify", "--ledger", again).returncode == 0
    for heat in codes(lines, "heat", "heat")[::12]:
        assert spans(again, "heat:" + heat, "forward") == spans(mill, "heat:" + heat, "forward"), heat


def test_a_month_loads_into_an_empty_ledger_and_gives_the_same_traces(mill, tmp_path):
    data = export(mill, "month:2026-10", "entries")
    lines = data.splitlines()
    october = [x for x in lines if json.loads(x)["at"].startswith("2026-10")]
    whole = export(mill, "all", "entries").splitlines()
    assert len(october) == sum(json.loads(x)["at"].startswith("2026-10") for x in whole)
    month = load(tmp_path / "month.kw", data)
    assert run_cli("verify", "--ledger", month).returncode == 0
    reels = packages(october, "reel")
    assert len(reels) > 50
    for reel in random.Random(10).sample(reels, 15):
        assert spans(month, "lot:" + reel, "back") == spans(mill, "lot:" + reel, "back"), reel
    for heat in random.Random(11).sample(codes(october, "heat", "heat"), 5):
        assert spans(month, "heat:" + heat, "forward") == spans(mill, "heat:" + heat, "forward"), heat


def at(day, seconds):
    return (datetime(2026, 9, 1, tzinfo=timezone.utc) + timedelta(days=day, seconds=seconds)).strftime("%Y-%m-%dT%H:%M:%SZ")


@pytest.mark.parametrize("since, until", [(at(12, 5), at(19, 61)), (at(33, 40000), at(35, 7)), (None, at(8, 0)), (at(50, 1), None)])
def test_what_happened_between_two_times_loads_and_gives_the_same_traces(mill, tmp_path, since, until):
    bounds = [*(["--since", since] if since else []), *(["--until", until] if until else [])]
    data = export(mill, "all", "entries", *bounds)
    inside = [json.loads(x) for x in export(mill, "all", "entries").splitlines()
              if (since or "") <= json.loads(x)["at"] < (until or "~")]
    got = {json.loads(x)["seq"] for x in data.splitlines()}
    assert inside and {e["seq"] for e in inside} <= got
    part = load(tmp_path / "part.kw", data)
    assert run_cli("verify", "--ledger", part).returncode == 0
    made = {p["lot"] for e in inside if e["kind"] == "run" for p in e["body"]["packages"] if "lot" in p}
    for lot in random.Random(12).sample(sorted(made), 12):
        assert spans(part, "lot:" + lot, "back") == spans(mill, "lot:" + lot, "back"), lot
    heats = codes(data.splitlines(), "heat", "heat")
    for heat in random.Random(13).sample(heats, min(3, len(heats))):
        there, whole = spans(part, "heat:" + heat, "forward"), spans(mill, "heat:" + heat, "forward")
        assert {k: there[k] for k in there if k in made} == {k: whole[k] for k in whole if k in made}, heat


UNITS = {"diameter_um": "4H", "tensile_kpa": "KPA", "torsions": "C62", "bends": "C62", "zinc_mg_m2": "GO", "breaking_n": "NEW", "lay_um": "4H"}


def test_what_was_measured_has_its_unit(mill):
    events = json.loads(export(mill, "all", "epcis", "--since", at(12, 5), "--until", at(19, 61)))["epcisBody"]["eventList"]
    reports = [r for e in events for s in e.get("sensorElementList", []) for r in s["sensorReport"]]
    said = {(r["type"].rsplit("/", 1)[-1], r.get("uom")) for r in reports}
    assert len(said) > 3
    assert all(UNITS[name] == unit for name, unit in said if name in UNITS) and any(name in UNITS for name, _ in said)


def test_the_forms_between_two_times(mill, server_on, tmp_path):
    since, until = at(12, 5), at(19, 61)
    bounds = ["--since", since, "--until", until]
    api = server_on(mill).api
    for form in ("entries", "csv", "epcis", "prov", "pack"):
        data = export(mill, "all", form, *bounds)
        answer = api.request("GET", "/api/export", params={"origin": "all", "since": since, "until": until, "as": form})
        assert answer.content == data, form
        assert 'filename="all-since-20260913T000005Z-until-20260920T000101Z.' in answer.headers["Content-Disposition"]
    events = json.loads(export(mill, "all", "epcis", *bounds))["epcisBody"]["eventList"]
    assert [e for e in events if since <= e["eventTime"] < until]
    # another zone names the same instants
    assert export(mill, "all", "csv", "--since", "2026-09-13T02:00:05+02:00", "--until", until) == export(mill, "all", "csv", *bounds)
    # two halves that meet share no lot and miss none
    half, whole = at(15, 3600), export(mill, "all", "csv", *bounds).splitlines()[1:]
    parts = [export(mill, "all", "csv", "--since", a, "--until", b).splitlines()[1:] for a, b in ((since, half), (half, until))]
    own = [[r for r in rows if a <= r.decode().split('"')[5] < b] for rows, a, b in
           ((parts[0], since, half), (parts[1], half, until), (whole, since, until))]
    assert sorted(own[0] + own[1]) == sorted(own[2])
    pack = tmp_path / "w.zip"
    export(mill, "all", "pack", *bounds, to=pack)
    head = json.loads(zipfile.ZipFile(pack).read("head.json"))
    assert (head["origin"], head["since"], head["until"]) == ("all", since, until)


def test_a_machine_in_a_time_and_a_part_of_a_lot(mill):
    run = next(json.loads(x) for x in export(mill, "all", "entries").splitlines() if json.loads(x)["kind"] == "run")["body"]
    part = json.loads(run_cli("trace", "--ledger", mill, "machine:" + run["machine"], "--since", run["started"], "--until",
                              run["ended"], "--json").stdout)["lots"]
    rows = list(csv.DictReader(io.StringIO(export(mill, "machine:" + run["machine"], "csv", "--since", run["started"], "--until",
                                                  run["ended"]).decode(), newline="")))
    assert [r["lot"] for r in rows] == [x["lot"] for x in part]
    assert len(rows) < len(spans(mill, "machine:" + run["machine"], "forward"))
    bounds = ("--direction", "back", "--from-mm", "1000", "--to-mm", "2000")
    rows = list(csv.DictReader(io.StringIO(export(mill, "lot:RL-0045", "csv", *bounds).decode(), newline="")))
    asked = json.loads(run_cli("trace", "--ledger", mill, "lot:RL-0045", *bounds, "--json").stdout)["lots"]
    assert {r["lot"]: r["possible"] for r in rows} == {x["lot"]: " ".join("%d-%d" % tuple(s) for s in x["possible"]) for x in asked}


@pytest.mark.parametrize("origin, direction", [("lot:RL-0045", "back"), ("certificate:IC-0002", "back"), ("lot:RC-0081", "forward"),
                                               ("consignment:DN-0002", "back")])
def test_what_an_origin_needs_comes_with_it(mill, tmp_path, origin, direction):
    data = export(mill, origin, "entries", "--direction", direction)
    part = load(tmp_path / "part.kw", data)
    assert run_cli("verify", "--ledger", part).returncode == 0
    assert spans(part, origin, direction) == spans(mill, origin, direction)


@pytest.mark.parametrize("name, entries, questions", examples(), ids=[x[0] for x in examples()])
def test_examples_survive_the_way_out_and_in(tmp_path, name, entries, questions):
    first = load(tmp_path / "first.kw", "".join(json.dumps(e) + "\n" for e in entries).encode())
    second = load(tmp_path / "second.kw", export(first, "all", "entries"))
    for e in entries:
        if e["kind"] in ("heat", "run"):
            origin = "%s:%s" % (e["kind"], e["body"][e["kind"]])
            assert spans(second, origin, "kin") == spans(first, origin, "kin"), (name, origin)


def test_a_run_under_way_goes_with_its_steps(fresh, server, tmp_path):
    fresh.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    for lot in ("A", "B"):
        fresh.put("receive", {"lot": lot, "heat": "H1", "diameter_um": 5500, "length_mm": 1000000})
    fresh.put("open", {"run": "R1", "process": "wind", "machine": "W-1", "lines": ["1"]})
    fresh.put("load", {"run": "R1", "line": "1", "lot": "A"})
    fresh.put("doff", {"run": "R1", "lot": "P1", "kind": "bobbin", "length_mm": 400000})
    data = fresh.get("/api/export", origin="lot:P1", direction="back", **{"as": "entries"}).content
    part = load(tmp_path / "part.kw", data)
    want = fresh.spans("lot:P1", "back")
    assert {k: (v["certain"], v["possible"]) for k, v in want.items()} == spans(part, "lot:P1", "back")


def test_what_a_correction_takes_needs_who_took_before(fresh, tmp_path):
    """A run that said what it took is put right to take what is left of another coil, of which others took before."""
    fresh.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    for lot in ("A", "B"):
        fresh.put("receive", {"lot": lot, "heat": "H1", "diameter_um": 5500, "length_mm": 1000000})
    key = "22222222-2222-4222-8222-222222222222"

    def run(code, made, feed, length):
        return {"run": code, "process": "wind", "machine": "W-1", "lines": [{"line": "1", "feeds": [feed]}],
                "packages": [{"lot": made, "kind": "bobbin", "length_mm": length}]}

    fresh.put("run", run("R0", "P0", {"lot": "B", "from_mm": 600000, "to_mm": 1000000}, 400000))
    fresh.put("run", run("R1", "P1", {"lot": "A", "from_mm": 500000, "to_mm": 1000000}, 500000), key=key)
    fresh.put("correct", {"entry": key, "reason": "the other coil was on", "body": run("R1", "P1", {"lot": "B"}, 600000)})
    data = fresh.get("/api/export", origin="lot:P1", direction="back", **{"as": "entries"}).content
    part = load(tmp_path / "part.kw", data)
    want = fresh.spans("lot:P1", "back")
    assert want["B"]["possible"] == [[0, 600000]]
    assert {k: (v["certain"], v["possible"]) for k, v in want.items()} == spans(part, "lot:P1", "back")


def test_who_agreed_goes_with_a_hold(fresh):
    fresh.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    fresh.put("receive", {"lot": "A", "heat": "H1", "diameter_um": 5500, "length_mm": 1000000})
    fresh.put("hold", {"hold": "Q1", "reason": "a seam", "lots": [{"lot": "A"}]})
    fresh.put("agree", {"hold": "Q1", "disposition": "release", "reason": "a scratch in the scale"})
    fresh.put("release", {"hold": "Q1", "disposition": "release", "reason": "a scratch in the scale"})
    lines = fresh.get("/api/export", origin="lot:A", **{"as": "entries"}).text.splitlines()
    assert [json.loads(x)["kind"] for x in lines] == ["heat", "receive", "hold", "agree", "release"]


def test_a_voided_test_is_among_the_entries_of_its_lot(fresh):
    fresh.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    fresh.put("receive", {"lot": "A", "heat": "H1", "diameter_um": 5500, "length_mm": 1000000})
    key = "11111111-1111-4111-8111-111111111111"
    fresh.put("test", {"test": "T1", "lot": "A", "results": {"torsions": 1}, "verdict": "fail"}, key=key)
    fresh.put("void", {"entry": key, "reason": "taken from another coil"})
    lines = fresh.get("/api/export", origin="lot:A", **{"as": "entries"}).text.splitlines()
    assert [json.loads(x)["kind"] for x in lines] == ["heat", "receive", "test", "void"]


def test_scopes_that_are_none(mill):
    for origin in ("month:2026-13", "month:26-01", "month:2026-1", "everything", "lot", "lot:?"):
        assert run_cli("export", "--ledger", mill, origin, "--as", "csv").returncode == 2, origin
    for origin, *more in (("month:2026-10", "--since", at(1, 0)), ("lot:RL-0045", "--since", at(1, 0)), ("all", "--from-mm", "0"),
                          ("all", "--until", "yesterday"), ("all", "--since", at(2, 0), "--until", at(1, 0)),
                          ("lot:RL-0045", "--from-mm", "5"), ("lot:RL-0045", "--from-mm", "-1", "--to-mm", "5"),
                          ("heat:48322", "--from-mm", "0", "--to-mm", "5"), ("month:2026-10", "--direction", "back")):
        done = run_cli("export", "--ledger", mill, origin, "--as", "csv", *more)
        assert done.returncode == 2 and len(done.stderr) > 20, (origin, more, done.stdout)
    assert run_cli("export", "--ledger", mill, "lot:NO-SUCH", "--as", "csv").returncode == 1
    assert run_cli("export", "--ledger", mill, "all", "--as", "report", "-o", "/dev/null").returncode == 2
    assert run_cli("export", "--ledger", mill, "all", "--as", "xml").returncode == 2
    assert export(mill, "month:1999-01", "entries") == b""


# --- csv ------------------------------------------------------------------------------------------


def test_csv_is_read_by_another_parser(mill):
    data = export(mill, "all", "csv").decode()
    assert "\n" not in data.replace("\r\n", "")
    rows = list(csv.DictReader(io.StringIO(data, newline="")))
    lines = export(mill, "all", "entries").splitlines()
    assert len(rows) > 5000 and len({r["lot"] for r in rows}) == len(rows)
    by_lot = {r["lot"]: r for r in rows}
    for x in lines:
        e = json.loads(x)
        if e["kind"] == "run" and e["seq"] % 7 == 0:
            s = 0
            for p in e["body"]["packages"]:
                length = p.get("length_mm", p.get("scrap_mm"))
                if "lot" in p and p["lot"] in by_lot and by_lot[p["lot"]]["entry"] == str(e["seq"]):
                    assert int(by_lot[p["lot"]]["length_mm"]) == length
                    assert int(by_lot[p["lot"]]["s1_mm"]) - int(by_lot[p["lot"]]["s0_mm"]) == length
                s += length


def test_csv_of_a_trace_has_its_spans(mill):
    rows = list(csv.DictReader(io.StringIO(export(mill, "lot:RL-0045", "csv", "--direction", "back").decode(), newline="")))
    want = spans(mill, "lot:RL-0045", "back")
    assert [r["lot"] for r in rows] == list(want)
    for r in rows:
        assert r["possible"] == " ".join("%d-%d" % tuple(s) for s in want[r["lot"]][1])


def test_csv_is_safe_in_a_spreadsheet(fresh):
    fresh.put("heat", {"heat": "H1", "supplier": "=HYPERLINK(\"x\")", "grade": "+1"})
    fresh.put("receive", {"lot": "-A", "heat": "H1", "diameter_um": 5500, "length_mm": 1000, "location": "@here, \"there\""})
    text = fresh.get("/api/export", origin="lot:-A", **{"as": "csv"}).content.decode()
    row = list(csv.DictReader(io.StringIO(text, newline="")))[0]
    assert (row["lot"], row["supplier"], row["grade"], row["location"]) == (
        "'-A", "'=HYPERLINK(\"x\")", "'+1", "'@here, \"there\"")


# --- the genealogy --------------------------------------------------------------------------------


@pytest.mark.parametrize("origin, direction", [("lot:RL-0045", "back"), ("certificate:IC-0002", "back"), ("heat:48322", "forward"),
                                               ("run:X-0003", "forward"), ("machine:F-2", "forward")])
def test_a_genealogy_says_what_the_entries_say(mill, origin, direction):
    whole = [json.loads(x) for x in export(mill, "all", "entries").splitlines()]
    g = json.loads(export(mill, origin, "genealogy"))
    asked = json.loads(run_cli("trace", "--ledger", mill, origin, "--direction", direction, "--json").stdout)
    assert g["trace"] == asked
    lots = {x["lot"] for x in asked["lots"]}
    voided = {e["body"]["entry"] for e in whole if e["kind"] == "void"}
    corrected = {e["body"]["entry"]: e["body"]["body"] for e in whole if e["kind"] == "correct"}
    standing = [(e["kind"], corrected.get(e["key"], e["body"]), e["seq"]) for e in whole if e["key"] not in voided]
    assert sorted(r["run"] for r in g["runs"]) == sorted({x["run"] for x in asked["lots"] if x["run"]})
    tests = {b["test"]: b for kind, b, _ in standing if kind == "test" and b["lot"] in lots}
    assert sorted(t["test"] for t in g["tests"]) == sorted(tests)
    for t in g["tests"]:
        assert t["lot"] == tests[t["test"]]["lot"]
        assert tests[t["test"]].get("results", {}).items() <= t["results"].items()
    assert {(p["lot"], p["consignment"]) for p in g["papers"] if "consignment" in p} == {
        (lot, b["consignment"]) for kind, b, _ in standing if kind == "dispatch" for lot in b["lots"] if lot in lots}
    assert {(p["lot"], p["certificate"]) for p in g["papers"] if "certificate" in p} == {
        (lot, b["certificate"]) for kind, b, _ in standing if kind == "certify" for lot in b["reels"] if lot in lots}
    assert {r["lot"]: r["heat"] for r in g["received"]} == {
        b["lot"]: b.get("heat") for kind, b, _ in standing if kind == "receive" and b["lot"] in lots}
    for run in g["runs"]:
        body = next(b for kind, b, seq in standing if seq == run["entry"])
        assert run["settings"] if body.get("settings") else "settings" not in run
        assert [p["lot"] for p in run["packages"]] == [p["lot"] for p in body["packages"] if p.get("lot") in lots]
        assert run["packages_in_all"] == len(body["packages"])
        assert {f["lot"] for f in run["feeds"]} == {f["lot"] for x in body["lines"] for f in x["feeds"]} & lots


# --- names in open formats --------------------------------------------------------------------------


def test_things_are_named_by_an_address_that_the_mill_owns(mill, server_on):
    mine = "https://ropes.example/id/"
    api = server_on(mill, "--names", mine[:-1]).api
    for form in ("epcis", "prov"):
        plain = export(mill, "lot:RL-0045", form)
        named = export(mill, "lot:RL-0045", form, "--names", mine)
        assert b"https://kinwire.example/mill/" in plain and mine.encode() not in plain
        assert named == plain.replace(b"https://kinwire.example/mill/", mine.encode())
        assert named == export(mill, "lot:RL-0045", form, "--names", mine[:-1])
        assert api.request("GET", "/api/export", params={"origin": "lot:RL-0045", "as": form}).content == named
    for bad in ("ropes.example", "ftp://ropes.example/", "https://", "https:///x", "https://a b/", 'https://a"b/', "https://a.example/#",
                "https://a.example/?x", "https://" + "a" * 200):
        done = run_cli("export", "--ledger", mill, "all", "--as", "epcis", "--names", bad)
        assert done.returncode == 2 and "an address that the mill owns" in done.stderr, bad
        done = run_cli("serve", "--ledger", mill, "--listen", "127.0.0.1:0", "--open", "--names", bad)
        assert done.returncode == 2 and "an address that the mill owns" in done.stderr, bad


# --- the report -----------------------------------------------------------------------------------


def needs(*tools):
    missing = [t for t in tools if not shutil.which(t)]
    if missing:
        pytest.skip("no %s" % ", ".join(missing))


def text_of(pdf):
    return subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout


def test_a_report_says_what_there_is(mill, tmp_path):
    needs("pdftotext", "qpdf", "pdfinfo")
    pdf = tmp_path / "r.pdf"
    data = export(mill, "lot:RL-0001", "report", to=pdf)
    assert data == export(mill, "lot:RL-0001", "report"), "the same ledger gives other bytes"
    checked = subprocess.run(["qpdf", "--check", str(pdf)], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    text = text_of(pdf)
    head = json.loads(zipfile.ZipFile(io.BytesIO(export(mill, "lot:RL-0001", "pack"))).read("head.json"))
    assert head["root"] in text and "%d entries" % head["size"] in text
    for lot in spans(mill, "lot:RL-0001", "back"):
        assert lot in text, lot
    pages = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True).stdout).group(1))
    for n in range(1, pages + 1):
        assert "page %d of %d" % (n, pages) in text
    assert "IC-0002" in text and "DN-0002" in text


def test_a_report_tells_of_holds_and_corrections(mill, tmp_path):
    needs("pdftotext")
    held = next(json.loads(x)["body"] for x in DEMO.read_text().splitlines() if json.loads(x)["kind"] == "hold")
    pdf = tmp_path / "r.pdf"
    export(mill, "lot:" + held["lots"][0]["lot"], "report", to=pdf)
    text = re.sub(r"\s+", " ", text_of(pdf))
    assert held["hold"] in text
    corrected = next(json.loads(x)["body"] for x in DEMO.read_text().splitlines() if json.loads(x)["kind"] == "correct")
    export(mill, "run:" + corrected["body"]["run"], "report", to=pdf)
    assert "booked with RC-0006" in re.sub(r"\s+", " ", text_of(pdf))


def test_a_rope_of_three_hundred_bobbins(tmp_path):
    needs("pdftotext", "qpdf", "pdfinfo")
    entries = [entry("heat", {"heat": "H%d" % h, "supplier": "Northmark Steel", "grade": "C82D"}) for h in range(6)]
    for b in range(300):
        entries.append(entry("receive", {"lot": "BB-%03d" % b, "kind": "bobbin", "heat": "H%d" % (b % 6), "diameter_um": 1000,
                                         "length_mm": 1100000}))
    for s in range(20):
        lines = [{"line": str(n), "feeds": [{"lot": "BB-%03d" % (15 * s + n)}]} for n in range(15)]
        entries.append(entry("run", {"run": "S-%02d" % s, "process": "strand", "machine": "STR-1", "lines": lines,
                                     "packages": [{"lot": "ST-%02d" % s, "kind": "strand", "length_mm": 1000000}]}))
    lines = [{"line": str(n), "feeds": [{"lot": "ST-%02d" % n}]} for n in range(20)]
    entries.append(entry("run", {"run": "L-1", "process": "close", "machine": "CL-1", "lines": lines,
                                 "packages": [{"lot": "ROPE-1", "kind": "rope", "length_mm": 900000}]}))
    ledger = load(tmp_path / "rope.kw", "".join(json.dumps(e) + "\n" for e in entries).encode())
    pdf = tmp_path / "rope.pdf"
    export(ledger, "lot:ROPE-1", "report", to=pdf)
    assert subprocess.run(["qpdf", "--check", str(pdf)], capture_output=True).returncode == 0
    text = text_of(pdf)
    assert all("BB-%03d" % b in text for b in range(300))
    pages = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True).stdout).group(1))
    assert 10 <= pages <= 45, pages


# --- the pack -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pack(mill, tmp_path_factory):
    path = tmp_path_factory.mktemp("pack") / "reel.zip"
    export(mill, "lot:RL-0045", "pack", to=path)
    return path


def checked(folder):
    """Exit status and words of sha256sum and of the pack's own script."""
    sums = subprocess.run(["sha256sum", "-c", "--quiet", "MANIFEST.sha256"], cwd=folder, capture_output=True, text=True)
    script = subprocess.run(["python3", "check.py"], cwd=folder, capture_output=True, text=True)
    return sums.returncode, script.returncode, sums.stdout + script.stdout + script.stderr


def test_a_pack_is_checked_with_common_tools(pack, mill, tmp_path):
    assert pack.read_bytes() == export(mill, "lot:RL-0045", "pack"), "the same ledger gives other bytes"
    done = run_cli("verify", pack)
    assert done.returncode == 0, done.stderr
    folder = unpack(pack, tmp_path / "p")
    assert sorted(x.name for x in folder.iterdir() if not x.name.startswith("certificate-")) == [
        "HOWTO.txt", "MANIFEST.sha256", "certificates.ndjson", "certificates.py", "check.py", "entries.ndjson", "grew.py", "head.json",
        "lots.csv", "proofs.ndjson", "report.pdf"]
    assert checked(folder)[:2] == (0, 0), checked(folder)
    assert len([x for x in (folder / "check.py").read_text().splitlines() if x]) <= 60, "an auditor reads it before running it"
    if shutil.which("unzip"):
        assert subprocess.run(["unzip", "-tqq", str(pack)]).returncode == 0


def test_any_byte_that_is_changed_is_told(pack, tmp_path):
    data, spoiled = pack.read_bytes(), tmp_path / "spoiled.zip"
    names = [i.filename for i in zipfile.ZipFile(pack).infolist()]
    rng = random.Random(17)
    places = rng.sample(range(len(data)), 120) + list(range(0, 40, 3)) + list(range(len(data) - 700, len(data), 13))
    for at in places:
        changed = bytearray(data)
        changed[at] ^= 1 << rng.randrange(8)
        spoiled.write_bytes(changed)
        done = run_cli("verify", spoiled)
        assert done.returncode == 1, "byte %d: %d %s" % (at, done.returncode, done.stdout + done.stderr)
        assert any(n in done.stderr for n in names + ["directory"]), "byte %d: %s" % (at, done.stderr)
    for cut in (0, 1, 100, len(data) // 2, len(data) - 1):
        spoiled.write_bytes(data[:cut])
        assert run_cli("verify", spoiled).returncode == 1, cut
    spoiled.write_bytes(data + b"\0")
    assert run_cli("verify", spoiled).returncode == 1


def test_a_forged_entry_is_named(pack, tmp_path):
    folder = unpack(pack, tmp_path / "p")
    lines = (folder / "entries.ndjson").read_bytes().splitlines(keepends=True)
    seq = json.loads(lines[40])["seq"]
    cases = {
        "changed": (lines[:40] + [lines[40].replace(b'"by":"load"', b'"by":"lord"')] + lines[41:], seq),
        "left out": (lines[:40] + lines[41:], None),
        "twice": (lines[:41] + lines[40:], None),
        "in another place": (lines[:40] + [lines[41], lines[40]] + lines[42:], None),
    }
    for name, (forged, entry_seq) in cases.items():
        (folder / "entries.ndjson").write_bytes(b"".join(forged))
        repack(folder, tmp_path / "forged.zip")
        done = run_cli("verify", tmp_path / "forged.zip")
        assert done.returncode == 1 and "entr" in done.stderr, (name, done.stderr)
        assert checked(folder)[1] == 1, name
        if entry_seq:
            assert "entry %d " % entry_seq in done.stderr, done.stderr
            assert "entry %d " % entry_seq in checked(folder)[2]


def test_a_file_added_or_taken_away_is_told(pack, tmp_path):
    folder = unpack(pack, tmp_path / "p")
    manifest = (folder / "MANIFEST.sha256").read_bytes()
    (folder / "more.txt").write_text("more")
    repack(folder, tmp_path / "z.zip")
    (folder / "MANIFEST.sha256").write_bytes(manifest)
    assert checked(folder)[1] == 1
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as z:
        for x in folder.iterdir():
            z.write(x, x.name)
    done = run_cli("verify", tmp_path / "z.zip")
    assert done.returncode == 1 and "more.txt" in done.stderr
    (folder / "more.txt").unlink()
    with zipfile.ZipFile(tmp_path / "z.zip", "w") as z:
        for x in folder.iterdir():
            if x.name != "report.pdf":
                z.write(x, x.name)
    done = run_cli("verify", tmp_path / "z.zip")
    assert done.returncode == 1 and "report.pdf" in done.stderr


def test_packs_of_a_month_and_of_everything(mill, tmp_path):
    for origin in ("month:2026-09", "all"):
        path = tmp_path / "p.zip"
        export(mill, origin, "pack", to=path)
        assert run_cli("verify", path).returncode == 0
        folder = unpack(path, tmp_path / origin.replace(":", "-"))
        assert checked(folder)[:2] == (0, 0)


def test_what_is_no_pack(tmp_path, mill):
    assert run_cli("verify", tmp_path / "none.zip").returncode == 3
    (tmp_path / "text.zip").write_text("no zip")
    assert run_cli("verify", tmp_path / "text.zip").returncode == 1
    assert run_cli("verify", mill).returncode == 1


# --- witness --------------------------------------------------------------------------------------


def test_notes_of_the_head(tmp_path):
    ledger, key = tmp_path / "mill.kw", tmp_path / "key"
    notes = [tmp_path / ("note-%d" % i) for i in range(3)]
    assert run_cli("witness", "--make-key", key).returncode == 0
    assert key.stat().st_mode & 0o777 == 0o600
    assert run_cli("witness", "--make-key", key).returncode == 4, "a key was overwritten"
    for i, note in enumerate(notes[:2]):
        load(ledger, json.dumps(entry("heat", {"heat": "H%d" % i, "supplier": "S", "grade": "G"})).encode())
        assert run_cli("witness", "--ledger", ledger, "--key", key, "-o", note).returncode == 0
    assert run_cli("witness", "--ledger", ledger, "--key", key, "-o", notes[0]).returncode == 4, "a note was overwritten"
    grew = run_cli("witness", "--check", notes[0], notes[1], "--ledger", ledger)
    assert grew.returncode == 0 and "only grew" in grew.stdout
    assert run_cli("witness", "--check", notes[1], notes[0], "--ledger", ledger).returncode == 1

    # an independent reader of the signature
    text = notes[0].read_bytes()
    signed, signature = text.split(b"signature ")
    public = bytes.fromhex(re.search(rb"key (\w+)\n", signed).group(1).decode())
    try:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
        Ed25519PublicKey.from_public_bytes(public).verify(bytes.fromhex(signature.decode().strip()), signed)
    except ImportError:
        pass

    for at in range(len(text)):
        changed = bytearray(text)
        changed[at] ^= 1
        notes[2].write_bytes(changed)
        done = run_cli("witness", "--check", notes[2], notes[1], "--ledger", ledger)
        assert done.returncode == 1, (at, done.stdout)

    # another history of the same length
    other = tmp_path / "other.kw"
    for i in range(2):
        load(other, json.dumps(entry("heat", {"heat": "X%d" % i, "supplier": "S", "grade": "G"})).encode())
    notes[2].unlink()
    assert run_cli("witness", "--ledger", other, "--key", key, "-o", notes[2]).returncode == 0
    assert run_cli("witness", "--check", notes[0], notes[2], "--ledger", other).returncode == 1
    assert run_cli("witness", "--check", notes[0], notes[1], "--ledger", other).returncode == 1


# --- over HTTP ------------------------------------------------------------------------------------


@pytest.mark.parametrize("form, media, ending", [
    ("entries", "application/x-ndjson", "ndjson"), ("csv", "text/csv; charset=utf-8; header=present", "csv"),
    ("epcis", "application/ld+json", "jsonld"), ("prov", "application/json", "prov.json"), ("report", "application/pdf", "pdf"),
    ("genealogy", "application/json", "json"), ("pack", "application/zip", "zip")])
def test_over_http_as_on_the_command_line(server_on, mill, form, media, ending):
    api = server_on(mill).api
    answer = api.request("GET", "/api/export", params={"origin": "lot:RL-0045", "as": form})
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == media
    assert answer.headers["Content-Disposition"] == 'attachment; filename="lot-RL-0045.%s"' % ending
    assert answer.content == export(mill, "lot:RL-0045", form)


def test_questions_that_are_refused(api):
    for query, status in (({}, 400), ({"origin": "all"}, 400), ({"origin": "all", "as": "xml"}, 400),
                          ({"origin": "all", "as": "report"}, 400), ({"origin": "lot:NONE", "as": "pack"}, 404),
                          ({"origin": "all", "as": "csv", "direction": "back"}, 400),
                          ({"origin": "all", "as": "csv", "more": "1"}, 400)):
        assert api.request("GET", "/api/export", params=query).status_code == status, query


def test_the_name_of_the_file_is_safe(fresh):
    fresh.put("heat", {"heat": "A/../B", "supplier": "S", "grade": "G"})
    answer = fresh.request("GET", "/api/export", params={"origin": "heat:A/../B", "as": "entries"})
    assert answer.headers["Content-Disposition"] == 'attachment; filename="heat-A-..-B.ndjson"'
