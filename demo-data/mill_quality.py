"""What the demo mill judges its metal by: specifications, calibrations, retests, a concession, orders.

Added to the entries when they are all made: what was there before them at the beginning, what happened on its day in
its place, and the last afternoon at the end. Lots, runs and the stories stay as they are.
"""
import uuid

from mill_figures import minimum_force_n, rope_diameter_um, tensile_excess_kpa, zinc_minimum_mg_m2
from mill_things import clock, stamp
from mill_trade import PRODUCTS, TORSIONS, WIRE

BEFORE = clock("2026-09-01 06:00") - 9 * 86400
BANDS = [(500, 1000), (1000, 1500), (1500, 2000), (2000, 3500)]  # of EN 10264-1:2002, Table 1
JOINTS = 18  # rope diameters between two joints of a strand: API Spec 9A, 4.2.2

INSTRUMENTS = [
    ("TT-1", "tensile tester, 50 kN", 366),
    ("TT-2", "tensile tester, 50 kN", 366),
    ("TO-1", "twist and bend tester", 366),
    ("TO-2", "twist and bend tester", 366),
    ("LG-1", "lay gauge and calliper, 600 mm", 366),
    ("BF-1", "breaking machine, 1 MN", 366),
    ("ZN-1", "balance and stripping bench for zinc", 55),  # nobody renewed it in October
]


