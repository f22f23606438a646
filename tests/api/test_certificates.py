"""Certificates: what is missing for one, its fixed document and its PDF, and what marks it afterwards."""
import hashlib
import json
import re
import shutil
import subprocess
import sys
import time

import pytest

from rfc9162 import included, leaf_hash
from support import KINWIRE, ROOT, new_key, run_cli

AT = "2026-03-04T09:12:00Z"
ADDRESS = "https://mill.example:8420/"


def canonical(value):
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


class Works:
    """Two wires of two heats, laid to a strand and closed to a rope of 2,000 m, which is cut to reels of 500 m."""

    def __init__(self, api, bench):
        self.api, self.bench = api, bench
        c = bench.code
        self.heats, self.wires = [], []
        self.order = c("SO")
        api.put("order", {"order": self.order, "customer": "Harbour Cranes", "construction": "1x2"})
        for carbon in (8200, 8100):
            heat, coil, wire, run = c("H"), c("RC"), c("BB"), c("DR")
            api.put("heat", {"heat": heat, "supplier": "Northmark", "grade": "C82D", "mill_certificate": "MC/" + heat,
                             "analysis_ppm": {"C": carbon, "Mn": 6000}})
            api.put("receive", {"lot": coil, "heat": heat, "diameter_um": 5500, "length_mm": 1_000_000})
            api.put("run", {"run": run, "process": "draw", "machine": "BLOCK-1",
                            "lines": [{"line": "1", "feeds": [{"lot": coil}]}],
                            "packages": [{"lot": wire, "kind": "bobbin", "length_mm": 2_100_000, "diameter_um": 3800}]})
            api.put("test", {"test": c("T"), "lot": wire, "instrument": "TT-1", "verdict": "pass",
                             "results": {"breaking_n": 20_000, "diameter_um": 3801}})
            self.heats.append(heat)
            self.wires.append(wire)
        self.rope, self.reels = c("RP"), [c("RL") for _ in range(4)]
        self.close, self.cut = c("CL"), c("CU")
        api.put("run", {"run": self.close, "process": "close", "machine": "CLOSER", "order": self.order,
                        "lines": [{"line": str(i + 1), "feeds": [{"lot": w, "take_mm": 2_050_000}]} for i, w in enumerate(self.wires)],
                        "packages": [{"lot": self.rope, "kind": "rope", "length_mm": 2_000_000, "construction": "1x2",
                                      "diameter_um": 7600}]})
        api.put("run", {"run": self.cut, "process": "cut", "machine": "CUT-1", "order": self.order,
                        "lines": [{"line": "1", "feeds": [{"lot": self.rope}]}],
                        "packages": [{"lot": x, "kind": "reel", "length_mm": 500_000, "construction": "1x2",
                                      "diameter_um": 7600} for x in self.reels]})

    def spec(self, **more):
        spec = self.bench.code("SP")
        self.api.put("spec", {"spec": spec, "version": 1, "what": "rope", "construction": "1x2", "source": "the order",
                              "limits": {"breaking_n": {"min": 35_000}}, "diameter_from_um": 7600, "diameter_below_um": 7601,
                              "tests": [{"property": "breaking_n", "per": "run", "n": 1}], **more})
        return spec

    def test(self, lot, value, **more):
        t = self.bench.code("T")
        self.api.put("test", {"test": t, "lot": lot, "instrument": "BF-1", "results": {"breaking_n": value}, **more})
        return t

    def certify(self, reels, **more):
        k = self.bench.code("K")
        body = {"certificate": k, "type": "3.1", "reels": reels, **more}
        return k, self.api.put("certify", body, at=AT)

    def wanted(self, *reels, **more):
        return self.api.get("/api/certifiable", reels=",".join(reels), **more)

    def missing(self, reel, **more):
        answer, = self.wanted(reel, **more)["reels"]
        return [x["code"] for x in answer["missing"]]


@pytest.fixture
def works(fresh):
    from support import Bench
    return Works(fresh, Bench(fresh))


# --- what is missing ------------------------------------------------------------------------------


