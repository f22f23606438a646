"""Every kind of entry: taken, stored as sent, readable; keys; several at once; and each way to be refused, with its pointer."""
import json

import pytest

from rfc9162 import canonical
from support import entry, new_key

AT = "2026-03-04T09:12:00Z"


# --- every kind, one after the other ------------------------------------------------------------


def story():
    """(kind, body) in an order in which each is possible; together every kind and every optional member once."""
    yield "heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D", "mill_certificate": "MC-1",
                   "analysis_ppm": {"C": 8200, "Mn": 6500, "Si": 2100}}
    yield "supply", {"supply": "Z1", "what": "zinc", "supplier": "Galva", "supplier_lot": "77 b",
                     "settings": {"purity_ppm": 999950, "form": "jumbo"}}
    yield "receive", {"lot": "RC-1", "kind": "rod", "heat": "H1", "diameter_um": 5500, "length_mm": 10_000_000,
                      "mass_g": 1_865_000, "measured_um": [5510, 5490], "order": "PO 7", "location": "Yard A"}
    yield "receive", {"lot": "RC-2", "heat": "H1", "diameter_um": 5500, "mass_g": 2_000_000}
    yield "receive", {"lot": "FC-1", "kind": "core", "supply": "Z1", "length_mm": 500_000}
    yield "batch", {"batch": "B1", "process": "clean", "machine": "PICKLE-1", "started": AT, "ended": "2026-03-04T10:12:00Z",
                    "settings": {"acid_g_l": 150}, "lots": [{"lot": "RC-1"}, {"lot": "RC-2", "from_mm": 0, "to_mm": 5000}]}
    yield "run", {"run": "D1", "process": "draw", "machine": "BLOCK-1", "started": AT, "ended": "2026-03-04T11:00:00Z",
                  "batch": "B1", "tolerance_ppm": 8000, "supplies": ["Z1"], "settings": {"dies": "9", "speed_mm_s": 8000},
                  "lines": [{"line": "1", "feeds": [
                      {"lot": "RC-1", "from_mm": 0, "to_mm": 9_000_000, "off": "outer"},
                      {"lot": "RC-2", "take_mm": 5_000_000, "off": "inner", "weld": "W1", "join": "weld", "affected_mm": 80,
                       "seen_at_mm": 27_100_000}]}],
                  "packages": [{"lot": "BB-1", "kind": "bobbin", "length_mm": 20_000_000, "mass_g": 1_235_000,
                                "diameter_um": 3175, "doffed": "2026-03-04T10:00:00Z", "location": "Rack 3"},
                               {"scrap_mm": 200_000, "reason": "tangle"},
                               {"lot": "BB-2", "kind": "bobbin", "length_mm": 21_800_000, "diameter_um": 3175}]}
    yield "run", {"run": "S1", "process": "strand", "machine": "TUBE-1", "lines": [
        {"line": "1", "feeds": [{"lot": "BB-1", "take_mm": 1_000_000}]},
        {"line": "2", "feeds": [{"lot": "BB-1", "take_mm": 1_000_000}]},
        {"line": "3", "feeds": [{"lot": "BB-2", "take_mm": 500_000}, {"lot": "BB-2", "take_mm": 500_000, "join": "tuck"}]}],
        "packages": [{"lot": "SS-1", "kind": "strand", "length_mm": 970_000, "construction": "3 x 3.175"}]}
    yield "run", {"run": "C1", "process": "cut", "machine": "CUT-1", "lines": [{"line": "1", "feeds": [{"lot": "SS-1"}]}],
                  "packages": [{"lot": "RL-%d" % i, "kind": "reel", "length_mm": 194_000} for i in range(1, 6)]}
    yield "test", {"test": "T1", "lot": "BB-1", "at_mm": 17_000_000, "sample_mm": 500, "instrument": "TENS-1",
                   "results": {"tensile_kpa": 1_800_000, "diameter_um": 3170, "torsions": 28}, "verdict": "pass"}
    yield "test", {"test": "T2", "lot": "RL-1", "results": {"breaking_n": 30_000}, "verdict": "pass"}
    yield "hold", {"hold": "HD1", "reason": "rust\nseen", "lots": [{"lot": "RL-3"}, {"lot": "RL-4", "from_mm": 0, "to_mm": 1000}]}
    yield "release", {"hold": "HD1", "disposition": "concession", "reason": "customer agreed", "lots": [{"lot": "RL-3"}]}
    yield "agree", {"hold": "HD1", "disposition": "rework", "reason": "looked at it", "lots": [{"lot": "RL-4", "from_mm": 0, "to_mm": 1000}],
                    "into": ["wind"]}
    yield "release", {"hold": "HD1", "disposition": "scrap", "reason": "the rest"}
    yield "scrap", {"lot": "BB-2", "from_mm": 0, "to_mm": 1000, "reason": "end"}
    yield "certify", {"certificate": "K1", "type": "3.1", "reels": ["RL-1"], "tests": ["T2"], "statement": "as ordered"}
    yield "dispatch", {"consignment": "CN1", "consignee": "Harbour Cranes", "lots": ["RL-1"]}
    yield "withdraw", {"certificate": "K1", "reason": "recalled"}
    yield "certify", {"certificate": "K2", "type": "3.2", "reels": ["RL-5"], "replaces": "K1",
                      "signed": {"name": "Anna Berg", "position": "inspector"},
                      "countersigned": {"name": "Carl Dunn", "for": "Harbour Cranes"}, "address": "https://mill.example/"}
    yield "hold", {"hold": "HD2", "reason": "wrong flange", "lots": [{"lot": "RL-5"}]}
    yield "clear", {"certificate": "K2", "reason": "the flange is not the rope", "holds": ["HD2"]}
    yield "move", {"lots": ["RL-2", "BB-2"], "location": "Rack 9"}
    yield "order", {"order": "O1", "customer": "Deep Mine", "process": "wind", "grade": "C82D", "diameter_um": 5500,
                    "diameter_tolerance_um": 60, "construction": "single wire", "one_heat": True, "machine": "WIND-2",
                    "pieces": [{"length_mm": 1000, "n": 4}]}
    yield "open", {"run": "D2", "process": "wind", "machine": "WIND-2", "started": AT, "tolerance_ppm": 5000, "supplies": ["Z1"],
                   "settings": {"speed_mm_s": 900}, "order": "O1", "lines": ["1"]}
    yield "load", {"run": "D2", "line": "1", "lot": "RC-2", "take_mm": 2000, "off": "outer"}
    yield "load", {"run": "D2", "line": "1", "lot": "RC-2", "from_mm": 6_000_000, "to_mm": 6_002_000, "weld": "W2", "join": "braze",
                   "affected_mm": 10, "seen_at_mm": 2001}
    yield "doff", {"run": "D2", "lot": "BB-9", "kind": "bobbin", "length_mm": 3000, "mass_g": 560, "diameter_um": 5500,
                   "construction": "single wire", "doffed": AT, "location": "Rack 1"}
    yield "doff", {"run": "D2", "scrap_mm": 400, "reason": "tail"}
    yield "close", {"run": "D2", "ended": "2026-03-04T10:00:00Z", "left": [{"line": "1", "left_mm": 600}]}
    yield "instrument", {"instrument": "UTM-9", "what": "tensile machine", "calibrated": "2026-01-01T00:00:00Z",
                         "valid_until": "2027-01-01T00:00:00Z", "note": "50 kN"}
    yield "spec", {"spec": "W-1770", "version": 1, "what": "wire", "grade": "1770", "diameter_from_um": 1000,
                   "diameter_below_um": 1500, "construction": "bright", "limits": {"tensile_kpa": {"min": 1_770_000, "max": 2_090_000}},
                   "tests": [{"property": "tensile_kpa", "per": "lot", "n": 2}], "joint_multiple": 18, "joint_of_um": 16_000,
                   "heats": "one", "tolerance_ppm": {"draw": 5000}}
    yield "person", {"person": "AB-7", "name": "Anna Berg", "roles": ["operator"], "badge": "B-0711", "closed": False, "note": "shift B"}
    yield "terminal", {"terminal": "BLOCK-1", "where": "drawing", "closed": False, "note": "old screen"}
    yield "token", {"token": "UTM-9-FILE", "role": "operator", "only": {"kind": "test", "instrument": "UTM-9"},
                    "expires": "2027-01-01T00:00:00Z", "closed": False, "note": "from the machine's own computer"}
    yield "note", {"about": "machine:BLOCK-1", "text": "die 4 was changed"}
    yield "note", {"about": "lot:RL-2", "text": "nice reel"}


