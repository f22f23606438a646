"""An account of the demo mill's metal, kept from its entries alone.

It reads entries one after the other as a ledger would, and stops at the first that can't be: a millimetre taken twice,
a lot that is not there yet, a held length used or sent, a code given twice, a run whose length does not follow from
what went in. It knows nothing of how the entries were made.
"""
import re

from mill_trade import mass_g

CODE = re.compile(r"[A-Z0-9./-]{1,40}\Z")
KINDS = ("heat", "supply", "receive", "batch", "run", "test", "hold", "release", "scrap", "certify", "withdraw",
         "dispatch", "move", "note", "correct", "void", "instrument", "spec", "order")
TWISTED = ("strand", "close")


class Wrong(Exception):
    pass


def need(condition, text, *args):
    if not condition:
        raise Wrong(text % args)


class Stock:
    """A lot: its length, and what of it is left as [(from, to)], inner end first."""

    def __init__(self, code, kind, length, d, heat, supply, depth):
        self.code, self.kind, self.length, self.d, self.heat, self.supply = code, kind, length, d, heat, supply
        self.left, self.run, self.depth, self.sent = [(0, length)], None, depth, None
        self.held = []  # [(hold, from, to)]

    def claim(self, a, b, who):
        need(0 <= a < b <= self.length, "%s: %d..%d is not on %s", who, a, b, self.code)
        for i, (x, y) in enumerate(self.left):
            if x <= a and b <= y:
                self.left[i:i + 1] = [(p, q) for p, q in ((x, a), (b, y)) if p < q]
                return
        raise Wrong("%s: %d..%d of %s is not left (%s)" % (who, a, b, self.code, self.left))

    def condemn(self, a, b):
        """Take as scrap what is still there of [a, b]."""
        for x, y in list(self.left):
            if max(a, x) < min(b, y):
                self.claim(max(a, x), min(b, y), "scrap")

    def free(self, a, b, who):
        for hold, x, y in self.held:
            need(b <= x or y <= a, "%s: %d..%d of %s is on hold %s", who, a, b, self.code, hold)


