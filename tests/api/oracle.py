"""A second reading of the design's model: what a trace must answer, worked out in plain Python.

Written from the model's page alone and sharing nothing with the program, so that the two can disagree. Every figure is an
exact integer or a Fraction; nothing is fast and nothing is clever. It takes entries as they are sent (NDJSON objects) and
trusts them to be right: checking them is the program's work.
"""
from fractions import Fraction
from math import ceil, floor

DEFAULT_TOLERANCE = 10_000
DEFAULT_AFFECTED_MM = 50


# --- spans: lists of (from, to) ------------------------------------------------------------------


def unite(spans):
    """In order, and what touches or overlaps made one."""
    out = []
    for a, b in sorted(spans):
        if out and a <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out


def clip(spans, lo, hi, shift=0, points=False):
    """The part of the spans on [lo, hi], moved by -shift. A span with no length left is dropped, unless it came as a point."""
    out = []
    for a, b in spans:
        x, y = max(a, lo), min(b, hi)
        if x < y or (x == y and a == b and points):
            out.append((x - shift, y - shift))
    return out


def minus(spans, taken):
    out = []
    for a, b in spans:
        for x, y in sorted(taken):
            if y <= a or x >= b:
                continue
            if x > a:
                out.append((a, x))
            a = max(a, y)
        if a < b:
            out.append((a, b))
    return out


def total(spans):
    return sum(b - a for a, b in spans)


class Reach:
    """What of one lot is affected."""

    def __init__(self, certain=(), possible=()):
        self.certain, self.possible = list(certain), list(possible)

    def add(self, certain, possible):
        self.certain = unite(self.certain + list(certain))
        self.possible = unite(self.possible + list(possible))


# --- the mill as recorded ------------------------------------------------------------------------


class Lot:
    def __init__(self, code, kind, length, **more):
        self.code, self.kind, self.length = code, kind, length
        self.run = self.s0 = self.heat = self.supply = self.diameter = self.mass = None
        self.claims = []  # (from, to)
        self.__dict__.update(more)

    @property
    def left(self):
        return minus([(0, self.length)], self.claims)


class Feed:
    def __init__(self, lot, lo, hi, off, v0):
        self.lot, self.lo, self.hi, self.off, self.v0 = lot, lo, hi, off, v0

    def to_line(self, spans, points=False):
        """Spans of the lot, as far as this feed took them, on the line's coordinate."""
        out = []
        for a, b in clip(spans, self.lo, self.hi, points=points):
            out.append((self.v0 + self.hi - b, self.v0 + self.hi - a) if self.off == "outer"
                       else (self.v0 + a - self.lo, self.v0 + b - self.lo))
        return out

    def from_line(self, spans):
        v1 = self.v0 + self.hi - self.lo
        out = []
        for a, b in clip(spans, self.v0, v1, points=True):
            out.append((self.hi - (b - self.v0), self.hi - (a - self.v0)) if self.off == "outer"
                       else (self.lo + a - self.v0, self.lo + b - self.v0))
        return sorted(out)


class Line:
    def __init__(self, label, feeds, points):
        self.label, self.feeds, self.points = label, feeds, points

    def piece(self, at, axis):
        """The neighbouring known points about a place; axis 0: v, 1: s."""
        for a, b in zip(self.points, self.points[1:]):
            if a[axis] <= at <= b[axis]:
                return a, b
        raise ValueError("%r is not on line %s" % (at, self.label))

    def nominal(self, v):
        (va, sa), (vb, sb) = self.piece(v, 0)
        return sa + Fraction(v - va) * (sb - sa) / (vb - va)

    def nominal_back(self, s):
        (va, sa), (vb, sb) = self.piece(s, 1)
        return va + Fraction(s - sa) * (vb - va) / (sb - sa)


