"""Find, lots, things, attention, entries, traces in pages and as CSV: what the pages and an auditor read."""
import csv
import io
import re

import pytest

from oracle import Mill
from support import ROOT, Api, entry, examples, new_key, serving


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """The design's small mill, with its oracle."""
    entries = next(e for name, e, _ in examples() if name.startswith("5"))
    with serving(tmp_path_factory.mktemp("small") / "mill.kw") as s:
        s.api.load(entries)
        yield s.api, Mill(entries)


# --- traces ---------------------------------------------------------------------------------------


def test_rows_by_depth_then_code(small):
    api, mill = small
    for origin in ("heat:H700", "batch:PB-1"):
        rows = api.trace(origin)["lots"]
        assert [(x["depth"], x["lot"]) for x in rows] == sorted((x["depth"], x["lot"]) for x in rows)
        for x in rows:
            lot = mill.lots[x["lot"]]
            assert x["depth"] == mill.lot_depth(x["lot"])
            assert (x["run"], x["kind"], x["length_mm"]) == (lot.run, lot.kind, lot.length)


def test_pages_of_a_trace_are_the_whole(small):
    api, _ = small
    whole = api.trace("heat:H704")
    assert whole["count"] == len(whole["lots"])
    rows, after = [], None
    while True:
        page = api.trace("heat:H704", limit=17, after=after)
        assert (page["count"], page["totals"], page["containment"]) == (whole["count"], whole["totals"], whole["containment"])
        rows += page["lots"]
        after = page["next"]
        if after is None:
            break
        assert len(page["lots"]) == 17
    assert rows == whole["lots"]


def test_a_long_list_to_contain_goes_with_the_rows(tmp_path):
    """Beyond 5,000 lots with length left a page names those of its rows; how many there are, and who was sent what, is whole."""
    with serving(tmp_path / "mill.kw") as s:
        s.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
        s.api.load([entry("receive", {"lot": "C-%05d" % i, "heat": "H1", "diameter_um": 5500, "length_mm": 1000})
                    for i in range(5003)])
        s.api.put("dispatch", {"consignment": "CN-1", "consignee": "Deep Mine", "lots": ["C-00000"]})
        whole = s.api.trace("heat:H1")
        codes = ["C-%05d" % i for i in range(1, 5003)]
        assert (whole["containment"]["count"], sorted(whole["containment"]["lots"])) == (5002, codes)
        page = s.api.trace("heat:H1", limit=3)
        assert page["containment"] == dict(whole["containment"], lots=codes[:2])
        assert page["totals"] == whole["totals"]
        page = s.api.trace("heat:H1", limit=5000, after="C-00002")
        assert page["containment"] == dict(whole["containment"], lots=codes[2:])
        s.api.put("dispatch", {"consignment": "CN-2", "consignee": "Deep Mine", "lots": codes[:2]})
        page = s.api.trace("heat:H1", limit=1)
        assert (page["containment"]["count"], sorted(page["containment"]["lots"])) == (5000, codes[2:])


def test_a_long_list_of_starts_goes_with_the_rows(tmp_path):
    """Beyond 5,000 lots that it starts with a page lists those of its rows, with rows that it doesn't start with among them."""
    def starts(*page, **more):
        answer = s.api.trace(*page, **more)
        assert answer["start_count"] == 5003 and {x["lot"] for x in answer["starts"]} <= {x["lot"] for x in answer["lots"]}
        return [x["lot"] for x in answer["starts"]]

    with serving(tmp_path / "mill.kw") as s:
        s.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
        codes = ["C-%05d" % i for i in range(5003)]
        s.api.load([entry("receive", {"lot": code, "heat": "H1", "diameter_um": 5500, "length_mm": 1000}) for code in codes])
        s.api.put("run", {"run": "R1", "process": "wind", "machine": "W-1", "lines": [{"line": "1", "feeds": [{"lot": codes[0]}]}],
                          "packages": [{"lot": "B-1", "kind": "bobbin", "length_mm": 1000}]})
        assert starts("heat:H1") == codes
        assert starts("heat:H1", limit=3) == codes[:3]
        assert starts("heat:H1", limit=1, after=codes[2]) == codes[3:4]
        assert starts("heat:H1", limit=5000, after=codes[2]) == codes[3:]
        assert starts("heat:H1", limit=9, after=codes[-1]) == []
        assert starts("heat:H1", limit=9, after="B-1") == []