def test_what_is_missing_is_listed_and_the_entry_is_refused_for_the_same(works):
    api, reel = works.api, works.reels[0]
    answer = works.wanted(reel, works.reels[1])
    assert answer["complete"] and [x["reel"] for x in answer["reels"]] == works.reels[:2]
    assert [x["code"] for x in answer["reels"][0]["know"]] == ["no-spec"]
    spec = works.spec()
    answer, = works.wanted(reel)["reels"]
    lacking, = answer["missing"]
    assert lacking["code"] == "test-missing" and "1 passed of breaking_n" in lacking["text"] and spec in lacking["text"]
    assert lacking["values"] == {"as": "run", "lot": reel, "needed": 1, "property": "breaking_n", "spec": spec, "version": 1,
                                 "passed": 0}
    assert lacking["at"] == {"type": "lot", "code": reel}
    problem = api.refuse("certify", {"certificate": "K", "type": "3.1", "reels": [reel]}, "not-complete", "/body/reels/0", 409)
    assert problem["missing"] == [{"reel": reel, **lacking}]
    assert lacking["text"] in problem["detail"]
    failed = works.test(works.rope, 30_000)
    assert works.missing(reel) == ["test-failed", "test-missing"]
    hold = works.bench.code("HD")
    api.put("hold", {"hold": hold, "reason": "too weak", "lots": [{"lot": reel, "from_mm": 0, "to_mm": 1000}]})
    answer, = works.wanted(reel)["reels"]
    assert [(x["code"], x["at"]) for x in answer["missing"]] == [
        ("on-hold", {"type": "hold", "code": hold}), ("test-failed", {"type": "test", "code": failed}),
        ("test-missing", {"type": "lot", "code": reel})]
    assert answer["missing"][0]["spans"] == [[0, 1000]]
    assert answer["missing"][0]["values"] == {"lot": reel, "hold": hold, "from_mm": 0, "to_mm": 1000, "reason": "too weak"}
    problem = api.refuse("certify", {"certificate": "K", "type": "3.1", "reels": [works.reels[1], reel]}, "not-complete",
                         "/body/reels/0", 409)
    assert {x["reel"] for x in problem["missing"]} == {reel, works.reels[1]}
    problem = api.refuse("certify", {"certificate": "K", "type": "3.1", "reels": [reel]}, "on-hold", "/body/reels/0", 409)
    assert len(problem["missing"]) == 3
    assert api.request("POST", "/api/check", json={
        "key": new_key(), "kind": "certify", "body": {"certificate": "K", "type": "3.1", "reels": [reel]}}).json()["missing"]


def test_a_pass_after_a_failure_or_a_concession_excuses_it(works):
    api = works.api
    works.spec()
    failed = works.test(works.rope, 30_000, at_mm=1_900_000)
    hold = works.bench.code("HD")
    api.put("hold", {"hold": hold, "reason": "weak", "lots": [{"lot": r} for r in works.reels]})
    api.put("release", {"hold": hold, "disposition": "release", "reason": "looked at", "lots": [{"lot": works.reels[0]}]})
    assert works.missing(works.reels[0]) == ["test-failed", "test-missing"]  # a release is no concession
    api.put("release", {"hold": hold, "disposition": "concession", "reason": "customer takes 30 kN",
                        "lots": [{"lot": works.reels[1], "from_mm": 0, "to_mm": 400_000}]})
    assert works.missing(works.reels[1]) == ["on-hold", "test-failed", "test-missing"]  # not for all of it
    api.put("release", {"hold": hold, "disposition": "concession", "reason": "and the rest too"})
    assert works.missing(works.reels[1]) == []
    assert works.missing(works.reels[0]) == ["test-failed", "test-missing"]
    k, receipt = works.certify([works.reels[1]])
    document = receipt["body"]["document"]
    conceded, = document["concessions"]
    assert conceded["reason"] == "and the rest too" and conceded["hold"] == hold
    test, = [x for x in document["tests"] if x["test"] == failed]
    assert (test["verdict"], test["conceded"]) == ("fail", conceded["entry"])
    works.test(works.rope, 36_000)
    assert works.missing(works.reels[0]) == []


def test_a_chain_that_ends_without_a_heat_names_lot_and_metres(works):
    api, bench = works.api, works.bench
    supply, wire = bench.code("S"), bench.code("BW")
    api.put("supply", {"supply": supply, "what": "bought-in wire", "supplier": "A"})
    api.put("receive", {"lot": wire, "kind": "bobbin", "supply": supply, "diameter_um": 2000, "length_mm": 1000})
    reel, = bench.wind([bench.rod(1000), wire], [2000], kind="reel")
    answer, = works.wanted(reel)["reels"]
    lacking, = answer["missing"]
    assert (lacking["code"], lacking["at"], lacking["spans"]) == ("no-heat", {"type": "lot", "code": wire}, [[0, 1000]])


def test_a_run_under_way_bars(works):
    api, bench = works.api, works.bench
    run, reel = bench.code("W"), bench.code("RL")
    api.put("open", {"run": run, "process": "wind", "machine": "WIND-1", "lines": ["1"]})
    api.put("load", {"run": run, "line": "1", "lot": bench.rod(2000), "take_mm": 2000})
    api.put("doff", {"run": run, "lot": reel, "kind": "reel", "length_mm": 1000})
    assert works.missing(reel) == ["run-open"]
    api.put("close", {"run": run})
    assert works.missing(reel) == []


def test_non_specific_inspection_counts_tests_on_products_alike(works):
    spec = works.spec(tests=[{"property": "breaking_n", "per": "lot", "n": 2}])
    other = Works(works.api, works.bench)
    assert works.missing(works.reels[0], type="2.2") == ["test-missing"]
    works.test(other.rope, 36_000)
    assert works.missing(works.reels[0], type="2.2") == []
    assert works.missing(works.reels[0], type="3.1") == ["test-missing"]
    k, receipt = works.certify([works.reels[0]], type="2.2")
    assert "non-specific inspection" in receipt["body"]["document"]["declares"]
    assert receipt["body"]["document"]["reels"][0]["spec"]["spec"] == spec


