"""schema/entry.schema.json and the server agree on what an entry looks like, in both directions: what the one takes, so does the other.

Entries of every kind are spoiled at random (fixed seed), one place at a time. Where the schema says no, the server refuses it for
its shape; where it says yes, the server may still refuse it for what the ledger holds, but not for its shape.
"""
import copy
import json
import random

import jsonschema
import pytest

from support import ROOT, entry, new_key
from test_entries import AT, story

SHAPE = {"not-json", "not-entry", "missing", "unknown-member", "bad-type", "bad-code", "bad-time", "bad-value"}
EITHER = {"out-of-range", "bad-order"}  # of a value, or of a place on a lot
VALUES = [None, True, False, -1, 0, 1, 7, 10**6 + 1, 10**12, 10**12 + 1, 2**53, 1.5, "", "x", "X-1", "a/b.c", "a b", "X" * 40,
          "X" * 41, "é", "x" * 80, "x" * 81, "x" * 200, "x" * 201, "x" * 2000, "x" * 2001, "two\nlines", "bell\u0007", [], {}, [1], ["X-1"],
          {"lot": "X-1"}, {"x": 1}, "outer", "pass", "3.1", "draw", "bobbin", "lot:RC-1", "moon:X", AT, "2026-03-04",
          "2026-03-04T09:12:00.25+01:00", "2026-03-04T24:00:00Z", "00000000-0000-4000-8000-000000000000"]

SCHEMA = json.loads((ROOT / "schema" / "entry.schema.json").read_text())
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def all_kinds():
    yield from story()
    yield "correct", {"entry": None, "reason": "slip", "body": {"heat": "H1", "supplier": "Southmark", "grade": "C82D"}}
    yield "void", {"entry": None, "reason": "wrong lot"}


def places(node, path=()):
    yield path
    for k, v in (node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()):
        yield from places(v, path + (k,))


def spoil(rng, e):
    """One change at one place."""
    e = copy.deepcopy(e)
    path = rng.choice([p for p in places(e) if p])
    node = e
    for k in path[:-1]:
        node = node[k]
    how = rng.choice(["value", "value", "value", "drop", "add"])
    if how == "drop":
        del node[path[-1]]
    elif how == "add":
        target = node[path[-1]] if isinstance(node[path[-1]], dict) else node
        if isinstance(target, dict):
            target[rng.choice(["x", "lot", "from_mm", "to_mm", "weld", "override", "kind", "Heat", ""])] = rng.choice(VALUES)
        else:
            target.append(rng.choice(VALUES))
    else:
        node[path[-1]] = rng.choice(VALUES)
    return e


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_every_kind_has_its_definition(api):
    kinds = api.contract.openapi["components"]["schemas"]["EntryKind"]["enum"]
    assert SCHEMA["properties"]["kind"]["enum"] == kinds
    assert set(kinds) <= set(SCHEMA["$defs"])
    assert sorted(kinds) == sorted(x["if"]["properties"]["kind"]["const"] for x in SCHEMA["allOf"])
    for kind in kinds:
        api.get("/api/entries", kind=kind)


def test_what_the_tests_send_is_valid():
    for kind, body in all_kinds():
        if "entry" in body:
            body = dict(body, entry=new_key())
        VALIDATOR.validate(entry(kind, body, AT))


@pytest.fixture(scope="module")
def written(server):
    """The story, with a key to correct."""
    for kind, body in story():
        server.api.put(kind, body, at=AT)
    return server.api, server.api.get("/api/entries/1")["key"]


@pytest.mark.parametrize("seed", range(4))
def test_spoiled_entries(written, seed):
    api, first = written
    rng = random.Random(seed)
    sources = [(k, dict(b, entry=first) if "entry" in b else b) for k, b in all_kinds()]
    counts = {True: 0, False: 0}
    for _ in range(300):
        kind, body = rng.choice(sources)
        e = spoil(rng, entry(kind, body, AT))
        valid = VALIDATOR.is_valid(e)
        counts[valid] += 1
        answer = api.send(e)
        if answer.status_code in (200, 201):
            assert valid, "taken by the server, not by the schema: %s" % json.dumps(e)
            continue
        problem = answer.json()
        slug = problem["type"].rsplit("/", 1)[1]
        inner = problem.get("pointer", "").startswith("/body/body")
        if valid:
            assert slug not in SHAPE or inner, "taken by the schema, not by the server: %s: %s" % (json.dumps(e), problem)
        else:
            assert slug in SHAPE | EITHER, "refused by the schema, but by the server only for %s: %s" % (slug, json.dumps(e))
    assert min(counts.values()) > 30, counts


def test_optional_members_are_optional_and_needed_ones_needed(written):
    """Each member of each kind left out alone: the schema and the server agree on whether it may be."""
    api, first = written
    for kind, body in all_kinds():
        if "entry" in body:
            body = dict(body, entry=first)
        for name in body:
            e = entry(kind, {k: v for k, v in body.items() if k != name}, AT)
            answer = api.send(e)
            slug = answer.json().get("type", "").rsplit("/", 1)[-1]
            if VALIDATOR.is_valid(e):
                assert slug not in SHAPE, (kind, name, answer.text)
            else:
                # without scrap_mm, scrap is taken for a package that has too much
                assert slug in ("missing", "unknown-member"), (kind, name, answer.text)
                assert answer.json()["pointer"].startswith("/body")