def test_starts_are_the_origins_own_spans(small):
    api, mill = small
    answer = api.trace("heat:H700")
    assert {x["lot"] for x in answer["starts"]} == set(mill.from_heat("H700"))
    part = api.trace("lot:R-139-1", "back", from_mm=9527, to_mm=19054)
    assert part["starts"] == [{"lot": "R-139-1", "certain": [[9527, 19054]], "possible": [[9527, 19054]]}]
    assert (part["from_mm"], part["to_mm"]) == (9527, 19054)


def test_csv_is_the_rows(small):
    api, _ = small
    answer = api.request("GET", "/api/trace", params={"origin": "heat:H700"}, headers={"Accept": "text/csv"})
    assert answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/csv")
    text = answer.content.decode()
    assert text.count("\r\n") == text.count("\n")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    want = api.trace("heat:H700")["lots"]
    assert list(rows[0]) == ["lot", "kind", "verdict", "length_mm", "affected_mm", "affected_g", "left_mm", "state", "location",
                             "consignee", "holds", "certain", "possible"]
    assert [r["lot"] for r in rows] == [x["lot"] for x in want]
    for r, x in zip(rows, want):
        assert r["possible"] == " ".join("%d-%d" % tuple(s) for s in x["possible"])
        assert r["certain"] == " ".join("%d-%d" % tuple(s) for s in x["certain"])
        assert int(r["affected_mm"]) == x["affected_mm"] and r["verdict"] == x["verdict"]


def test_csv_is_safe_in_a_spreadsheet(api, bench):
    one, two, sent = (bench.rod(1000, location=x) for x in ("=1+1", 'Rack "9", left', "Gate"))
    api.put("dispatch", {"consignment": bench.code("CN"), "consignee": '@SUM("a",b)', "lots": [sent]})
    for code, location, consignee in ((one, "'=1+1", ""), (two, 'Rack "9", left', ""), (sent, "", "'@SUM(\"a\",b)")):
        text = api.request("GET", "/api/trace", params={"origin": "lot:" + code}, headers={"Accept": "text/csv"}).content.decode()
        row, = csv.DictReader(io.StringIO(text, newline=""))
        assert (row["location"], row["consignee"]) == (location, consignee)


def test_what_a_trace_can_not_start_from(api, bench):
    for origin, status in (("heat:NONE", 404), ("lot:NONE", 404), ("weld:NONE", 404), ("machine:NONE", 404), ("moon:X", 400),
                           ("heat", 400), ("heat:", 400), (":H1", 400), ("heat:A B", 400), ("heat:" + "X" * 41, 400), ("", 400)):
        api.get("/api/trace", status, origin=origin)
    lot = bench.rod(1000)
    for bad in ({"direction": "sideways"}, {"from_mm": 5, "to_mm": 5}, {"from_mm": 0, "to_mm": 1001}, {"from_mm": -1, "to_mm": 5},
                {"from_mm": "x"}, {"since": "2026-01-01T00:00:00Z"}, {"limit": 0}, {"limit": "many"}, {"colour": "red"}):
        answer = api.request("GET", "/api/trace", params=dict({"origin": "lot:" + lot}, **bad))
        assert answer.status_code in (400, 422), bad
    for bad in ({"from_mm": 0, "to_mm": 1}, {"until": "2026-13-01T00:00:00Z"}):
        answer = api.request("GET", "/api/trace", params=dict({"origin": "heat:" + bench.heat()}, **bad))
        assert answer.status_code in (400, 422), bad
    api.get("/api/trace", 400)