def test_joints_surely_too_near_bar_and_possibly_near_are_told(fresh):
    from support import Bench
    bench = Bench(fresh)
    fresh.put("spec", {"spec": "J", "version": 1, "what": "strand", "limits": {}, "tests": [], "joint_multiple": 18, "joint_of_um": 16_000})
    near = bench.code("SS")
    fresh.put("run", {"run": bench.code("ST"), "process": "strand", "machine": "S", "tolerance_ppm": 0,
                      "lines": [{"line": "1", "feeds": [{"lot": bench.rod(100_000)}, {"lot": bench.rod(100), "weld": "W-1"},
                                                        {"lot": bench.rod(99_900), "weld": "W-2"}]}],
                      "packages": [{"lot": near, "kind": "strand", "length_mm": 200_000}]})
    answer, = fresh.get("/api/certifiable", reels=near)["reels"]
    lacking, = answer["missing"]
    assert lacking["code"] == "joints-near" and "288 mm" in lacking["text"] and lacking["at"]["type"] == "weld"
    doubtful = bench.code("SS")
    fresh.put("run", {"run": bench.code("ST"), "process": "strand", "machine": "S", "tolerance_ppm": 10_000,
                      "lines": [{"line": "1", "feeds": [{"lot": bench.rod(100_000)}, {"lot": bench.rod(400), "weld": "W-3"},
                                                        {"lot": bench.rod(99_600), "weld": "W-4"}]}],
                      "packages": [{"lot": doubtful, "kind": "strand", "length_mm": 200_000}]})
    answer, = fresh.get("/api/certifiable", reels=doubtful)["reels"]
    assert answer["missing"] == [] and [x["code"] for x in answer["know"]] == ["joints-possibly-near"]


def test_what_whoever_signs_has_to_know(works):
    api, reel = works.api, works.reels[0]
    works.spec()
    works.test(works.rope, 36_000)
    t = works.bench.code("T")
    api.put("test", {"test": t, "lot": works.wires[0], "results": {"torsions": 3}, "verdict": "fail"})
    hold = works.bench.code("HD")
    api.put("hold", {"hold": hold, "reason": "rusty", "lots": [{"lot": works.wires[1]}]})
    answer, = works.wanted(reel)["reels"]
    assert answer["complete"]
    assert [(x["code"], x["at"]["code"]) for x in answer["know"]] == [("metal-failed", t), ("metal-held", hold)]


def test_asked_wrongly(api):
    api.get("/api/certifiable", status=400)
    api.get("/api/certifiable", status=400, reels="A", type="3.3")
    api.get("/api/certifiable", status=404, reels="NONE")
    api.get("/api/certifiable", status=400, reels="A" * 41)
    api.get("/api/certificates", status=400, state="nice")
    api.get("/api/certificates", status=400, limit=1000)
    api.get("/api/certificates/NONE", status=404)
    assert api.request("GET", "/api/certificates/NONE.pdf").status_code == 404
    api.get("/api/certificates/a b", status=400)


# --- the document ----------------------------------------------------------------------------------


def test_the_document_quotes_each_figure_with_its_entry(works):
    api = works.api
    spec = works.spec(joint_multiple=18, joint_of_um=7600)
    t = works.test(works.rope, 36_000)
    k, receipt = works.certify(works.reels[:2], statement="as ordered", signed={"name": "Anna Berg", "position": "inspector"},
                               address=ADDRESS)
    document = receipt["body"]["document"]
    assert document == api.get("/api/certificates/" + k)["document"]
    assert (document["certificate"], document["type"], document["entry"], document["issued"]) == (k, "3.1", receipt["seq"], AT)
    assert document["statement"] == "as ordered" and document["signed"] == {"name": "Anna Berg", "position": "inspector"}
    assert document["caution"] and document["title"] == "Inspection certificate"

    def body(seq):
        return api.get("/api/entries/%d" % seq)["body"]

    assert [r["reel"] for r in document["reels"]] == works.reels[:2]
    for reel in document["reels"]:
        made, = [p for p in body(reel["entry"])["packages"] if p["lot"] == reel["reel"]]
        assert (reel["length_mm"], reel["construction"], reel["diameter_um"]) == (500_000, made["construction"], made["diameter_um"])
        assert body(reel["order"]["entry"])["customer"] == reel["order"]["customer"] == "Harbour Cranes"
        makeup = api.lot(reel["reel"], "/makeup?by=heat")["parts"]
        assert [(h["heat"], h["places"]) for h in reel["heats"]] == sorted((p["heat"], p["possible"]) for p in makeup)
        assert all(h["certain_mm"] == 500_000 for h in reel["heats"])
        strength = api.lot(reel["reel"], "/strength")
        assert reel["wires"]["aggregate_n"] == strength["aggregate_n"] == 40_000
        assert reel["wires"]["area_um2"] == strength["area_um2"]
        assert reel["spec"]["minimum_n"] == 35_000 == body(reel["spec"]["entry"])["limits"]["breaking_n"]["min"]
        assert reel["joints"] == {"count": 0, "distance_mm": 137, "near": 0, "entry": reel["spec"]["entry"]}
    assert [h["heat"] for h in document["heats"]] == sorted(works.heats)
    for heat in document["heats"]:
        assert {x: body(heat["entry"])[x] for x in ("analysis_ppm", "mill_certificate", "supplier", "grade")} == {
            x: heat[x] for x in ("analysis_ppm", "mill_certificate", "supplier", "grade")}
    test, = document["tests"]
    assert (test["test"], test["lot"], test["instrument"], test["verdict"]) == (t, works.rope, "BF-1", "pass")
    assert body(test["entry"])["test"] == t
    assert test["results"] == [{"property": "breaking_n", "value": 36_000, "min": 35_000, "margin": 1_000}]
    assert (test["spec"]["spec"], test["spec"]["version"]) == (spec, 1)
    rests = set(document["rests_on"])
    assert {test["entry"], test["spec"]["entry"]} | {h["entry"] for h in document["heats"]} <= rests
    assert all(1 <= x < receipt["seq"] for x in rests)


