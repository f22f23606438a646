"""A disk that stalls, and one that can only be read: what waits is bounded, questions are answered, nobody is told a lie, and recording
goes on when the disk does, or when the daemon is started again."""
import json
import os
import threading
import time
from http.client import HTTPException

import pytest

from clients import Clients, Connection, heat, hold
from conftest import LONG
from support import PATIENCE, eventually, run_cli

QUEUE = 1024
STALL = 30 if LONG else 6


@pytest.fixture
def on_failing_disk(server_on, tmp_path, monkeypatch):
    """(server, switch): a server on a disk with a fault while the file is there."""

    def start(fault):
        switch = tmp_path / "fault"
        with monkeypatch.context() as m:
            m.setenv("LD_PRELOAD", os.environ["KW_FAILING_DISK"])
            m.setenv(fault, str(switch))
            m.setenv("ASAN_OPTIONS", "verify_asan_link_order=0")
            return server_on(tmp_path / "mill.kw"), switch

    return start


def percentile(times, p):
    return sorted(times)[min(len(times) - 1, int(len(times) * p))]


def figure(api, name):
    for line in api.get("/metrics").text.splitlines():
        if line.startswith(name + " "):
            return float(line.split()[1])
    raise KeyError(name)


class Crowd:
    """So many connections, each with one entry that waits for its answer."""

    def __init__(self, url, n):
        self.entries, self.answers, self.lock = {}, [], threading.Lock()
        self.threads = [threading.Thread(target=self.one, args=(url,)) for _ in range(n)]
        for t in self.threads:
            t.start()

    def one(self, url):
        e = heat()
        text = json.dumps(e)
        with self.lock:
            self.entries[e["key"]] = text
        answer = None
        for _ in range(3):  # one that was cut, since it was slow to send, comes again
            try:
                answer = Connection(url, timeout=STALL + PATIENCE).ask("POST", "/api/entries", text)
                break
            except (OSError, HTTPException):
                pass
        with self.lock:
            self.answers.append((e["key"], answer))

    def join(self):
        for t in self.threads:
            t.join()


def recorded(crowd):
    """{key: seq}"""
    return {k: a[1]["seq"] for k, a in crowd.answers if a and a[0] in (200, 201)}


def test_a_stalled_disk(on_failing_disk):
    s, switch = on_failing_disk("KW_SYNC_STALLS")
    first = Clients(s, 4).start().recorded(20).stop()
    switch.touch()
    crowd = Crowd(s.url, 300)
    gets, began = [], time.monotonic()
    waits = most = 0
    while time.monotonic() - began < STALL or (time.monotonic() - began < PATIENCE and (waits < 1 or most < 1 or len(gets) <= 20)):
        t = time.monotonic()
        assert s.api.get("/api/ledger/head")["size"] >= 0
        gets.append(time.monotonic() - t)
        waits = max(waits, figure(s.api, "kinwire_commit_seconds_waiting"))
        most = max(most, figure(s.api, "kinwire_queue"))
        time.sleep(0.02)
    assert not crowd.answers, "answered while nothing could be kept: %r" % crowd.answers[:1]
    assert waits >= 1 and 0 < most <= QUEUE, (waits, most)
    switch.unlink()
    crowd.join()
    acknowledged = recorded(crowd)
    assert len(acknowledged) == 300
    hold(s.api, {**first.acknowledged(), **acknowledged}, {**first.entries, **crowd.entries})
    print("\nstalled %d s: %d waited (most in the queue %d, bound %d), all recorded afterwards, 0 lost; GET meanwhile p99 %.0f ms, "
          "worst %.0f ms of %d" % (STALL, len(acknowledged), most, QUEUE, percentile(gets, 0.99) * 1000, max(gets) * 1000, len(gets)))
    assert len(gets) > 20, "questions wait for the disk"
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", s.ledger).returncode == 0


def test_more_than_the_queue_holds(on_failing_disk):
    """One entry a line would be one job; here each connection is one, and there are fewer of them than the queue is long. So the bound is
    seen by the connections: beyond them nobody waits, and the server answers on when they are gone."""
    s, switch = on_failing_disk("KW_SYNC_STALLS")
    switch.touch()
    if LONG:  # 1,200 take every connection there is: nobody else can ask
        crowd, most = Crowd(s.url, 1200), 0
        time.sleep(3)
    else:
        figure(s.api, "kinwire_queue")
        crowd = Crowd(s.url, 950)
        assert eventually(lambda: figure(s.api, "kinwire_http_connections") >= 950), "they are never all there"
        most = figure(s.api, "kinwire_queue")
    switch.unlink()
    crowd.join()
    kinds = [a[0] if a else None for _, a in crowd.answers]
    assert set(kinds) <= {200, 201, 503, None}, set(kinds)
    acknowledged = recorded(crowd)
    hold(s.api, acknowledged, crowd.entries)
    print("\nqueue: %d at once, waiting %d (0: not asked); %d recorded, %d told to come again, %d without a connection; 0 lost" % (
        len(kinds), most, len(acknowledged), kinds.count(503), kinds.count(None)))
    assert most <= QUEUE and len(acknowledged) > 500
    assert s.api.get("/healthz")["ok"] and s.stop() == 0


def test_a_disk_that_can_only_be_read(on_failing_disk, server_on):
    s, switch = on_failing_disk("KW_DISK_READS")
    clients = Clients(s, 8).start().recorded(50)
    switch.touch()
    clients.join()  # each goes on until it is refused
    before = clients.acknowledged()
    assert before and {a.status for a in clients.refused()} <= {500, 503}, {a.status for a in clients.refused()}
    assert s.process.wait(PATIENCE) == 70
    switch.unlink()
    again = server_on(s.ledger)
    there, _ = hold(again.api, before, clients.entries)
    print("\nread only: %d acknowledged, %d stored, 0 lost; %d refused; the daemon ended with 70" % (len(before), len(there), len(clients.refused())))
    again.api.put("note", {"about": "machine:M", "text": "again"})
    assert again.stop() == 0 and run_cli("verify", "--ledger", s.ledger).returncode == 0
