"""The tests' own reader of RFC 9162 proofs against published vectors, so that its yes and no about the program can be trusted.

The vectors are other people's and not kept here: their folder is given by -Dstandards.
"""
import base64
import json
import os
from pathlib import Path

import pytest

from rfc9162 import canonical, consistent, included, leaf_hash, root

FOLDER = Path(os.environ.get("KINWIRE_STANDARDS") or "none")
needed = pytest.mark.skipif(not (FOLDER / "merkle").exists(), reason="no folder with published vectors given (-Dstandards)")


def vectors(kind):
    return sorted((FOLDER / "merkle" / "transparency-dev" / "testdata" / kind).rglob("*.json"))


def name_of(f):
    return "%s-%s" % (f.parent.name, f.stem) if isinstance(f, Path) else "none"


def raw(text):
    return base64.b64decode(text or "")


@needed
def test_roots_of_small_trees():
    kat = json.loads((FOLDER / "merkle" / "rfc9162-kat-0-8.json").read_text())
    leaves = [leaf_hash(bytes.fromhex(x)) for x in kat["leaf_inputs_hex"]]
    assert [x.hex() for x in leaves] == kat["leaf_hashes"]
    for n, want in kat["roots"].items():
        assert root(leaves[:int(n)]).hex() == want


@needed
@pytest.mark.parametrize("f", vectors("inclusion"), ids=name_of)
def test_inclusion(f):
    v = json.loads(f.read_text())
    hashes = [raw(x) for x in v["proof"] or []]
    ok = all(len(h) == 32 for h in hashes + [raw(v["leafHash"]), raw(v["root"])]) and included(
        raw(v["leafHash"]), v["leafIdx"], v["treeSize"], hashes, raw(v["root"]))
    assert ok == (not v["wantErr"]), v["desc"]


@needed
@pytest.mark.parametrize("f", vectors("consistency"), ids=name_of)
def test_consistency(f):
    v = json.loads(f.read_text())
    hashes = [raw(x) for x in v["proof"] or []]
    ok = all(len(h) == 32 for h in hashes) and consistent(
        v["size1"], v["size2"], raw(v["root1"]), raw(v["root2"]), hashes)
    assert ok == (not v["wantErr"]), v["desc"]


@needed
@pytest.mark.parametrize("name", ["arrays", "french", "structures", "unicode", "values", "weird"])
def test_canonical_json(name):
    """RFC 8785's companion data, as far as it holds only what a ledger holds: no fractions."""
    given = json.loads((FOLDER / "jcs" / "testdata" / "input" / (name + ".json")).read_text())
    text = (FOLDER / "jcs" / "testdata" / "output" / (name + ".json")).read_text()
    if any(isinstance(x, float) for x in walk(given)):
        pytest.skip("holds fractions")
    assert canonical(given) == text


def walk(x):
    yield x
    for y in x.values() if isinstance(x, dict) else x if isinstance(x, list) else ():
        yield from walk(y)