def test_what_a_sender_says_of_the_document_is_not_kept_and_the_same_key_is_the_same_entry(works):
    api, k, key = works.api, works.bench.code("K"), new_key()
    body = {"certificate": k, "type": "3.1", "reels": [works.reels[0]], "document": {"title": "Forged"}}
    first = api.put("certify", body, key=key)
    assert first["body"]["document"]["title"] == "Inspection certificate"
    for again in (body, {x: v for x, v in body.items() if x != "document"}, first["body"]):
        answer = api.send({"key": key, "kind": "certify", "body": again})
        assert answer.status_code == 200 and answer.json()["body"] == first["body"]
    answer = api.send({"key": key, "kind": "certify", "body": dict(body, statement="other")})
    api.expect(answer, "key-reused", "/key", 409)


def test_a_document_stays_as_issued_whatever_is_put_right_after_it(works, tmp_path):
    api = works.api
    k, receipt = works.certify([works.reels[0]], address=ADDRESS)
    before = api.request("GET", "/api/certificates/%s.pdf" % k).content
    heat = api.get("/api/entries", kind="heat")["entries"][0]
    api.put("correct", {"entry": heat["key"], "reason": "misread", "body": dict(heat["body"], supplier="Southmark")})
    now = api.get("/api/certificates/" + k)
    assert now["document"] == receipt["body"]["document"]
    mark, = now["marks"]
    assert (mark["mark"], mark["text"], mark["about"]) == ("corrected", "misread", {"type": "entry", "code": str(heat["seq"])})
    assert now["state"] == "marked"
    assert api.request("GET", "/api/certificates/%s.pdf" % k).content == before
    # the certificate itself put right: issued again, with what the ledger says now, under its own new entry
    certify = api.get("/api/entries/%d" % receipt["seq"])
    again = api.put("correct", {"entry": certify["key"], "reason": "wrong statement", "body": {
        "certificate": k, "type": "3.1", "reels": [works.reels[0]], "statement": "right"}})
    now = api.get("/api/certificates/" + k)
    assert now["state"] == "stands" and now["marks"] == []
    assert now["document"]["entry"] == again["seq"] == now["proof"]["seq"] and now["document"]["of"] == receipt["seq"]
    assert "Southmark" in canonical(now["document"])
    assert api.request("GET", "/api/certificates/%s.pdf" % k).content != before


# --- the PDF ----------------------------------------------------------------------------------------

needs = {x: pytest.mark.skipif(not shutil.which(x), reason=x + " is not here") for x in ("qpdf", "pdftotext", "pdftoppm", "dmtxread")}