def test_lower_case_and_percent_in_an_origin(api, bench):
    heat = bench.code("A/B.C-")
    api.put("heat", {"heat": heat, "supplier": "A", "grade": "B"})
    bench.rod(10, heat=heat)
    assert api.trace("heat:" + heat.lower())["origin"] == "heat:" + heat
    for text in (heat, heat.replace("/", "%2F"), heat.lower().replace("/", "%2f")):
        assert api.session.get(api.url + "/api/trace?origin=heat:" + text).json()["origin"] == "heat:" + heat


def test_containment(api, bench):
    """Affected lots with length left, and dispatched reels by consignee; what was wholly consumed matters through its products."""
    heat = bench.heat()
    rods = [bench.rod(1000, heat=heat) for _ in range(3)]
    reels = bench.wind([rods[0]], [400, 600], kind="reel")
    bench.wind([{"lot": rods[1], "take_mm": 100}], [{"scrap_mm": 100}])
    cn = bench.code("CN")
    api.put("dispatch", {"consignment": cn, "consignee": "Deep Mine", "lots": [reels[1]]}, at="2026-03-04T09:12:00Z")
    hd = bench.code("HD")
    api.put("hold", {"hold": hd, "reason": "r", "lots": [{"lot": rods[2], "from_mm": 0, "to_mm": 10}]})
    answer = api.trace("heat:" + heat)
    assert sorted(answer["containment"]["lots"]) == sorted([rods[1], rods[2], reels[0]])
    assert answer["containment"]["consignments"] == [
        {"consignment": cn, "consignee": "Deep Mine", "at": "2026-03-04T09:12:00Z", "reels": [reels[1]]}]
    rows = {x["lot"]: x for x in answer["lots"]}
    assert rows[rods[0]]["state"] == "consumed" and rows[rods[2]]["state"] == "on-hold" and rows[rods[2]]["holds"] == [hd]
    sent = rows[reels[1]]
    assert (sent["state"], sent["consignee"], sent["consignment"], sent["dispatched"], sent["left_mm"]) == (
        "dispatched", "Deep Mine", cn, "2026-03-04T09:12:00Z", 0)
    assert rows[rods[1]]["left"] == [[0, 900]] and rows[rods[1]]["affected_left_mm"] == 900


def test_a_window_of_a_machine(api, bench):
    machine = bench.code("M")
    body = bench.run_body([bench.rod(3000)], [
        {"lot": bench.code("BB"), "kind": "bobbin", "length_mm": 1000, "doffed": "2026-03-04T10:00:00Z"},
        {"lot": bench.code("BB"), "kind": "bobbin", "length_mm": 1000},
        {"lot": bench.code("BB"), "kind": "bobbin", "length_mm": 1000, "doffed": "2026-03-04T12:00:00Z"}],
        machine=machine, started="2026-03-04T09:00:00Z", ended="2026-03-04T12:30:00Z")
    api.put("run", body)
    a, b, c = (p["lot"] for p in body["packages"])

    def verdicts(since, until):
        t = api.trace("machine:" + machine, since="2026-03-04T%s:00Z" % since, until="2026-03-04T%s:00Z" % until)
        assert t["since"] == "2026-03-04T%s:00Z" % since
        return {x["lot"]: x["verdict"] for x in t["lots"]}

    assert verdicts("09:00", "10:00") == {a: "certain"}
    assert verdicts("09:30", "09:40") == {a: "possible"}
    assert verdicts("10:30", "10:40") == {b: "possible", c: "possible"}
    assert verdicts("10:00", "12:00") == {b: "certain", c: "certain"}
    assert verdicts("09:59", "12:10") == {a: "possible", b: "certain", c: "certain"}
    assert verdicts("13:00", "14:00") == {}


