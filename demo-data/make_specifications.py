#!/usr/bin/env python3
"""Makes the set of specifications that a mill starts from, as entries that `kinwire load` takes.

    make_specifications.py            writes specifications.ndjson and specifications-from-memory.ndjson beside this file
    make_specifications.py --check    makes them again and compares; exit 1 when they differ

specifications.ndjson has figures that were read in a page that quotes the standard; each says which. A mill loads it,
and makes a next version of what it keeps otherwise. specifications-from-memory.ndjson has what nobody read in its source:
it says so, it is not loaded with the other, and no test should be judged by it before it was read.

Wire: rope wire by tensile grade and band of diameters (EN 10264-1:2002, Table 1). Rope: constructions
that are much made, at sizes of API Spec 9A, Table C.1, fibre and steel core, grades 1770 and 1960 (EN 12385-4 factors of
their classes; diameter, unloaded).
"""
import json
import pathlib
import sys
import uuid

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.dont_write_bytecode = True

from mill_figures import BREAKING, TENSILE_EXCESS, minimum_force_n, rope_diameter_um  # noqa: E402

FOLDER = pathlib.Path(__file__).resolve().parent
SPACE = uuid.UUID("5e0c2c1e-7d0a-4b52-9f0b-5d2a1e0f7c11")  # keys follow from the codes: loaded twice, recorded once
AT = "2026-01-01T00:00:00Z"
WIRE_GRADES = [1570, 1770, 1960, 2160]
ROPE_GRADES = [1770, 1960]
SIZES = [8, 10, 12, 13, 14, 16, 18, 20, 22, 24, 28, 32, 36]  # mm
# Constructions that are much made, and the class whose factors they have.
CONSTRUCTIONS = {"6X7": "6X7", "6X19S": "6X19", "6X25F": "6X19", "6X36WS": "6X36", "8X19S": "8X19", "8X36WS": "8X36",
                 "18X7": "18X7"}
# Twists on 100 d, bright and class B wire: ISO 2232 and EN 10264-2 from memory, single cells may be off by one.
TWISTS = {(500, 1000): {1370: 34, 1570: 30, 1770: 28, 1960: 25, 2160: 23},
          (1000, 1300): {1370: 33, 1570: 29, 1770: 26, 1960: 23, 2160: 21},
          (1300, 1800): {1370: 32, 1570: 28, 1770: 25, 1960: 22, 2160: 20},
          (1800, 2300): {1370: 31, 1570: 27, 1770: 24, 1960: 21, 2160: 19},
          (2300, 3000): {1370: 29, 1570: 26, 1770: 23, 1960: 20, 2160: 18},
          (3000, 3500): {1370: 28, 1570: 25, 1770: 22, 1960: 19}}


def wires():
    for grade in WIRE_GRADES:
        for low, high, excess in TENSILE_EXCESS:
            yield {"spec": "STD-W-%d-%04d" % (grade, low), "version": 1, "what": "wire", "tensile_grade_kpa": grade * 1000,
                   "diameter_from_um": low, "diameter_below_um": high,
                   "limits": {"tensile_kpa": {"min": grade * 1000, "max": (grade + excess) * 1000}},
                   "tests": [{"property": "tensile_kpa", "per": "run", "n": 1}],
                   "source": "EN 10264-1:2002 Table 1, seen in a page that quotes it; later editions exist"}


def ropes():
    for name, rope_class in CONSTRUCTIONS.items():
        for core in ("FC", "IWRC"):
            k = BREAKING[rope_class][core]
            for grade in ROPE_GRADES:
                for mm in SIZES:
                    least, most, spread = rope_diameter_um(mm * 1000, core == "FC")
                    yield {"spec": "STD-R-%s-%s-%02d-%d" % (name, core, mm, grade), "version": 1, "what": "rope",
                           "construction": "%s-%s" % (name, core), "tensile_grade_kpa": grade * 1000,
                           "diameter_from_um": mm * 1000, "diameter_below_um": mm * 1000 + 1,
                           "limits": {"breaking_n": {"min": minimum_force_n(k, mm * 1000, grade)},
                                      "diameter_um": {"min": least, "max": most}, "diameter_range_um": {"max": spread}},
                           "tests": [{"property": "breaking_n", "per": "run", "n": 1},
                                     {"property": "diameter_um", "per": "run", "n": 1}],
                           "joint_multiple": 18, "joint_of_um": mm * 1000,
                           "source": "EN 12385-4 factors and diameters (handbook table 1.9, trade page); joints API 9A 4.2.2"}


def from_memory():
    """Twists beside the tensile band, since the one specification that says most about a wire is the one that counts."""
    for (low, high), grades in TWISTS.items():
        for first, below, excess in TENSILE_EXCESS:
            for grade, least in grades.items():
                if max(low, first) >= min(high, below):
                    continue
                yield {"spec": "MEM-W-%d-%04d" % (grade, max(low, first)), "version": 1, "what": "wire",
                       "tensile_grade_kpa": grade * 1000, "diameter_from_um": max(low, first),
                       "diameter_below_um": min(high, below),
                       "limits": {"tensile_kpa": {"min": grade * 1000, "max": (grade + excess) * 1000},
                                  "torsions": {"min": least}},
                       "tests": [{"property": "tensile_kpa", "per": "run", "n": 1}],
                       "source": "twists: value from memory (ISO 2232, EN 10264-2), read it in its source; "
                                 "tensile EN 10264-1:2002 Table 1"}


def lines(specs):
    out = ""
    for s in specs:
        key = uuid.uuid5(SPACE, "%s %d" % (s["spec"], s["version"]))
        out += json.dumps({"key": str(key), "kind": "spec", "at": AT, "body": s}, separators=(",", ":")) + "\n"
    return out


def main(args):
    same = True
    for name, specs in (("specifications.ndjson", list(wires()) + list(ropes())),
                        ("specifications-from-memory.ndjson", list(from_memory()))):
        text, file = lines(specs), FOLDER / name
        if "--check" in args:
            same = same and file.exists() and file.read_text(encoding="utf-8") == text
        else:
            file.write_text(text, encoding="utf-8")
        print("%s: %d specifications" % (name, len(specs)))
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
