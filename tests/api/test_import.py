"""A test machine's file, posted: read by the mapping kept for its instrument, all or nothing, and never recorded twice."""
import json

import pytest

from people import gatehouse_in

HEAD = "Specimen;Time;Rm (MPa);Tw;Result\r\n"
MAPPING = {"heads": ["Specimen", "Time", "Rm (MPa)", "Tw", "Result"], "decimal": ",",
           "columns": {"Specimen": {"is": "lot", "unit": None}, "Time": {"is": "at", "unit": None},
                       "Rm (MPa)": {"is": "tensile_kpa", "unit": "MPa"}, "Tw": {"is": "torsions", "unit": None},
                       "Result": {"is": "verdict", "unit": None}}}


def post(api, text, instrument="TT-9", status=None, media="text/csv", **query):
    params = dict({"instrument": instrument} if instrument else {}, **query)
    answer = api.request("POST", "/api/import", params=params, data=text if isinstance(text, bytes) else text.encode(),
                         headers={"Content-Type": media})
    if status:
        assert answer.status_code == status, answer.text
    return answer.json()


@pytest.fixture
def file(api, bench):
    """Two rows on two lots that there are, and the mapping is kept."""
    instrument = bench.code("TT")
    api.put("note", {"about": "instrument:" + instrument, "text": "kinwire mapping 1 " + json.dumps(MAPPING)})
    lots = [bench.rod(1000), bench.rod(1000)]
    rows = "%s;2026-03-04 09:12;1812,5;31;OK\r\n%s;2026-03-04 09:20;1795;29;NOK\r\n" % tuple(lots)
    return instrument, lots, HEAD + rows


def test_rows_become_tests_once(api, file):
    instrument, lots, text = file
    got = post(api, text, instrument, 201)
    assert (got["taken"], got["repeated"], [r["line"] for r in got["rows"]]) == (2, 0, [2, 3])
    body = got["rows"][0]["receipt"]["body"]
    assert body["results"] == {"tensile_kpa": 1812500, "torsions": 31}
    assert (body["lot"], body["verdict"], body["instrument"]) == (lots[0], "pass", instrument)
    assert api.get("/api/lots/" + lots[1])["tests"][0]["verdict"] == "fail"
    stored = api.get("/api/entries/%d" % got["rows"][0]["receipt"]["seq"])
    assert (stored["kind"], stored["at"]) == ("test", "2026-03-04T09:12:00Z")
    head = api.get("/api/ledger/head")
    again = post(api, text, instrument, 200)
    assert (again["taken"], again["repeated"]) == (0, 2)
    assert api.get("/api/ledger/head") == head
    # the machine appends to its file: only what is new is recorded
    longer = post(api, text + "%s;2026-03-04 09:30;1801;30;OK\r\n" % lots[0], instrument, 201)
    assert (longer["taken"], [r["repeated"] for r in longer["rows"]]) == (1, [True, True, False])


def test_the_same_row_twice_is_one_test(api, file):
    instrument, _, text = file
    row = text.splitlines()[1]
    got = post(api, "\r\n".join([HEAD.strip(), row, row]), instrument, 201)
    assert (got["taken"], got["repeated"]) == (1, 1)


@pytest.mark.parametrize("name, change, line, column", [
    ("a figure", lambda t: t.replace("1795", "high"), 3, 3),
    ("a time", lambda t: t.replace("2026-03-04 09:20", "soon"), 3, 2),
    ("a verdict", lambda t: t.replace("NOK", "?"), 3, 5),
    ("a quotation mark", lambda t: t.replace("1795", '17"95'), 3, 3),
    ("a cell too many", lambda t: t.replace("NOK", "NOK;"), 3, 6),
])
def test_all_or_nothing_and_where(api, file, name, change, line, column):
    instrument, _, text = file
    head = api.get("/api/ledger/head")
    problem = post(api, change(text), instrument, 422)
    assert (problem["line"], problem["values"]["column"]) == (line, column), name
    assert "line %d, column %d" % (line, column) in problem["detail"]
    assert api.get("/api/ledger/head") == head


def test_what_the_ledger_refuses_names_the_line_too(api, file, bench):
    instrument, lots, text = file
    head = api.get("/api/ledger/head")
    problem = post(api, text.replace(lots[1], bench.code("NONE")), instrument, 422)
    assert problem["type"].endswith("/unknown-lot")
    assert (problem["line"], problem["pointer"]) == (3, "/body/lot")
    assert api.get("/api/ledger/head") == head


def test_a_mapping_is_for_its_instrument_and_its_heads(api, file, bench):
    instrument, _, text = file
    for other, csv in ((bench.code("TT"), text), (instrument, text.replace("Tw", "Twists"))):
        problem = post(api, csv, other, 422)
        assert problem["type"].endswith("/missing") and problem["values"]["as"] == "no-mapping"
    # the latest one for these heads holds
    later = dict(MAPPING, columns=dict(MAPPING["columns"], Tw={"is": "bends", "unit": None}))
    api.put("note", {"about": "instrument:" + instrument, "text": "kinwire mapping 1 " + json.dumps(later)})
    got = post(api, text, instrument, 201)
    assert got["rows"][0]["receipt"]["body"]["results"] == {"tensile_kpa": 1812500, "bends": 31}


def test_what_is_no_such_file(api, file):
    instrument, _, text = file
    post(api, text, instrument, 415, media="application/json")
    post(api, text, None, 400)
    post(api, text, "no code!", 400)
    post(api, text, instrument, 400, lots="x")
    assert post(api, b"", instrument, 422)["values"]["as"] == "empty"
    assert post(api, HEAD, instrument, 422)["values"]["as"] == "empty"
    assert post(api, text.encode() + b"\xff;;;;\n", instrument, 422)["values"]["as"] == "not-text"
    assert post(api, b"x" * ((4 << 20) + 1), instrument, 413)["type"].endswith("/too-large")
    post(api, "a,b\n" + "1,2\n" * 20001, instrument, 413)


def test_a_machine_posts_with_a_token_for_its_instrument_alone(tmp_path):
    for g in gatehouse_in(tmp_path):
        g.person("QM-1", "quality")
        q = g.caller("QM-1")
        q.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
        q.put("receive", {"lot": "RC-1", "heat": "H1", "diameter_um": 5500, "length_mm": 1000})
        for instrument in ("TT-1", "TT-2"):
            q.put("note", {"about": "instrument:" + instrument, "text": "kinwire mapping 1 " + json.dumps(MAPPING)})
        machine = g.nobody(token=g.token("M-1", "operator", only={"instrument": "TT-1"}))
        text = HEAD + "RC-1;2026-03-04 09:12;1812,5;31;OK\r\n"
        assert post(machine, text, "TT-1", 201)["taken"] == 1
        assert post(machine, text, "TT-2", 403)["type"].endswith("/not-allowed")
        post(g.nobody(), text, "TT-1", 401)
        last = q.get("/api/entries", kind="test")["entries"][0]
        assert (last["by"], last["terminal"]) == ("M-1", "TT-1")
