"""Hours of a working day in one: steady writing and every kind of question, with rude clients in between. Memory and descriptors
stay flat, nothing is answered by a failure, and nothing is lost.

20 s in every run; KW_SOAK_MINUTES=30 makes it a soak. The load is steady, not the most that the server takes.
"""
import http.client
import itertools
import json
import os
import random
import socket
import statistics
import threading
import time
from collections import Counter
from urllib.parse import urlsplit

from clients import Connection
from random_mill import RandomMill
from support import PATIENCE, eventually, run_cli

SECONDS = int(float(os.environ.get("KW_SOAK_MINUTES", "0")) * 60) or 20
PAUSE = 0.02
LEDGER_KB = 8  # that memory may grow by for an entry: the genealogy in memory, and pages of the store kept at hand

NDJSON = {"Content-Type": "application/x-ndjson"}


class OwnCodes(RandomMill):
    """Mill after mill in one ledger: the codes of each carry its seed."""

    def code(self, prefix):
        return super().code("%s%d" % (prefix, self.seed))


def process(pid):
    """(resident kB, descriptors, threads)"""
    status = dict(x.split(":", 1) for x in open("/proc/%d/status" % pid).read().splitlines())
    return int(status["VmRSS"].split()[0]), len(os.listdir("/proc/%d/fd" % pid)), int(status["Threads"])


class Day:
    def __init__(self, server):
        self.server = server
        self.stopping = threading.Event()
        self.counts, self.errors = Counter(), []
        self.lots, self.heats = [], []
        self.acknowledged = {}
        self.lock = threading.Lock()
        self.seeds = itertools.count(1)

    def go(self, *works):
        def guarded(work):
            try:
                work()
            except Exception as e:  # noqa: BLE001 (told at the end)
                self.errors.append(repr(e))
        self.threads = [threading.Thread(target=guarded, args=(w,)) for w in works]
        for t in self.threads:
            t.start()

    def answered(self, what, status, said):
        with self.lock:
            self.counts[what, status] += 1
        if status not in (200, 201):
            self.errors.append("%s was answered %d: %s" % (what, status, said))

    def writer(self):
        connection = Connection(self.server.url)
        while not self.stopping.is_set():
            for e in OwnCodes(next(self.seeds)).entries:
                if self.stopping.is_set():
                    break
                status, body = connection.ask("POST", "/api/entries", json.dumps(e))
                self.answered("entry", status, body)
                if status == 201:
                    with self.lock:
                        self.acknowledged[e["key"]] = body["seq"]
                        if e["kind"] == "heat":
                            self.heats.append(e["body"]["heat"])
                        elif e["kind"] == "receive":
                            self.lots.append(e["body"]["lot"])
                time.sleep(PAUSE)
        connection.close()

    def asked(self, lot, heat):
        return ["/api/trace?origin=heat:%s" % heat, "/api/lots/%s" % lot, "/api/lots/%s/makeup" % lot, "/api/find?q=%s" % lot[:4],
                "/api/attention", "/api/holds", "/api/floor", "/api/trace?origin=lot:%s&direction=kin" % lot, "/api/ledger/head",
                "/api/entries?limit=20", "/api/export?origin=lot:%s&as=csv" % lot, "/api/export?origin=lot:%s&as=report" % lot,
                "/api/labels?lots=%s&size=100x60&as=pdf" % lot, "/metrics", "/recall.html"]

    def warm_up(self):
        """Each question once, since the first of a kind takes memory that the later ones don't: fonts, statements, connections."""
        self.server.api.put("heat", {"heat": "WARM-H", "supplier": "Northmark Steel", "grade": "C82D"})
        self.server.api.put("receive", {"lot": "WARM-L", "heat": "WARM-H", "diameter_um": 5500, "length_mm": 1000})
        for path in self.asked("WARM-L", "WARM-H") * 2:
            assert self.server.api.session.get(self.server.url + path, timeout=PATIENCE).status_code == 200, path

    def reader(self):
        dice, address = random.Random(3), urlsplit(self.server.url).netloc
        while not self.stopping.is_set():
            with self.lock:
                lot = dice.choice(self.lots[-200:]) if self.lots else None
                heat = dice.choice(self.heats[-50:]) if self.heats else None
            if not lot or not heat:
                time.sleep(0.1)
                continue
            connection = http.client.HTTPConnection(address, timeout=PATIENCE)
            for path in dice.sample(self.asked(lot, heat), 6):
                connection.request("GET", path)
                answer = connection.getresponse()
                said = answer.read()
                self.answered("question", answer.status, path if answer.status == 200 else said)
                time.sleep(PAUSE)
            connection.close()

    def rude(self):
        """Clients that hang up, say nothing, say nonsense, or stop in the middle."""
        address = urlsplit(self.server.url)
        while not self.stopping.is_set():
            held = []
            for what in (b"", b"GET / HTTP/1.1\r\n", b"\x16\x03\x01\x02\x00" * 20, b"GET /api/attention HTTP/1.1\r\nHost: %s\r\n\r\n"
                         % address.netloc.encode(), b"POST /api/entries HTTP/1.1\r\nHost: %s\r\nContent-Type: application/json\r\n"
                         b"Content-Length: 500\r\n\r\n{" % address.netloc.encode(), b"BREW / HTTP/1.1\r\n\r\n"):
                try:
                    s = socket.create_connection((address.hostname, address.port), timeout=5)
                    s.sendall(what)
                    held.append(s)
                except OSError:
                    pass
                with self.lock:
                    self.counts["rude", 0] += 1
            time.sleep(1)
            for s in held:
                s.close()