class Run:
    def __init__(self, code, **more):
        self.code = code
        self.__dict__.update(more)

    @property
    def inputs(self):
        return {f.lot.code for line in self.lines for f in line.feeds}

    # one end of a span, mapped and moved; `outwards` for possible, and `low` for the lower end

    def end_forward(self, line, v, low, possible):
        (va, sa), (vb, sb) = line.piece(v, 0)
        s = sa + Fraction((v - va) * (sb - sa), vb - va)
        s = floor(s) if low == possible else ceil(s)
        u = -((-self.tolerance * min(s - sa, sb - s)) // 1_000_000)
        s = s - u if low == possible else s + u
        return min(max(s, sa), sb)

    def end_back(self, line, s, low, possible):
        (va, sa), (vb, sb) = line.piece(s, 1)
        u = -((-self.tolerance * min(s - sa, sb - s)) // 1_000_000)
        s = s - u if low == possible else s + u
        s = min(max(s, sa), sb)
        v = va + Fraction((s - sa) * (vb - va), sb - sa)
        return floor(v) if low == possible else ceil(v)

    def forward(self, line, spans, possible):
        return self._move(self.end_forward, line, spans, possible)

    def back(self, line, spans, possible):
        return self._move(self.end_back, line, spans, possible)

    @staticmethod
    def _move(end, line, spans, possible):
        out = []
        for a, b in unite(spans):
            x, y = end(line, a, True, possible), end(line, b, False, possible)
            # nothing is certain of a piece that shrank to nothing; a bare joint is a point, and certain where its place is exact
            if possible or x < y or a == b and x == y:
                out.append((x, y))
        return out

    def to_packages(self, certain, possible):
        """Spans on the output, united, to the packages: {lot code: Reach}."""
        out = {}
        for lot, s0, s1 in self.packages:
            if lot is None:
                continue
            r = Reach(clip(unite(certain), s0, s1, s0, points=True), clip(unite(possible), s0, s1, s0, points=True))
            if r.possible:
                out[lot.code] = r
        return out


class Mill:
    """All that stands after a list of entries."""

    def __init__(self, entries):
        self.heats, self.supplies, self.lots, self.batches, self.runs = {}, {}, {}, {}, {}
        self.welds, self.tests, self.certificates, self.consignments = {}, {}, {}, {}
        standing = {e["key"]: e.get("body") for e in entries}
        for e in entries:
            if e["kind"] == "correct":
                standing[e["body"]["entry"]] = e["body"]["body"]
            elif e["kind"] == "void":
                standing[e["body"]["entry"]] = None
        for e in entries:
            body = standing[e["key"]]
            if body is not None:
                self.take(e["kind"], body, e.get("at"))
        self._depths()

    def take(self, kind, body, at):
        """What stands after one more entry; depths are worked out when all are in."""
        on = getattr(self, "on_" + kind, None)
        if on:
            on(body, at)

    def on_heat(self, b, at):
        self.heats[b["heat"]] = b

    def on_supply(self, b, at):
        self.supplies[b["supply"]] = b

    def on_receive(self, b, at):
        length = b.get("length_mm")
        if length is None:
            length = length_of_mass(b["mass_g"], b["diameter_um"])
        self.lots[b["lot"]] = Lot(b["lot"], b.get("kind", "rod"), length, heat=b.get("heat"), supply=b.get("supply"),
                                  diameter=b.get("diameter_um"), mass=b.get("mass_g"))

    def on_batch(self, b, at):
        treated = []
        for x in b.get("lots", []):
            lot = self.lots[x["lot"]]
            treated.append((lot.code, [(x["from_mm"], x["to_mm"])] if "from_mm" in x else lot.left))
        self.batches[b["batch"]] = treated

    def on_run(self, b, at):
        s, packages = 0, []
        for p in b["packages"]:
            size = p.get("length_mm", p.get("scrap_mm"))
            packages.append((p.get("lot"), s, s + size, p))
            s += size
        lines = []
        for x in b["lines"]:
            v, feeds, points = 0, [], [(0, 0)]
            for i, f in enumerate(x["feeds"]):
                lot = self.lots[f["lot"]]
                off = f.get("off", "outer")
                if "from_mm" in f or "to_mm" in f:
                    lo, hi = f.get("from_mm", 0), f.get("to_mm", lot.length)
                elif "take_mm" in f:
                    lo, hi = ((lot.left[-1][1] - f["take_mm"], lot.left[-1][1]) if off == "outer"
                              else (lot.left[0][0], lot.left[0][0] + f["take_mm"]))
                else:
                    (lo, hi), = lot.left
                lot.claims.append((lo, hi))
                if i and "seen_at_mm" in f:
                    points.append((v, f["seen_at_mm"]))
                if i and "weld" in f:
                    self.welds[f["weld"]] = (b["run"], len(lines), v, f.get("affected_mm", DEFAULT_AFFECTED_MM))
                feeds.append(Feed(lot, lo, hi, off, v))
                v += hi - lo
            lines.append(Line(x["line"], feeds, points + [(v, s)]))
        run = Run(b["run"], process=b["process"], machine=b["machine"], started=b.get("started"), ended=b.get("ended"), at=at,
                  batch=b.get("batch"), supplies=b.get("supplies", []), length=s, lines=lines,
                  tolerance=b.get("tolerance_ppm", DEFAULT_TOLERANCE), body=b)
        run.packages = []
        for code, s0, s1, p in packages:
            lot = None
            if code is not None:
                lot = Lot(code, p["kind"], s1 - s0, run=b["run"], s0=s0, diameter=p.get("diameter_um"), mass=p.get("mass_g"))
                self.lots[code] = lot
            run.packages.append((lot, s0, s1))
        run.doffed = [p.get("doffed") for _, _, _, p in packages]
        self.runs[b["run"]] = run

    def on_test(self, b, at):
        lot = self.lots[b["lot"]]
        if b.get("sample_mm") and b.get("at_mm") is not None:
            lot.claims.append((b["at_mm"], b["at_mm"] + b["sample_mm"]))
        self.tests[b["test"]] = dict(b, at=at)

    def on_scrap(self, b, at):
        lot = self.lots[b["lot"]]
        lot.claims.extend([(b["from_mm"], b["to_mm"])] if "from_mm" in b else lot.left)

    def on_certify(self, b, at):
        self.certificates[b["certificate"]] = b

    def on_dispatch(self, b, at):
        self.consignments[b["consignment"]] = b
        for code in b["lots"]:
            self.lots[code].claims.extend(self.lots[code].left)

    def _depths(self):
        """Depth of a run: one more than the deepest run that made an input."""
        self.depth = {}

        def of_run(code):
            if code not in self.depth:
                self.depth[code] = 1 + max(
                    (of_run(self.lots[x].run) if self.lots[x].run else 0 for x in self.runs[code].inputs), default=0)
            return self.depth[code]

        for code in self.runs:
            of_run(code)
        self.order = sorted(self.runs.values(), key=lambda r: self.depth[r.code])

    def lot_depth(self, code):
        run = self.lots[code].run
        return self.depth[run] if run else 0

    # --- where a trace starts ------------------------------------------------------------------

    def whole(self, codes):
        return {c: Reach([(0, self.lots[c].length)], [(0, self.lots[c].length)]) for c in codes}

    def packages_of(self, run):
        return [lot.code for lot, _, _ in self.runs[run].packages if lot]

    def starts(self, origin, from_mm=None, to_mm=None, since=None, until=None):
        kind, code = origin.split(":", 1)
        return getattr(self, "from_" + kind)(code, from_mm=from_mm, to_mm=to_mm, since=since, until=until)

    def from_heat(self, code, **_):
        return self.whole([c for c, lot in self.lots.items() if lot.heat == code])

    def from_lot(self, code, from_mm=None, to_mm=None, **_):
        span = (0 if from_mm is None else from_mm, self.lots[code].length if to_mm is None else to_mm)
        return {code: Reach([span], [span])}

    def from_run(self, code, **_):
        return self.whole(self.packages_of(code))

    def from_batch(self, code, **_):
        hits = {}
        for lot, spans in self.batches[code]:
            if spans:
                hits.setdefault(lot, Reach()).add(spans, spans)
        for run in self.runs.values():
            if run.batch == code:
                add_hits(hits, self.whole(self.packages_of(run.code)))
        return hits

    def from_weld(self, code, half=None, **_):
        run, line, v, affected = self.welds[code]
        run, half = self.runs[run], affected if half is None else half
        line = run.lines[line]
        span = [(max(v - half, 0), min(v + half, line.points[-1][0]))]
        return run.to_packages(run.forward(line, span, False), run.forward(line, span, True))

    def from_test(self, code, **_):
        test = self.tests[code]
        hits = self.whole([test["lot"]])
        lot = self.lots[test["lot"]]
        if test.get("verdict") != "fail" or not lot.run or test.get("at_mm") is None:
            if test.get("verdict") == "fail" and lot.run:
                run = self.runs[lot.run]
                add_hits(hits, run.to_packages([], [(0, run.length)]))
            return hits
        run, place = self.runs[lot.run], lot.s0 + test["at_mm"]
        for prop in test["results"]:
            lo, hi = 0, run.length
            for other in self.tests.values():
                if other.get("verdict") != "pass" or prop not in other["results"] or other.get("at_mm") is None:
                    continue
                if self.lots[other["lot"]].run != run.code:
                    continue
                s = self.lots[other["lot"]].s0 + other["at_mm"]
                lo, hi = (max(lo, s), hi) if s < place else (lo, min(hi, s)) if s > place else (lo, hi)
            add_hits(hits, run.to_packages([], [(lo, hi)]))
        return hits

    def from_certificate(self, code, **_):
        return self.whole(self.certificates[code]["reels"])

    def from_consignment(self, code, **_):
        return self.whole(self.consignments[code]["lots"])

    def from_supply(self, code, **_):
        hits = self.whole([c for c, lot in self.lots.items() if lot.supply == code])
        for run in self.runs.values():
            if code in run.supplies:
                add_hits(hits, self.whole(self.packages_of(run.code)))
        return hits

    def from_machine(self, code, since=None, until=None, **_):
        """Times are RFC 3339 in UTC to the second, so text order is time order."""
        hits = {}
        for run in self.runs.values():
            if run.machine != code:
                continue
            for k, (lot, s0, s1) in enumerate(run.packages):
                if lot is None:
                    continue
                begin = next((t for t in reversed([run.started] + run.doffed[:k]) if t), None)
                end = next((t for t in run.doffed[k:] + [run.ended] if t), None)
                whole = [(0, lot.length)]
                if (since is None or begin >= since) and (until is None or end <= until):
                    hits[lot.code] = Reach(whole, whole)
                elif (since is None or end > since) and (until is None or begin < until):
                    hits[lot.code] = Reach([], whole)
        return hits

    def from_instrument(self, code, since=None, until=None, **_):
        return self.whole({t["lot"] for t in self.tests.values() if t.get("instrument") == code
                           and (since is None or t["at"] >= since) and (until is None or t["at"] <= until)})

    # --- the trace -----------------------------------------------------------------------------

    def forward(self, hits):
        hits = {c: Reach(r.certain, r.possible) for c, r in hits.items()}
        for run in self.order:
            certain, possible = [], []
            for line in run.lines:
                vc, vp = [], []
                for feed in line.feeds:
                    hit = hits.get(feed.lot.code)
                    if hit:
                        vc += feed.to_line(hit.certain, points=True)
                        vp += feed.to_line(hit.possible, points=True)
                certain += run.forward(line, vc, False)
                possible += run.forward(line, vp, True)
            if possible:
                add_hits(hits, run.to_packages(certain, possible))
        return hits

    def back(self, hits):
        hits = {c: Reach(r.certain, r.possible) for c, r in hits.items()}
        for run in reversed(self.order):
            certain, possible = [], []
            for lot, s0, s1 in run.packages:
                hit = hits.get(lot.code) if lot else None
                if hit:
                    certain += [(a + s0, b + s0) for a, b in hit.certain]
                    possible += [(a + s0, b + s0) for a, b in hit.possible]
            if not possible:
                continue
            for line in run.lines:
                vc, vp = unite(run.back(line, certain, False)), unite(run.back(line, possible, True))
                for feed in line.feeds:
                    p = feed.from_line(vp)
                    if p:
                        add_hits(hits, {feed.lot.code: Reach(feed.from_line(vc), p)})
        return hits

    def heats_of(self, hits):
        return sorted({self.lots[c].heat for c in hits if self.lots[c].heat})

    def trace(self, origin, direction="forward", **window):
        starts = self.starts(origin, **window)
        if direction == "forward":
            return self.forward(starts)
        back = self.back(starts)
        if direction == "back":
            return back
        coils = {}
        for heat in self.heats_of(back):
            add_hits(coils, self.from_heat(heat))
        hits = self.forward(coils)
        add_hits(hits, starts)  # the lots that a trace starts with are in its answer
        return hits

    def makeup(self, lot, by="heat", kind=None):
        """{heat or lot: Reach} along a lot."""
        out = {}
        if by == "heat":
            groups = {heat: self.from_heat(heat) for heat in self.heats}
            for code, x in self.lots.items():
                if x.run is None and x.heat is None:
                    groups[("supply", x.supply)] = self.from_supply_lots(x.supply)
        else:
            groups = {c: self.whole([c]) for c, x in self.lots.items() if x.kind == kind and c in self.ancestors(lot)}
        for name, starts in groups.items():
            hit = self.forward(starts).get(lot)
            if hit and hit.possible:
                out[name] = hit
        return out

    def from_supply_lots(self, code):
        return self.whole([c for c, lot in self.lots.items() if lot.supply == code])

    def ancestors(self, lot):
        """Membership only: every lot in it in any part, itself too."""
        seen, todo = {lot}, [lot]
        while todo:
            run = self.lots[todo.pop()].run
            for x in (self.runs[run].inputs if run else ()):
                if x not in seen:
                    seen.add(x)
                    todo.append(x)
        return seen

    # --- single millimetres, exactly -----------------------------------------------------------

    def image(self, lot, at):
        """Every nominal place of a place of a lot, in all that was made of it: [(lot, Fraction)], itself first."""
        out, todo = [], [(lot, Fraction(at))]
        while todo:
            code, x = todo.pop()
            out.append((code, x))
            for run in self.runs.values():
                for line in run.lines:
                    for f in line.feeds:
                        if f.lot.code == code and f.lo <= x <= f.hi:
                            v = f.v0 + (f.hi - x if f.off == "outer" else x - f.lo)
                            s = line.nominal(v)
                            todo += [(p.code, s - s0) for p, s0, s1 in run.packages if p and s0 <= s <= s1]
        return out

    # --- joints --------------------------------------------------------------------------------

    def joints(self, lot):
        """[(weld, run that made it, path, nominal place or None, possible span)] for every way that a joint takes to the lot.

        A way is the runs and lines that it passes; a run's packages go on together where the same line took several.
        """
        found = []
        family = {self.lots[c].run for c in self.ancestors(lot)}
        for weld, (run, line, v, _) in self.welds.items():
            if run in family:
                run = self.runs[run]
                x = run.lines[line]
                self._follow(lot, weld, [(run, x)], run.forward(x, [(v, v)], True), {x.nominal(v)}, found)
        return found

    def _follow(self, goal, weld, path, spans, places, found):
        run = path[-1][0]
        hits = run.to_packages([], spans)
        inside = {p.code: {x - s0 for x in places if s0 <= x <= s1} for p, s0, s1 in run.packages if p}
        if goal in hits:
            steps = ["%s %s" % (r.process, line.label) for r, line in reversed(path) if len(r.lines) > 1]
            for a, b in hits[goal].possible:
                at = [x for x in inside[goal] if a <= x <= b]
                found.append((weld, path[0][0].code, steps, min(at) if at else None, (a, b)))
        for nxt in self.runs.values():
            for line in nxt.lines:
                v, vn = [], set()
                for f in line.feeds:
                    if f.lot.code in hits:
                        v += f.to_line(hits[f.lot.code].possible, points=True)
                        vn |= {f.v0 + (f.hi - x if f.off == "outer" else x - f.lo)
                               for x in inside[f.lot.code] if f.lo <= x <= f.hi}
                if v:
                    self._follow(goal, weld, path + [(nxt, line)], nxt.forward(line, v, True),
                                 {line.nominal(y) for y in vn}, found)


def add_hits(into, more):
    for code, r in more.items():
        into.setdefault(code, Reach()).add(r.certain, r.possible)


def length_of_mass(mass_g, diameter_um):
    """mm of round wire at 7850 kg/m3, to the nearest: L = m / (rho pi/4 d^2)."""
    pi = Fraction(3141592653589793, 10**15)
    g_per_mm = Fraction(7850, 10**6) * pi / 4 * Fraction(diameter_um, 1000) ** 2
    return floor(mass_g / g_per_mm + Fraction(1, 2))


def as_answer(hits):
    """In the shape of an answer's spans: {lot: {"certain": [[a, b]], "possible": [[a, b]]}}."""
    return {c: {"certain": [list(x) for x in r.certain], "possible": [list(x) for x in r.possible]}
            for c, r in hits.items() if r.possible}
