"""A client that takes a whole export as slowly as it may, while others record: the write-ahead log stays bounded, recording goes on, and the
slow one is cut rather than the disk filled."""
import json
import socket
import threading
import time
from urllib.parse import urlsplit

from clients import Clients, hold
from conftest import LONG
from support import PATIENCE, ROOT, eventually, run_cli

DEMO = ROOT / "demo-data" / "mill.ndjson"
SECONDS = 90 if LONG else 20
BOUND = 64 << 20
SLACK = 15  # s: each export has five seconds even then, and some more go by until the log can be begun anew


class Slow(threading.Thread):
    """Takes a little now and then."""

    def __init__(self, url):
        super().__init__()
        where = urlsplit(url)
        self.s = socket.socket()
        self.s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        self.s.settimeout(5)
        self.s.connect((where.hostname, where.port))
        self.s.sendall(b"GET /api/export?origin=all&as=prov HTTP/1.1\r\nHost: %s\r\n\r\n" % where.netloc.encode())
        self.stopping = False
        self.start()

    def run(self):
        while not self.stopping:
            try:
                got = len(self.s.recv(2048))
            except socket.timeout:
                continue
            except OSError:
                got = 0
            if not got:
                break
            time.sleep(0.05)
        self.s.close()


class Bulk(threading.Thread):
    """Records entries of a thousand bytes, a hundred at a time: what makes a log long."""

    def __init__(self, s):
        super().__init__()
        self.s, self.stopping, self.keys, self.times, self.error = s, False, [], [], None
        self.start()

    def run(self):
        from support import Api, entry
        api = Api(self.s.url)
        try:
            while not self.stopping:
                some = [entry("note", {"about": "machine:M", "text": "x" * 1000}) for _ in range(100)]
                t = time.monotonic()
                api.load(some)
                self.times.append(time.monotonic() - t)
                self.keys += [e["key"] for e in some]
        except Exception as e:  # noqa: BLE001 (told by the test)
            self.error = e


def cut_of(s):
    return [float(x.split()[1]) for x in s.api.get("/metrics").text.splitlines() if x.startswith("kinwire_http_cut_total ")][0]


def fastest(sizes):
    """The most bytes that the log grew by in a second."""
    return max((b - a) / (t - s) for (s, a), (t, b) in zip(sizes, sizes[10:]))


def test_a_slow_export_does_not_keep_the_log(server_on, tmp_path):
    ledger, log = tmp_path / "mill.kw", tmp_path / "mill.kw-wal"
    assert run_cli("load", "--ledger", ledger, DEMO).returncode == 0
    there_before = {json.loads(x)["key"] for x in DEMO.read_text().splitlines()}
    s = server_on(ledger)
    slow, bulk, clients = Slow(s.url), Bulk(s), Clients(s, 4).start()
    sizes, began = [(0, 0)], time.monotonic()
    while sizes[-1][0] < SECONDS:
        time.sleep(0.1)
        sizes.append((time.monotonic() - began, log.stat().st_size))
    peak = max(size for _, size in sizes)
    rate = fastest(sizes)
    if peak > BOUND + (16 << 20):
        assert eventually(lambda: cut_of(s) == 1), "the log is long, and whoever reads slowly is not cut"
    bulk.stopping = slow.stopping = True
    clients.stop()
    bulk.join()
    slow.join()
    cut = cut_of(s)
    assert not bulk.error, bulk.error
    assert not clients.refused() and not clients.unknown(), "recording goes on"
    times = sorted(a.answered - a.sent for a in clients.of("append"))
    p99 = times[int(len(times) * 0.99)]
    hold(s.api, clients.acknowledged(), set(clients.entries) | set(bulk.keys) | there_before)
    print("\nlong reader: log at most %.1f MiB (views end from %d on), exports cut %d; %d entries meanwhile, answer p99 %.0f ms, "
          "worst %.0f ms" % (peak / 2**20, BOUND >> 20, cut, len(times) + len(bulk.keys), p99 * 1000, times[-1] * 1000))
    assert peak < BOUND + SLACK * rate, "%d, at %d bytes/s" % (peak, rate)
    assert len(times) > 20
    assert s.stop() == 0
