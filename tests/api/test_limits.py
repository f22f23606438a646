"""What one caller, and all of them together, may ask: rate, exports at once, free space; what is told of it in the log and /metrics."""
import json
import os
import re
import socket
import subprocess
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import requests

from people import Gatehouse
from support import KINWIRE, PATIENCE, ROOT, entry, eventually, run_cli

DEMO = Path(os.environ.get("KINWIRE_DEMO", ROOT / "demo-data" / "mill.ndjson"))


def figures(api):
    """{name with its labels: value}"""
    out = {}
    for line in api.get("/metrics").text.splitlines():
        if not line.startswith("#"):
            name, value = line.rsplit(" ", 1)
            out[name] = float(value)
    return out


def said(server):
    assert server.process.poll() is None
    server.process.terminate()
    text = server.process.stderr.read()
    server.process.wait(PATIENCE)
    return text


# --- rate ---------------------------------------------------------------------------------------


RATE = 2  # a second: few enough that even a slow machine asks more often


def test_a_caller_is_slowed_and_pages_are_not(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw", "--rate", str(RATE))
    got, waits = [], []
    began = time.monotonic()
    while len(got) < 30 or (429 not in got and len(got) < 3000):
        answer = s.api.request("GET", "/api/me")
        got.append(answer.status_code)
        if answer.status_code == 429:
            assert answer.json()["type"].endswith("/too-many")
            waits.append(int(answer.headers["Retry-After"]))
    took = time.monotonic() - began
    allowed = got.count(200)
    assert 2 * RATE <= allowed <= 2 * RATE + RATE * took + 1, (allowed, took)
    assert got[:2 * RATE] == [200] * (2 * RATE) and set(got) == {200, 429} and set(waits) == {1}
    for path in ("/", "/kinwire.css", "/frame.js", "/schema/openapi.yaml") * 10:
        assert s.api.session.get(s.url + path).status_code == 200
    # entry after entry, until one is refused for the rate: that one, and no other, is not there
    sent = []
    while 429 not in sent and len(sent) < 3000:
        n = len(sent)
        sent.append(s.api.request("POST", "/api/entries", json=entry("heat", {"heat": "H%d" % n, "supplier": "A", "grade": "B"})).status_code)
    assert set(sent[:-1]) <= {201} and sent[-1] == 429
    more = []

    def asked(path):
        answer = s.api.request("GET", path)
        more.append(answer.status_code)
        return answer if answer.status_code == 200 else None
    assert eventually(lambda: asked("/api/ledger/head")).json()["size"] == sent.count(201)
    text = eventually(lambda: asked("/metrics")).text
    limited = (got + sent + more).count(429)
    assert float(re.search(r'^kinwire_limited_total\{limit="rate"\} (\S+)', text, re.M)[1]) == limited


def test_without_a_rate_nobody_is_slowed(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw")
    assert {s.api.request("GET", "/api/me").status_code for _ in range(200)} == {200}


@pytest.mark.parametrize("args", [["--rate", "x"], ["--rate", "-1"], ["--rate", ""], ["--rate", "100001"], ["--free-space", "1e3"],
                                  ["--free-space", "-5"], ["--log", "loud"], ["--rate", " 5"], ["--rate", "9999999999999999999999"]])
def test_limits_that_are_none(tmp_path, args):
    done = run_cli("serve", "--ledger", tmp_path / "a.kw", "--listen", "127.0.0.1:0", "--open", *args)
    assert done.returncode == 2 and args[0] in done.stderr


# --- exports at once ----------------------------------------------------------------------------


class Slow:
    """Asks for a whole export and takes nothing of it."""

    def __init__(self, url):
        where = urlsplit(url)
        self.s = socket.socket()
        self.s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        self.s.settimeout(PATIENCE)
        self.s.connect((where.hostname, where.port))
        self.s.sendall(b"GET /api/export?origin=all&as=prov HTTP/1.1\r\nHost: %s\r\n\r\n" % where.netloc.encode())
        self.first = self.s.recv(64)

    def status(self):
        return int(self.first.split()[1])


def test_a_few_exports_at_once(server_on, tmp_path):
    ledger = tmp_path / "mill.kw"
    assert run_cli("load", "--ledger", ledger, DEMO).returncode == 0
    s = server_on(ledger)
    slow = [Slow(s.url) for _ in range(4)]
    assert [x.status() for x in slow] == [200] * 4
    answer = s.api.request("GET", "/api/export", params={"origin": "all", "as": "csv"})
    assert answer.status_code == 503 and answer.json()["type"].endswith("/busy") and int(answer.headers["Retry-After"]) >= 1
    assert s.api.trace("heat:48504")["count"] > 0, "questions go on"
    s.api.put("note", {"about": "machine:M", "text": "and so does recording"})
    f = figures(s.api)
    assert f["kinwire_heavy_open"] == 4 and f['kinwire_limited_total{limit="heavy"}'] == 1
    slow[0].s.close()
    assert eventually(lambda: s.api.request("GET", "/api/export", params={"origin": "heat:48504", "as": "csv"}).status_code == 200), \
        "a place is free when its client is gone"
    for x in slow[1:]:
        x.s.close()


# --- room on the disk ---------------------------------------------------------------------------


def test_below_the_floor_nothing_is_recorded_and_all_can_be_read(server_on, tmp_path):
    ledger = tmp_path / "a.kw"
    first = server_on(ledger)
    first.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    first.stop()
    s = server_on(ledger, "--free-space", str(1 << 24))
    for path in ("/api/entries", "/api/check"):
        answer = s.api.request("POST", path, json=entry("heat", {"heat": "H2", "supplier": "A", "grade": "B"}))
        s.api.expect(answer, "disk-full", status=507)
    assert s.api.get("/api/ledger/head")["size"] == 1 and s.api.trace("heat:H1") and s.api.get("/healthz")["ok"]
    f = figures(s.api)
    assert f["kinwire_read_only"] == 1 and f["kinwire_disk_floor_bytes"] == (1 << 24) << 20
    assert 0 < f["kinwire_disk_free_bytes"] < f["kinwire_disk_floor_bytes"]
    assert f['kinwire_limited_total{limit="room"}'] == 2 and f['kinwire_refused_total{type="disk-full"}'] == 2
    text = said(s)
    assert text.count("nothing is recorded") == 1, text


# --- what is told -------------------------------------------------------------------------------


def test_a_line_a_request(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw", "--log", "request")
    s.api.put("note", {"about": "machine:M", "text": "not for the log"})
    s.api.request("GET", "/api/lots/NONE%0Akinwire serve: forged")
    s.api.get("/api/find", q="x")
    lines = said(s).splitlines()
    asked = [x for x in lines if re.fullmatch(r"kinwire serve: (GET|POST) /\S* \d{3} \d+ ms by open", x)]
    assert len(asked) == 3, lines
    assert not any(x.startswith("kinwire serve: forged") for x in lines)
    assert not any("not for the log" in x for x in lines)


def test_the_journal_is_told_the_level(tmp_path):
    here = tmp_path / "journal"
    with open(here, "w") as out:
        st = os.fstat(out.fileno())
        env = dict(os.environ, JOURNAL_STREAM="%d:%d" % (st.st_dev, st.st_ino))
        p = subprocess.Popen([KINWIRE, "serve", "--ledger", str(tmp_path / "a.kw"), "--listen", "127.0.0.1:0", "--open", "--free-space",
                              str(1 << 24)], stdout=subprocess.PIPE, stderr=out, env=env, text=True)
        url = re.search(r"http://\S+", p.stdout.readline()).group(0)
        assert requests.post(url + "api/entries", json=entry("heat", {"heat": "H", "supplier": "A", "grade": "B"})).status_code == 507
        p.terminate()
        p.wait(PATIENCE)
        p.stdout.close()
    assert re.search(r"^<3>\d+ MiB are free", here.read_text(), re.M), here.read_text()


def test_figures_worth_an_alarm(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw")
    assert figures(s.api)["kinwire_head_age_seconds"] == -1
    began = time.monotonic()
    for i in range(30):
        s.api.put("heat", {"heat": "H%d" % i, "supplier": "A", "grade": "B"})
    recorded = time.monotonic() - began
    f = figures(s.api)
    assert 0 <= f["kinwire_head_age_seconds"] < time.monotonic() - began + 1 and f["kinwire_ledger_size"] == 30
    assert f["kinwire_log_bytes"] > 4096 and f["kinwire_disk_free_bytes"] > 0 and f["kinwire_read_only"] == 0
    steps = [(float(re.search(r'le="(.*)"', n)[1].replace("+Inf", "inf")), v) for n, v in f.items() if n.startswith("kinwire_commit_seconds_bucket")]
    assert len(steps) == 12 and [x for x, _ in steps] == sorted(x for x, _ in steps) and steps[-1][0] == float("inf")
    assert [v for _, v in steps] == sorted(v for _, v in steps), "each bucket holds the smaller ones"
    assert steps[-1][1] == f["kinwire_commit_seconds_count"] == f["kinwire_commits_total"] == 30
    assert 0 < f["kinwire_commit_seconds_sum"] < recorded and f["kinwire_commit_seconds_waiting"] == 0
    assert f["kinwire_http_connections"] >= 1 and f["kinwire_queue"] == 0
    names = re.findall(r"^# TYPE (\S+) (\S+)$", s.api.get("/metrics").text, re.M)
    assert len(names) == len(set(n for n, _ in names)), "each is told of once"
    helps = re.findall(r"^# HELP (\S+) \S.*\.$", s.api.get("/metrics").text, re.M)
    assert set(helps) == {n for n, _ in names}


def test_sign_ins_are_counted_and_told_in_one_line_each(tmp_path):
    g = Gatehouse(tmp_path, "--log", "info")
    try:
        g.person("OP-1", "operator")
        before = figures(g.admin)
        names = ("OP-1", "OP-9\nkinwire serve: forged", "\x1b[2J", "OP-1")
        for name in names:
            assert g.nobody().request("POST", "/api/session", json={"person": name, "password": "wrong horse wrong"}).status_code in (400, 401, 422)
        assert g.caller("OP-1")
        after = figures(g.admin)
        signed, refused = ('kinwire_sign_ins_total{outcome="%s"}' % x for x in ("signed-in", "refused"))
        assert after[signed] > before[signed] and after[refused] >= before[refused] + 2, (before, after)
        secrets = [w for w in g.passwords.values()] + ["wrong horse wrong", g.code]
        text = said(g.server)
        lines = text.splitlines()
        assert sum(x.startswith("kinwire serve: refused: OP-1 at ") for x in lines) == 2, text
        assert any(x.startswith("kinwire serve: sign-in: OP-1 at ") for x in lines), text
        assert not any(x.startswith("kinwire serve: forged") for x in lines) and "\x1b" not in text, text
        assert not any(word in text for word in secrets), "a secret is in the log"
    finally:
        g.server.stop(9)