def test_every_kind_is_taken_stored_and_readable(fresh):
    kinds = set()
    for n, (kind, body) in enumerate(story(), 1):
        key = new_key()
        receipt = fresh.put(kind, body, at=AT, key=key)
        kinds.add(kind)
        assert receipt["seq"] == n
        assert receipt["head"] == fresh.get("/api/ledger/head")["root"]
        if kind not in ("run", "load"):  # joints are named there, and what a load takes is said
            # a certificate's document is said by the server (test_certificates.py)
            assert {k: v for k, v in receipt["body"].items() if k != "document"} == body
        stored = fresh.get("/api/entries/%d" % n)
        assert (stored["key"], stored["kind"], stored["at"], stored["body"]) == (key, kind, AT, receipt["body"])
        assert stored["by"] == "open" and stored["terminal"] == "WEB" and stored["standing"] == "stands"
        leaf = {k: stored[k] for k in ("at", "body", "by", "key", "kind", "logged", "seq", "terminal")}
        assert stored["leaf"] == canonical(leaf)
    first = fresh.get("/api/entries/1")["key"]
    fresh.put("correct", {"entry": first, "reason": "slip", "body": {"heat": "H1", "supplier": "Southmark", "grade": "C82D"}})
    note = fresh.get("/api/entries/%d" % n)["key"]
    fresh.put("void", {"entry": note, "reason": "wrong lot"})
    kinds |= {"correct", "void"}
    kinds |= {"access", "drill", "sample"}  # what the server writes of them itself has tests of its own
    assert kinds == set(fresh.contract.openapi["components"]["schemas"]["EntryKind"]["enum"])
    assert fresh.get("/api/entries/1")["standing"] == "corrected"
    assert fresh.get("/api/entries/%d" % n)["standing"] == "void"
    assert fresh.get("/api/things/heat/H1")["entry"]["standing"] == "corrected"


