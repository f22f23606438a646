"""The shop floor of the demo mill: machines and their time, tests, holds, and runs of one line.

Everything that is done becomes an Event with a time; codes are given at the end, in order of time, so that they read as
a mill's own would.
"""
from collections import defaultdict

from mill_things import DAY, HOUR, MINUTE, Coded, Event, Feed, Lot, Run, Test, Weld, span_body, working
from mill_trade import MACHINES, OPERATORS, STEELMAKERS, TORSIONS, mass_g


class Floor:
    def __init__(self, rng, stories):
        self.rng, self.stories = rng, stories
        self.now = 6 * HOUR
        self.free = {name: {m: [6 * HOUR] * places for m in machines} for name, (machines, places) in MACHINES.items()}
        self.stock = defaultdict(list)
        self.events, self.runs, self.lots, self.tests = [], [], [], []
        self.batches, self.supplies, self.certificates, self.consignments, self.holds = [], {}, [], [], []
        self.heat_serial = dict(STEELMAKERS)
        self.deliveries = defaultdict(int)
        self.counts = defaultdict(int)
        self.reels = []

    # --- entries -----------------------------------------------------------------------------------

    def log(self, logged, kind, build, at=None):
        event = Event(logged, kind, logged if at is None else at, build)
        self.events.append(event)
        return event

    def note(self, t, about, text):
        """about: a function of nothing that gives the origin, since codes come last."""
        return self.log(t, "note", lambda: {"about": about(), "text": text() if callable(text) else text})

    def pick(self, seq):
        return seq[self.rng.randrange(len(seq))]

    def jitter(self, share):
        return 1 + self.rng.uniform(-share, share)

    # --- machines ----------------------------------------------------------------------------------

    def machine(self, group, ready):
        """The machine of a group that can start first. Return: name, place, start."""
        best = None
        for name, places in self.free[group].items():
            for place, free in enumerate(places):
                start = working(max(free, ready, self.now))
                if best is None or start < best[2]:
                    best = (name, place, start)
        return best

    def occupy(self, group, name, place, until):
        self.free[group][name][place] = until + self.rng.randrange(20, 70) * MINUTE

    def store(self, run, area, share=0.8):
        """The fork truck takes what was doffed to its place."""
        lots = run.lots()
        if self.rng.random() > share:
            for lot in lots:
                lot.location = "%s %d" % (area, self.rng.randrange(1, 30))
            return
        location = "%s %d" % (area, self.rng.randrange(1, 30))
        self.log(run.end + self.rng.randrange(16, 19) * MINUTE, "move",
                 lambda: {"lots": [x.code for x in lots], "location": location})

    def scrap(self, lot, t, reason=None):
        """All that is left of a lot."""
        reason = reason or self.pick(["tail, too short to load", "bobbin tail", "too short for another set"])
        lot.left = []
        self.log(t, "scrap", lambda: {"lot": lot.code, "reason": reason})

    def dispatch(self, lots, customer, t):
        c = Coded()
        c.t, c.lots, c.customer = working(t), lots, customer
        c.t = max(c.t, c.t // DAY * DAY + self.rng.randrange(8 * 60, 16 * 60) * MINUTE)
        c.event = self.log(c.t, "dispatch", lambda: {"consignment": c.code, "consignee": customer,
                                                     "lots": [x.code for x in lots]})
        for x in lots:
            x.sent = c
            x.left = []
        self.consignments.append(c)
        return c

    # --- tests -------------------------------------------------------------------------------------

    def sample(self, lot, t, instrument, sample_mm, results, passed, verdict=True, at=None):
        """A test on a piece of sample_mm (0: none is taken) cut from the outer end of what is left, or at a place."""
        test = Test(lot, passed)
        test.instrument, test.t, test.results = instrument, t, results
        if at is None:
            at = lot.top() - sample_mm
        test.at = at
        if sample_mm:
            lot.claim(at, at + sample_mm)

        def body():
            out = {"test": test.code, "lot": lot.code, "at_mm": at}
            if sample_mm:
                out["sample_mm"] = sample_mm
            out["instrument"] = instrument
            out["results"] = results
            if verdict:
                out["verdict"] = "pass" if passed else "fail"
            return out
        lot.tests.append(test)
        lot.ready = max(lot.ready, t + 10 * MINUTE)
        self.tests.append(test)
        test.event = self.log(t, "test", body)
        return test

    def tensile_tester(self, t):
        return "TT-1" if (t // (8 * HOUR)) % 2 else "TT-2"

    def reading(self, instrument, mpa, t):
        """What the tester shows, kPa: TT-2 read high for some days."""
        return int(mpa * self.jitter(0.008) * 1000 * self.stories.drift(instrument, t)) // 1000 * 1000

    def test_wire(self, lot, t, wire, torsions=True, fails=False):
        """Strength and diameter, then twists and bends, on pieces cut one after the other from the outer end."""
        r = self.rng
        out = []
        instrument = self.tensile_tester(t)
        true = wire.strength(lot.strength_at(lot.top()))
        shown = self.reading(instrument, true, t)
        d = lot.d + r.randrange(-6, 7)
        out.append(self.sample(lot, t, instrument, 1500, {"tensile_kpa": shown, "diameter_um": d},
                               shown >= wire.grade * 1000))
        if torsions:
            good = TORSIONS[wire.grade] + r.randrange(-3, 5)
            n = 9 + r.randrange(5) if fails else good
            out.append(self.sample(lot, t + r.randrange(6, 25) * MINUTE, "TO-%d" % r.randrange(1, 3), 1500,
                                   {"torsions": n, "bends": 12 + r.randrange(6)}, n >= TORSIONS[wire.grade] - 4))
        if "galvanised" in wire.finish and r.random() < 0.5:
            out.append(self.sample(lot, t + r.randrange(30, 50) * MINUTE, "ZN-1", 300,
                                   {"zinc_mg_m2": (95 + r.randrange(40)) * 1000}, True))
        return out

    def withhold(self, lot):
        """Take a lot out of what the floor may use."""
        for pool in self.stock.values():
            if lot in pool:
                pool.remove(lot)

    def hold(self, lots, reason, t):
        """lots: [(lot, from, to)] or [(lot,)] for the whole."""
        h = Coded()
        h.t, h.lots = t, lots
        h.event = self.log(t, "hold", lambda: {"hold": h.code, "reason": reason, "lots": [span_body(*x) for x in lots]})
        self.holds.append(h)
        return h

    def release(self, h, disposition, reason, t, lots=None):
        def body():
            out = {"hold": h.code, "disposition": disposition, "reason": reason}
            if lots:
                out["lots"] = [span_body(*x) for x in lots]
            return out
        return self.log(t, "release", body)

    # --- runs of one line --------------------------------------------------------------------------

    def partition(self, length, target, lead, stops):
        """A run's output cut into packages of about target, with string-up and breaks as scrap."""
        r = self.rng
        out, left = [], length
        if lead:
            out.append((False, lead, "string-up"))
            left -= lead
        while left > 1.4 * target:
            n = int(target * self.jitter(0.05))
            out.append((True, n, None))
            left -= n
            if r.random() < stops:
                n = r.randrange(12000, 90000)
                out.append((False, n, self.pick(["wire break, cut back", "scratched, die changed", "tangle at take-up",
                                                 "diameter drifting, finishing die changed"])))
                left -= n
        if r.random() < 0.3:
            n = r.randrange(8000, 50000)
            out.append((True, left - n, None))
            out.append((False, n, "end of run"))
        else:
            out.append((True, left, None))
        return out

    def break_weld(self, feeds, n, length, target):
        """The wire parts in a weld: 20 m before it and 8 m after it are cut away, which is too little after."""
        v = sum(f.length() for f in feeds[:n])
        s = v * length // sum(f.length() for f in feeds) // 1000 * 1000
        for f in feeds[1:]:
            f.seen = None
        feeds[n].seen, feeds[n].affected, feeds[n].join = s, 3000, "weld"
        feeds[n].weld = feeds[n].weld or Weld()
        before = self.partition(s - 20000, target, 60000, 0)
        if before[-1][2] == "end of run":
            before[-2:] = [(True, before[-2][1] + before[-1][1], None)]
        after = self.partition(length - s - 8000, target, 0, 0)
        return before + [(False, 28000, "broke at the weld, cut back")] + after

    def feeds_of(self, lots, inner=0.12, named=0.86):
        """Whole lots, butt-welded one after the other."""
        r = self.rng
        feeds = []
        for i, lot in enumerate(lots):
            off = "inner" if r.random() < inner else "outer"
            whole = len(lot.left) == 1
            style = "all" if not whole or r.random() < 0.75 else self.pick(["span", "take"])
            for a, b in (lot.left if off == "inner" else lot.left[::-1]):
                feeds.append(Feed(lot, a, b, style, off))
            if i:
                feeds[-1].join = "weld" if r.random() < 0.5 else None
                feeds[-1].weld = Weld() if r.random() < named else None
        for f in feeds:
            f.lot.claim(f.a, f.b)
        return feeds

    def see_joins(self, feeds, length, seen):
        """Joins that the operator saw go by, at the counter."""
        total, v, last = sum(f.length() for f in feeds), 0, 0
        for f in feeds:
            s = v * length // total + self.rng.randrange(-length // 2000 - 1, length // 2000 + 1)
            if v and self.rng.random() < seen and last + 1000 < s < length - 1000:
                f.seen = last = s // 1000 * 1000
            v += f.length()

    def single(self, process, group, lots, d_out, target, speed, kind, key, seen=0.0, lead=(0, 1), stops=0.0, setup=30,
               inner=0.12, noise=0.0012, start_after=0, broken=None):
        """One line: lots in, end to end; packages out. speed in m/s.
        broken: number of the feed before which the weld broke in the die. Return: the run."""
        r = self.rng
        name, place, start = self.machine(group, max([x.ready for x in lots] + [start_after]))
        feeds = self.feeds_of(lots, inner)
        total = sum(f.length() for f in feeds)
        d_in = lots[0].d
        slip = r.uniform(0.011, 0.017) if process == "draw" and r.random() < 0.02 else 0  # of the counter's wheel
        length = int(total * (d_in / d_out) ** 2 * (1 + slip + max(-0.004, min(0.004, r.gauss(-0.0008, noise)))))
        self.see_joins(feeds, length, seen)
        if broken:
            parts = self.break_weld(feeds, broken, length, target)
        else:
            parts = self.partition(length, target, r.randrange(*lead), stops)
        begin = start + setup * MINUTE
        end = begin + int(length / 1000 / speed * self.jitter(0.08)) + (len(parts) + 2 * len(feeds)) * 4 * MINUTE
        packages, s = [], 0
        for good, n, reason in parts:
            s += n
            lot = doffed = None
            if good:
                doffed = begin + (end - begin) * s // length // MINUTE * MINUTE
                lot = Lot(kind, n, d_out, mass_g(1, d_out), end + 20 * MINUTE)
                lot.steel, lot.made = lots[0].steel, doffed
                scale = 500 if lot.mass() > 300000 else 100
                lot.weighed = int(lot.mass() * self.jitter(0.002)) // scale * scale if r.random() < 0.8 else None
                self.lots.append(lot)
                self.stock[key].append(lot)
            packages.append((lot, n, doffed, reason))
        run = Run(process, name, start, [("1", feeds)], packages, end)
        run.begin, run.place = begin, place
        self.occupy(group, name, place, end)
        self.finish_run(run)
        return run

    def finish_run(self, run):
        run.event = self.log(run.end + self.rng.randrange(2, 15) * MINUTE, "run", run.body)
        self.runs.append(run)

    def operator(self, run, **settings):
        shift = "NDE"[run.end // (8 * HOUR) % 3]
        run.settings = dict(settings, operator=self.pick(OPERATORS), shift=shift)
