"""schema/entry.schema.json and the server's tables of shape say the same.

    test_schema_agrees.py SHAPE_CHECK SCHEMA

Right entries of every kind are changed at random, a member, an item or a value at a time (the seed is fixed), and both
are asked about each. What the schema refuses the server has to refuse. What the server refuses beyond that has to be one of
the few things that a schema cannot say; each is listed in BEYOND with how often it was met.
"""

import collections
import copy
import json
import pathlib
import random
import subprocess
import sys

try:
    import jsonschema
except ImportError:
    print("skipped: python3-jsonschema is not installed")
    sys.exit(77)

SEED = 8785
CHANGED = 600  # entries a kind

KEY = "00000000-0000-4000-8000-00000000000A"

RIGHT = {
    "heat": [
        {"heat": "h-a", "supplier": "Northmark Steel", "grade": "C82D", "mill_certificate": "MC 7",
         "analysis_ppm": {"C": 8200, "Cr+Ni+Cu": 900}},
    ],
    "supply": [
        {"supply": "LUB-1", "what": "lubricant", "supplier": "Tarn Oils", "supplier_lot": "77/b",
         "settings": {"drop_point": 95, "maker": "Tarn"}},
    ],
    "receive": [
        {"lot": "RC-1", "heat": "H-A", "diameter_um": 5500, "length_mm": 10000000, "mass_g": 1900000,
         "measured_um": [5490, 5510], "tensile_grade_kpa": 1200000, "order": "PO 12", "location": "bay 7"},
        {"lot": "FC-1", "kind": "core", "supply": "FIB-1", "length_mm": 2000000},
        {"lot": "BW-1", "kind": "bobbin", "supply": "WIRE-1", "mass_g": 300000, "diameter_um": 900},
    ],
    "batch": [
        {"batch": "PT-1", "process": "patent", "machine": "FURN-1", "started": "2026-03-04T09:12:00+01:00",
         "ended": "2026-03-04T10:00:00.5Z", "settings": {"lead_c": 550},
         "lots": ["RC-1", {"lot": "RC-2"}, {"lot": "RC-3", "from_mm": 0, "to_mm": 5000}]},
    ],
    "run": [
        {"run": "ST-1", "process": "strand", "machine": "TUBE-2", "started": "2026-03-04T09:12:00Z",
         "ended": "2026-03-04T19:12:00Z", "batch": "B-1", "tolerance_ppm": 5000, "tolerance_by": {"spec": "S", "version": 1}, "supplies": ["LUB-1", "LUB-2"],
         "settings": {"lay_um": 90000}, "override": {"reason": "on paper"},
         "lines": [
             {"line": "1", "feeds": [{"lot": "BB-1", "from_mm": 0, "to_mm": 5000, "off": "inner"},
                                     {"lot": "BB-2", "take_mm": 700, "weld": "W-1", "join": "braze", "affected_mm": 50,
                                      "seen_at_mm": 4800}]},
             {"line": "core", "feeds": [{"lot": "BB-3"}]}],
         "packages": [{"lot": "SS-1", "kind": "strand", "length_mm": 4000, "mass_g": 900, "diameter_um": 5200,
                       "construction": "1x19S", "tensile_grade_kpa": 1770000, "doffed": "2026-03-04T12:00:00Z", "location": "rack 2"},
                      {"scrap_mm": 12, "reason": "kink"}]},
    ],
    "test": [
        {"test": "T-1", "lot": "BB-1", "at_mm": 0, "sample_mm": 500, "instrument": "UTM-1",
         "results": {"tensile_kpa": 1770000, "torsions": 31}, "verdict": "pass"},
        {"test": "T-2", "lot": "BB-1", "readings": {"diameter_um": [1200, 1204]}, "retest_of": "T-1"},
    ],
    "hold": [
        {"hold": "Q-1", "reason": "slag\nin heat", "lots": [{"lot": "BB-1", "from_mm": 1, "to_mm": 2}, "BB-2"],
         "question": "heat:H-A forward", "at_size": 412},
        {"hold": "Q-2", "reason": "recall", "lots": ["BB-1"], "decides": "J. Ferro",
         "trace": {"origin": "heat:H-A", "direction": "kin", "from_mm": 1, "to_mm": 2, "since": "2026-03-04T09:12:00Z",
                   "until": "2026-03-05T09:12:00Z", "size": 412, "root": "ab" * 32}},
    ],
    "release": [
        {"hold": "Q-1", "disposition": "rework", "reason": "redrawn", "lots": ["BB-2", {"lot": "BB-3"}], "into": ["draw", "wind"],
         "agreed": 7},
        {"hold": "Q-1", "disposition": "regrade", "reason": "low carbon", "grade": "C78D"},
    ],
    "drill": [
        {"lot": "rc-1", "note": "with the auditor"},
        {"seed": {"size": 412, "text": "rain on Tuesday"}, "chosen": {"lot": "RC-1"}, "found": {"took_us": 7}},
    ],
    "sample": [{"n": 5, "seed": {"size": 412, "text": "rain on Tuesday"}, "note": "as agreed", "chosen": {}, "found": {}}],
    "agree": [
        {"hold": "Q-1", "disposition": "rework", "reason": "as proposed", "lots": ["BB-2", {"lot": "BB-3"}], "into": ["draw"]},
        {"hold": "Q-1", "disposition": "regrade", "reason": "as proposed", "grade": "C78D"},
    ],
    "scrap": [{"lot": "BB-1", "from_mm": 0, "to_mm": 9, "reason": "rust"}],
    "certify": [
        {"certificate": "C-1", "type": "3.1", "reels": ["R-1", {"lot": "R-2"}], "tests": ["T-1", "T-2"], "statement": "as ordered"},
        {"certificate": "C-2", "type": "3.2", "reels": ["R-1"], "replaces": "C-1", "signed": {"name": "A. Bell", "position": "inspector"},
         "countersigned": {"name": "C. Dunn", "for": "Harbour Cranes"}, "address": "https://mill.example:8420/", "document": {}},
    ],
    "clear": [{"certificate": "C-1", "reason": "the hold is on another length", "holds": ["Q-1"]}],
    "withdraw": [{"certificate": "C-1", "reason": "recall"}],
    "dispatch": [{"consignment": "D-1", "consignee": "Harbour Cranes", "lots": ["R-1", {"lot": "R-2"}]}],
    "move": [{"lots": ["R-1", {"lot": "R-2"}], "location": "yard 3"}],
    "correct": [{"entry": KEY, "reason": "mistyped", "body": {"lot": "R-1"}}],
    "void": [{"entry": KEY, "reason": "logged twice"}],
    "note": [{"about": "lot:r-1", "text": "seen\tby all"}],
    "order": [
        {"order": "O-7", "customer": "Harbour Cranes", "process": "close", "grade": "1770", "diameter_um": 16000,
         "diameter_tolerance_um": 200, "construction": "6x36WS-IWRC", "tensile_grade_kpa": 1960000,
         "joint_distance_mm": 288, "one_heat": True, "machine": "CL-1",
         "pieces": [{"length_mm": 500000, "n": 2}]},
    ],
    "open": [
        {"run": "ST-2", "process": "strand", "machine": "TUBE-2", "started": "2026-03-04T09:12:00Z", "batch": "B-1",
         "tolerance_ppm": 5000, "tolerance_by": {"spec": "S", "version": 1}, "supplies": ["LUB-1"], "settings": {"lay_um": 90000}, "order": "O-7", "lines": ["1", "core"],
         "accepted": [{"code": "wrong-grade", "reason": "agreed"}]},
    ],
    "load": [
        {"run": "ST-2", "line": "1", "lot": "BB-1", "from_mm": 0, "to_mm": 700, "off": "inner", "weld": "W-1", "join": "braze",
         "affected_mm": 50, "seen_at_mm": 4800, "taken": [[0, 700]]},
    ],
    "doff": [
        {"run": "ST-2", "lot": "SS-1", "kind": "strand", "length_mm": 4000, "mass_g": 900, "diameter_um": 5200,
         "construction": "1x19S", "tensile_grade_kpa": 1770000, "doffed": "2026-03-04T12:00:00Z", "location": "rack 2"},
        {"run": "ST-2", "scrap_mm": 12, "reason": "kink"},
    ],
    "close": [{"run": "ST-2", "ended": "2026-03-04T19:12:00Z", "left": [{"line": "1", "left_mm": 0}]}],
    "instrument": [
        {"instrument": "UTM-1", "what": "tensile machine, 50 kN", "calibrated": "2026-01-01T00:00:00Z",
         "valid_until": "2027-01-01T00:00:00Z", "found": "bad", "note": "load cell\nrenewed"},
    ],
    "spec": [
        {"spec": "W-1770", "version": 2, "what": "wire", "grade": "C82D", "diameter_from_um": 1000, "diameter_below_um": 1500,
         "construction": "bright", "limits": {"tensile_kpa": {"min": 1770000, "max": 2090000}, "torsions": {"min": 26}},
         "tests": [{"property": "tensile_kpa", "per": "lot", "n": 2}, {"property": "torsions", "per": "run", "n": 1}],
         "joint_multiple": 18, "joint_of_um": 16000, "heats": "one", "tolerance_ppm": {"draw": 5000, "strand": 10000},
         "source": "EN 10264-1:2002, Table 1", "tensile_grade_kpa": 1770000, "retests": 2},
    ],
    "person": [
        {"person": "AB-7", "name": "Anna Berg", "roles": ["operator", "quality"], "badge": "B-0711", "closed": False,
         "note": "shift B\nsince May"},
        {"person": "AB-8", "name": "A", "roles": [], "closed": True},
    ],
    "terminal": [{"terminal": "DRAW-1", "where": "drawing, bay 2", "closed": True, "note": "x"}],
    "token": [
        {"token": "UTM-1-FILE", "role": "operator", "only": {"kind": "test", "instrument": "UTM-1"},
         "expires": "2027-01-01T00:00:00Z", "closed": False, "note": "x"},
        {"token": "SCRAPE", "role": "auditor", "only": {"read": "metrics"}},
        {"token": "BLOCK", "role": "operator", "only": {"machine": "DRAW-1"}},
    ],
    "access": [
        {"what": "refused", "person": "AB-7", "terminal": "DRAW-1", "why": "wrong PIN", "count": 12, "since": "2026-03-04T09:12:00Z"},
        {"what": "token-given", "token": "SCRAPE"},
    ],
}