def slope(points):
    """Least squares, of (x, y)."""
    mx, my = statistics.mean(x for x, _ in points), statistics.mean(y for _, y in points)
    return sum((x - mx) * (y - my) for x, y in points) / sum((x - mx) ** 2 for x, _ in points)


def test_a_day(server_on, tmp_path):
    ledger = tmp_path / "soak.kw"
    s = server_on(ledger)
    day = Day(s)
    day.warm_up()
    day.go(day.writer, day.writer, day.reader, day.reader, day.rude)
    samples, start = [], time.monotonic()
    while time.monotonic() - start < SECONDS and not day.errors:
        time.sleep(min(5, SECONDS / 20))
        samples.append((time.monotonic() - start, len(day.acknowledged), *process(s.process.pid)))
    day.stopping.set()
    for t in day.threads:
        t.join()
    assert not day.errors, day.errors[:3]
    some = max(x[3] for x in samples[:max(1, len(samples) // 2)])  # with its clients
    eventually(lambda: process(s.process.pid)[1] <= some)
    rss, fds, threads = process(s.process.pid)
    half = [x for x in samples if x[0] > samples[-1][0] / 2]
    per_hour = slope([(x[0] / 3600, x[2]) for x in half])
    grown, entries = half[-1][2] - half[0][2], half[-1][1] - half[0][1]
    stored = {json.loads(x)["key"]: json.loads(x)["seq"] for x in s.api.leaves()}
    lost = [k for k, seq in day.acknowledged.items() if stored.get(k) != seq]
    print("\nsoak: %.1f min, %d entries, %d questions, %d rude clients; resident %d kB at the start of the second half, %d at its end "
          "(%.0f kB an hour at %.1f entries/s); descriptors %d to %d, at rest %d; threads %d to %d; 0 failures, %d lost"
          % (samples[-1][0] / 60, day.counts["entry", 201], day.counts["question", 200], day.counts["rude", 0], half[0][2], half[-1][2],
             per_hour, entries / (half[-1][0] - half[0][0]), min(x[3] for x in samples), max(x[3] for x in samples), fds,
             min(x[4] for x in samples), max(x[4] for x in samples), len(lost)))
    assert not lost
    assert grown < 16384 + LEDGER_KB * entries, "memory grew by %d kB with %d entries" % (grown, entries)
    assert fds <= some and threads <= max(x[4] for x in samples), "descriptors or threads were left behind"
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", ledger, timeout=600).returncode == 0
