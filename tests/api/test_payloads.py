"""Every free text of every kind of entry holds something that was written to do harm, and everything that leaves the mill is made of them:
tables that a spreadsheet would not reckon with, drawings without scripts, documents without actions, one line a request in the log."""
import csv
import io
import json
import re
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
import zipfile

import pytest

from support import PATIENCE, ROOT, run_cli

DEMO = ROOT / "demo-data" / "mill.ndjson"
SCHEMA = json.loads((ROOT / "schema" / "entry.schema.json").read_text())
TEXTS = {"name": 200, "label": 80, "lineLabel": 40, "prose": 2000, "place": 80}  # definitions that take any text
HARM = ["<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "'; DROP TABLE entry; --", "=1+1", "+SUM(A1)", "-2+3", "@SUM(A1)",
        "=cmd|'/C calc'!A0", "${7*7}{{7*7}}", "%0d%0aX-Y: z", "%s%n%x%p", "\u202egnirts", "</text><script/>", "]]><x>", "\\\" , \\", "../../etc/passwd",
        "a\u2028b\u2029c", "`id`;$(id)", "&lt;b&gt;&amp;", "(x) Tj ET Q", "%PDF-1.4 %%EOF", "\\) /JS (x)", "NULL", "O'Brien \"Rope\", Ltd;", "javascript:alert(1)",
        "\ufeffmark", "\u200bzero", "\U0001f9f6", "'=1", "data:text/html,x", "<!--", "<svg onload=x>"]
PROSE = ["=2+2\n=3+3", "first\n@second\t+third", "<b>\n</b>", "\t=4"]


def resolve(schema):
    while "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[1]] if schema["$ref"].startswith("#/$defs/") else SCHEMA
    return schema