VALUES = [
    "https://mill.example/", "http://a/", "http://[::1]:8420/x/", "ftp://a/", "https:///", "http:///", "https://a/?b/", "https://a b/",
    None, True, False, [], {}, [1], {"lot": "X"}, {"lot": "x", "from_mm": 1, "to_mm": 2}, {"lot": 1}, {"scrap_mm": 5}, ["X"],
    -1, 0, 1, 2, 9, 10, 200000, 200001, 999999, 1000000, 1000001, 1000000000, 1000000001, 10**10, 10**10 + 1, 10**12, 10**12 + 1,
    2**53 - 1, -(2**53) + 1, 2**53, 1.5, -0.25, 1e300,
    "", "x", "X-1", "a b", "a_b", "x" * 40, "x" * 41, "x" * 80, "x" * 81, "x" * 200, "x" * 201, "x" * 2000, "x" * 2001, "\u00e4",
    "\U0001f602" * 80, "a\nb", "a\tb", "a\rb", "a\u007fb", "a\u0085b", "\u2028", "rod", "core", "draw", "outer", "tuck", "fail",
    "2.2", "scrap", "lot:a", "heat:A/1.2-3", "order:7", "lot:", "lot", KEY, KEY.lower(), KEY[:-1], KEY + "0", "2026-03-04T09:12:00Z",
    "2026-03-04t09:12:00.123z", "2026-02-30T00:00:00Z", "2026-03-04T09:12:60Z", "2016-12-31T23:59:60Z", "2026-03-04 09:12:00Z",
    "2026-03-04T24:00:00Z", "2026-03-04", "0000-01-01T00:00:00Z", "2030-01-01T00:00:00-00:00",
]