def test_what_is_normalised(fresh):
    """Codes in upper case, times in UTC; the terminal by its header; a join without a name gets one that its key fixes."""
    fresh.put("heat", {"heat": "h-1/a", "supplier": "Northmark", "grade": "C82D"})
    answer = fresh.request("POST", "/api/entries", headers={"Kinwire-Terminal": "block-3"}, json=entry(
        "receive", {"lot": "rc-1", "heat": "H-1/A", "diameter_um": 5500, "length_mm": 1000}, "2026-03-04T10:12:00.9+01:00"))
    assert answer.status_code == 201
    assert answer.json()["body"]["lot"] == "RC-1"
    stored = fresh.get("/api/entries/2")
    assert stored["at"] == "2026-03-04T09:12:00Z" and stored["terminal"] == "BLOCK-3"
    body = {"run": "r1", "process": "wind", "machine": "wind-1", "lines": [{"line": "1", "feeds": [
        {"lot": "rc-1", "take_mm": 400}, {"lot": "rc-1", "take_mm": 600}]}],
        "packages": [{"lot": "bb-1", "kind": "bobbin", "length_mm": 1000}]}
    key = new_key()
    got = fresh.put("run", body, key=key)["body"]
    weld = got["lines"][0]["feeds"][1]["weld"]
    assert got["machine"] == "WIND-1" and got["lines"][0]["feeds"][0]["lot"] == "RC-1"
    assert weld.startswith("J-") and len(weld.split("-")[1]) == 12
    again = fresh.send(entry("run", body, key=key))
    assert again.status_code == 200 and again.json()["body"]["lines"][0]["feeds"][1]["weld"] == weld
    assert fresh.spans("weld:" + weld)["BB-1"]["possible"][0][0] < 400
    assert fresh.get("/api/lots/h-1%2Fa", 404)["status"] == 404
    assert fresh.get("/api/things/heat/h-1%2Fa")["code"] == "H-1/A"