def figures(document):
    """What a reader of the paper has to find on it."""
    yield from (document["certificate"], document["issued"], document["statement"])
    for r in document["reels"]:
        yield from (r["reel"], r["construction"], "#%d" % r["entry"])
    for h in document["heats"]:
        yield from (h["heat"], h["supplier"], h["mill_certificate"], "#%d" % h["entry"])
        yield from ("%s %d.%04d" % (e, p // 10000, p % 10000) for e, p in h["analysis_ppm"].items())
    for t in document["tests"]:
        yield from (t["test"], t["lot"], "#%d" % t["entry"])
    yield from document["caution"]


@needs["qpdf"]
@needs["pdftotext"]
def test_the_paper_has_every_figure_with_a_way_to_its_entry(works, tmp_path):
    api = works.api
    works.spec()
    works.test(works.rope, 36_000)
    k, receipt = works.certify(works.reels[:2], address=ADDRESS, statement="as ordered", signed={"name": "Anna Berg"})
    answer = api.request("GET", "/api/certificates/%s.pdf" % k)
    assert answer.headers["Content-Type"] == "application/pdf"
    paper = tmp_path / "k.pdf"
    paper.write_bytes(answer.content)
    assert subprocess.run(["qpdf", "--check", paper], capture_output=True).returncode == 0
    text = " ".join(subprocess.run(["pdftotext", "-layout", paper, "-"], capture_output=True, text=True).stdout.split())
    missing = [x for x in figures(receipt["body"]["document"]) if " ".join(x.split()) not in text]
    assert missing == []
    for x in ("36 kN", "at least 35 kN", "1 kN", "Anna Berg", "EN 10204:2004", "40", "non-specific"):
        assert (x in text) == (x != "non-specific"), x
    proof = api.get("/api/certificates/" + k)["proof"]
    assert all(x in text for x in [proof["root"], proof["leaf"], *proof["proof"]])
    assert hashlib.sha256(canonical(receipt["body"]["document"]).encode()).hexdigest() in text
    plain = subprocess.run(["qpdf", "--qdf", "--object-streams=disable", paper, "-"], capture_output=True).stdout.decode("latin-1")
    links = set(re.findall(r"/URI \((.*?)\)", plain))
    seqs = {int(x) for x in re.findall(r"#(\d+)", text)} - {0}
    assert {"%sledger.html?seq=%d" % (ADDRESS, x) for x in seqs} <= links


@needs["pdftoppm"]
@needs["dmtxread"]
@pytest.mark.parametrize("address", [ADDRESS, None])
def test_the_code_leads_back(works, tmp_path, address):
    k, _ = works.certify([works.reels[0]], **({"address": address} if address else {}))
    paper = tmp_path / "k.pdf"
    paper.write_bytes(works.api.request("GET", "/api/certificates/%s.pdf" % k).content)
    subprocess.run(["pdftoppm", "-r", "150", "-f", "1", "-l", "1", "-png", paper, tmp_path / "page"], check=True)
    page, = tmp_path.glob("page*.png")
    read = subprocess.run(["dmtxread", "-N1", "-m5000", page], capture_output=True, text=True).stdout.strip()
    assert read == ("%scertificate.html?c=%s" % (address, k) if address else "certificate:%s" % k)


CLOCK = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <sys/time.h>
#include <time.h>
#define LATER (11 * 365 * 86400L)
int clock_gettime(clockid_t id, struct timespec *ts)
{
        int rc = ((int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime"))(id, ts);
        if (id == CLOCK_REALTIME)
                ts->tv_sec += LATER;
        return rc;
}
int gettimeofday(struct timeval *tv, void *tz)
{
        struct timespec ts;
        (void)tz;
        clock_gettime(CLOCK_REALTIME, &ts);
        tv->tv_sec = ts.tv_sec;
        tv->tv_usec = ts.tv_nsec / 1000;
        return 0;
}
time_t time(time_t *out)
{
        struct timespec ts;
        clock_gettime(CLOCK_REALTIME, &ts);
        if (out)
                *out = ts.tv_sec;
        return ts.tv_sec;
}
"""


def later(folder):
    """A command in front of another that then believes it is eleven years later; [] where there is no compiler."""
    if not shutil.which("cc"):
        return []
    source, library = folder / "clock.c", folder / "clock.so"
    source.write_text(CLOCK)
    subprocess.run(["cc", "-shared", "-fPIC", "-o", library, source, "-ldl"], check=True)
    command = ["env", "ASAN_OPTIONS=verify_asan_link_order=0:detect_leaks=0", "LD_PRELOAD=%s" % library]
    year = subprocess.run([*command, sys.executable, "-c", "import time; print(time.gmtime().tm_year)"], capture_output=True, text=True)
    assert int(year.stdout) >= time.gmtime().tm_year + 10
    return command


def test_the_paper_is_the_same_to_the_byte_whenever_and_however_it_is_made(works, server_on, tmp_path):
    api = works.api
    k, receipt = works.certify([works.reels[0]], statement="as ordered")
    first = api.request("GET", "/api/certificates/%s.pdf" % k).content
    # later, after other entries, on another day, by the program, elsewhere in the world
    for _ in range(9):
        works.bench.rod(1000)
    assert api.request("GET", "/api/certificates/%s.pdf" % k).content == first
    ledger = tmp_path / "fresh.kw"
    for before in (["env", "TZ=Pacific/Auckland", "LC_ALL=C"], later(tmp_path)):
        out = tmp_path / "again.pdf"
        subprocess.run([*before, KINWIRE, "certificate", "--ledger", ledger, k, "-o", out], check=True)
        assert hashlib.sha256(out.read_bytes()).hexdigest() == hashlib.sha256(first).hexdigest()
    # and of a ledger that was rebuilt by taking the entries as they were hashed
    copy = tmp_path / "copy.kw"
    assert run_cli("backup", "--ledger", ledger, copy).returncode == 0
    out = tmp_path / "copied.pdf"
    assert run_cli("certificate", "--ledger", copy, k.lower(), "-o", out).returncode == 0
    assert out.read_bytes() == first
    assert run_cli("certificate", "--ledger", copy, "NONE", "-o", out).returncode == 1
    assert run_cli("certificate", "--ledger", copy).returncode == 2
    assert run_cli("certificate", "--ledger", tmp_path / "none.kw", k, "-o", out).returncode == 4


def test_the_proof_on_it_is_checked_by_an_independent_reader(works):
    api = works.api
    k, receipt = works.certify([works.reels[0]])
    works.bench.rod(10)
    answer = api.get("/api/certificates/" + k)
    proof = answer["proof"]
    assert proof["seq"] == proof["size"] == receipt["seq"] and proof["root"] == receipt["head"]
    leaf = api.get("/api/entries/%d" % receipt["seq"])["leaf"]
    assert leaf_hash(leaf.encode()).hex() == proof["leaf"]
    assert included(bytes.fromhex(proof["leaf"]), proof["seq"] - 1, proof["size"],
                    [bytes.fromhex(x) for x in proof["proof"]], bytes.fromhex(proof["root"]))


def test_many_bobbins_stay_within_bounds(fresh):
    """A rope of 300 bobbins of 30 heats, cut to 12 reels: the document is some tens of kilobytes, not as many as bobbins."""
    from support import Bench
    bench = Bench(fresh)
    rods = [bench.rod(20_000) for _ in range(30)]
    bobbins = [b for rod in rods for b in bench.wind([rod], [2_000] * 10)]
    rope, reels = bench.code("RP"), [bench.code("RL") for _ in range(12)]
    lines = [{"line": str(i + 1), "feeds": [{"lot": b} for b in bobbins[i::60]]} for i in range(60)]
    fresh.put("run", {"run": bench.code("CL"), "process": "close", "machine": "M", "lines": lines,
                      "packages": [{"lot": rope, "kind": "rope", "length_mm": 9_000}]})
    fresh.put("run", {"run": bench.code("CU"), "process": "cut", "machine": "M", "lines": [{"line": "1", "feeds": [{"lot": rope}]}],
                      "packages": [{"lot": r, "kind": "reel", "length_mm": 750} for r in reels]})
    receipt = fresh.put("certify", {"certificate": "K-300", "type": "3.1", "reels": reels})
    document = canonical(receipt["body"]["document"])
    assert len(receipt["body"]["document"]["heats"]) == 30
    assert len(document) < 100_000, len(document)
    assert fresh.request("GET", "/api/certificates/K-300.pdf").status_code == 200


# --- marks ------------------------------------------------------------------------------------------


def state_everywhere(api, k, reel):
    """As the certificate, its list and its reel's page have it: the same."""
    one = api.get("/api/certificates/" + k)
    listed, = [c for c in api.get("/api/certificates")["certificates"] if c["certificate"] == k]
    on_lot, = [c for c in api.lot(reel)["certificates"] if c["certificate"] == k]
    marked = [c["certificate"] for c in api.get("/api/certificates", state="marked")["certificates"]]
    found, = [x for x in api.get("/api/find", q=k)["found"] if x["code"] == k and x["type"] == "certificate"]
    assert one["state"] == listed["state"] == on_lot["state"] == found["state"]
    assert one["marks"] == listed["marks"] == on_lot["marks"]
    assert (k in marked) == (one["state"] == "marked")
    overtaken = [g["code"] for g in api.get("/api/gaps", kind="overtaken")["gaps"]]
    assert sorted(overtaken) == sorted(marked), "what is marked is a gap in the record, and nothing else is"
    return one["state"], [m["about"]["code"] for m in one["marks"] if m["cleared"] is None]


def test_a_recall_marks_a_certified_reel_until_it_is_cleared(works):
    api, bench = works.api, works.bench
    k, _ = works.certify([works.reels[0]])
    api.put("dispatch", {"consignment": bench.code("CN"), "consignee": "Harbour Cranes", "lots": [works.reels[0]]})
    assert state_everywhere(api, k, works.reels[0]) == ("stands", [])
    # a hold on metal of another reel does not reach it; one on its wire does, though that is used up
    other, first = bench.code("HD"), bench.code("HD")
    api.put("hold", {"hold": other, "reason": "bent flange", "lots": [{"lot": works.reels[1]}]})
    assert state_everywhere(api, k, works.reels[0]) == ("stands", [])
    api.refuse("clear", {"certificate": k, "reason": "r"}, "not-open", "/body/certificate", 409)
    api.put("hold", {"hold": first, "reason": "soft wire", "lots": [{"lot": works.wires[0]}]})
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [first])
    second = bench.code("HD")
    head = api.get("/api/ledger/head")
    api.put("hold", {"hold": second, "reason": "letter about the heat", "lots": [{"lot": works.reels[1]}],
                     "trace": {"origin": "heat:" + works.heats[0], "direction": "forward", **head}})
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [first, second])
    api.refuse("clear", {"certificate": k, "reason": "r", "holds": [other]}, "not-open", "/body/holds/0", 409)
    seq = api.put("clear", {"certificate": k, "reason": "sample of the reel is sound", "holds": [first]})["seq"]
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [second])
    one = api.get("/api/certificates/" + k)
    assert [m["cleared"] for m in one["marks"]] == [seq, None]
    assert [(c["reason"], c["by"], c["holds"]) for c in one["cleared"]] == [("sample of the reel is sound", "open", [first])]
    # what was asked for stays, whatever becomes of the metal; any other goes with its release
    api.put("release", {"hold": second, "disposition": "release", "reason": "the letter was about another heat"})
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [second])
    api.put("clear", {"certificate": k, "reason": "the letter was about another heat"})
    assert state_everywhere(api, k, works.reels[0]) == ("stands", [])
    third = bench.code("HD")
    api.put("hold", {"hold": third, "reason": "wrong bay", "lots": [{"lot": works.wires[1]}]})
    assert state_everywhere(api, k, works.reels[0])[0] == "marked"
    api.put("release", {"hold": third, "disposition": "release", "reason": "right bay"})
    assert state_everywhere(api, k, works.reels[0])[0] == "stands"
    api.put("hold", {"hold": bench.code("HD"), "reason": "again", "lots": [{"lot": works.rope}]})
    api.put("withdraw", {"certificate": k, "reason": "recalled"})
    assert state_everywhere(api, k, works.reels[0])[0] == "withdrawn"
    api.refuse("clear", {"certificate": k, "reason": "r"}, "not-open", "/body/certificate", 409)
    assert api.get("/api/certificates/" + k)["withdrawn"]["reason"] == "recalled"