NAMES = [
    "lot", "kind", "heat", "supply", "from_mm", "to_mm", "take_mm", "weld", "join", "seen_at_mm", "affected_mm", "scrap_mm", "reason",
    "length_mm", "mass_g", "diameter_um", "override", "settings", "lots", "at", "key", "Lot", "", "x", "a/b", "C", "Mn+Si", "C+",
    "Xyz", "tensile_kpa", "draw", "min", "max", "x" * 40, "x" * 41, "lay_um2",
]

# What a schema cannot say: problem type, and the beginning or a part of the sentence where the type says too little.
BEYOND = {
    "an interval or a time the wrong way round": ("bad-order", ""),
    "a code that stands twice": ("bad-value", " stands twice in "),
    "a date that no calendar has": ("bad-time", ""),
    "a date that no calendar has, in the envelope": ("not-entry", '"at" is '),
}


def containers(value):
    """Every object and array in a value, itself among them."""
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from containers(inner)
    elif isinstance(value, list):
        yield value
        for inner in value:
            yield from containers(inner)


def change(entry, dice):
    """One change, at a place chosen evenly among all objects and arrays."""
    box = dice.choice([c for c in containers(entry)])
    value = copy.deepcopy(dice.choice(VALUES))
    if isinstance(box, list):
        if not box or dice.random() < 0.2:
            box.insert(dice.randint(0, len(box)), copy.deepcopy(dice.choice(box)) if box and dice.random() < 0.5 else value)
        elif dice.random() < 0.3:
            del box[dice.randrange(len(box))]
        elif dice.random() < 0.2:
            box.reverse()
        else:
            box[dice.randrange(len(box))] = value
        return
    what = dice.random()
    if not box or what < 0.15:
        box[dice.choice(NAMES)] = value
    elif what < 0.3:
        del box[dice.choice(list(box))]
    elif what < 0.4:
        box[dice.choice(NAMES)] = box.pop(dice.choice(list(box)))
    else:
        box[dice.choice(list(box))] = value