def test_labels_of_lines_and_units_come_back_as_sent(api, bench):
    lot = bench.rod(3000)
    body = bench.run_body([], [1000], process="strand", lines=[
        {"line": "1", "feeds": [{"lot": lot, "take_mm": 1000}]}, {"line": "2", "feeds": [{"lot": lot, "take_mm": 1000}]},
        {"line": "core", "feeds": [{"lot": lot, "take_mm": 500}, {"lot": lot, "take_mm": 500, "weld": bench.code("W")}]}])
    api.put("run", body)
    joint, = api.lot(body["packages"][0]["lot"], "/joints")["joints"]
    assert joint["path"] == ["strand core"]


# --- keys ---------------------------------------------------------------------------------------


def test_same_key_and_content_gives_the_first_answer(api, bench):
    e = entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"}, AT)
    first = api.send(e)
    assert first.status_code == 201
    api.put("note", {"about": "machine:M1", "text": "in between"})
    for same in (e, json.loads(json.dumps(e, sort_keys=True)), dict(e, key=e["key"].upper()),
                 dict(e, at="2026-03-04T10:12:00+01:00")):
        before = api.get("/api/ledger/head")
        again = api.send(same)
        assert (again.status_code, again.json()) == (200, first.json())
        assert api.get("/api/ledger/head") == before


def test_same_key_other_content_is_refused(api, bench):
    e = entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"}, AT)
    api.send(e)
    before = api.get("/api/ledger/head")
    for other in (dict(e, body=dict(e["body"], grade="C")), dict(e, at="2026-03-04T09:12:01Z"),
                  dict(e, kind="note", body={"about": "machine:M1", "text": "x"})):
        api.expect(api.send(other), "key-reused", status=409, before=before)


def test_a_repeated_entry_without_a_time_is_still_the_same(api, bench):
    e = entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"})
    assert api.send(e).status_code == 201
    assert api.send(e).status_code == 200


# --- several at once ------------------------------------------------------------------------------


def ndjson(api, lines, **headers):
    return api.request("POST", "/api/entries", data=b"\n".join(lines),
                       headers={"Content-Type": "application/x-ndjson", **headers})


def lines_of(*entries):
    return [json.dumps(e).encode() for e in entries]


def test_ndjson_in_ndjson_out(api, bench):
    h = bench.code("H")
    some = [entry("heat", {"heat": h, "supplier": "A", "grade": "B"})] + [
        entry("receive", {"lot": bench.code("RC"), "heat": h, "diameter_um": 5500, "length_mm": 100}) for _ in range(5)]
    answer = ndjson(api, lines_of(*some))
    assert answer.status_code == 201
    receipts = [json.loads(x) for x in answer.text.splitlines()]
    assert [r["body"] for r in receipts] == [e["body"] for e in some]
    assert [r["seq"] for r in receipts] == list(range(receipts[0]["seq"], receipts[0]["seq"] + 6))
    again = ndjson(api, lines_of(*some))
    assert again.status_code == 200 and again.text == answer.text