@pytest.mark.parametrize("disposition", ["concession", "rework", "scrap"])
def test_what_was_not_released_as_sound_still_marks(works, disposition):
    api, hold = works.api, works.bench.code("HD")
    k, _ = works.certify([works.reels[0]])
    api.put("hold", {"hold": hold, "reason": "kinked", "lots": [{"lot": works.reels[0]}]})
    api.put("release", {"hold": hold, "disposition": disposition, "reason": "r"})
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [hold])
    api.put("clear", {"certificate": k, "reason": "only the flange"})
    assert state_everywhere(api, k, works.reels[0]) == ("stands", [])


def test_to_the_kin(works):
    """A question to the kin reaches the certificates of all that is made of the heats of what was asked about."""
    api, hold = works.api, works.bench.code("HD")
    other = Works(api, works.bench)
    k, _ = works.certify([works.reels[0]])
    aside, _ = other.certify([other.reels[0]])
    api.put("hold", {"hold": hold, "reason": "a kinked reel", "lots": [{"lot": works.reels[1]}],
                     "trace": {"origin": "lot:" + works.reels[1], "direction": "forward", **api.get("/api/ledger/head")}})
    assert state_everywhere(api, k, works.reels[0])[0] == "stands"
    again = works.bench.code("HD")
    api.put("hold", {"hold": again, "reason": "its heats", "lots": [{"lot": works.reels[1]}],
                     "trace": {"origin": "lot:" + works.reels[1], "direction": "kin", **api.get("/api/ledger/head")}})
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [again])
    assert state_everywhere(api, aside, other.reels[0])[0] == "stands"


