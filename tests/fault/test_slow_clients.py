"""Clients that take their time: headers and bodies byte by byte, replies that nobody reads, silent connections by the hundred, and a
process that has no descriptors left. Others are answered meanwhile, the slow are cut at their deadline, and all is well afterwards."""
import json
import os
import re
import resource
import selectors
import socket
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from clients import Connection, heat
from conftest import LONG
from support import PATIENCE, ROOT, Server, eventually, run_cli

DEMO = ROOT / "demo-data" / "mill.ndjson"
MANY = 500 if LONG else 250
IDLE = 900 if LONG else 300
ROOM, OWN = 32, 64  # connections; descriptors that are kept back (server/http/descriptors.c)
MEANWHILE = 5  # probes answered at least while most of a crowd is still there: it holds nobody up


@pytest.fixture(autouse=True)
def descriptors():
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 4096), hard))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


class Crowd:
    """Connections that each send `start` and then, now and then, one byte more; none of them reads."""

    def __init__(self, url, n, start, byte=b"", addresses=1):
        where = urlsplit(url)
        self.byte, self.began, self.ends, self.refused = byte, time.monotonic(), [], 0
        self.selector = selectors.DefaultSelector()
        self.open = {}
        for i in range(n):
            s = socket.socket()
            s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            s.bind(("127.0.0.%d" % (1 + i % addresses), 0))
            s.settimeout(PATIENCE)
            try:
                s.connect((where.hostname, where.port))
                s.sendall(start)
            except OSError:
                self.refused += 1
                s.close()
                continue
            s.setblocking(False)
            self.open[s] = time.monotonic()

    def drip(self):
        """A byte each; those that were cut are taken out."""
        for s in list(self.open):
            try:
                if self.byte:
                    s.send(self.byte)
                if s.recv(1, socket.MSG_PEEK) == b"":
                    raise ConnectionResetError
            except BlockingIOError:
                pass
            except OSError:
                self.ends.append(time.monotonic() - self.open.pop(s))
                s.close()

    def close(self):
        for s in self.open:
            s.close()
        self.open = {}


def probe(url, times):
    t = time.monotonic()
    try:
        c = Connection(url)
        ok = c.ask("GET", "/healthz")[0] == 200
        c.close()
    except OSError:
        ok = False
    times.append((time.monotonic() - t, ok))


def rss(server):
    return int([x for x in Path("/proc/%d/status" % server.process.pid).read_text().splitlines() if x.startswith("VmRSS")][0].split()[1])


def fds(server):
    return len(os.listdir("/proc/%d/fd" % server.process.pid))


def besiege(s, crowd, seconds=PATIENCE, until_cut=True):
    """Probes until the crowd is cut, or for so long: ([(seconds, ok)], how many were answered while most of the crowd was there)."""
    times, meanwhile, many, began = [], 0, len(crowd.open), time.monotonic()
    while time.monotonic() - began < seconds and (crowd.open or not until_cut):
        crowd.drip()
        for _ in range(4):
            probe(s.url, times)
            if len(crowd.open) > many / 2:
                crowd.drip()
                meanwhile += times[-1][1] and len(crowd.open) > many / 2
            time.sleep(0.05)
    return times, meanwhile


def told(name, besieged, crowd, extra=""):
    times, meanwhile = besieged
    good = sum(ok for _, ok in times)
    print("\n%s: %d clients; others answered %d of %d (%d while most of them were there), worst %.0f ms; cut %d%s%s" % (
        name, len(crowd.ends) + len(crowd.open), good, len(times), meanwhile, max(t for t, _ in times) * 1000, len(crowd.ends),
        ", the last after %.1f s" % max(crowd.ends) if crowd.ends else "", extra))
    assert good >= 0.95 * len(times) and meanwhile >= MEANWHILE


GET = b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\nX: "
POST = b"POST /api/entries HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: 60000\r\n\r\n{"


@pytest.mark.parametrize("name,start,addresses", [("headers", GET, 1), ("headers from 250 addresses", GET, 250), ("body", POST, 1)])
def test_byte_by_byte(server_on, tmp_path, name, start, addresses):
    s = server_on(tmp_path / "a.kw")
    crowd = Crowd(s.url, MANY, start, b"a", addresses)
    told("dripping " + name, besiege(s, crowd), crowd)
    assert not crowd.open, "all are cut at their deadline"
    assert s.api.get("/healthz")["ok"] and s.stop() == 0


def test_nobody_reads_the_reply(server_on, tmp_path):
    ledger = tmp_path / "mill.kw"
    assert run_cli("load", "--ledger", ledger, DEMO).returncode == 0
    s = server_on(ledger)
    probe(s.url, [])
    before = rss(s)
    crowd = Crowd(s.url, 60, b"GET /api/trace?origin=heat:48504 HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    besieged = besiege(s, crowd, 6, until_cut=False)
    held = rss(s) - before
    told("unread replies", besieged, crowd, "; memory grew by %.1f MiB" % (held / 1024))
    assert held < 200 << 10
    crowd.close()
    assert s.api.get("/healthz")["ok"] and s.stop() == 0


def test_silent_connections(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw")
    probe(s.url, [])
    before, fds_before = rss(s), fds(s)
    crowd = Crowd(s.url, IDLE, b"")
    most = fds(s)
    told("silent", besiege(s, crowd), crowd, "; descriptors %d, then %d; memory grew by %.1f MiB" % (most, fds(s), (rss(s) - before) / 1024))
    assert not crowd.open, "all are cut at their deadline"
    assert eventually(lambda: fds(s) <= fds_before + 4)


def tight():
    resource.setrlimit(resource.RLIMIT_NOFILE, (ROOM + OWN, ROOM + OWN))


def connections(asker):
    return int(re.search(r"^kinwire_http_connections (\d+)", asker.text("GET", "/metrics")[1], re.M).group(1))


def test_few_descriptors(tmp_path):
    """Few for the whole process and a crowd that takes all it can get: kinwire's own are kept back, so that whoever is in is served,
    verifying included; the rest wait, the log is not flooded, and all is well when they have gone."""
    s = Server(tmp_path / "a.kw", before=tight)
    try:
        inside = Connection(s.url)
        before = inside.ask("POST", "/api/entries", json.dumps(heat()))[1]["seq"]
        crowd = Crowd(s.url, 200, GET)
        assert eventually(lambda: connections(inside) >= ROOM), "fewer are let in than there is room for"
        for n in range(1, 4):
            status, receipt = inside.ask("POST", "/api/entries", json.dumps(heat()))
            assert (status, receipt["seq"]) == (201, before + n)
            status, found = inside.ask("GET", "/api/ledger/verify")
            assert status == 200 and found["ok"], found
            assert connections(inside) <= ROOM
        crowd.close()
        inside.close()

        def answered():
            times = []
            probe(s.url, times)
            return times[0][1]
        assert eventually(answered), "nobody is answered after the crowd has gone"
        assert s.api.put("heat", {"heat": "H2", "supplier": "A", "grade": "B"})["seq"] == before + 4
        assert s.api.get("/api/ledger/verify")["ok"]
        s.process.terminate()
        said = s.process.stderr.read()
        assert s.process.wait(PATIENCE) == 0
        assert said.count("\n") < 100, said[-2000:]
    finally:
        if s.process.poll() is None:
            s.process.kill()
            s.process.wait()