class Account:
    def __init__(self):
        self.entries, self.bodies, self.void = [], {}, set()
        self.clear()

    def clear(self):
        self.codes, self.lots, self.runs, self.holds, self.findings = set(), {}, {}, {}, []
        self.certified, self.tests, self.used = {}, {}, {k: 0 for k in KINDS}

    def take(self, entry):
        """The next entry, as it would be sent."""
        need(set(entry) == {"key", "kind", "at", "body"}, "an entry has key, kind, at and body")
        self.entries.append(entry)
        if entry["kind"] in ("correct", "void"):
            target = entry["body"]["entry"]
            need(target in self.bodies and target not in self.void, "%s names no entry", entry["kind"])
            if entry["kind"] == "void":
                self.void.add(target)
            else:
                self.bodies[target] = entry["body"]["body"]
            self.bodies[entry["key"]] = entry["body"]
            self.replay()
        else:
            need(entry["key"] not in self.bodies, "key used twice")
            self.bodies[entry["key"]] = entry["body"]
            self.apply(entry)

    def replay(self):
        self.clear()
        for entry in self.entries:
            self.apply(entry)

    def apply(self, entry):
        self.used[entry["kind"]] += 1
        if entry["key"] not in self.void and entry["kind"] not in ("correct", "void"):
            getattr(self, "on_" + entry["kind"])(self.bodies[entry["key"]])

    def new(self, kind, code):
        need(CODE.match(code), "%r is not a code", code)
        need((kind, code) not in self.codes, "%s %s is taken", kind, code)
        self.codes.add((kind, code))

    def known(self, kind, code):
        need((kind, code) in self.codes, "no %s %s", kind, code)

    def lot(self, code):
        need(code in self.lots, "no lot %s", code)
        return self.lots[code]

    # --- kinds -------------------------------------------------------------------------------------

    def on_heat(self, body):
        self.new("heat", body["heat"])

    def on_supply(self, body):
        self.new("supply", body["supply"])

    def on_receive(self, body):
        self.new("lot", body["lot"])
        if "heat" in body:
            self.known("heat", body["heat"])
        else:
            self.known("supply", body["supply"])
        length = body.get("length_mm") or int(body["mass_g"] / mass_g(1, body["diameter_um"]))
        self.lots[body["lot"]] = Stock(body["lot"], body.get("kind", "rod"), length, body["diameter_um"],
                                       body.get("heat"), body.get("supply"), 0)

    def on_batch(self, body):
        self.new("batch", body["batch"])
        for x in body.get("lots", []):
            need(self.lot(x["lot"]).left, "nothing is left of %s to treat", x["lot"])

    def feed(self, x, who, override):
        """Intervals that a feed takes, in the order in which they pay off."""
        lot = self.lot(x["lot"])
        need(not lot.sent, "%s: %s was sent", who, lot.code)
        inner = x.get("off") == "inner"
        if "from_mm" in x:
            pieces = [(x["from_mm"], x["to_mm"])]
        elif "take_mm" in x:
            a, b = lot.left[0 if inner else -1]
            need(b - a >= x["take_mm"], "%s: %s has no %d mm at that end", who, lot.code, x["take_mm"])
            pieces = [(a, a + x["take_mm"]) if inner else (b - x["take_mm"], b)]
        else:
            need(len(lot.left) == 1, "%s: all of %s is in pieces %s", who, lot.code, lot.left)
            pieces = list(lot.left)
        for a, b in pieces:
            if not override:
                lot.free(a, b, who)
            lot.claim(a, b, who)
        return lot, sum(b - a for a, b in pieces)

    def on_run(self, body):
        who = "run " + body["run"]
        self.new("run", body["run"])
        if "batch" in body:
            self.known("batch", body["batch"])
        for s in body.get("supplies", []):
            self.known("supply", s)
        if "order" in body:
            self.known("order", body["order"])
        length = sum(p.get("length_mm") or p["scrap_mm"] for p in body["packages"])
        need(body.get("started", "") < body.get("ended", "z"), "%s ends before it starts", who)
        depth, parents = 0, []
        for line in body["lines"]:
            v, known = 0, [(0, 0)]
            for i, x in enumerate(line["feeds"]):
                if "weld" in x:
                    need(i, "%s: a weld before the first feed", who)
                    self.new("weld", x["weld"])
                if "seen_at_mm" in x:
                    known.append((v, x["seen_at_mm"]))
                lot, n = self.feed(x, who, "override" in body)
                parents.append(lot)
                depth = max(depth, lot.depth)
                v += n
            known.append((v, length))
            need(all(p[0] < q[0] and p[1] < q[1] for p, q in zip(known, known[1:])), "%s: joins out of order", who)
            self.check_length(body, who, line["line"], lot, v, length)
        doffed = [p["doffed"] for p in body["packages"] if "doffed" in p]
        need(doffed == sorted(doffed) and all(d <= body["ended"] for d in doffed), "%s: doffed out of order", who)
        self.runs[body["run"]] = body
        for p in body["packages"]:
            if "lot" in p:
                self.new("lot", p["lot"])
                made = Stock(p["lot"], p["kind"], p["length_mm"], p.get("diameter_um", 0), None, None, depth + 1)
                made.run, made.parents = body["run"], parents
                for x in parents:
                    made.held += [(hold, 0, made.length) for hold, _, _ in x.held if "override" in body]
                self.lots[p["lot"]] = made

    def check_length(self, body, who, line, lot, v, length):
        """Length out against length in; beyond the tolerance it is a finding, far beyond it is wrong."""
        d = next((p["diameter_um"] for p in body["packages"] if "diameter_um" in p), None)
        if body["process"] in TWISTED:
            need(0.998 < v / length < 1.08, "%s line %s: %d mm in, %d out", who, line, v, length)
            return
        if body["process"] == "compact":
            need(1.0 < length / v < 1.05, "%s: compacted from %d to %d", who, v, length)
            return
        want = v * (lot.d / d) ** 2 if body["process"] == "draw" else v
        off = length / want - 1
        if abs(off) * 1e6 > body.get("tolerance_ppm", 10000):
            self.findings.append("%s: length out is %+.2f %% off" % (who, 100 * off))
        need(abs(off) < 0.03, "%s: length out is %+.2f %% off", who, 100 * off)

    def on_test(self, body):
        self.new("test", body["test"])
        lot = self.lot(body["lot"])
        need(0 <= body["at_mm"] <= lot.length, "test %s is not on its lot", body["test"])
        if "retest_of" in body:
            need(self.tests[body["retest_of"]]["lot"] == body["lot"], "test %s repeats one of another lot", body["test"])
        if "sample_mm" in body:
            lot.claim(body["at_mm"], body["at_mm"] + body["sample_mm"], "test " + body["test"])
        self.tests[body["test"]] = body

    def on_instrument(self, body):
        pass

    def on_spec(self, body):
        self.new("spec", "%s.%d" % (body["spec"], body["version"]))

    def on_order(self, body):
        self.new("order", body["order"])

    def on_hold(self, body):
        self.new("hold", body["hold"])
        self.holds[body["hold"]] = "open"
        for x in body["lots"]:
            lot = self.lot(x["lot"])
            lot.held.append((body["hold"], x.get("from_mm", 0), x.get("to_mm", lot.length)))

    def on_release(self, body):
        need(self.holds.get(body["hold"]) == "open", "hold %s is not open", body["hold"])
        for lot in self.lots.values():
            for hold, a, b in lot.held:
                if hold == body["hold"] and body["disposition"] == "scrap":
                    lot.condemn(a, b)
            lot.held = [h for h in lot.held if h[0] != body["hold"]]
        self.holds[body["hold"]] = body["disposition"]

    def on_scrap(self, body):
        lot = self.lot(body["lot"])
        if "from_mm" not in body:
            need(lot.left, "nothing of %s is left to scrap", lot.code)
        for a, b in ([(body["from_mm"], body["to_mm"])] if "from_mm" in body else list(lot.left)):
            lot.claim(a, b, "scrap of " + lot.code)

    def on_certify(self, body):
        self.new("certificate", body["certificate"])
        for t in body.get("tests", []):
            need(self.tests[t].get("verdict") == "pass", "%s: test %s has not passed", body["certificate"], t)
        for code in body["reels"]:
            reel = self.lot(code)
            need(reel.kind == "reel", "%s is no reel", code)
            need(not self.certified.get(code), "%s has a certificate", code)
            reel.free(0, reel.length, "certificate " + body["certificate"])
            for origin in self.origins(reel):
                need(origin.heat or origin.kind == "core", "%s: %s has no heat", code, origin.code)
            self.certified[code] = body["certificate"]

    def origins(self, lot):
        seen, todo, found = set(), [lot], []
        while todo:
            x = todo.pop()
            if x.code in seen:
                continue
            seen.add(x.code)
            if x.run:
                todo.extend(x.parents)
            else:
                found.append(x)
        return found

    def on_withdraw(self, body):
        self.known("certificate", body["certificate"])
        self.certified = {k: v for k, v in self.certified.items() if v != body["certificate"]}

    def on_dispatch(self, body):
        self.new("consignment", body["consignment"])
        for code in body["lots"]:
            lot = self.lot(code)
            need(not lot.sent and lot.left, "%s can't be sent: nothing left", code)
            lot.free(0, lot.length, "consignment " + body["consignment"])
            lot.sent, lot.left = body["consignment"], []

    def on_move(self, body):
        for code in body["lots"]:
            self.lot(code)

    def on_note(self, body):
        kind, _, code = body["about"].partition(":")
        if kind not in ("machine", "instrument"):
            self.known(kind, code)