@pytest.mark.parametrize("bad,slug,pointer", [
    (lambda b: json.dumps(entry("receive", {"lot": b.code("RC"), "heat": "NONE", "diameter_um": 5500, "length_mm": 1})).encode(),
     "unknown-heat", "/body/heat"),
    (lambda b: b'{"key":', "not-json", None),
    (lambda b: b'[]', "not-entry", ""),
    (lambda b: json.dumps(entry("heat", {"heat": b.code("H"), "supplier": 7, "grade": "B"})).encode(),
     "bad-type", "/body/supplier"),
])
def test_ndjson_is_all_or_nothing(api, bench, bad, slug, pointer):
    good = [entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"}) for _ in range(4)]
    before = api.get("/api/ledger/head")
    answer = ndjson(api, lines_of(*good[:3]) + [bad(bench)] + lines_of(good[3]))
    problem = api.expect(answer, slug, pointer, before=before)
    assert problem["line"] == 4
    assert api.get("/api/find", q=good[0]["body"]["heat"])["found"] == []


def test_a_key_twice_in_one_request(api, bench):
    e = entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"}, AT)
    answer = ndjson(api, lines_of(e, e))
    assert answer.status_code == 201
    one, two = answer.text.splitlines()
    assert json.loads(one)["seq"] == json.loads(two)["seq"]
    other = dict(e, body=dict(e["body"], grade="C"))
    problem = api.expect(ndjson(api, lines_of(entry("note", {"about": "machine:M", "text": "x"}), other)), "key-reused")
    assert problem["line"] == 2


# --- refused: the envelope ------------------------------------------------------------------------


@pytest.mark.parametrize("text,slug,pointer", [
    (b"", "not-json", None),
    (b"{", "not-json", None),
    (b"\xef\xbb\xbf{}", "not-json", None),
    (b'{"key":"\xff"}', "not-json", None),
    (b'{"a":1,"a":2}', "not-json", None),
    (b'{"a":"\\ud800"}', "not-json", None),
    (b'{"a":"\\u0000"}', "not-json", None),
    (b'{"a":01}', "not-json", None),
    (b"[" * 40 + b"]" * 40, "not-json", None),
    (b"{} x", "not-json", None),
    (b"[]", "not-entry", ""),
    (b'"heat"', "not-entry", ""),
    (b"{}", "not-entry", "/key"),
    (b'{"key":"nonsense","kind":"heat","body":{}}', "not-entry", "/key"),
    (b'{"key":"00000000-0000-4000-8000-0000000000aa","body":{}}', "not-entry", "/kind"),
    (b'{"key":"00000000-0000-4000-8000-0000000000aa","kind":"heats","body":{}}', "not-entry", "/kind"),
    (b'{"key":"00000000-0000-4000-8000-0000000000aa","kind":"heat"}', "not-entry", "/body"),
    (b'{"key":"00000000-0000-4000-8000-0000000000aa","kind":"heat","body":[]}', "not-entry", "/body"),
    (b'{"key":"00000000-0000-4000-8000-0000000000aa","kind":"heat","at":"yesterday","body":{}}', "not-entry", "/at"),
    (b'{"key":"00000000-0000-4000-8000-0000000000aa","kind":"heat","seq":4,"body":{}}', "not-entry", "/seq"),
])
def test_not_an_entry(api, text, slug, pointer):
    before = api.get("/api/ledger/head")
    answer = api.request("POST", "/api/entries", data=text, headers={"Content-Type": "application/json"})
    api.expect(answer, slug, pointer, 400, before)


# --- refused: the body ----------------------------------------------------------------------------

HEAT = {"heat": "X", "supplier": "A", "grade": "B"}
RECEIVE = {"lot": "X", "heat": "X", "diameter_um": 5500, "length_mm": 100}
RUN = {"run": "X", "process": "wind", "machine": "M", "lines": [{"line": "1", "feeds": [{"lot": "Y"}]}],
       "packages": [{"lot": "Z", "kind": "bobbin", "length_mm": 100}]}


def with_feed(**feed):
    return dict(RUN, lines=[{"line": "1", "feeds": [dict({"lot": "Y"}, **feed)]}])


def without(body, name):
    return {k: v for k, v in body.items() if k != name}


@pytest.mark.parametrize("kind,body,slug,pointer", [
    ("heat", without(HEAT, "grade"), "missing", "/body/grade"),
    ("heat", dict(HEAT, heat="A B"), "bad-code", "/body/heat"),
    ("heat", dict(HEAT, heat=""), "bad-code", "/body/heat"),
    ("heat", dict(HEAT, heat="X" * 41), "bad-code", "/body/heat"),
    ("heat", dict(HEAT, heat=7), "bad-type", "/body/heat"),
    ("heat", dict(HEAT, colour="red"), "unknown-member", "/body/colour"),
    ("heat", dict(HEAT, **{"a/b~c": 1}), "unknown-member", "/body/a~1b~0c"),
    ("heat", dict(HEAT, analysis_ppm={"C": 1_000_001}), "out-of-range", "/body/analysis_ppm/C"),
    ("heat", dict(HEAT, analysis_ppm={"C": 0.82}), "bad-type", "/body/analysis_ppm/C"),
    ("heat", dict(HEAT, analysis_ppm={"C": 2**53}), "bad-type", "/body/analysis_ppm/C"),
    ("receive", without(RECEIVE, "heat"), "missing", None),
    ("receive", dict(RECEIVE, supply="S"), "bad-value", None),
    ("receive", without(RECEIVE, "length_mm"), "missing", None),
    ("receive", dict(RECEIVE, length_mm=0), "out-of-range", "/body/length_mm"),
    ("receive", dict(RECEIVE, length_mm=-5), "out-of-range", "/body/length_mm"),
    ("receive", dict(RECEIVE, length_mm="5"), "bad-type", "/body/length_mm"),
    ("receive", dict(RECEIVE, length_mm=1.5), "bad-type", "/body/length_mm"),
    ("receive", dict(RECEIVE, kind="brick"), "bad-value", "/body/kind"),
    ("receive", dict(RECEIVE, measured_um=[5500, None]), "bad-type", "/body/measured_um/1"),
    ("receive", RECEIVE, "unknown-heat", "/body/heat"),
    ("receive", dict(without(RECEIVE, "heat"), supply="NONE"), "unknown-supply", "/body/supply"),
    ("batch", {"batch": "X", "process": "melt", "machine": "M"}, "bad-value", "/body/process"),
    ("batch", {"batch": "X", "process": "clean", "machine": "M", "started": "2026-02-30T00:00:00Z"}, "bad-time", "/body/started"),
    ("batch", {"batch": "X", "process": "clean", "machine": "M", "started": "2026-02-02T00:00:00Z",
               "ended": "2026-02-01T00:00:00Z"}, "bad-order", None),
    ("batch", {"batch": "X", "process": "clean", "machine": "M", "lots": [{"lot": "NONE"}]}, "unknown-lot", "/body/lots/0/lot"),
    ("run", RUN, "unknown-lot", "/body/lines/0/feeds/0/lot"),
    ("run", dict(RUN, lines=[]), "out-of-range", "/body/lines"),
    ("run", dict(RUN, packages=[]), "out-of-range", "/body/packages"),
    ("run", dict(RUN, lines=RUN["lines"] * 2), "bad-value", None),
    ("run", dict(RUN, tolerance_ppm=1_000_000), "out-of-range", "/body/tolerance_ppm"),
    ("run", dict(RUN, packages=[{"lot": "Z", "kind": "bobbin"}]), "missing", "/body/packages/0/length_mm"),
    ("run", dict(RUN, packages=RUN["packages"] * 2), "bad-value", None),
    ("run", with_feed(off="top"), "bad-value", "/body/lines/0/feeds/0/off"),
    ("run", with_feed(from_mm=1, to_mm=2, take_mm=3), "bad-value", None),
    ("run", with_feed(from_mm=5), "missing", None),
    ("run", with_feed(from_mm=5, to_mm=5), ("bad-order", "out-of-range"), None),
    ("run", with_feed(weld="W"), "bad-value", "/body/lines/0/feeds/0/weld"),
    ("run", with_feed(seen_at_mm=5), "bad-value", "/body/lines/0/feeds/0/seen_at_mm"),
    ("test", {"test": "X", "lot": "NONE", "results": {"torsions": 1}}, "unknown-lot", "/body/lot"),
    ("test", {"test": "X", "lot": "NONE", "results": {}}, ("out-of-range", "missing"), "/body/results"),
    ("test", {"test": "X", "lot": "NONE", "results": {"torsions": 1}, "verdict": "maybe"}, "bad-value", "/body/verdict"),
    ("hold", {"hold": "X", "reason": "r", "lots": [{"lot": "NONE"}]}, "unknown-lot", "/body/lots/0/lot"),
    ("hold", {"hold": "X", "reason": "r" * 2001, "lots": [{"lot": "NONE"}]}, "out-of-range", "/body/reason"),
    ("release", {"hold": "NONE", "disposition": "release", "reason": "r"}, "unknown-hold", "/body/hold"),
    ("release", {"hold": "NONE", "disposition": "eat", "reason": "r"}, "bad-value", "/body/disposition"),
    ("scrap", {"lot": "NONE", "reason": "r"}, "unknown-lot", "/body/lot"),
    ("scrap", {"lot": "NONE"}, "missing", "/body/reason"),
    ("certify", {"certificate": "X", "type": "3.3", "reels": ["R"]}, "bad-value", "/body/type"),
    ("certify", {"certificate": "X", "type": "3.1", "reels": ["NONE"]}, "unknown-lot", "/body/reels/0"),
    ("withdraw", {"certificate": "NONE", "reason": "r"}, "unknown-certificate", "/body/certificate"),
    ("dispatch", {"consignment": "X", "consignee": "C", "lots": ["NONE"]}, "unknown-lot", "/body/lots/0"),
    ("dispatch", {"consignment": "X", "consignee": "C", "lots": []}, "out-of-range", "/body/lots"),
    ("move", {"lots": ["NONE"], "location": "L"}, "unknown-lot", "/body/lots/0"),
    ("correct", {"entry": "00000000-0000-4000-8000-00000000dead", "reason": "r", "body": HEAT}, "unknown-entry", "/body/entry"),
    ("void", {"entry": "00000000-0000-4000-8000-00000000dead", "reason": "r"}, "unknown-entry", "/body/entry"),
    ("void", {"entry": "dead", "reason": "r"}, "bad-value", "/body/entry"),
    ("note", {"about": "lot:NONE", "text": "x"}, "unknown-lot", "/body/about"),
    ("note", {"about": "moon:X", "text": "x"}, "bad-value", "/body/about"),
    ("note", {"about": "machine:M", "text": ""}, "out-of-range", "/body/text"),
])
def test_a_body_that_cannot_be_right(api, kind, body, slug, pointer):
    api.refuse(kind, body, slug, pointer, 422)


def test_names_that_are_not_there(api, bench):
    lot = bench.rod()
    api.refuse("run", bench.run_body([lot], batch="NONE"), "unknown-batch", "/body/batch", 422)
    api.refuse("run", bench.run_body([lot], supplies=["NONE"]), "unknown-supply", "/body/supplies/0", 422)
    api.refuse("note", {"about": "weld:NONE", "text": "x"}, "unknown-weld", "/body/about")
    api.refuse("note", {"about": "run:NONE", "text": "x"}, "unknown-run", "/body/about")
    api.refuse("note", {"about": "test:NONE", "text": "x"}, "unknown-test", "/body/about")
    api.refuse("note", {"about": "consignment:NONE", "text": "x"}, "unknown-consignment", "/body/about")
    reel, = bench.wind([lot], kind="reel")
    api.refuse("certify", {"certificate": bench.code("K"), "type": "3.1", "reels": [reel], "tests": ["NONE"]},
               "unknown-test", "/body/tests/0", 422)


def test_a_code_is_used_once_for_a_type(api, bench):
    heat = bench.heat()
    lot = bench.rod(heat=heat)
    api.refuse("heat", {"heat": heat.lower(), "supplier": "A", "grade": "B"}, "code-taken", "/body/heat", 409)
    api.refuse("receive", {"lot": lot, "heat": heat, "diameter_um": 5500, "length_mm": 1}, "code-taken", "/body/lot", 409)
    api.refuse("run", bench.run_body([lot], [{"lot": lot + "X", "kind": "bobbin", "length_mm": 10},
                                             {"lot": heat, "kind": "bobbin", "length_mm": 10},
                                             {"lot": bench.rod(), "kind": "bobbin", "length_mm": 10}]),
               "code-taken", "/body/packages/2/lot", 409)
    # another type may have the same code
    api.put("supply", {"supply": heat, "what": "soap", "supplier": "A"})


def test_places_off_a_lot(api, bench):
    lot = bench.rod(1000)
    api.refuse("run", bench.run_body([{"lot": lot, "from_mm": 500, "to_mm": 1001}]), "out-of-range",
               "/body/lines/0/feeds/0/from_mm", 422)
    api.refuse("run", bench.run_body([{"lot": lot, "take_mm": 1001}]), "out-of-range", "/body/lines/0/feeds/0/take_mm", 422)
    api.refuse("test", {"test": bench.code("T"), "lot": lot, "at_mm": 1001, "results": {"torsions": 1}}, "out-of-range",
               "/body/at_mm", 422)
    api.refuse("hold", {"hold": bench.code("HD"), "reason": "r", "lots": [{"lot": lot, "from_mm": 0, "to_mm": 1001}]},
               "out-of-range", None, 422)
    api.refuse("scrap", {"lot": lot, "from_mm": 0, "to_mm": 1001, "reason": "r"}, "out-of-range", "/body/to_mm", 422)
    api.refuse("batch", {"batch": bench.code("B"), "process": "clean", "machine": "M",
                         "lots": [{"lot": lot, "from_mm": 0, "to_mm": 1001}]}, "out-of-range", None, 422)


def test_seen_points_must_increase(api, bench):
    lots = [bench.rod(1000) for _ in range(3)]

    def body(first, second):
        return bench.run_body([{"lot": lots[0]}, {"lot": lots[1], "seen_at_mm": first},
                               {"lot": lots[2], "seen_at_mm": second}], [3000])

    api.refuse("run", body(1500, 1500), "bad-order", "/body/lines/0/feeds/2/seen_at_mm", 422)
    api.refuse("run", body(1500, 1400), "bad-order", "/body/lines/0/feeds/2/seen_at_mm", 422)
    api.refuse("run", body(1500, 3000), "bad-order", "/body/lines/0/feeds/2/seen_at_mm", 422)
    api.put("run", body(1, 2))


def test_a_run_cannot_feed_what_it_makes(api, bench):
    body = bench.run_body([bench.rod()])
    body["lines"][0]["feeds"].append({"lot": body["packages"][0]["lot"]})
    api.refuse("run", body, "would-loop", "/body/lines/0/feeds/1/lot", 409)


def test_text_comes_back_as_it_was(api, bench):
    lot = bench.rod()
    text = 'Grüße <b>"x"</b> \\ / \t\n漢字 \U0001f602 \u2028 end'
    api.put("note", {"about": "lot:" + lot, "text": text})
    assert api.lot(lot)["notes"][-1]["text"] == text
    assert api.get("/api/things/lot/" + lot)["notes"][-1]["text"] == text
    api.put("note", {"about": "lot:" + lot, "text": "\U0001f602" * 2000})
    api.refuse("note", {"about": "lot:" + lot, "text": "\U0001f602" * 2001}, "out-of-range", "/body/text")
    api.refuse("note", {"about": "lot:" + lot, "text": "bell \u0007"}, "bad-value", "/body/text")