def test_a_test_that_fails_afterwards_marks(works):
    api = works.api
    works.spec()
    works.test(works.rope, 36_000)
    k, _ = works.certify([works.reels[0]])
    failed = works.test(works.reels[0], 30_000)
    assert state_everywhere(api, k, works.reels[0]) == ("marked", [failed])
    works.test(works.reels[0], 36_500)
    assert state_everywhere(api, k, works.reels[0])[0] == "stands"


def test_reissue_refers_to_what_it_replaces(works):
    api, bench, reel = works.api, works.bench, works.reels[0]
    k, _ = works.certify([reel])
    api.refuse("certify", {"certificate": "X", "type": "3.1", "reels": [reel]}, "not-complete", "/body/reels/0", 409)
    assert works.missing(reel) == ["certified"]
    api.refuse("certify", {"certificate": "X", "type": "3.1", "reels": [reel], "replaces": k}, "not-complete", "/body/replaces", 409)
    api.refuse("certify", {"certificate": "X", "type": "3.1", "reels": [reel], "replaces": "NONE"}, "unknown-certificate",
               "/body/replaces", 422)
    hold = bench.code("HD")
    api.put("hold", {"hold": hold, "reason": "letter", "lots": [{"lot": works.wires[0]}]})
    assert works.missing(reel) == ["overtaken"]
    assert works.missing(reel, replaces=k) == []
    new, receipt = works.certify([reel], replaces=k)
    assert receipt["body"]["document"]["replaces"] == k
    old, now = api.get("/api/certificates/" + k), api.get("/api/certificates/" + new)
    assert (old["state"], old["replaced_by"], now["replaces"]) == ("replaced", new, k)
    assert now["state"] == "stands"  # the hold was there before it
    api.refuse("certify", {"certificate": "X", "type": "3.1", "reels": [reel], "replaces": k}, "not-open", "/body/replaces", 409)
    assert api.lot(reel)["state"] == "in-stock"
    assert api.trace("lot:" + reel)["lots"][0]["certificates"] == [new]
    # one that was withdrawn can be replaced too
    api.put("withdraw", {"certificate": new, "reason": "wrong customer"})
    third, _ = works.certify([reel], replaces=new)
    assert api.get("/api/certificates/" + new)["replaced_by"] == third
    assert api.get("/api/certificates/" + new)["state"] == "withdrawn"


