"""The things of the demo mill: lots and what is left of them, feeds, runs, and entries to be.

The floor knows more than the ledger will: at every point of a lot how strong the wire is (strength_at), from the
furnace on. Tests read that, so a cold furnace shows where its wire went and nowhere else.
"""
import datetime

from mill_trade import Y0

EPOCH = datetime.datetime(2026, 9, 1, tzinfo=datetime.timezone.utc)
MINUTE, HOUR, DAY = 60, 3600, 86400


def stamp(t):
    return (EPOCH + datetime.timedelta(seconds=t // MINUTE * MINUTE)).strftime("%Y-%m-%dT%H:%M:%SZ")


def clock(text):
    """Seconds from the mill's first day to '2026-09-17 02:05'."""
    when = datetime.datetime.strptime(text, "%Y-%m-%d %H:%M").replace(tzinfo=datetime.timezone.utc)
    return int((when - EPOCH).total_seconds())


def weekday(t):
    return (EPOCH + datetime.timedelta(seconds=t)).weekday()


def working(t):
    """The first time at or after t that is not a Sunday: no run is started on one."""
    while weekday(t) == 6:
        t = t // DAY * DAY + DAY + 6 * HOUR
    return t


class Coded:
    """Anything with a code of its own, given when all times are known."""
    code = None


class Heat(Coded):
    def __init__(self, code, supplier, grade, analysis):
        self.code, self.supplier, self.grade, self.analysis = code, supplier, grade, analysis


class Supply(Coded):
    def __init__(self, what, supplier):
        self.what, self.supplier = what, supplier


class Weld(Coded):
    pass


class Test(Coded):
    def __init__(self, lot, passed):
        self.lot, self.passed = lot, passed


class Lot(Coded):
    """A labelled length. left: what is still there, [(from, to)], inner end first. ready: when it can be used."""

    def __init__(self, kind, length, d, gmm, ready):
        self.kind, self.length, self.d, self.gmm, self.ready = kind, length, d, gmm, ready
        self.left = [(0, length)]
        self.run, self.s0, self.heat, self.steel, self.wire = None, 0, None, None, None
        self.construction = self.location = None
        self.made = ready
        self.tests = []
        self.coded_by = None

    def there(self):
        return sum(b - a for a, b in self.left)

    def claim(self, a, b):
        for i, (x, y) in enumerate(self.left):
            if x <= a and b <= y:
                self.left[i:i + 1] = [(p, q) for p, q in ((x, a), (b, y)) if p < q]
                return
        raise AssertionError("%d..%d of %s (%s) is not there" % (a, b, self.code, self.left))

    def top(self):
        return self.left[-1][1]

    def mass(self):
        return int(self.gmm * self.length)

    def strength_at(self, x):
        """As-patented strength of the wire at x, MPa (rod as rolled counts as patented)."""
        if self.run is None:
            return Y0
        return self.run.patented_at(self, x)

    def heats(self):
        """The heats anywhere in it, by membership."""
        seen, todo, found = set(), [self], set()
        while todo:
            lot = todo.pop()
            if id(lot) in seen:
                continue
            seen.add(id(lot))
            if lot.heat:
                found.add(lot.heat.code)
            if lot.run:
                todo.extend(f.lot for _, feeds in lot.run.lines for f in feeds)
        return found

    def ancestors(self):
        seen, todo = {}, [self]
        while todo:
            lot = todo.pop()
            if id(lot) not in seen:
                seen[id(lot)] = lot
                if lot.run:
                    todo.extend(f.lot for _, feeds in lot.run.lines for f in feeds)
        return list(seen.values())


class Feed:
    """A stretch [a, b] of a lot. style: how the operator said it (all, take, span)."""

    def __init__(self, lot, a, b, style, off="outer"):
        self.lot, self.a, self.b, self.style, self.off = lot, a, b, style, off
        self.weld = self.join = self.seen = self.affected = None

    def length(self):
        return self.b - self.a

    def body(self, lot=None):
        out = {"lot": (lot or self.lot).code}
        if self.style == "take":
            out["take_mm"] = self.length()
        elif self.style == "span":
            out["from_mm"], out["to_mm"] = self.a, self.b
        if self.off != "outer":
            out["off"] = self.off
        if self.weld:
            out["weld"] = self.weld.code
        if self.join:
            out["join"] = self.join
        if self.affected:
            out["affected_mm"] = self.affected
        if self.seen:
            out["seen_at_mm"] = self.seen
        return out


class Run(Coded):
    """lines: [(label, [Feed])]; packages: [(Lot or None, length, doffed, reason)]."""

    def __init__(self, process, machine, start, lines, packages, end):
        self.process, self.machine, self.start, self.lines = process, machine, start, lines
        self.packages, self.end = packages, end
        self.batch = self.tolerance = None
        self.supplies, self.settings = [], {}
        self.begin = start  # when metal began to move
        self.cold = None    # (since, until): the furnace was cold
        self.bad = None     # (s, s): torsions fail
        self.override = self.order = None
        self.length = sum(p[1] for p in packages)
        s = 0
        for lot, length, _, _ in packages:
            if lot:
                lot.run, lot.s0 = self, s
            s += length

    def lots(self):
        return [p[0] for p in self.packages if p[0]]

    def time_at(self, s):
        return self.begin + (self.end - self.begin) * s // self.length

    def patented_at(self, lot, x):
        s = lot.s0 + x
        if self.process == "patent":
            now = self.time_at(s)
            return Y0 - 215 if self.cold and self.cold[0] <= now <= self.cold[1] else Y0
        feeds = self.lines[0][1]
        v = s * sum(f.length() for f in feeds) // self.length
        for f in feeds:
            if v <= f.length() or f is feeds[-1]:
                v = min(v, f.length())
                return f.lot.strength_at(f.b - v if f.off == "outer" else f.a + v)
            v -= f.length()

    def body(self, swap=None):
        """The entry's body; swap: {lot: lot} as it was booked by mistake."""
        swap = swap or {}
        out = {"run": self.code, "process": self.process, "machine": self.machine, "started": stamp(self.start),
               "ended": stamp(self.end)}
        if self.batch:
            out["batch"] = self.batch.code
        if self.tolerance:
            out["tolerance_ppm"] = self.tolerance
        if self.supplies:
            out["supplies"] = [s.code for s in self.supplies]
        if self.settings:
            out["settings"] = self.settings
        if self.order:
            out["order"] = self.order
        out["lines"] = [{"line": label, "feeds": [f.body(swap.get(f.lot)) for f in feeds]}
                        for label, feeds in self.lines]
        out["packages"] = [package_body(*p) for p in self.packages]
        if self.override:
            out["override"] = {"reason": self.override}
        return out


def package_body(lot, length, doffed, reason):
    if lot is None:
        return {"scrap_mm": length, "reason": reason}
    out = {"lot": lot.code, "kind": lot.kind, "length_mm": length}
    if lot.weighed:
        out["mass_g"] = lot.weighed
    if lot.d:
        out["diameter_um"] = lot.d
    if lot.construction:
        out["construction"] = lot.construction
    if lot.tensile:
        out["tensile_grade_kpa"] = lot.tensile * 1000
    if doffed:
        out["doffed"] = stamp(doffed)
    if lot.location:
        out["location"] = lot.location
    return out


Lot.weighed = None
Lot.tensile = None  # grade, MPa, where it is stated: of drawn wire and of rope


def span_body(lot, a=None, b=None):
    return {"lot": lot.code} if a is None else {"lot": lot.code, "from_mm": a, "to_mm": b}


class Event:
    """One entry to be: when it was logged, its kind, when it happened, and what makes its body once codes are given."""

    def __init__(self, logged, kind, at, build):
        self.logged, self.kind, self.at, self.build = logged, kind, at, build
        self.key = self.late = None