def kinds_of_text(schema):
    """The names of text definitions that a value may follow here."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        return {name} if name in TEXTS else kinds_of_text(resolve(schema))
    return set().union(*(kinds_of_text(x) for k in ("anyOf", "oneOf", "allOf") for x in schema.get(k, [])), set())


class Poison:
    """Texts put in the place of those of valid bodies; fields that have to keep theirs are left."""

    def __init__(self, leave):
        self.leave, self.n, self.fields = leave, 0, set()

    def text(self, where, kinds):
        if where in self.leave:
            return None
        self.n += 1
        self.fields.add(where)
        harm = PROSE + HARM if kinds == {"prose"} else HARM
        if kinds == {"lineLabel"}:  # no two lines of a run share one
            return "%s %d" % (harm[self.n % len(harm)][:30], self.n)
        return harm[self.n % len(harm)][:min(TEXTS[k] for k in kinds)]

    def value(self, value, schema, where):
        if isinstance(value, str):
            kinds = kinds_of_text(schema)
            return (self.text(where, kinds) if kinds else None) or value
        parts = [schema] if "$ref" not in schema else []
        schema = resolve(schema)
        parts += [schema] + [resolve(x) for k in ("anyOf", "oneOf", "allOf") for x in schema.get(k, [])] + [
            resolve(schema[k]) for k in ("then", "else") if k in schema]
        if isinstance(value, list):
            items = next((p["items"] for p in parts if isinstance(p.get("items"), dict)), None)
            return [self.value(v, items, where + "/*") for v in value] if items else value
        if isinstance(value, dict):
            out = {}
            for k, v in value.items():
                inside = next((p["properties"][k] for p in parts if k in p.get("properties", {})), None)
                if inside is None:
                    inside = next((p["additionalProperties"] for p in parts if isinstance(p.get("additionalProperties"), dict)), None)
                out[k] = self.value(v, inside, where + "/" + (k if inside and where.count("settings") == 0 else "*")) if inside else v
            return out
        return value


def poisoned(entries, leave):
    p = Poison(leave)
    return [{**e, "body": p.value(e["body"], SCHEMA["$defs"][e["kind"]], e["kind"])} if e["kind"] in SCHEMA["$defs"] else e for e in entries], p.fields


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    """(ledger, fields that hold harm): the demo mill, with every text that may be any text written anew."""
    folder = tmp_path_factory.mktemp("harm")
    entries = [json.loads(x) for x in DEMO.read_text().splitlines()]
    ledger = folder / "mill.kw"
    # what has to agree between entries keeps its value
    leave = {"spec/grade", "spec/construction", "order/grade", "order/construction", "heat/grade", "run/packages/*/construction"}
    some, fields = poisoned(entries, leave)
    source = folder / "harm.ndjson"
    source.write_text("".join(json.dumps(e) + "\n" for e in some))
    done = run_cli("load", "--ledger", ledger, source)
    assert done.returncode == 0, done.stderr
    return ledger, fields


def safe_cell(cell):
    return not cell or cell[0] not in "=+-@\t\r\n" or re.fullmatch(r"-?\d+(\.\d+)?", cell)


def hold_table(text):
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows and len({len(r) for r in rows}) == 1, "a text broke a row"
    bad = [c for r in rows for c in r if not safe_cell(c)]
    assert not bad, bad[:3]
    return sum(len(r) for r in rows)


def hold_drawing(text):
    root = ElementTree.fromstring(text)
    for x in root.iter():
        tag = x.tag.rsplit("}", 1)[-1].lower()
        assert tag not in ("script", "foreignobject", "image", "iframe", "a", "animate", "set", "handler"), tag
        for name in x.attrib:
            assert not name.rsplit("}", 1)[-1].lower().startswith(("on", "href")), name


def hold_document(data, folder):
    assert data.startswith(b"%PDF-")
    for word in (b"/JavaScript", b"/OpenAction", b"/Launch", b"/AA", b"/EmbeddedFile"):
        assert word not in data, word
    if shutil.which("qpdf"):
        (folder / "x.pdf").write_bytes(data)
        done = subprocess.run(["qpdf", "--check", str(folder / "x.pdf")], capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr


def test_much_is_poisoned(mill):
    fields = mill[1]
    want = {"heat/supplier", "heat/mill_certificate", "supply/what", "supply/supplier", "receive/location", "hold/reason", "release/reason",
            "dispatch/consignee", "note/text", "instrument/what", "order/customer", "withdraw/reason"}
    assert want <= fields, want - fields
    print("\npayloads: %d texts to do harm in %d fields" % (len(HARM) + len(PROSE), len(fields)))


def test_whole_exports(server_on, mill, tmp_path):
    s = server_on(mill[0], "--log", "request")
    cells = hold_table(s.api.session.get(s.url + "/api/export?origin=all&as=csv").content.decode())
    for how in ("prov", "epcis"):
        answer = s.api.session.get(s.url + "/api/export?origin=all&as=" + how)
        assert answer.status_code == 200 and json.loads(answer.content)
    lines = s.api.session.get(s.url + "/api/export?origin=all&as=entries").content.decode().split("\n")
    assert all(json.loads(x) for x in lines if x) and len(lines) > 4000, "one entry, one line"
    trace = s.api.session.get(s.url + "/api/trace?origin=heat:48504", headers={"Accept": "text/csv"})
    cells += hold_table(trace.content.decode())
    assert re.fullmatch(r'attachment; filename="[\w.-]+"', trace.headers["Content-Disposition"])
    print("\ntables: %d cells, 0 that a spreadsheet would reckon with" % cells)


def test_papers_labels_and_packs(server_on, mill, tmp_path):
    s = server_on(mill[0], "--log", "request")
    reels = [x["lot"] for x in s.api.trace("heat:48504")["lots"] if x["kind"] == "reel"][:4]
    assert reels
    asked = 0
    for lot in reels:
        hold_document(s.api.session.get(s.url + "/api/export?as=report&origin=lot:" + lot).content, tmp_path)
        for how in ("svg", "pdf"):
            answer = s.api.session.get(s.url + "/api/labels?lots=%s&as=%s&size=100x150" % (lot, how))
            assert answer.status_code == 200
            hold_drawing(answer.text) if how == "svg" else hold_document(answer.content, tmp_path)
        asked += 3
    pack = s.api.session.get(s.url + "/api/export?as=pack&origin=lot:" + reels[0]).content
    with zipfile.ZipFile(io.BytesIO(pack)) as z:
        assert all(re.fullmatch(r"[\w./-]+", n) and ".." not in n and not n.startswith("/") for n in z.namelist()), z.namelist()
    (tmp_path / "p.zip").write_bytes(pack)
    assert run_cli("verify", tmp_path / "p.zip").returncode == 0
    s.api.get("/api/find", q="=1+1\u2028x")
    s.process.terminate()
    text = s.process.stderr.read()
    s.process.wait(PATIENCE)
    assert len([x for x in text.splitlines() if x]) >= asked and not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u2028\u2029\u202e]", text)
    assert all(re.match(r"kinwire serve: ", x) for x in text.split("\n") if x), "a line that is no event's"
