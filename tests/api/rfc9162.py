"""The Merkle tree of RFC 9162, section 2.1, read from the RFC: what an auditor needs to check a head without the mill.

Shares nothing with the program.
"""
import hashlib
import json


def leaf_hash(data):
    return hashlib.sha256(b"\0" + data).digest()


def node_hash(left, right):
    return hashlib.sha256(b"\1" + left + right).digest()


def root(hashes):
    """MTH of leaves given by their hashes (2.1.1)."""
    if not hashes:
        return hashlib.sha256(b"").digest()
    if len(hashes) == 1:
        return hashes[0]
    k = 1 << (len(hashes) - 1).bit_length() - 1
    return node_hash(root(hashes[:k]), root(hashes[k:]))


def included(leaf, index, size, proof, head):
    """2.1.3.2; index from 0."""
    if index >= size:
        return False
    fn, sn, r = index, size - 1, leaf
    for p in proof:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            r = node_hash(p, r)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            r = node_hash(r, p)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and r == head


def consistent(first_size, second_size, first, second, proof):
    """2.1.4.2, and two heads of one size, which need no proof. That a head grew from the empty tree says nothing."""
    if first_size == 0 or first_size > second_size:
        return False
    if first_size == second_size:
        return first == second and not proof
    if not proof:
        return False
    path = list(proof)
    if first_size & (first_size - 1) == 0:
        path.insert(0, first)
    fn, sn = first_size - 1, second_size - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    fr = sr = path[0]
    for c in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            fr, sr = node_hash(c, fr), node_hash(c, sr)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            sr = node_hash(sr, c)
        fn, sn = fn >> 1, sn >> 1
    return fr == first and sr == second and sn == 0


def canonical(value):
    """RFC 8785 for what a ledger holds: integers, text, objects, arrays, true, false."""
    if isinstance(value, dict):
        keys = sorted(value, key=lambda k: k.encode("utf-16-be"))
        return "{" + ",".join(canonical(k) + ":" + canonical(value[k]) for k in keys) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(canonical, value)) + "]"
    return json.dumps(value, ensure_ascii=False)
