"""The stories hidden in the demo mill's two months; demo-data/README.md tells them.

Each story steps in at the moment on the floor where it belongs, and keeps what it touched, so that
make_mill.py --stories can list the codes.
"""
from mill_things import DAY, HOUR, MINUTE, Coded, Lot, Supply, clock, stamp
from mill_trade import WIRE, mass_g

TESTER = "TT-2"
TESTER_SINCE, TESTER_UNTIL = clock("2026-10-19 00:00"), clock("2026-10-22 06:00")
COLD_NOT_BEFORE = clock("2026-09-15 00:00")


class Stories:
    def __init__(self):
        self.bad_heat = self.cold = self.weld = self.wrong = self.duplicate = self.part = None
        self.bracket = self.withdrawn = self.oval = self.paper = None
        self.soft, self.weak = [], []
        self.fine_runs = []

    def drift(self, instrument, t):
        return 1.028 if instrument == TESTER and TESTER_SINCE <= t < TESTER_UNTIL else 1.0

    # --- goods-in ----------------------------------------------------------------------------------

    def opening(self, mill):
        """Galvanised wire bought in to start with: it has a supply and no heat."""
        s = Supply("bought-in wire", "Penmarrow Wire")
        s.t = 7 * HOUR
        mill.supplies["bought-in", 0] = s
        mill.log(s.t, "supply", lambda: {"supply": s.code, "what": "bought-in wire, 1.12 mm 1770 drawn galvanised",
                                         "supplier": "Penmarrow Wire", "supplier_lot": "PW 2231"})
        for i in range(4):
            length = 20600000 + 137000 * i
            lot = Lot("bobbin", length, 1120, mass_g(1, 1120), 9 * HOUR)
            lot.wire, lot.coded_by, lot.made = WIRE["Z112"], "BW", s.t + (5 + 4 * i) * MINUTE
            lot.event = mill.log(lot.made, "receive", lambda lot=lot: {
                "lot": lot.code, "kind": "bobbin", "supply": s.code, "diameter_um": 1120, "tensile_grade_kpa": 1770000,
                "length_mm": lot.length,
                "mass_g": int(lot.mass()), "order": "PO-2588", "location": "RACK 2"})
            mill.lots.append(lot)
            mill.stock["bobbin", "Z112"].append(lot)

    def delivery(self, mill, d, steel, which, supplier, coils, t):
        """[(heat, coils)] of a delivery; the heat that the letter of 29 October is about comes in the third of 8 mm."""
        if (d, steel, which) == (8000, "C86D", 3):
            self.bad_heat = mill.new_heat("Northmark Steel", steel, t)
            return [(self.bad_heat, 8), (mill.new_heat("Northmark Steel", steel, t + 2 * MINUTE), 4)]
        return [(mill.new_heat(supplier, steel, t + i * MINUTE), n) for i, n in enumerate(coils)]

    def mix(self, usable, chosen):
        """Coils for a draw: no more than two of the bad heat in one run, while there are others."""
        others = [x for x in usable if x not in chosen and x.heat is not self.bad_heat]
        for lot in [x for x in chosen if x.heat is self.bad_heat][2:]:
            if others:
                chosen[chosen.index(lot)] = others.pop(0)
        return chosen

    def oval_rod(self, mill):
        """One 13 mm coil is too oval, is held and taken on concession for the thickest wire."""
        pool = [x for x in mill.stock["rod", 13000, "C76D"] if not x.tests]
        if self.oval or not pool:
            return
        lot = pool[-1]
        pool_list = mill.stock["rod", 13000, "C76D"]
        pool_list.remove(lot)
        body = lot.event.build
        lot.event.build = lambda: {**body(), "measured_um": [12580, 13470, 12610, 13450]}
        t = lot.made + 50 * MINUTE
        h = mill.hold([(lot,)], "out of round 0.89 mm, the order allows 0.48", t)
        mill.release(h, "concession", "for haulage wire only; drawn with an extra first die", t + 6 * DAY)
        lot.ready = t + 6 * DAY + HOUR
        pool_list.append(lot)
        self.oval = (lot, h)

    # --- drawing to process size -------------------------------------------------------------------

    def rough_draw(self, mill, run, rod_d, steel):
        if rod_d == 13000:
            self.oval_rod(mill)
        if self.wrong or (rod_d, steel) != (5500, "C82D") or run.start < clock("2026-09-09 00:00"):
            return
        feeds = run.lines[0][1]
        right = feeds[2].lot
        others = [x for x in mill.stock["rod", rod_d, steel]
                  if x.heat is not right.heat and x.ready < run.start and len(x.left) == 1 and not x.tests]
        if not others or right.heat is self.bad_heat:
            return
        booked = others[0]
        feeds[2].style, feeds[2].off = "all", "outer"
        event = run.event
        event.build = lambda: run.body({right: booked})
        when = run.end + 2 * DAY - run.end % DAY + 9 * HOUR
        booked.ready = when + HOUR
        run.correction = mill.log(when, "correct", lambda: {
            "entry": event.key, "reason": "booked with %s; the cleaning card and the tag left on the pay-off say %s"
            % (booked.code, right.code), "body": run.body()})
        self.wrong = (run, booked, right, when)

    # --- the furnace -------------------------------------------------------------------------------

    def patent(self, mill, run):
        """Furnace F-2 was cold for two hours, in the middle of the first campaign after COLD_NOT_BEFORE."""
        if run.machine != "F-2":
            return
        if self.cold is None and run.start >= COLD_NOT_BEFORE:
            since = (run.begin + 170 * MINUTE) // (5 * MINUTE) * 5 * MINUTE
            if all(x.end < since for x in self.fine_runs):
                self.cold = (since, since + 130 * MINUTE)
        self.fine_runs.append(run)
        if self.cold:
            run.cold = self.cold
            if run.start < self.cold[1] and run.end > self.cold[0]:
                run.settings["austenitise_min_c"] = 812

    def soft_coil(self, mill, lot, test):
        """The shift holds the spools that it tested, and those alone."""
        mill.withhold(lot)
        t = test.t + mill.rng.randrange(10, 40) * MINUTE
        h = mill.hold([(lot,)], "as-patented strength %d MPa, 1,120 wanted" % (test.results["tensile_kpa"] // 1000), t)
        self.soft.append((lot, test, h))
        if len(self.soft) == 1:
            mill.release(h, "scrap", "too soft to draw to grade", t + 2 * DAY)
            lot.left = []
        else:
            mill.release(h, "regrade", "for binding wire, not for rope", t + 2 * DAY + HOUR)

    # --- finish drawing ----------------------------------------------------------------------------

    def breaks(self, mill, wire):
        """The number of the feed before which the weld breaks, in one run."""
        if self.weld is None and wire.name == "B105" and mill.now >= clock("2026-09-18 00:00"):
            self.weld = "due"
            return 2
        return None

    def finish_draw(self, mill, run, wire):
        if self.weld == "due":
            self.broken_weld(mill, run, wire)
        elif self.part is None and wire.name == "C128" and run.start > clock("2026-09-20 00:00"):
            self.scratched(mill, run, wire)
        elif self.bracket is None and wire.d == 1050 and run.start > clock("2026-10-04 00:00") and len(run.lots()) > 16:
            lot = run.lots()[8]
            s = lot.s0 + lot.length
            run.bad = (s - lot.length // 2, s + lot.length // 2)
            self.bracket = (run, lot)
        elif self.paper is None and wire.name == "B120" and run.start > clock("2026-10-06 00:00"):
            self.from_paper(mill, run, wire)
        elif len(run.lots()) > 12 and mill.rng.random() < 0.12:
            self.sell_wire(mill, run, wire)

    def broken_weld(self, mill, run, wire):
        """After the break too little was cut away: the next bobbin begins in the burnt wire."""
        feed = next(f for f in run.lines[0][1] if f.affected)
        reasons = [p[3] for p in run.packages]
        after = run.packages[reasons.index("broke at the weld, cut back") + 1][0]
        mill.withhold(after)
        t = run.end + 50 * MINUTE
        test = mill.sample(after, t, "TO-1", 2000, {"torsions": 8, "bends": 7}, False, at=0)
        h = mill.hold([(after, 2000, 60000)], "twists and bends fail at the inner end, beside the weld that broke",
                      t + 25 * MINUTE)
        mill.note(t + 30 * MINUTE, lambda: "weld:" + feed.weld.code,
                  "Broke in the sixth die. Ground too hot on both sides, blue for about 3 m. Cut back 20 m before and "
                  "8 m after, welded again and went on.")
        retest = mill.sample(after, t + DAY, "TO-1", 2000, {"torsions": 29, "bends": 14}, True, at=60000)
        mill.release(h, "scrap", "60 m cut off; good at 60 m (retest)", t + DAY + HOUR)
        after.claim(2000, 60000)
        after.ready = t + DAY + 3 * HOUR
        mill.stock["bobbin", wire.name].append(after)
        self.weld = (run, feed, after, test, h, retest)

    def scratched(self, mill, run, wire):
        """Part of a bobbin is held; the good outer part is wound off at once, the rest waits for the decision."""
        lot = run.lots()[5]
        mill.withhold(lot)
        a, b = lot.length * 2 // 5 // 1000 * 1000, lot.length * 3 // 5 // 1000 * 1000
        t = run.end + 6 * HOUR
        h = mill.hold([(lot, a, b)], "guide roll seized: scratch seen between these counter readings", t)
        lot.ready = t + HOUR
        lot.left = [(b, lot.top())]
        out = mill.single("wind", "wind", [lot], lot.d, lot.length, 5, "bobbin", ("bobbin", wire.name), setup=10,
                          inner=0, noise=0.0003)
        out.lines[0][1][0].style = "span"
        out.tolerance = 5000
        mill.operator(out)
        for x in out.lots():
            x.wire = wire
        when = max(out.end, t + 3 * DAY) + 2 * HOUR
        mill.release(h, "scrap", "scratch 0.05 mm deep, more than the wire may have", when, [(lot, a, b)])
        lot.left, lot.ready = [(0, a)], when + HOUR
        mill.stock["bobbin", wire.name].append(lot)
        self.part = (run, lot, a, b, h, out)

    def from_paper(self, mill, run, wire):
        """A bobbin is rewound while a hold is being written for it; the run is logged afterwards, from paper."""
        lot = run.lots()[3]
        mill.withhold(lot)
        out = mill.single("wind", "wind", [lot], lot.d, lot.there() // 2, 5, "bobbin", ("bobbin", wire.name), setup=10,
                          inner=0, noise=0.0003)
        out.tolerance = 5000
        mill.operator(out)
        out.override = "rewound before the hold was known at the machine; both bobbins are set aside"
        out.event.at, out.event.logged = out.end + 5 * MINUTE, out.end + 5 * HOUR
        h = mill.hold([(lot,)], "soap lumps seen in the die box, surface to be looked at", out.end - 15 * MINUTE)
        for x in out.lots():
            x.wire, x.ready = wire, out.end + 27 * HOUR
        mill.release(h, "release", "surface good on both bobbins, along all of the rewinding", out.end + 26 * HOUR,
                     [(x,) for x in [lot] + out.lots()])
        self.paper = (lot, out, h)

    def failed_bobbin(self, mill, run, lot, tests):
        """Hold what failed. Twists in a bobbin of one run: still undecided at the end of October."""
        if self.weld and self.weld != "due" and lot is self.weld[2]:
            return
        mill.withhold(lot)
        last = max(x.t for x in tests)
        t = last + mill.rng.randrange(15, 60) * MINUTE
        failed = [x for x in tests if not x.passed]
        if run.bad:
            h = mill.hold([(lot,)], "twists below the limit; cause not found", t)
            self.bracket = (run, lot, failed[0], h)
            return
        h = mill.hold([(lot,)], "%d MPa, grade %d" % (failed[0].results["tensile_kpa"] // 1000, lot.wire.grade), t)
        self.weak.append((lot, failed[0], h))
        choice = ("regrade", "for binding wire, not for rope") if len(self.weak) % 2 else ("scrap", "below grade")
        mill.release(h, *choice, t + 2 * DAY)
        if choice[0] == "scrap":
            lot.left = []

    def sell_wire(self, mill, run, wire):
        """Some bobbins are sold as wire."""
        if wire.finish == "galvanised":
            return
        lots = run.lots()[1:8:2]
        for lot in lots:
            mill.withhold(lot)
        mill.dispatch(lots, "Fernhill Springs", run.end // DAY * DAY + 2 * DAY + 10 * HOUR)

    def strand(self, mill, run):
        if mill.rng.random() < 0.05:
            mill.note(run.end + 20 * MINUTE, lambda: "run:" + run.code,
                      mill.pick(["Closing die changed at half length.", "Stopped twice for lay plate grease.",
                                 "Bobbin brake of line 4 set again.", "Preforming heads cleaned before the start."]))

    # --- afterwards --------------------------------------------------------------------------------

    def afterwards(self, mill):
        self.book_twice(mill)
        self.withdraw(mill)
        self.damaged_reel(mill)
        since, until = self.cold
        mill.log(since + 29 * HOUR, "note", lambda: {
            "about": "machine:F-2",
            "text": "%s to %s: gas pressure low, zones 3 and 4 down to 812 C, back at 940 by the end. The line kept "
                    "running." % (stamp(since), stamp(until))}, at=until + 10 * MINUTE)
        mill.note(TESTER_UNTIL + 2 * HOUR, lambda: "instrument:" + TESTER,
                  "Weekly check with the reference wire: reads 2.8 % high. The last good check was on 18 October, "
                  "22:00. Load cell changed and checked again, in order since 22 October, 06:00.")
        mill.note(clock("2026-10-29 09:40"), lambda: "heat:" + self.bad_heat.code,
                  lambda: "Letter from Northmark Steel, 29 October: on their retained sample heat %s shows 0.034 %% "
                  "phosphorus and a segregated centre, against the figure on the certificate. They ask that nothing "
                  "made of it be used." % self.bad_heat.code)
        for run in mill.runs:
            if run.process in ("draw", "close", "cut") and mill.rng.random() < 0.05:
                mill.note(run.end + 25 * MINUTE, lambda run=run: "machine:" + run.machine, mill.pick(
                    ["Counter checked with the tape: within 0.2 %.", "Gear oil topped up.", "Guide rolls changed.",
                     "Counter wheel cleaned.", "Emergency stop tested at the start of the shift."]))

    def book_twice(self, mill):
        """A coil booked in a second time when its label was printed again; the second entry is voided next morning."""
        after = clock("2026-09-21 00:00")
        lot = min((x for x in mill.lots if x.kind == "rod" and x.made > after), key=lambda x: x.made)
        again = Lot("rod", lot.length, lot.d, lot.gmm, lot.ready)
        again.coded_by, again.made, again.heat = "RC", lot.made + 90 * MINUTE, lot.heat
        body = lot.event.build
        again.event = mill.log(again.made, "receive", lambda: {**body(), "lot": again.code})
        mill.lots.append(again)
        when = again.made // DAY * DAY + DAY + 7 * HOUR + 20 * MINUTE
        event = mill.log(when, "void", lambda: {"entry": again.event.key,
                                                "reason": "the same coil as %s, booked in twice" % lot.code})
        self.duplicate = (lot, again, event)

    def withdraw(self, mill):
        """A certificate with the wrong grade in its statement is withdrawn and made again."""
        for c in sorted(mill.certificates, key=lambda c: c.t):
            sent = [getattr(x, "sent", None) for x in c.reels]
            if clock("2026-10-08 00:00") < c.t < clock("2026-10-24 00:00") and all(
                    s is None or s.t > c.t + 26 * HOUR for s in sent):
                build = c.event.build

                def wrong():
                    body = build()
                    for right, slip in ((" 1770 ", " 1960 "), (" 1570 ", " 1770 ")):
                        if right in body["statement"]:
                            body["statement"] = body["statement"].replace(right, slip)
                            return body
                    body["statement"] = body["statement"].replace(" 1960 ", " 1770 ")
                    return body
                c.event.build = wrong
                mill.log(c.t + 20 * HOUR, "withdraw", lambda: {"certificate": c.code,
                                                               "reason": "wrong grade in the statement; issued again"})
                again = Coded()
                again.t, again.reels = c.t + 21 * HOUR, c.reels
                mill.log(again.t, "certify", lambda: {**build(), "certificate": again.code})
                mill.certificates.append(again)
                self.withdrawn = (c, again)
                return

    def damaged_reel(self, mill):
        """A reel dropped by the fork truck: held, looked at, released."""
        reel = next(x for x in mill.reels if x.made > clock("2026-10-05 00:00") and not hasattr(x, "sent")
                    and not hasattr(x, "certificate"))
        h = mill.hold([(reel,)], "flange bent by the fork truck, outer turns to be looked at", reel.ready + 30 * HOUR)
        mill.release(h, "release", "rewound on a sound reel, rope unhurt", reel.ready + 54 * HOUR)


def codes(mill, stories):
    """What each story touched, for whoever writes or reads the README."""
    def c(things):
        return " ".join(sorted(x.code for x in things))

    run, booked, right, when = stories.wrong
    broken, feed, after, weld_test, weld_hold, _ = stories.weld
    drawn, part, a, b, part_hold, wound = stories.part
    bracketed, twisted, twist_test, twist_hold = stories.bracket
    return [
        "bad heat %s: coils %s" % (stories.bad_heat.code, c(x for x in mill.lots if x.heat is stories.bad_heat)),
        "cold furnace F-2: %s to %s; soft spools %s; weak bobbins %s" % (
            *map(stamp, stories.cold), c(x[0] for x in stories.soft), c(x[0] for x in stories.weak)),
        "tester %s: %s to %s" % (TESTER, stamp(TESTER_SINCE), stamp(TESTER_UNTIL)),
        "broken weld %s in %s: bobbin %s, test %s, hold %s" % (feed.weld.code, broken.code, after.code, weld_test.code,
                                                               weld_hold.code),
        "wrong coil: %s booked with %s (%s), was %s (%s), corrected %s" % (
            run.code, booked.code, booked.heat.code, right.code, right.heat.code, stamp(when)),
        "booked in twice: %s again as %s" % (stories.duplicate[0].code, stories.duplicate[1].code),
        "hold on part: %s on %s of %s, %d to %d, outer part wound off in %s" % (
            part_hold.code, part.code, drawn.code, a, b, wound.code),
        "failed twists: test %s on %s of %s, open hold %s" % (twist_test.code, twisted.code, bracketed.code,
                                                              twist_hold.code),
        "rewound from paper: %s in %s, hold %s" % tuple(x.code for x in stories.paper),
        "oval rod: %s, hold %s" % (stories.oval[0].code, stories.oval[1].code),
        "certificate %s withdrawn, issued again as %s" % (stories.withdrawn[0].code, stories.withdrawn[1].code)]