def test_who_signs(works):
    _, receipt = works.certify([works.reels[0]], signed={"name": "open"})
    assert [f["code"] for f in receipt["findings"]] == ["signer-made-it"]
    _, receipt = works.certify([works.reels[1]], type="3.2")
    assert [f["code"] for f in receipt["findings"]] == ["countersignature"]
    assert receipt["body"]["document"]["signed"] == {"name": "open"}
    _, receipt = works.certify([works.reels[2]], type="3.2", countersigned={"name": "C. Dunn", "for": "Harbour Cranes"})
    assert receipt["findings"] == [] and receipt["body"]["document"]["countersigned"]["name"] == "C. Dunn"


def test_certificates_in_pages(works):
    codes = [works.certify([r])[0] for r in works.reels]
    got, before = [], 0
    while before is not None:
        page = works.api.get("/api/certificates", limit=3, before=before)
        got += [c["certificate"] for c in page["certificates"]]
        before = page["next"]
    assert got == codes[::-1]
    named = works.api.get("/api/certificates", codes="%s,%s" % (codes[2].lower(), codes[0]))["certificates"]
    assert [c["certificate"] for c in named] == [codes[2], codes[0]]
    works.api.get("/api/certificates", codes="NONE", status=404)


def test_a_certificate_recorded_without_a_document_has_no_paper(server_on, tmp_path):
    """A ledger made before documents were kept: its certificates open, and say so."""
    ledger = tmp_path / "old.kw"
    shutil.copy(ROOT / "tests" / "ledgers" / "level-9.kw", ledger)
    api = server_on(ledger).api
    one = api.get("/api/certificates/K-1")
    assert one["document"] is None and one["state"] == "stands"
    problem = api.expect(api.request("GET", "/api/certificates/K-1.pdf"), "not-found", status=404)
    assert "without a document" in problem["detail"]


def test_a_reels_label_warns_of_a_hold_and_of_what_overtook_its_certificate(works):
    api, (reel, other) = works.api, works.reels[:2]

    def label(lot):
        svg = api.get("/api/labels", lots=lot, size="100x150").text
        return " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", svg))

    k, _ = works.certify([reel])
    assert "CERTIFICATE" not in label(reel) and "HOLD" not in label(reel)
    hold = works.bench.code("HD")
    api.put("hold", {"hold": hold, "reason": "a letter", "lots": [{"lot": reel, "from_mm": 0, "to_mm": 1000}]})
    assert "ON HOLD %s. CERTIFICATE %s OVERTAKEN" % (hold, k) in label(reel)
    assert "HOLD" not in label(other)
    api.put("withdraw", {"certificate": k, "reason": "it is scrap"})
    assert "CERTIFICATE %s WITHDRAWN" % k in label(reel)
    api.put("release", {"hold": hold, "disposition": "release", "reason": "found good", "lots": [{"lot": reel}]})
    assert "HOLD" not in label(reel)
    again = works.bench.code("K")
    api.put("certify", {"certificate": again, "type": "3.1", "reels": [reel], "replaces": k}, at=AT)
    assert "CERTIFICATE" not in label(reel), "the one that took its place stands"
    # what went into it is not the reel's own paper, but its own hold is said on a bobbin too
    held = works.bench.code("HD")
    api.put("hold", {"hold": held, "reason": "a letter", "lots": [{"lot": works.wires[0]}]})
    assert "ON HOLD %s" % held in label(works.wires[0])


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="no pdftotext")
def test_the_range_of_several_readings_is_said_in_words(works, tmp_path):
    t = works.bench.code("T")
    works.api.put("test", {"test": t, "lot": works.reels[0], "results": {"diameter_um": 7650, "diameter_range_um": 40}})
    k, _ = works.certify([works.reels[0]], tests=[t])
    pdf = tmp_path / "k.pdf"
    pdf.write_bytes(works.api.get("/api/certificates/%s.pdf" % k).content)
    text = " ".join(subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True).stdout.split())
    assert "diameter_range" not in text and "diameter, greatest" in text and "0.04 mm" in text