def test_a_window_of_a_bath(api, bench):
    """What a batch treated was in its machine as well, and so was what runs on other machines made under it."""
    bath, batch = bench.code("BATH"), bench.code("B")
    lot = bench.rod(2000)
    api.put("batch", {"batch": batch, "process": "clean", "machine": bath, "started": "2026-03-04T09:00:00Z",
                      "ended": "2026-03-04T10:00:00Z", "lots": [{"lot": lot, "from_mm": 0, "to_mm": 500}]})
    made, = bench.wind([{"lot": lot, "from_mm": 1000, "to_mm": 2000}], [1000], batch=batch)

    def verdicts(since, until):
        t = api.trace("machine:" + bath, since="2026-03-04T%s:00Z" % since, until="2026-03-04T%s:00Z" % until)
        return {x["lot"]: (x["verdict"], x["possible"]) for x in t["lots"]}

    assert verdicts("08:00", "11:00") == {lot: ("certain", [[0, 500]]), made: ("certain", [[0, 1000]])}
    assert verdicts("09:30", "11:00") == {lot: ("possible", [[0, 500]]), made: ("possible", [[0, 1000]])}
    assert verdicts("11:00", "12:00") == {}


# --- lots and things --------------------------------------------------------------------------------


def test_everything_on_a_lot(api, bench):
    heat = bench.heat()
    lot = bench.rod(2000, heat=heat, measured_um=[5510, 5480], order="PO-1", location="Yard")
    batch = bench.code("B")
    api.put("batch", {"batch": batch, "process": "clean", "machine": "PICKLE", "started": "2026-03-04T09:00:00Z",
                      "lots": [{"lot": lot, "from_mm": 0, "to_mm": 500}]})
    t = bench.code("T")
    api.put("test", {"test": t, "lot": lot, "at_mm": 7, "instrument": "MIC-1", "results": {"diameter_um": 5500}, "verdict": "pass"},
            at="2026-03-04T10:00:00Z")
    api.put("note", {"about": "lot:" + lot, "text": "scratched"})
    body = bench.run_body([{"lot": lot, "take_mm": 500, "off": "inner"}], [500], batch=batch)
    api.put("run", body)
    api.put("move", {"lots": [lot], "location": "Rack 1"})
    a = api.lot(lot)
    assert (a["lot"], a["kind"], a["heat"], a["grade"], a["order"], a["measured_um"], a["location"]) == (
        lot, "rod", heat, "C82D", "PO-1", [5510, 5480], "Rack 1")
    assert a["received"]["seq"] and a["from"] is None and a["entry"]["kind"] == "receive"
    assert a["batches"][0]["batch"] == batch and (a["batches"][0]["from_mm"], a["batches"][0]["to_mm"]) == (0, 500)
    use, = a["to"]
    assert (use["what"], use["run"], use["line"], use["from_mm"], use["to_mm"], use["off"]) == (
        "feed", body["run"], "1", 0, 500, "inner")
    assert a["tests"] == [{"test": t, "at_mm": 7, "sample_mm": None, "instrument": "MIC-1", "retest_of": None, "verdict": "pass",
                           "said": "pass", "judged": None,
                           "at": "2026-03-04T10:00:00Z", "results": {"diameter_um": 5500}}]
    assert [n["text"] for n in a["notes"]] == ["scratched"]
    out = api.lot(body["packages"][0]["lot"])
    assert (out["from"]["run"], out["from"]["s0"], out["from"]["s1"], out["from"]["batch"]) == (body["run"], 0, 500, batch)
    assert out["received"] is None and out["entry"]["kind"] == "run"


