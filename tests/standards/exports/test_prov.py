"""PROV documents, read back by an independent library and held against the traces; EPCIS documents against the entries."""
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent.parent
sys.path.insert(0, str(ROOT / "tests" / "api"))
from support import EXAMPLES, KINWIRE, run_cli  # noqa: E402


@pytest.fixture(scope="module")
def ledger(tmp_path_factory):
    path = tmp_path_factory.mktemp("prov") / "mill.kw"
    done = run_cli("load", "--ledger", path, EXAMPLES / "5-small-mill" / "entries.ndjson")
    assert done.returncode == 0, done.stderr
    return path


def export(ledger, form):
    done = run_cli("export", "--ledger", ledger, "all", "--as", form)
    assert done.returncode == 0, done.stderr
    return done.stdout


def entries(ledger):
    return [json.loads(x) for x in export(ledger, "entries").splitlines()]


def test_prov_is_read_by_another_library(ledger, tmp_path):
    prov = pytest.importorskip("prov.model")
    (tmp_path / "p.json").write_text(export(ledger, "prov"))
    document = prov.ProvDocument.deserialize(str(tmp_path / "p.json"), format="json")
    labels = {str(r.label) for r in document.get_records(prov.ProvEntity)}
    runs = {str(r.label) for r in document.get_records(prov.ProvActivity)}
    whole = entries(ledger)
    assert runs == {e["body"]["run"] for e in whole if e["kind"] == "run"}
    assert labels >= {e["body"]["lot"] for e in whole if e["kind"] == "receive"}
    assert labels >= {p["lot"] for e in whole if e["kind"] == "run" for p in e["body"]["packages"] if "lot" in p}
    # every name that a relation uses is the name of something
    named = {str(r.identifier) for r in document.get_records(prov.ProvElement)}
    for relation in document.get_records(prov.ProvRelation):
        for _, value in relation.formal_attributes:
            if isinstance(value, prov.QualifiedName):
                assert str(value) in named, relation
    assert document.serialize(format="xml" if "lxml" in sys.modules else "json")
    assert document == prov.ProvDocument.deserialize(content=document.serialize(format="json"), format="json")


def test_prov_fits_its_schema(ledger):
    jsonschema = pytest.importorskip("jsonschema")
    folder = os.environ.get("KINWIRE_STANDARDS", "")
    schema = Path(folder) / "prov" / "prov-json.schema.json"
    if not folder or not schema.exists():
        pytest.skip("skipped: no folder with the PROV-JSON schema")
    jsonschema.Draft4Validator(json.loads(schema.read_text())).validate(json.loads(export(ledger, "prov")))


def test_derivations_are_what_the_trace_says(ledger):
    """Whatever is derived from a heat is in its trace, and the other way round."""
    document = json.loads(export(ledger, "prov"))
    made_of = {}
    for d in document["wasDerivedFrom"].values():
        made_of.setdefault(d["prov:usedEntity"], set()).add(d["prov:generatedEntity"])
    names = {k: v["prov:label"] for k, v in document["entity"].items()}
    for name in [n for n in names if n.startswith("mill:heat.")]:
        reached, todo = set(), [name]
        while todo:
            for lot in made_of.get(todo.pop(), ()):
                if lot not in reached:
                    reached.add(lot)
                    todo.append(lot)
        done = subprocess.run([KINWIRE, "trace", "--ledger", str(ledger), "heat:" + names[name], "--json"], capture_output=True,
                              text=True, check=True)
        traced = json.loads(done.stdout)["lots"]
        possible = {x["lot"] for x in traced}
        certain = {x["lot"] for x in traced if x["verdict"] == "certain"}
        assert certain <= {names[x] for x in reached}, name
        assert possible or not reached, name


def test_epcis_positions_are_those_of_the_entries(ledger):
    document = json.loads(export(ledger, "epcis"))
    events = {e["eventID"]: e for e in document["epcisBody"]["eventList"]}
    head = json.loads(run_cli("export", "--ledger", ledger, "all", "--as", "entries").stdout.splitlines()[-1])
    assert document["kw:head"]["kw:size"] == head["seq"]
    runs = [e for e in entries(ledger) if e["kind"] == "run"]
    assert runs
    for run in runs:
        event = events["urn:uuid:" + run["key"]]
        assert event["type"] == "TransformationEvent"
        s = 0
        for got, sent in zip(event["kw:packages"], run["body"]["packages"], strict=True):
            length = sent.get("length_mm", sent.get("scrap_mm"))
            assert (got["kw:s0MM"], got["kw:s1MM"]) == (s, s + length)
            s += length
        assert event["kw:lengthMM"] == s
        taken = sum(f["kw:toMM"] - f["kw:fromMM"] for f in event["kw:feeds"])
        ends = {}
        for p in event["kw:knownPoints"]:
            ends[p["kw:line"]] = max(ends.get(p["kw:line"], 0), p["kw:vMM"])
        assert taken == sum(ends.values())
