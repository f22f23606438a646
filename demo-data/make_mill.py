#!/usr/bin/env python3
"""Makes demo-data/mill.ndjson, the two months of an invented wire rope mill.

    make_mill.py            writes mill.ndjson beside this file
    make_mill.py --check    makes it again, checks it and compares it with the committed file; exit 1 when they differ
    make_mill.py --stories  lists the codes of the hidden stories

One seed, Python's standard library, the same bytes every time.
"""
import json
import pathlib
import random
import sys
import uuid

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.dont_write_bytecode = True

import mill_quality  # noqa: E402
from mill_account import Account, KINDS, Wrong  # noqa: E402
from mill_rope import Mill  # noqa: E402
from mill_stories import Stories, codes  # noqa: E402
from mill_things import DAY, HOUR, clock, stamp  # noqa: E402
from mill_trade import ORDER_BOOK, PRODUCTS  # noqa: E402

SEED = 20260901
ROPES = 124
LAST = clock("2026-10-31 21:00")
FILE = pathlib.Path(__file__).resolve().parent / "mill.ndjson"
RUN_LETTER = {"draw": "D", "patent": "P", "galvanise": "Z", "wind": "R", "strand": "S", "close": "L", "compact": "K",
              "cut": "X"}


def make():
    """The mill, with everything done that it does until LAST and a little beyond."""
    stories = Stories()
    mill = Mill(random.Random(SEED), stories)
    stories.opening(mill)
    for i in range(ROPES):
        mill.now = max(6 * HOUR, i * 60 * DAY // ROPES)
        code = ORDER_BOOK[i % len(ORDER_BOOK)]
        mill.make_rope(code, mill.pick(PRODUCTS[code].lengths) * 1000)
    stories.afterwards(mill)
    give_codes(mill)
    mill.orders = mill_quality.orders_of(mill)
    return mill, stories


def give_codes(mill):
    """Codes in order of time, as they would have come off the label printer."""
    count = {}

    def number(prefix, digits):
        count[prefix] = count.get(prefix, 0) + 1
        return "%s-%0*d" % (prefix, digits, count[prefix])

    for run in sorted(mill.runs, key=lambda r: (r.start, r.end)):
        run.code = number(RUN_LETTER[run.process], 4)
        for i, lot in enumerate(x for x in run.lots() if not x.coded_by):
            lot.code = "%s-%02d" % (run.code.replace("-", ""), i + 1)
        for _, feeds in run.lines:
            for f in feeds:
                if f.weld:
                    f.weld.code = number("B" if run.process == "strand" else "W", 4)
    for lot in sorted((x for x in mill.lots if x.coded_by), key=lambda x: x.made):
        lot.code = number(lot.coded_by, 4 if lot.coded_by in ("RC", "RL") else 2)
    for batch in sorted(mill.batches, key=lambda b: b.t):
        batch.code = number(batch.prefix, 3)
    for supply in sorted(mill.supplies.values(), key=lambda s: s.t):
        supply.code = number("SU", 3)
    for prefix, things, digits in (("T", mill.tests, 5), ("HD", mill.holds, 3), ("IC", mill.certificates, 4),
                                   ("DN", mill.consignments, 4)):
        for x in sorted(things, key=lambda x: x.t):
            x.code = number(prefix, digits)


NOT_CODES = ("supplies", "machine", "process", "instrument", "verdict", "batch", "location", "reason")


def mentioned(body):
    """Every code in a body, for what must stay in order."""
    out = set()
    todo = [body]
    while todo:
        x = todo.pop()
        if isinstance(x, dict):
            todo.extend(x.values())
        elif isinstance(x, list):
            todo.extend(x)
        elif isinstance(x, str):
            out.add(x.partition(":")[2] if x.partition(":")[0] in ("heat", "lot", "run", "weld", "batch") else x)
    return out


def from_paper(entries, rng):
    """Some entries are typed in hours later, from paper: they move down the list, past none that shares a code."""
    i = 0
    while i < len(entries):
        if entries[i]["kind"] in ("run", "test", "note", "move", "scrap") and rng.random() < 0.035:
            mine = mentioned({k: v for k, v in entries[i]["body"].items() if k not in NOT_CODES})
            j = i
            while j + 1 < len(entries) and j - i < 40 and not mine & mentioned(entries[j + 1]["body"]) \
                    and entries[j + 1]["kind"] not in ("correct", "void"):
                j += 1
            if j - i > 6:
                entries.insert(rng.randrange(i + 6, j + 1), entries.pop(i))
        i += 1


def entries_of(mill):
    """The entries in the order in which they were logged, as they would be sent."""
    rng = random.Random(SEED + 1)
    events = sorted((e for e in mill.events if e.logged <= LAST), key=lambda e: e.logged)
    for e in events:
        e.key = str(uuid.UUID(int=rng.getrandbits(128), version=4))
    entries = [{"key": e.key, "kind": e.kind, "at": stamp(e.at), "body": e.build()} for e in events]
    from_paper(entries, rng)
    mill.measured_again = mill_quality.add(mill, entries, mill.orders, random.Random(SEED + 2))
    return entries


def main(args):
    mill, stories = make()
    entries = entries_of(mill)
    account = Account()
    for n, entry in enumerate(entries, 1):
        try:
            account.take(entry)
        except Wrong as e:
            print("line %d, %s: %s" % (n, entry["kind"], e), file=sys.stderr)
            return 1
    unused = [k for k in KINDS if not account.used[k]]
    if unused or not 3000 <= len(entries) <= 5000:
        print("%d entries, no entry of %s" % (len(entries), unused), file=sys.stderr)
        return 1
    text = "".join(json.dumps(e, separators=(",", ":")) + "\n" for e in entries)
    if "--stories" in args:
        print("\n".join(codes(mill, stories)))
        return 0
    if "--check" in args:
        same = FILE.exists() and FILE.read_text(encoding="utf-8") == text
        print("%d entries, %s" % (len(entries), "as committed" if same else "not what is committed"))
        return 0 if same else 1
    FILE.write_text(text, encoding="utf-8")
    print("%d entries, %d lots, %.1f MB" % (len(entries), len(account.lots), len(text) / 1e6))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