def test_things_link_to_what_belongs_to_them(api, bench):
    heat = bench.heat()
    lot = bench.rod(1000, heat=heat)
    supply = bench.code("S")
    api.put("supply", {"supply": supply, "what": "soap", "supplier": "A"})
    weld = bench.code("W")
    body = bench.run_body([{"lot": lot, "take_mm": 500}, {"lot": lot, "take_mm": 500, "weld": weld}],
                          [{"lot": bench.code("RL"), "kind": "reel", "length_mm": 1000}], supplies=[supply])
    api.put("run", body)
    reel = body["packages"][0]["lot"]
    test, cert, cn, hd = (bench.code(x) for x in ("T", "K", "CN", "HD"))
    api.put("test", {"test": test, "lot": reel, "instrument": "TENS-9", "results": {"breaking_n": 5}, "verdict": "pass"})
    api.put("certify", {"certificate": cert, "type": "3.1", "reels": [reel], "tests": [test]})
    api.put("hold", {"hold": hd, "reason": "r", "lots": [{"lot": reel}]})
    api.put("release", {"hold": hd, "disposition": "release", "reason": "r"})
    api.put("dispatch", {"consignment": cn, "consignee": "X", "lots": [reel]})

    def links(kind, code):
        thing = api.get("/api/things/%s/%s" % (kind, code))
        assert (thing["type"], thing["code"]) == (kind, code)
        return {(x["type"], x["code"]) for x in thing["links"]}

    assert ("lot", lot) in links("heat", heat)
    assert {("lot", lot), ("lot", reel), ("supply", supply)} <= links("run", body["run"])
    assert ("run", body["run"]) in links("supply", supply)
    assert ("run", body["run"]) in links("weld", weld)
    assert ("lot", reel) in links("test", test)
    assert {("lot", reel), ("test", test)} <= links("certificate", cert)
    assert ("lot", reel) in links("hold", hd)
    assert ("lot", reel) in links("consignment", cn)
    assert ("test", test) in links("instrument", "TENS-9")
    assert ("run", body["run"]) in links("machine", "WIND-1")
    for kind in ("heat", "lot", "run", "weld", "test", "machine"):
        api.get("/api/things/%s/NONE" % kind, 404)
    api.get("/api/things/moon/X", 404)


def test_find(api, bench):
    stem = bench.code("FIND")
    heat = stem + "-X"
    api.put("heat", {"heat": heat, "supplier": "A", "grade": "B"})
    api.put("supply", {"supply": heat, "what": "soap", "supplier": "A"})
    api.put("receive", {"lot": stem, "heat": heat, "diameter_um": 5500, "length_mm": 10})
    found = api.get("/api/find", q=stem.lower())["found"]
    assert found[0]["code"] == stem and found[0]["type"] == "lot" and found[0]["exact"] is True
    assert {(x["type"], x["code"]) for x in found} == {("lot", stem), ("heat", heat), ("supply", heat)}
    assert {(x["type"], x["exact"]) for x in api.get("/api/find", q=heat)["found"]} == {("heat", True), ("supply", True)}
    assert api.get("/api/find", q="no such thing, really")["found"] == []
    assert api.get("/api/find", q="%_'\"<b>;--")["found"] == []
    assert api.get("/api/find", q="block-7 " + "x" * 500)["found"] == []
    for i in range(60):
        bench_code = "%s-N%02d" % (stem, i)
        api.put("heat", {"heat": bench_code, "supplier": "A", "grade": "B"})
    assert len(api.get("/api/find", q=stem)["found"]) == 50


