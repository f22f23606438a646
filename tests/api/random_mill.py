"""Random mills: entries that are right in every respect, from one seed.

Rod is drawn with welds, patented in batches, wound, drawn again, stranded, closed and cut; with joins seen and unseen, both
ways of paying off, lots used in parts and by several runs, scrap between packages, stops, samples, tests, and at the end
some holds and a dispatch. A mill of size 1 has about 60 runs.
"""
import random
import uuid


class RandomMill:
    def __init__(self, seed, size=1):
        self.rng = random.Random(seed)
        self.seed, self.size = seed, size
        self.entries = []
        self.clock = 0
        self.left = {}    # lot -> [(from, to)]
        self.length = {}  # lot -> mm
        self.diameter = {}
        self.of_kind = {}  # kind -> lots in order
        self.number = 0
        self._build()

    # --- small things --------------------------------------------------------------------------

    def time(self, t):
        return "2026-%02d-%02dT%02d:%02d:00Z" % (1 + t // 40320 % 12, 1 + t // 1440 % 28, t // 60 % 24, t % 60)

    def add(self, kind, body):
        self.clock += 1
        key = str(uuid.UUID(int=self.rng.getrandbits(128), version=4))
        self.entries.append({"key": key, "kind": kind, "at": self.time(self.clock), "body": body})
        return body

    def code(self, prefix):
        self.number += 1
        return "%s-%d" % (prefix, self.number)

    def lot(self, code, kind, length, diameter=None):
        self.left[code] = [(0, length)]
        self.length[code] = length
        self.diameter[code] = diameter
        self.of_kind.setdefault(kind, []).append(code)

    def claim(self, code, lo, hi):
        out = []
        for a, b in self.left[code]:
            assert not (a < hi and lo < b) or (a <= lo and hi <= b), "the generator would use a length twice"
            if lo <= a and b <= hi:
                continue
            if a <= lo and hi <= b:
                out += [x for x in ((a, lo), (hi, b)) if x[0] < x[1]]
            else:
                out.append((a, b))
        self.left[code] = out

    def has_left(self, lot, least=1000):
        return any(b - a >= least for a, b in self.left[lot])

    def feed(self, lot):
        """A feed of a lot: all that is left, a stated part, or so much from an end; with its length."""
        r = self.rng
        f = {"lot": lot}
        if r.random() < 0.6:
            f["off"] = r.choice(["outer", "inner"])
        off = f.get("off", "outer")
        spans = self.left[lot]
        how = r.choice(["all", "all", "part", "take"])
        if how == "all" and len(spans) == 1:
            lo, hi = spans[0]
        elif how == "take" and spans:
            lo, hi = spans[-1] if off == "outer" else spans[0]
            n = r.randint(max((hi - lo) // 3, 1), hi - lo)
            f["take_mm"] = n
            lo, hi = (hi - n, hi) if off == "outer" else (lo, lo + n)
        else:
            lo, hi = max(spans, key=lambda x: x[1] - x[0])
            third = (hi - lo) // 3
            lo, hi = lo + r.randint(0, third), hi - r.randint(0, third)
            f["from_mm"], f["to_mm"] = lo, hi
        self.claim(lot, lo, hi)
        return f, hi - lo

    def line(self, label, lots, output, seen=0.4):
        """A line of these lots; joins are seen near their nominal place, now and then. `output(V)` gives S."""
        r = self.rng
        feeds, v, joins = [], 0, []
        for lot in lots:
            f, n = self.feed(lot)
            if feeds:
                joins.append((v, f))
                if r.random() < 0.7:
                    f["weld"] = self.code("W")
                f["join"] = r.choice(["weld", "braze", "tuck"])
                if r.random() < 0.3:
                    f["affected_mm"] = r.choice([0, 20, 100, 500])
            feeds.append(f)
            v += n
        s = output(v)
        last = 0
        for at, f in joins:
            place = at * s // v + r.randint(-s // 200, s // 200)
            if r.random() < seen and last + 10 < place < s - 10:
                f["seen_at_mm"] = last = place
        return {"line": label, "feeds": feeds}, s

    def packages(self, s, kind, prefix, most, diameter=None, started=None, ended=None):
        r = self.rng
        cuts = sorted({0, s} | {r.randint(s // 20, s - s // 20) for _ in range(r.randint(0, most - 1))})
        out, last = [], started
        for a, b in zip(cuts, cuts[1:]):
            if r.random() < 0.1 and len(cuts) > 2 and not (b == s and not any("lot" in p for p in out)):
                out.append({"scrap_mm": b - a, "reason": "kink"} if r.random() < 0.7 else {"scrap_mm": b - a})
                continue
            p = {"lot": self.code(prefix), "kind": kind, "length_mm": b - a}
            if diameter and r.random() < 0.8:
                p["diameter_um"] = diameter
            if started is not None and r.random() < 0.6:
                last = r.randint(last, ended)
                p["doffed"] = self.time(last)
            out.append(p)
            self.lot(p["lot"], kind, b - a, diameter)
        return out

    def run(self, process, machine, prefix, lines, s, kind, most, diameter=None, **more):
        started = self.clock
        ended = self.clock + self.rng.randint(5, 30)
        self.clock = ended
        packages = self.packages(s, kind, prefix, most, diameter, started, ended)
        return self.add("run", {"run": self.code("R" + process[0].upper()), "process": process, "machine": machine,
                                "started": self.time(started), "ended": self.time(ended),
                                "tolerance_ppm": self.rng.choice([0, 1000, 5000, 10000, 30000, 250000]),
                                "lines": lines, "packages": packages, **more})

    # --- the mill ------------------------------------------------------------------------------

    def _build(self):
        r = self.rng
        n = self.size
        heats = [self.add("heat", {"heat": self.code("H"), "supplier": "Northmark Steel", "grade": "C82D"})["heat"]
                 for _ in range(4)]
        soap = self.add("supply", {"supply": self.code("S"), "what": "drawing soap", "supplier": "Lathera"})["supply"]
        core = self.add("supply", {"supply": self.code("S"), "what": "fibre core", "supplier": "Sisal Works"})["supply"]
        for _ in range(14 * n):
            self.receive(heat=r.choice(heats))
        for _ in range(2 * n):
            body = self.add("receive", {"lot": self.code("FC"), "kind": "core", "supply": core, "diameter_um": 6000,
                                        "length_mm": r.randint(3_000_000, 4_000_000)})
            self.lot(body["lot"], "fibre", body["length_mm"])
        self.draw("rod", "coil", r.randint(3000, 3300), 4 * n, "BLOCK-1", soap)
        self.patent(n)
        self.draw("patented", "bobbin", 1800, 5 * n, "BLOCK-2", None)
        for _ in range(6 * n):
            self.wind()
        for _ in range(5 * n):
            self.strand()
        for _ in range(2 * n):
            self.close()
        for rope in list(self.of_kind.get("rope", [])):
            self.cut(rope)
        self.tests()
        self.ends()

    def receive(self, heat):
        r = self.rng
        body = {"lot": self.code("RC"), "heat": heat, "diameter_um": 5500}
        if r.random() < 0.2:
            from oracle import length_of_mass
            body["mass_g"] = r.randint(1_800_000, 2_100_000)
            length = length_of_mass(body["mass_g"], 5500)
        else:
            length = body["length_mm"] = r.randint(9_500_000, 11_500_000)
        self.add("receive", body)
        self.lot(body["lot"], "rod", length, 5500)

    def pick(self, kind, n, least=1000):
        return [lot for lot in self.of_kind.get(kind, []) if self.has_left(lot, least)][:n]

    def draw(self, source, kind, d1, runs, machine, soap):
        r = self.rng
        for _ in range(runs):
            lots = self.pick(source, r.randint(1, 4), 20_000)
            if not lots:
                return
            ratio = (self.diameter[lots[0]] / d1) ** 2 * r.uniform(0.99, 1.01)
            line, s = self.line("1", lots, lambda v: int(v * ratio))
            more = {"supplies": [soap]} if soap and r.random() < 0.6 else {}
            self.run("draw", machine, "PC" if kind == "coil" else "BB", [line], s, kind, 4 if kind == "coil" else 9, d1, **more)

    def patent(self, n):
        for _ in range(2 * n):
            lots = self.pick("coil", 4, 20_000)
            for lot in lots:
                self.of_kind["coil"].remove(lot)
            if not lots:
                break
            batch = self.code("PB")
            treated = [{"lot": lots[0]}] if self.rng.random() < 0.5 else \
                [{"lot": lots[0], "from_mm": 100, "to_mm": self.length[lots[0]] // 2}]
            self.add("batch", {"batch": batch, "process": "patent", "machine": "BATH-1", "lots": treated})
            for lot in lots:
                line, s = self.line("1", [lot], lambda v: v)
                self.run("patent", "FURNACE-1", "PP", [line], s, "patented", 1, self.diameter[lot], batch=batch)
        for e in self.entries:
            for p in e["body"].get("packages", ()):
                if p.get("kind") == "patented":
                    p["kind"] = "coil"

    def wind(self):
        lots = self.pick("bobbin", self.rng.randint(1, 2), 20_000)
        if lots:
            for lot in lots:
                self.of_kind["bobbin"].remove(lot)
            line, s = self.line("1", lots, lambda v: v)
            self.run("wind", "WIND-1", "BW", [line], s, "bobbin", 3, 1800)
            self.rng.shuffle(self.of_kind["bobbin"])

    def many_lines(self, label, each, n_lines, source, least):
        """Lines over which the same output is shared: the lots are cut to what the shortest allows."""
        lines, s = [], None
        for i in range(n_lines):
            lots = self.pick(source, each(), least)
            if not lots:
                break
            first = s
            line, s = self.line("%s%d" % (label, i + 1), lots,
                                lambda v: first if first else int(v / self.rng.uniform(1.01, 1.06)), 0.3 if not first else 0.2)
            self.rng.shuffle(self.of_kind[source])
            lines.append(line)
        return lines, s

    def strand(self):
        r = self.rng
        lines, s = self.many_lines("", lambda: r.randint(1, 3), r.choice([3, 4, 7]), "bobbin", 50_000)
        if lines:
            self.run("strand", r.choice(["TUBE-1", "TUBE-2"]), "SS", lines, s, "strand", 3)

    def close(self):
        r = self.rng
        lines, s = self.many_lines("", lambda: r.randint(1, 2), r.choice([3, 6]), "strand", 50_000)
        if not lines:
            return
        fibre = self.pick("fibre", 1)
        if fibre:
            line, _ = self.line("core", fibre, lambda v: s)
            lines.append(line)
        self.run("close", "CLOSER-1", "RP", lines, s, "rope", 2)

    def cut(self, rope):
        while self.has_left(rope, 50_000):
            line, s = self.line("1", [rope], lambda v: v)
            self.run("cut", "CUT-1", "RL", [line], s, "reel", 4)

    def tests(self):
        """On wire, at places in order along each run, some of them failed; samples are cut only from what nobody has used."""
        r = self.rng
        for lot in r.sample(self.of_kind.get("bobbin", []), min(20, len(self.of_kind.get("bobbin", [])))):
            self.add("test", {"test": self.code("T"), "lot": lot, "at_mm": r.randint(1, self.length[lot] - 1),
                              "instrument": r.choice(["TENS-1", "TENS-2"]),
                              "results": r.choice([{"tensile_kpa": 1_800_000}, {"tensile_kpa": 1_790_000, "torsions": 28},
                                                   {"torsions": 25}]),
                              "verdict": r.choice(["pass", "pass", "fail"])})

    def ends(self):
        r = self.rng
        spare = [lot for lot in self.of_kind.get("bobbin", []) if self.has_left(lot)]
        for lot in spare[:3]:
            lo, hi = self.left[lot][0]
            if r.random() < 0.5:
                hi = lo + (hi - lo) // 2
                self.add("scrap", {"lot": lot, "from_mm": lo, "to_mm": hi, "reason": "rust"})
            else:
                self.add("scrap", {"lot": lot, "reason": "rust"})
                lo, hi = 0, self.length[lot]
                self.left[lot] = []
                continue
            self.claim(lot, lo, hi)
        for lot in spare[3:5]:
            self.add("hold", {"hold": self.code("HD"), "reason": "surface", "lots": [{"lot": lot}]})
        reels = [x for x in self.of_kind.get("reel", []) if self.has_left(x)]
        for i in range(0, len(reels) // 2, 2):
            some = reels[i:i + 2]
            self.add("dispatch", {"consignment": self.code("CN"), "consignee": r.choice(["Harbour Cranes", "Deep Mine"]),
                                  "lots": some})
            for lot in some:
                self.left[lot] = []


def entries_of(seed, size=1):
    return RandomMill(seed, size).entries