def wire_specs():
    """A specification for each tensile grade and band of diameters that the mill draws."""
    drawn = sorted({(w.grade, band) for w in WIRE.values() for band in BANDS if band[0] <= w.d < band[1]})
    for grade, (low, high) in drawn:
        yield {
            "spec": "W-%d-%02d" % (grade, low // 100), "version": 1, "what": "wire", "tensile_grade_kpa": grade * 1000,
            "diameter_from_um": low, "diameter_below_um": high,
            "limits": {"tensile_kpa": {"min": grade * 1000, "max": grade * 1000 + tensile_excess_kpa(low)},
                       "torsions": {"min": TORSIONS[grade] - 4},
                       "zinc_mg_m2": {"min": zinc_minimum_mg_m2(low, "B")}},
            "tests": [{"property": "tensile_kpa", "per": "run", "n": 2}, {"property": "torsions", "per": "run", "n": 1}],
            "retests": 2,
            "source": "tensile EN 10264-1:2002 Table 1; zinc EN 10244-2 class B; twists: the mill's own"}


def rope_specs():
    for p in PRODUCTS.values():
        least, most, spread = rope_diameter_um(p.d, p.core == "FC")
        yield {
            "spec": "R-%s-%02d" % (p.name, p.d // 1000), "version": 1, "what": "rope", "construction": p.name,
            "tensile_grade_kpa": p.grade * 1000, "diameter_from_um": p.d, "diameter_below_um": p.d + 1,
            "limits": {"breaking_n": {"min": minimum_force_n(round(p.k * 1000), p.d, p.grade)},
                       "diameter_um": {"min": least, "max": most}, "diameter_range_um": {"max": spread}},
            "tests": [{"property": "breaking_n", "per": "run", "n": 1}, {"property": "diameter_um", "per": "run", "n": 1}],
            "retests": 2, "joint_multiple": JOINTS, "joint_of_um": p.d, "heats": "any",
            "tolerance_ppm": {"cut": 5000},
            "source": "F = K d2 R / 1000 and diameter EN 12385-4; joints API Spec 9A 4.2.2"
                      + ("; K: the mill's type test" if p.compacted or p.strands == 1 else "")}


class Adding:
    def __init__(self, entries, rng):
        self.entries, self.rng = entries, rng

    def entry(self, t, kind, body):
        return {"key": str(uuid.UUID(int=self.rng.getrandbits(128), version=4)), "kind": kind, "at": stamp(t), "body": body}

    def first(self, made):
        self.entries[:0] = made

    def on_its_day(self, entry):
        """Before the first entry that happened later, of those that were logged as they happened."""
        for i, other in enumerate(self.entries):
            if other["at"] > entry["at"] and other["kind"] not in ("void", "correct"):
                self.entries.insert(i, entry)
                return
        self.entries.append(entry)

    def last(self, t, kind, body):
        self.entries.append(self.entry(t, kind, body))


def beginning(adding, orders):
    out = [adding.entry(BEFORE, "spec", s) for s in list(wire_specs()) + list(rope_specs())]
    for code, what, days in INSTRUMENTS:
        t = BEFORE + 6 * 3600
        out.append(adding.entry(t, "instrument", {
            "instrument": code, "what": what, "calibrated": stamp(t), "valid_until": stamp(t + days * 86400), "found": "good",
            "note": "by Brackwater Calibration, with their certificate BC-%d" % (3100 + len(out))}))
    adding.first(out + [adding.entry(BEFORE + 8 * 3600, "order", o) for o in orders])


def on_their_days(adding):
    """The weekly checks of TT-2 round its bad days, and a customer's closer limits from October on."""
    tester = {"instrument": "TT-2", "what": "tensile tester, 50 kN"}
    good, bad, again = clock("2026-10-18 22:00"), clock("2026-10-22 05:40"), clock("2026-10-22 06:00")
    year = clock("2027-08-23 12:00")
    adding.on_its_day(adding.entry(good, "instrument", {
        **tester, "calibrated": stamp(good), "valid_until": stamp(year), "found": "good", "note": "weekly, reference wire"}))
    adding.on_its_day(adding.entry(bad, "instrument", {
        **tester, "calibrated": stamp(bad), "found": "bad", "note": "weekly, reference wire: reads 2.8 % high"}))
    adding.on_its_day(adding.entry(again, "instrument", {
        **tester, "calibrated": stamp(again), "valid_until": stamp(year), "found": "good",
        "note": "load cell changed; reference wire within 0.3 %"}))
    closer = next(s for s in rope_specs() if s["spec"].startswith("R-6X36WS-IWRC"))
    closer = {**closer, "version": 2, "limits": {**closer["limits"], "lay_um": {"min": 138000, "max": 148000}},
              "source": closer["source"] + "; lay: agreed with Aldmoor Crane Hire"}
    adding.on_its_day(adding.entry(clock("2026-10-01 07:30"), "spec", closer))


def of_heat(mill, heat):
    return {x.code for x in mill.lots if heat.code in x.heats()}


def last_afternoon(adding, mill):
    """Two reels of the stock are measured again: one is made good by its retests, one goes on a concession."""
    suspected = of_heat(mill, mill.stories.bad_heat)
    quiet = [x for x in mill.reels if not hasattr(x, "sent") and not hasattr(x, "certificate") and x.code not in suspected
             and x.product in ("P2", "P3", "P4") and not any(h for h in mill.holds if x in [lot[0] for lot in h.lots])]
    good, poor = sorted(quiet, key=lambda x: x.made)[-2:]
    t = clock("2026-10-31 19:10")

    def measure(code, reel, minutes, readings, **more):
        adding.last(t + minutes * 60, "test", {
            "test": code, "lot": reel.code, "at_mm": reel.length - 1000, "instrument": "LG-1",
            "readings": {"diameter_um": readings}, **more})

    d = good.d
    measure("T-90001", good, 0, [d + 40, d + 880, d + 420, d + 450])
    measure("T-90002", good, 12, [d + 400, d + 455, d + 430, d + 425], retest_of="T-90001")
    measure("T-90003", good, 16, [d + 410, d + 440, d + 435, d + 430], retest_of="T-90001")
    d = poor.d
    measure("T-90004", poor, 30, [d * 1052 // 1000, d * 1056 // 1000, d * 1054 // 1000, d * 1053 // 1000])
    measure("T-90005", poor, 41, [d * 1051 // 1000, d * 1055 // 1000, d * 1054 // 1000, d * 1052 // 1000],
            retest_of="T-90004")
    adding.last(t + 50 * 60, "hold", {
        "hold": "HD-901", "reason": "diameter above 105 % of nominal in the test and in its retest",
        "lots": [{"lot": poor.code}]})
    adding.last(t + 110 * 60, "release", {
        "hold": "HD-901", "disposition": "concession",
        "reason": "Quernmoor Rigging takes it at 105.4 %: their drum grooves are cut for it (their letter of 31 October)"})
    return good, poor


def orders_of(mill):
    """An order behind the ropes of 22 mm: it asks for more between joints than the specification does."""
    out = {}
    for run in mill.runs:
        lots = run.lots()
        if run.process == "cut" and lots and getattr(lots[0], "product", None) == "P4":
            code = run.settings["order"]
            shared = [r for r in mill.runs if r.process == "cut" and r.settings["order"] == code and r is not run]
            if any(getattr(r.lots()[0], "product", None) != "P4" for r in shared if r.lots()):
                continue
            run.order = code
            out[code] = {"order": code, "customer": "Aldmoor Crane Hire", "process": "cut", "diameter_um": lots[0].d,
                         "construction": lots[0].construction, "tensile_grade_kpa": PRODUCTS["P4"].grade * 1000,
                         "joint_distance_mm": 600, "one_heat": False}
    return [out[c] for c in sorted(out)]


def add(mill, entries, orders, rng):
    adding = Adding(entries, rng)
    on_their_days(adding)
    beginning(adding, orders)
    return last_afternoon(adding, mill)
