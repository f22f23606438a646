"""Rope: strands from bobbins, cores, closing, cutting to reels, certificates and the lorry.

make_rope is all that the order book asks for; everything else follows from it.
"""
import math

from mill_things import DAY, HOUR, MINUTE, Coded, Feed, Lot, Run, Supply, Weld, working
from mill_trade import CUSTOMERS, PRODUCTS, REEL_M, STEEL_CORES, STRANDS, WIRE
from mill_wire import WireWorks

STRANDER_M_S = {"strand 7": 1.1, "strand 19": 0.75, "strand 36": 0.55}
FIBRE_G_MM3 = 0.92e-3

class Mill(WireWorks):
    # --- strand, core, rope ------------------------------------------------------------------------

    def bobbin(self, wire, need):
        """The next bobbin for a line: one already opened if it is worth it, else the oldest."""
        key = ("bobbin", wire.name)

        def enough(share):
            return sorted((x for x in self.stock[key] if x.there() > min(need, x.length) * share),
                          key=lambda x: (x.ready, x.made))
        while not enough(0.9):
            self.finish_draw(wire)
        opened = [x for x in enough(0.55) if x.there() < x.length * 0.95]
        lot = opened[0] if opened and self.rng.random() < 0.75 else self.pick(enough(0.9)[:12])
        self.stock[key].remove(lot)
        return lot

    def load(self, wire, need):
        """Feeds of one line, need mm in all. Return: feeds, the bobbin that comes back or None."""
        r = self.rng
        feeds, rest = [], need
        while rest:
            lot = self.bobbin(wire, rest)
            a, b = lot.left[-1]
            if b - a >= rest:
                # what little may stay on it stays: the last metres are left on the bobbin
                f, back = Feed(lot, b - rest, b, "take" if r.random() < 0.88 else "span"), lot
            else:
                f, back = Feed(lot, a, b, "all" if r.random() < 0.9 else "span"), None
            lot.claim(f.a, f.b)
            if feeds:
                f.join = ("tuck" if lot.d < 700 and r.random() < 0.5 else "braze") if r.random() < 0.85 else None
                if f.join == "braze" and r.random() < 0.7:
                    f.weld = Weld()
            feeds.append(f)
            rest -= f.length()
        return feeds, back

    def put_back(self, lot):
        if lot.there() > 300000:
            self.stock["bobbin", lot.wire.name].append(lot)
        elif lot.there():
            self.tails.append(lot)

    def load_lines(self, layers, length):
        """Every line of a strander, centre wire first. Return: lines, bobbins that come back."""
        lines, backs = [], []
        for wire_name, count, factor in layers:
            for _ in range(count):
                feeds, back = self.load(WIRE[wire_name], int(length * factor * self.jitter(0.0015)))
                self.see_joins(feeds, length, 0.7)
                lines.append((str(len(lines) + 1), feeds))
                if back:
                    backs.append(back)
        return lines, backs

    def strand(self, name, n, each, group):
        """n strands of a construction, each so long, in one run."""
        r = self.rng
        construction, d, lay, layers = STRANDS[name]
        lead = r.randrange(3000, 12000)
        length = n * each + lead
        self.tails = []
        lines, backs = self.load_lines(layers, length)
        fed = [f for _, feeds in lines for f in feeds]
        machine, place, start = self.machine(group, max(f.lot.ready for f in fed))
        begin = start + r.randrange(25, 70) * MINUTE
        end = begin + int(length / 1000 / STRANDER_M_S[group]) + ((len(fed) - len(lines)) * 12 + n * 10) * MINUTE
        packages = [(None, lead, None, "setting the lay")]
        for i in range(n):
            lot = Lot("strand", each, d, sum(f.length() * f.lot.gmm for f in fed) / length, end + 30 * MINUTE)
            lot.construction, lot.made = construction, begin + (end - begin) * (lead + (i + 1) * each) // length
            lot.weighed = int(lot.mass() * self.jitter(0.002)) // 500 * 500 if r.random() < 0.5 else None
            self.lots.append(lot)
            packages.append((lot, each, lot.made, None))
        run = Run("strand", machine, start, lines, packages, end)
        run.begin = begin
        self.operator(run, lay_um=lay, hand=self.pick(["Z", "S"]), preform_ppm=940000 + r.randrange(20000))
        self.occupy(group, machine, place, end)
        self.finish_run(run)
        self.after_strand(run, backs)
        self.sample(run.lots()[0], end + r.randrange(31, 80) * MINUTE, "LG-1", 0,
                    {"lay_um": int(lay * self.jitter(0.006)), "diameter_um": int(d * self.jitter(0.004))}, True)
        self.stories.strand(self, run)
        return run

    def after_strand(self, run, backs):
        """Bobbins go back to the rack; what is too short to load again is scrapped."""
        for _, feeds in run.lines:
            for f in feeds:
                f.lot.ready = max(f.lot.ready, run.end + 20 * MINUTE)
        for lot in backs:
            self.put_back(lot)
        for lot in self.tails:
            self.scrap(lot, run.end + self.rng.randrange(20, 90) * MINUTE)

    def fibre_core(self, d, need):
        """A drum of fibre core long enough, received of a supply."""
        r = self.rng
        key = ("fibre", d)
        for lot in sorted(self.stock[key], key=lambda x: x.there()):
            if lot.there() >= need:
                self.stock[key].remove(lot)
                return lot
        t = working(self.now + r.randrange(1, 6) * HOUR)
        s = Supply("fibre core", "Sisal House Cores")
        s.t = t
        self.supplies["fibre", d, t] = s
        body = {"what": "fibre core", "supplier": "Sisal House Cores",
                "supplier_lot": "SH-%d" % (4000 + r.randrange(3000)),
                "settings": {"oil_ppm": 130000 + r.randrange(9) * 1000}}
        self.log(t, "supply", lambda: {"supply": s.code, **body})
        for _ in range(2):
            t += 5 * MINUTE
            length = max(6000000, int(need * 2.4)) + r.randrange(90) * 10000
            lot = Lot("core", length, d, FIBRE_G_MM3 * math.pi / 4 * (d / 1000) ** 2, t + 2 * HOUR)
            lot.coded_by, lot.made, lot.weighed = "FC", t, lot.mass() // 1000 * 1000
            self.lots.append(lot)
            self.stock[key].append(lot)
            lot.event = self.log(t, "receive", lambda lot=lot: {
                "lot": lot.code, "kind": "core", "supply": s.code, "diameter_um": d, "length_mm": lot.length,
                "mass_g": lot.weighed, "location": "CORE STORE"})
        return self.stock[key].pop()

    def steel_core(self, name, need):
        """A core closed in the mill, long enough: often one for two ropes."""
        key = ("steel core", name)
        for lot in self.stock[key]:
            if lot.there() >= need:
                self.stock[key].remove(lot)
                return lot
        outer, king, d, lay = STEEL_CORES[name]
        length = int(need * self.pick([1.03, 2.06, 2.06]))
        outers = self.strand(outer, 6, int(length * 1.0415), "strand 7").lots()
        centre = self.strand(king, 1, int(length * 1.006), "strand 7").lots()[0]
        run = self.close_run("core", outers, 1.040, centre, length, d, "7X7", "core", lay)
        return run.lots()[0]

    def close_feed(self, lot, need):
        """So much of a strand or core, or all of it where hardly any would stay."""
        need = lot.there() if lot.there() < need * 1.004 else need
        style = "all" if need == lot.there() else self.pick(["take", "take", "take", "span"])
        top = lot.top()
        lot.claim(top - need, top)
        return Feed(lot, top - need, top, style)

    def close_run(self, group, strands, factor, core, length, d, construction, kind, lay):
        """Strands round a core. factor: strand length per rope length."""
        r = self.rng
        lines = [(str(i + 1), [self.close_feed(x, int(length * factor * self.jitter(0.001)))])
                 for i, x in enumerate(strands)]
        lines.append(("CORE", [self.close_feed(core, int(length * 1.0008 * self.jitter(0.0007)))]))
        machine, place, start = self.machine(group, max(f[0].lot.ready for _, f in lines))
        begin = start + r.randrange(40, 90) * MINUTE
        end = begin + int(length / 1000 / 0.17) + 20 * MINUTE
        lot = Lot(kind, length, d, sum(f[0].length() * f[0].lot.gmm for _, f in lines) / length, end + HOUR)
        lot.construction, lot.made = construction, end
        lot.weighed = int(lot.mass() * self.jitter(0.002)) // 1000 * 1000
        self.lots.append(lot)
        run = Run("close", machine, start, lines, [(lot, length, end, None)], end)
        run.begin = begin
        self.operator(run, lay_um=lay, hand="Z")
        run.supplies = [self.supply("lubricant", start)]
        self.occupy(group, machine, place, end)
        self.finish_run(run)
        for _, feeds in lines:
            feeds[0].lot.ready = max(feeds[0].lot.ready, end + 20 * MINUTE)
        for x in strands:
            if x.there() and r.random() < 0.95:
                self.scrap(x, end + r.randrange(30, 200) * MINUTE, "strand end")
        return run

    def compact(self, lot):
        """A strand rolled to shape: it gets about 2 % longer."""
        machine, place, start = self.machine("compact", lot.ready)
        b = lot.top()
        feed = Feed(lot, lot.left[0][0], b, "all")
        lot.claim(feed.a, b)
        length = int(feed.length() * 1.021 * self.jitter(0.0008))
        end = start + 20 * MINUTE + int(length / 1000 / 0.6)
        out = Lot("strand", length, 0, lot.gmm * feed.length() / length, end + 20 * MINUTE)
        out.construction, out.made = "K" + lot.construction, end
        self.lots.append(out)
        run = Run("compact", machine, start, [("1", [feed])], [(out, length, end, None)], end)
        self.operator(run, roll_um=5000, passes=2)
        self.occupy("compact", machine, place, end)
        self.finish_run(run)
        lot.ready = max(lot.ready, end)
        return out

    def make_rope(self, code, length):
        """A rope of a product, so long; cut to reels, tested, certified and sent. The one thing the order book asks."""
        p = PRODUCTS[code]
        group = {7: "strand 7", 19: "strand 19", 36: "strand 36"}[sum(n for _, n, _ in STRANDS[p.strand][3])]
        if p.strands == 1:
            run = self.strand(p.strand, 2, length, group)
            for lot in run.lots():
                lot.tensile = p.grade
                self.cut(code, p, lot)
            return
        slack = 1.0505 if not p.compacted else 1.0302
        strands = self.strand(p.strand, p.strands, int(length * slack * 1.0015), group).lots()
        if p.compacted:
            strands = [self.compact(x) for x in strands]
        if p.core == "FC":
            core = self.fibre_core(int(p.d * (0.39 if p.strands == 6 else 0.52)) // 100 * 100, int(length * 1.002))
            back = ("fibre", core.d)
        else:
            core = self.steel_core(p.core, int(length * 1.002))
            back = ("steel core", p.core)
        run = self.close_run("close", strands, 1.0505, core, length, p.d, p.name, "rope", p.lay_um)
        run.lots()[0].tensile = p.grade
        if core.there() > 200000:
            self.stock[back].append(core)
        elif core.there():
            self.scrap(core, run.end + 25 * MINUTE, "core end")
        self.cut(code, p, run.lots()[0])

    def cutting_list(self, code, length):
        """[(a reel or not, mm, reason)] of a rope: customers' lengths, and ends that are no one's."""
        r = self.rng
        low, high = (m * 1000 for m in REEL_M[code])
        out, left = [], length
        if r.random() < 0.6:
            out.append((False, r.randrange(2, 9) * 500, "rope end"))
            left -= out[-1][1]
        while left > 0.6 * low:
            n = r.randrange(low, high) // 10000 * 10000
            if left < n + 0.4 * low:
                n = left - r.randrange(500, 4000)
            out.append((True, n, None))
            left -= n
        if left:
            out.append((False, left, "rope end"))
        return out

    def proof(self, p, rope):
        """The breaking test, on 3 m from the outer end."""
        force = int(p.breaking_n() * self.rng.uniform(1.03, 1.11)) // 100 * 100
        lay = p.lay_um if p.strands > 1 else STRANDS[p.strand][2]
        return self.sample(rope, rope.ready + self.rng.randrange(20, 400) * MINUTE, "BF-1", 3000,
                           {"breaking_n": force, "diameter_um": int(p.d * self.rng.uniform(1.01, 1.035)),
                            "lay_um": int(lay * self.jitter(0.006))}, True)

    def cut(self, code, p, rope):
        """Breaking test, then customers' lengths onto reels."""
        rope.proof = self.proof(p, rope)
        machine, place, start = self.machine("cut", rope.ready + HOUR)
        a, b = rope.left[0]
        feed = Feed(rope, a, b, "all")
        rope.claim(a, b)
        begin = start + 40 * MINUTE
        end = begin + int((b - a) / 1000 / 0.9)
        packages, s, reels = [], 0, []
        for good, n, reason in self.cutting_list(code, b - a):
            s += n
            reel = doffed = None
            if good:
                doffed = begin + (end - begin) * s // (b - a)
                reel = Lot("reel", n, p.d, rope.gmm, end + 30 * MINUTE)
                reel.construction, reel.coded_by, reel.product, reel.made = p.name, "RL", code, doffed
                reel.weighed = int(reel.mass() * self.jitter(0.0025)) // 100 * 100
                reels.append(reel)
            packages.append((reel, n, doffed, reason))
        run = Run("cut", machine, start, [("1", [feed])], packages, end)
        run.begin, run.tolerance = begin, 5000
        self.operator(run, order="SO-%d" % (7100 + len(self.reels) // 4))
        self.occupy("cut", machine, place, end)
        self.finish_run(run)
        self.store(run, "REELS")
        self.lots.extend(reels)
        self.reels.extend(reels)
        self.sell(code, rope, reels, run)

    def sell(self, code, rope, reels, run):
        """Reels of a rope to one or two customers: a 3.1 each, then the lorry. Some stay in stock."""
        r = self.rng
        who = CUSTOMERS[code]
        at = r.randrange(len(who))
        half = len(reels) if r.random() < 0.4 else (len(reels) + 1) // 2
        for group in (reels[:half], reels[half:]):
            if not group or r.random() < 0.16:
                continue
            customer = who[at % len(who)]
            at += 1
            t = working(run.end + r.randrange(18, 60) * HOUR)
            t = t // DAY * DAY + r.randrange(8 * 60, 15 * 60) * MINUTE
            if r.random() < 0.85 and all(x.heat or x.run or x.coded_by == "FC" for x in rope.ancestors()):
                self.certify(group, rope, customer, t)
            if r.random() < 0.8:
                self.dispatch(group, customer, t + r.randrange(2, 40) * HOUR)

    def certify(self, reels, rope, customer, t):
        c = Coded()
        c.t, c.reels, c.customer = t, reels, customer
        wires = [x for lot in rope.ancestors() if lot.kind == "bobbin" for x in lot.tests if x.passed]
        tests = [rope.proof] + self.rng.sample(wires, min(3, len(wires)))
        text = "%s, %d mm, %d N/mm2, %d m in all, for %s. Tests on the rope and on its wires before rope making." % (
            reels[0].construction, reels[0].d // 1000, PRODUCTS[reels[0].product].grade,
            sum(x.length for x in reels) // 1000, customer)
        c.event = self.log(t, "certify", lambda: {
            "certificate": c.code, "type": "3.1", "reels": [x.code for x in reels], "tests": [x.code for x in tests],
            "statement": text})
        for x in reels:
            x.certificate = c
        c.tests = tests
        self.certificates.append(c)
        return c