def test_attention(fresh):
    api = fresh
    api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    for n in range(1, 4):
        api.put("receive", {"lot": "RC-%d" % n, "heat": "H1", "diameter_um": 5500, "length_mm": 1000, "mass_g": 186})
    api.put("hold", {"hold": "HD-1", "reason": "seams", "lots": [{"lot": "RC-1"}, {"lot": "RC-2", "from_mm": 0, "to_mm": 100}]})
    api.put("test", {"test": "T-1", "lot": "RC-1", "results": {"torsions": 1}, "verdict": "fail"})
    api.put("test", {"test": "T-3", "lot": "RC-3", "results": {"torsions": 1}, "verdict": "fail"})
    a = api.get("/api/attention")
    assert [(h["hold"], h["lots"]) for h in a["holds"]] == [("HD-1", 2)]
    assert [t["test"] for t in a["failed_tests"]] == ["T-3"]
    assert a["stock"] == [{"kind": "rod", "lots": 3, "left_mm": 3000, "left_g": 558}]
    assert [e["seq"] for e in a["last"]] == [7, 6, 5, 4, 3, 2, 1]
    api.put("release", {"hold": "HD-1", "disposition": "release", "reason": "r"})
    api.put("scrap", {"lot": "RC-3", "reason": "r"})
    a = api.get("/api/attention")
    assert a["holds"] == [] and [t["test"] for t in a["failed_tests"]] == ["T-1"]
    holds = api.get("/api/holds")["holds"]
    assert [(h["hold"], h["open"], h["releases"][0]["disposition"]) for h in holds] == [("HD-1", False, "release")]


def test_entries_newest_first_and_filtered(api, bench):
    heat = bench.heat()
    lots = [bench.rod(100, heat=heat) for _ in range(3)]
    key = new_key()
    api.put("note", {"about": "lot:" + lots[1], "text": "x"}, key=key)
    page = api.get("/api/entries")
    seqs = [e["seq"] for e in page["entries"]]
    assert seqs == sorted(seqs, reverse=True) and seqs[0] == page["size"] and page["entries"][0]["key"] == key
    got, before = [], None
    while True:
        page = api.get("/api/entries", **dict({"limit": 7}, **({"before": before} if before else {})))
        got += [e["seq"] for e in page["entries"]]
        before = page["next"]
        if before is None:
            break
    assert got == list(range(page["size"], 0, -1))
    assert {e["kind"] for e in api.get("/api/entries", kind="receive")["entries"]} == {"receive"}
    assert api.get("/api/entries", by="nobody")["entries"] == []
    assert len(api.get("/api/entries", by="open", limit=5)["entries"]) == 5
    about = api.get("/api/entries", q=lots[1].lower())["entries"]
    assert [e["kind"] for e in about] == ["note", "receive"]
    for bad in ({"kind": "dance"}, {"limit": 0}, {"limit": "x"}, {"before": "x"}, {"colour": "red"}):
        assert api.request("GET", "/api/entries", params=bad).status_code == 400, bad
    api.get("/api/entries/999999", 404)
    for bad in ("0", "x", "-1", "1e3", "99999999999999999999"):
        assert api.request("GET", "/api/entries/" + bad).status_code in (400, 404)


def test_makeup_asked_wrongly(api, bench):
    lot = bench.rod(100)
    assert api.lot(lot, "/makeup")["by"] == "heat"
    for bad in ("?by=moon", "?by=lot&kind=brick", "?colour=red"):
        assert api.request("GET", "/api/lots/%s/makeup%s" % (lot, bad)).status_code == 400
    for what in ("", "/makeup", "/joints", "/balance"):
        api.get("/api/lots/NONE" + what, 404)


def test_who_am_i(api):
    me = api.get("/api/me")
    assert (me["by"], me["name"], me["how"], me["open"]) == ("open", "open", "open", True)
    assert me["roles"] == ["operator", "quality", "auditor", "administrator"]


def test_the_schemas_are_served(api):
    assert api.get("/schema/openapi.yaml").content == (ROOT / "schema" / "openapi.yaml").read_bytes()
    assert api.request("GET", "/schema/entry.schema.json").content == (ROOT / "schema" / "entry.schema.json").read_bytes()


def test_metrics_read_as_prometheus_text(api):
    text = api.get("/metrics").text
    samples = [x for x in text.splitlines() if x and not x.startswith("#")]
    assert samples
    for line in samples:
        name, value = line.rsplit(" ", 1)
        assert name.startswith("kinwire_")
        float(value)


