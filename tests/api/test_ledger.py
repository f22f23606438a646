"""What an auditor checks with no access to the mill: leaves re-hashed, heads recomputed, proofs followed by an independent reader."""
import hashlib
import json

import pytest

from rfc9162 import canonical, consistent, included, leaf_hash, root
from support import entry, examples


@pytest.fixture(scope="module")
def mill(server):
    entries = [e for name, entries, _ in examples() if name.startswith("5") for e in entries]
    server.api.load(entries)
    text = server.api.get("/api/ledger/entries").text
    assert text.endswith("\n")
    leaves = text.splitlines()
    return server.api, leaves, [leaf_hash(x.encode()) for x in leaves]


def test_an_empty_ledger(fresh):
    assert fresh.get("/api/ledger/head") == {"size": 0, "root": hashlib.sha256(b"").hexdigest()}
    assert fresh.get("/api/ledger/entries").text == ""
    assert fresh.get("/healthz") == {"ok": True, "size": 0, "root": hashlib.sha256(b"").hexdigest()}
    assert fresh.get("/api/ledger/verify")["ok"] is True


def test_the_stream_hashes_to_the_head(mill):
    api, leaves, hashes = mill
    head = api.get("/api/ledger/head")
    assert head["size"] == len(leaves)
    assert root(hashes).hex() == head["root"]


def test_a_leaf_is_the_canonical_text_of_the_entry(mill):
    api, leaves, hashes = mill
    for n, leaf in enumerate(leaves, 1):
        e = json.loads(leaf)
        assert set(e) == {"at", "body", "by", "key", "kind", "logged", "seq", "terminal"}
        assert leaf == canonical(e) and e["seq"] == n
    for n in (1, 7, len(leaves)):
        one = api.get("/api/entries/%d" % n)
        assert one["leaf"] == leaves[n - 1] and one["hash"] == hashes[n - 1].hex()


def test_the_stream_in_pages(mill):
    api, leaves, _ = mill
    assert api.get("/api/ledger/entries", after=len(leaves)).text == ""
    assert api.get("/api/ledger/entries", after=5, limit=3).text.splitlines() == leaves[5:8]
    got, after = [], 0
    while True:
        page = api.get("/api/ledger/entries", after=after, limit=64).text.splitlines()
        if not page:
            break
        got += page
        after += len(page)
    assert got == leaves


def test_the_stream_without_a_limit_is_whole(fresh):
    fresh.load([entry("note", {"about": "machine:M", "text": str(n)}) for n in range(2500)])
    lines = fresh.get("/api/ledger/entries").text.splitlines()
    assert len(lines) == 2500
    assert root([leaf_hash(x.encode()) for x in lines]).hex() == fresh.get("/api/ledger/head")["root"]
    assert lines == fresh.leaves()


def test_inclusion_of_entries(mill):
    api, leaves, hashes = mill
    n = len(leaves)
    for size in sorted({1, 2, 3, 7, 8, 9, 100, 127, 128, 129, n}):
        head = root(hashes[:size])
        for seq in sorted({1, min(2, size), size // 2 + 1, max(size - 1, 1), size}):
            p = api.get("/api/ledger/proof", seq=seq, size=size)
            assert (p["seq"], p["size"], p["root"], p["leaf"]) == (seq, size, head.hex(), hashes[seq - 1].hex())
            proof = [bytes.fromhex(x) for x in p["proof"]]
            assert included(hashes[seq - 1], seq - 1, size, proof, head)
            assert not included(hashes[seq - 1], seq - 1, size, proof, leaf_hash(b"x"))
            assert not included(leaf_hash(b"x"), seq - 1, size, proof, head)
            if proof:
                assert not included(hashes[seq - 1], seq - 1, size, proof[:-1], head)


def test_consistency_of_heads(mill):
    api, leaves, hashes = mill
    sizes = sorted({1, 2, 3, 4, 6, 7, 8, 64, 65, 100, len(leaves) - 1, len(leaves)})
    for a in sizes:
        for b in (x for x in sizes if x >= a):
            p = api.get("/api/ledger/proof", **{"from": a, "size": b})
            first, second = root(hashes[:a]), root(hashes[:b])
            assert (p["from"], p["size"], p["first"], p["root"]) == (a, b, first.hex(), second.hex())
            proof = [bytes.fromhex(x) for x in p["proof"]]
            assert consistent(a, b, first, second, proof)
            if a < b:
                assert not consistent(a, b, leaf_hash(b"x"), second, proof)
                assert not consistent(a, b, first, leaf_hash(b"x"), proof)


def test_proofs_that_cannot_be(mill):
    api, leaves, _ = mill
    n = len(leaves)
    for bad in ({"seq": n + 1, "size": n}, {"seq": 1, "size": n + 1}, {"seq": 5, "size": 4}, {"from": 5, "size": 4},
                {"from": n, "size": n + 1}):
        answer = api.request("GET", "/api/ledger/proof", params=bad)
        assert answer.status_code in (400, 404, 422), bad
    for bad in ({}, {"seq": 0}, {"seq": "x"}, {"seq": 1, "from": 1}, {"seq": 1, "size": "1e3"}, {"seq": "-1"},
                {"seq": "99999999999999999999"}):
        answer = api.request("GET", "/api/ledger/proof", params=bad)
        assert answer.status_code in (400, 422), bad
    whole = api.get("/api/ledger/proof", seq=1)
    assert whole["size"] == n


def test_verify_over_http(mill):
    api, leaves, hashes = mill
    answer = api.get("/api/ledger/verify")
    assert answer["ok"] is True and answer["size"] == len(leaves) and answer["root"] == root(hashes).hex()


def test_the_head_in_a_trace_is_the_ledgers(mill):
    api, _, _ = mill
    assert api.trace("heat:H700")["ledger"] == api.get("/api/ledger/head") == api.lot("RC-000")["ledger"]
    health = api.get("/healthz")
    assert {"size": health["size"], "root": health["root"]} == api.get("/api/ledger/head")
