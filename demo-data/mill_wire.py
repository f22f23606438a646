"""Wire: from the rod store to bobbins.

Whatever a rope needs is pulled through the works: bobbins want patented coils, those want coils drawn to process size,
and those want rod, which is bought when the store runs low.
"""
import math

from mill_floor import Floor
from mill_things import DAY, HOUR, MINUTE, Coded, Heat, Lot, Supply, stamp, working
from mill_trade import CARBON, DRAFT_STRAIN, drawn_strength, length_of, mass_g


class WireWorks(Floor):
    # --- supplies ----------------------------------------------------------------------------------

    def supply(self, what, t):
        """The delivery of soap, zinc, ... in use at t: a new one every so often."""
        suppliers = {"drawing soap": ("Tallow and Pike Soaps", 9), "lubricant": ("Dunholm Lubricants", 12),
                     "wet drawing emulsion": ("Tallow and Pike Soaps", 21), "zinc": ("Wendmoor Zinc", 14)}
        supplier, days = suppliers[what]
        n = t // (days * DAY)
        if (what, n) not in self.supplies:
            s = Supply(what, supplier)
            s.t = max(7 * HOUR, working(n * days * DAY - 16 * HOUR)) + self.rng.randrange(90) * MINUTE
            s.t = min(s.t, t - 30 * MINUTE)
            lot = "%s-%d" % (what[0].upper(), 70000 + self.rng.randrange(9999))
            settings = {"zinc": {"purity_ppm": 999950, "ingots": 40}, "lubricant": {"drums": 6, "drop_point_c": 78},
                        "drawing soap": {"bags": 48, "base": "calcium"}, "wet drawing emulsion": {"drums": 4}}[what]
            self.supplies[what, n] = s
            self.log(s.t, "supply", lambda s=s: {"supply": s.code, "what": what, "supplier": supplier,
                                                 "supplier_lot": lot, "settings": settings})
        return self.supplies[what, n]

    # --- goods-in ----------------------------------------------------------------------------------

    def new_heat(self, supplier, steel, t):
        prefix, serial = self.heat_serial[supplier]
        serial += self.rng.randrange(3, 40)
        self.heat_serial[supplier] = (prefix, serial)
        code = ("%s%d" % (prefix, serial) if prefix.isdigit() else "%s-%d" % (prefix, serial))
        r = self.rng
        analysis = {"C": CARBON[steel] + r.randrange(-130, 130), "Si": 2100 + r.randrange(-400, 400),
                    "Mn": 6000 + r.randrange(-700, 900), "P": 90 + r.randrange(70), "S": 80 + r.randrange(80),
                    "Cr": 300 + r.randrange(300), "Cu": 500 + r.randrange(500), "N": 40 + r.randrange(25)}
        heat = Heat(code, supplier, steel, analysis)
        self.log(t, "heat", lambda: {"heat": code, "supplier": supplier, "grade": steel,
                                     "mill_certificate": "MC/" + code, "analysis_ppm": analysis})
        return heat

    def deliver(self, d, steel):
        """A delivery of rod: eight to fourteen coils of one to three heats."""
        r = self.rng
        self.deliveries[d, steel] += 1
        which = self.deliveries[d, steel]
        day = self.now // DAY * DAY
        if self.now > day + 15 * HOUR:
            day += DAY
        t = working(max(self.now, day + 7 * HOUR) + r.randrange(0, 3 * HOUR))
        if steel == "C82D":
            supplier = ["Corvala Wire Rod", "Northmark Steel", "Northmark Steel", "Aldervane Rod Mill"][which % 4]
            coils = [5, 5, 4]
        else:
            supplier = "Northmark Steel" if steel == "C86D" else self.pick(["Aldervane Rod Mill", "Corvala Wire Rod"])
            coils = self.pick([[6, 4], [5, 5], [8], [4, 4, 3]])
        parts = self.stories.delivery(self, d, steel, which, supplier, coils, t)
        order = "PO-%d" % (2600 + self.counts["delivery"])
        self.counts["delivery"] += 1
        if t < 2 * DAY:
            order = "stock of 31 August"
        for heat, n in parts:
            for _ in range(n):
                t += r.randrange(4, 9) * MINUTE
                self.receive_rod(heat, d, steel, order, t)

    def receive_rod(self, heat, d, steel, order, t):
        r = self.rng
        mass = int(2000e3 * self.jitter(0.06))
        lot = Lot("rod", length_of(mass / 1000, d), d, mass_g(1, d), t + 12 * HOUR)
        lot.heat, lot.steel, lot.made, lot.coded_by = heat, steel, t, "RC"
        measured = [d + r.randrange(-120, 130) for _ in range(4)]
        location = "ROD %s%d" % (self.pick("ABCD"), r.randrange(1, 19))

        lot.event = self.log(t, "receive", lambda: {
            "lot": lot.code, "heat": heat.code, "diameter_um": d, "length_mm": lot.length, "mass_g": mass,
            "measured_um": measured, "order": order, "location": location})
        self.lots.append(lot)
        self.stock["rod", d, steel].append(lot)
        if r.random() < 0.34:
            strength = int((1010 + 2.2 * (CARBON[steel] - 7000) / 10) * self.jitter(0.02))
            self.sample(lot, t + r.randrange(1, 9) * HOUR, "TT-1", 1000,
                        {"tensile_kpa": strength * 1000, "reduction_ppm": 380000 + r.randrange(60000)}, True)
        return lot

    def rods(self, n, d, steel):
        pool = self.stock["rod", d, steel]
        slack = {"C82D": 7, "C86D": 9}.get(steel, 1)
        while len([x for x in pool if x.ready <= self.now + 3 * DAY]) < n + slack:
            self.deliver(d, steel)
        usable = [x for x in pool if x.ready <= self.now + 3 * DAY]
        chosen = self.stories.mix(usable, self.rng.sample(usable[:22], n))
        for lot in chosen:
            pool.remove(lot)
        return chosen

    # --- wire --------------------------------------------------------------------------------------

    def clean(self, lots):
        """Acid, rinse, phosphate, borax: one batch of rod coils."""
        r = self.rng
        name, place, start = self.machine("pickle", max(x.ready for x in lots))
        end = start + r.randrange(110, 170) * MINUTE
        batch = Coded()
        batch.prefix, batch.t = "CB", start
        settings = {"acid": "HCl", "acid_g_l": 140 + r.randrange(50), "iron_g_l": 60 + r.randrange(50),
                    "acid_c": 38 + r.randrange(8), "acid_min": 18 + r.randrange(10),
                    "phosphate_points": 22 + r.randrange(9), "phosphate_c": 68 + r.randrange(8),
                    "borax_g_l": 90 + r.randrange(40), "borax_c": 84 + r.randrange(6)}
        body = {"process": "clean", "machine": name, "started": stamp(start), "ended": stamp(end), "settings": settings}
        self.batches.append(batch)
        self.occupy("pickle", name, place, end)
        batch.event = self.log(end + 4 * MINUTE, "batch", lambda: {"batch": batch.code, **body,
                                                                   "lots": [{"lot": x.code} for x in lots]})
        return end + 30 * MINUTE

    def rough_draw(self, d_out, steel, rod_d):
        """Four to eight rod coils to process size."""
        r = self.rng
        rods = self.rods(r.randrange(4, 9), rod_d, steel)
        after = self.clean(rods)
        kg = r.choice([1000, 1150, 1250])
        run = self.single("draw", "breakdown", rods, d_out, length_of(kg, d_out), 5.5 if rod_d < 9000 else 2.5, "coil",
                          ("drawn", d_out, steel), seen=0.55, lead=(20000, 60000), stops=0.06, setup=45,
                          start_after=after)
        self.drawn(run, rod_d, d_out)
        self.stories.rough_draw(self, run, rod_d, steel)
        for lot in run.lots()[::3]:
            true = drawn_strength(1150, rod_d, d_out)
            self.sample(lot, run.end + r.randrange(20, 180) * MINUTE, self.tensile_tester(run.end), 1200,
                        {"tensile_kpa": int(true * self.jitter(0.015)) * 1000,
                         "diameter_um": d_out + r.randrange(-12, 13)}, True, verdict=r.random() < 0.6)
        self.store(run, "BAY")

    def drawn(self, run, d_in, d_out):
        dies = math.ceil(2 * math.log(d_in / d_out) / DRAFT_STRAIN)
        self.operator(run, dies=dies, finish_die_um=d_out, speed_m_s=5 if d_out > 1500 else 10)
        wet = run.machine.startswith("WET")
        run.supplies = [self.supply("wet drawing emulsion" if wet else "drawing soap", run.start)]

    def furnace_batch(self, furnace, start):
        """Settings of a furnace: a batch a day on F-2, one every three days on F-1."""
        n = start // DAY if furnace == "F-2" else start // (3 * DAY)
        for batch in self.batches:
            if batch.prefix == "PB" and (batch.furnace, batch.n) == (furnace, n):
                if start < batch.t:
                    batch.t = batch.event.logged = batch.event.at = start
                return batch
        r = self.rng
        batch = Coded()
        batch.prefix, batch.furnace, batch.n, batch.t = "PB", furnace, n, start
        settings = {"austenitise_c": 935 + r.randrange(12), "lead_c": 555 + r.randrange(9),
                    "dv_mm_m_min": 52000 if furnace == "F-1" else 104000, "dew_point_c": -12 - r.randrange(8)}
        batch.event = self.log(start, "batch", lambda: {"batch": batch.code, "process": "patent", "machine": furnace,
                                                        "started": stamp(batch.t), "settings": settings})
        self.batches.append(batch)
        return batch

    def patented_test(self, lot, t):
        instrument = self.tensile_tester(t)
        shown = self.reading(instrument, lot.strength_at(lot.top()), t)
        return self.sample(lot, t, instrument, 1000, {"tensile_kpa": shown}, shown >= 1120000)

    def patent(self, d, steel, source, fine, after=0):
        """One wire through furnace and lead: two or three coils end to end, or one small coil onto 60 kg spools."""
        r = self.rng
        group = "fine furnace" if fine else "furnace"
        n = 1 if fine else r.choice([2, 3, 3])
        lots = self.take_coils(("drawn", d, steel), n, lambda: source())
        dv = 104 if fine else 52
        run = self.single("patent", group, lots, d, length_of(60, d) if fine else lots[0].length, dv / (d / 1000) / 60,
                          "coil", ("patented", d, steel), seen=0.2, lead=(4000, 9000), setup=20, inner=0.2,
                          noise=0.0006, start_after=after)
        run.batch = self.furnace_batch(run.machine, run.start)
        self.operator(run, wire=run.place + 1, speed_mm_min=int(dv / (d / 1000) * 1000))
        self.stories.patent(self, run)
        for lot in run.lots()[r.randrange(2)::3 if fine else 2]:
            test = self.patented_test(lot, run.end + r.randrange(25, 150) * MINUTE)
            if not test.passed:
                self.stories.soft_coil(self, lot, test)
        return run

    def take_coils(self, key, n, make):
        while len([x for x in self.stock[key] if x.there()]) < n:
            make()
        pool = sorted((x for x in self.stock[key] if x.there()), key=lambda x: x.ready)
        chosen = pool[:n]
        for lot in chosen:
            self.stock[key].remove(lot)
        return chosen

    def patented(self, wire, n):
        """n patented coils (spools, for fine wire) for a finish draw, galvanised where the wire is drawn galvanised."""
        if wire.via:
            fine = wire.d < 900

            def soft():
                coils = self.take_coils(("patented", wire.via, wire.steel), 3, lambda: self.patent(
                    wire.via, wire.steel, lambda: self.rough_draw(wire.via, wire.steel, wire.rod), False))
                run = self.single("draw", "breakdown", coils, wire.process,
                                  length_of(470 if fine else 1000, wire.process), 7.0, "coil",
                                  ("drawn", wire.process, wire.steel), seen=0.4, lead=(20000, 60000), stops=0.05)
                self.drawn(run, wire.via, wire.process)
                self.store(run, "BAY")

            def campaign():
                n = 7 if fine else 1
                coils = self.stock["drawn", wire.process, wire.steel]
                while len(coils) < n:
                    soft()
                after = sorted(x.ready for x in coils)[n - 1]
                for _ in range(n):
                    self.patent(wire.process, wire.steel, soft, fine, after)
            return self.take_coils(("patented", wire.process, wire.steel), n, campaign)

        def coil():
            self.patent(wire.process, wire.steel, lambda: self.rough_draw(wire.process, wire.steel, wire.rod), False)
        if wire.finish != "drawn galvanised":
            return self.take_coils(("patented", wire.process, wire.steel), n, coil)

        def zinc():
            coils = self.take_coils(("patented", wire.process, wire.steel), 2, coil)
            self.galvanise(coils, ("zinc", wire.process, wire.steel), "coil", coils[0].length, 0.9)
        return self.take_coils(("zinc", wire.process, wire.steel), n, zinc)

    def galvanise(self, lots, key, kind, target, speed):
        r = self.rng
        run = self.single("galvanise", "galvanise", lots, lots[0].d, target, speed, kind, key, seen=0.3,
                          lead=(5000, 15000), inner=0.1, noise=0.0006)
        batch = next((b for b in self.batches if b.prefix == "GB" and b.n == run.start // DAY), None)
        if not batch:
            batch = Coded()
            batch.prefix, batch.n, batch.t = "GB", run.start // DAY, run.start
            settings = {"zinc_c": 449 + r.randrange(8), "flux_g_l": 180 + r.randrange(40), "wipe": "charcoal"}
            batch.event = self.log(run.start, "batch", lambda: {"batch": batch.code, "process": "galvanise",
                                                                "machine": "GALV-1", "started": stamp(batch.t),
                                                                "settings": settings})
            self.batches.append(batch)
        elif run.start < batch.t:
            batch.t = batch.event.logged = batch.event.at = run.start
        run.batch = batch
        run.supplies = [self.supply("zinc", run.start)]
        self.operator(run, wire=run.place + 1)
        for lot in run.lots()[::2]:
            self.sample(lot, run.end + r.randrange(20, 90) * MINUTE, "ZN-1", 300,
                        {"zinc_mg_m2": (225 + r.randrange(60)) * 1000}, True)
        return run

    def finish_draw(self, wire):
        """Four patented coils to many bobbins (eight spools, on the wet machines)."""
        r = self.rng
        wet = wire.via is not None and wire.d < 900
        coils = self.patented(wire, r.randrange(7, 10) if wet else 4)
        key = ("bobbin", wire.name) if wire.finish != "galvanised" else ("ungalvanised", wire.name)
        run = self.single("draw", "wet" if wet else "finish", coils, wire.d, wire.bobbin_mm,
                          10 if wire.d < 2000 else 6, "bobbin", key, seen=0.5, lead=(40000, 120000),
                          stops=0.025, setup=40, broken=self.stories.breaks(self, wire))
        self.drawn(run, wire.process, wire.d)
        run.settings["product"] = wire.text
        for lot in run.lots():
            lot.wire, lot.tensile = wire, wire.grade
        self.counts["finish", wire.name] += 1
        self.stories.finish_draw(self, run, wire)
        for i, lot in enumerate(run.lots()):
            if i % 2 == 0:
                s = lot.s0 + lot.length
                bad = run.bad and run.bad[0] <= s <= run.bad[1]
                t = max(lot.made + 15 * MINUTE, run.end + r.randrange(20, 240) * MINUTE)
                tests = self.test_wire(lot, t, wire, torsions=bad or i % 4 == 0 or run.bad is not None, fails=bool(bad))
                if not all(x.passed for x in tests):
                    self.stories.failed_bobbin(self, run, lot, tests)
        self.store(run, "RACK")
        if wire.finish == "galvanised":
            lots = [x for x in self.stock[key]]
            self.stock[key].clear()
            for pair in range(0, len(lots), 3):
                out = self.galvanise(lots[pair:pair + 3], ("bobbin", wire.name), "bobbin", wire.bobbin_mm, 1.1)
                for lot in out.lots():
                    lot.wire = wire
        elif r.random() < 0.3:
            self.split(self.pick([x for x in run.lots() if x in self.stock[key]] or [None]), wire)

    def split(self, lot, wire):
        """One bobbin wound off onto two, for a strander with small cradles."""
        if lot is None:
            return
        self.stock["bobbin", wire.name].remove(lot)
        run = self.single("wind", "wind", [lot], lot.d, lot.there() // 2, 5, "bobbin", ("bobbin", wire.name),
                          lead=(0, 1), setup=10, inner=0.0, noise=0.0005)
        run.tolerance = 5000
        self.operator(run)
        for x in run.lots():
            x.wire = wire
        self.store(run, "RACK")