def test_labels(api, bench):
    batch, weld = bench.code("B"), bench.code("W")
    lot = bench.rod(1000)
    api.put("batch", {"batch": batch, "process": "clean", "machine": "PICKLE", "lots": [{"lot": lot}]})
    made, = bench.wind([{"lot": lot, "take_mm": 500}, {"lot": lot, "weld": weld}], [1000])
    svg = api.get("/api/labels", lots=lot + "," + made.lower(), welds=weld, batches=batch, size="62")
    assert svg.headers["Content-Type"].startswith("image/svg+xml") and "<script" not in svg.text
    pdf = api.get("/api/labels", lots=made, size="100x150", units="us", **{"as": "pdf"})
    assert pdf.content.startswith(b"%PDF-")
    for bad in ({}, {"lots": ""}, {"lots": "NONE"}, {"lots": made, "size": "1x1"}, {"lots": made, "as": "png"},
                {"lots": "a b"}, {"welds": made}):
        answer = api.request("GET", "/api/labels", params=bad)
        assert answer.status_code in (400, 404, 422), bad


def test_a_rope_is_labelled_with_its_diameter_and_its_construction(api, bench):
    rope = bench.code("RP")
    api.put("receive", {"lot": rope, "kind": "rope", "heat": bench.heat(), "diameter_um": 28000, "length_mm": 1000})
    reel = {"lot": bench.code("RL"), "kind": "reel", "length_mm": 1000, "diameter_um": 28000, "construction": "6x36WS-IWRC"}
    body = {"run": bench.code("CU"), "process": "cut", "machine": "CUT-1", "lines": [{"line": "1", "feeds": [{"lot": rope}]}],
            "packages": [reel]}
    api.put("run", body)
    for size in ("100x60", "100x150", "62"):
        for units, diameter in (("si", "28.000 mm"), ("us", "1.1024 in")):
            svg = api.get("/api/labels", lots=reel["lot"], size=size, units=units).text
            text = " ".join(re.findall(r">([^<]+)</text>", svg))
            assert diameter in text and "6x36WS" in text, text


def test_the_contract_has_every_route():
    """The server's one table of routes and schema/openapi.yaml name the same paths."""
    table = (ROOT / "server" / "http" / "routes.c").read_text()
    served = {(m.lower(), p) for m, p in re.findall(r'\{(GET|POST),\s*"(/(?:api|healthz|metrics)[^"]*)"', table)}
    written = {(m, re.sub(r"\{\w+\}", "*", p)) for p, m, _ in Api.contract.operations() if not p.startswith("/schema/")}
    assert served == written


def test_the_contract_has_every_kind_of_entry():
    kinds = Api.contract.openapi["components"]["schemas"]["EntryKind"]["enum"]
    assert sorted(kinds) == sorted(Api.contract.entry_schema["properties"]["kind"]["enum"])


def test_every_operation_of_the_contract_was_answered(api, bench):
    """After the tests above: no operation of openapi.yaml is left that nobody asked, here or in another file."""
    api.get("/api/ledger/head")
    api.get("/api/ledger/entries", limit=1)
    api.get("/api/ledger/proof", seq=1)
    api.get("/api/ledger/verify")
    api.get("/healthz")
    api.get("/api/entries/1")
    api.get("/api/floor")
    api.get("/api/orders")
    api.get("/api/labels", lots=bench.rod(10))
    api.request("POST", "/api/check", json=entry("note", {"about": "machine:M", "text": "x"}))
    lot = bench.rod(10)
    for what in ("", "/makeup", "/joints", "/balance"):
        api.lot(lot, what)
    answered = {op for op, status in api.contract.seen if status in ("200", "201")}
    elsewhere = "".join(f.read_text() for f in (ROOT / "tests").rglob("test_*.py") if f.name != "test_answers.py")
    unasked = [p for p, _, op in api.contract.operations()
               if op["operationId"] not in answered and p.split("{")[0] not in elsewhere]
    assert unasked == []
