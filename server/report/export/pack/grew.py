#!/usr/bin/env python3
"""Whether a ledger only grew between two of its heads, by a consistency proof (RFC 9162, section 2.1.4).

    python3 grew.py EARLIER LATER [PROOF]

EARLIER and LATER are head notes, or the head.json of a pack. PROOF is what the mill's server answers to
GET /api/ledger/proof?from=M&size=N, or what kinwire witness --check writes; two heads of one size need none.
Signatures are checked otherwise: HOWTO.txt says how. Exit status 0: it only grew; 1: what is wrong is said.
"""
import hashlib
import json
import sys


def node(left, right):
    return hashlib.sha256(b"\x01" + left + right).digest()


def read_head(path):
    text = open(path, encoding="utf-8").read()
    lines = (line.split(" ", 1) for line in text.splitlines() if " " in line)
    head = json.loads(text) if text.lstrip().startswith("{") else dict(lines)
    size, root = int(head["size"]), bytes.fromhex(head["root"])
    if size < 0 or len(root) != 32:
        raise ValueError("no head")
    return size, root


def grew(m, first, n, second, proof):
    """Whether the root of m entries leads to the root of n entries, 0 < m < n (RFC 9162, section 2.1.4.2)."""
    path = ([first] if m & (m - 1) == 0 else []) + proof
    fn, sn = m - 1, n - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    if not proof:
        return False
    old = new = path[0]
    for sibling in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            old, new = node(sibling, old), node(sibling, new)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            new = node(new, sibling)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and old == first and new == second


def main(earlier, later, proof_name=None):
    (m, first), (n, second) = read_head(earlier), read_head(later)
    if m > n:
        sys.exit("the first has %d entries and the second %d: name the earlier one first, or entries are missing" % (m, n))
    if m == n and first != second:
        sys.exit("two heads of %d entries with two roots: they are not of one ledger, or it was rewritten" % m)
    if 0 < m < n and not proof_name:
        sys.exit("the heads are of %d and of %d entries: ask the mill for the proof between them" % (m, n))
    if 0 < m < n:
        proof = [bytes.fromhex(h) for h in json.load(open(proof_name, encoding="utf-8"))["proof"]]
        if any(len(h) != 32 for h in proof) or not grew(m, first, n, second, proof):
            sys.exit("not shown: this proof does not lead from the head of %d entries to that of %d" % (m, n))
    print("the ledger of %d entries holds the first %d as they were" % (n, m))


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    try:
        main(*sys.argv[1:])
    except (OSError, ValueError, KeyError, TypeError) as problem:
        sys.exit("this can't be read: %s" % problem)