def entries(dice):
    for kind, bodies in RIGHT.items():
        for body in bodies:
            right = {"key": KEY, "kind": kind, "at": "2026-03-04T09:12:00Z", "body": body}
            yield right
            for _ in range(CHANGED // len(bodies)):
                entry = copy.deepcopy(right)
                for _ in range(dice.choice([1, 1, 1, 2, 3])):
                    change(entry, dice)
                yield entry


def beyond(verdict, sentence):
    for reason, (slug, part) in BEYOND.items():
        if verdict == slug and part in sentence:
            return reason
    return None


def main(program, schema):
    schema = json.loads(pathlib.Path(schema).read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    assert set(schema["properties"]["kind"]["enum"]) == set(RIGHT)

    asked = list(entries(random.Random(SEED)))
    done = subprocess.run([program], input="".join(json.dumps(e) + "\n" for e in asked), capture_output=True, text=True, check=True)
    answers = done.stdout.removesuffix("\n").split("\n")  # splitlines() would split at U+2028 too
    assert len(answers) == len(asked)

    met, failed = collections.Counter(), 0
    for entry, answer in zip(asked, answers):
        verdict, _, sentence = answer.partition(" ")
        valid = validator.is_valid(entry)
        reason = beyond(verdict, sentence) if valid and verdict != "ok" else None
        met[reason or ("both take it" if valid else "both refuse it")] += 1
        if valid != (verdict == "ok") and not reason:
            failed += 1
            print(json.dumps(entry), f"\n  schema: {'valid' if valid else 'not valid'}\n  server: {answer[:300]}")
    for what, n in sorted(met.items()):
        print(f"{n:6} {what}")
    print(f"{len(asked)} entries, {failed} on which they differ")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
