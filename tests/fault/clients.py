"""Many clients of one server at once, and the history of what they asked and were answered: the oracle of these tests.

A request without an answer is unknown: it may have been recorded or not.
"""
import http.client
import itertools
import json
import random
import threading
import time
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from rfc9162 import leaf_hash, root
from support import PATIENCE, entry, eventually

_codes = itertools.count(1)
JSON = {"Content-Type": "application/json"}


@dataclass
class Asked:
    """One request."""
    client: int
    what: str
    key: str
    sent: float
    answered: float = None
    status: int = None
    body: dict = field(default_factory=dict)


class Connection:
    """Kept open from request to request."""

    def __init__(self, url, timeout=PATIENCE):
        self.address = urlsplit(url).netloc
        self.timeout = timeout
        self.http = None

    def ask(self, method, path, body=None):
        """(status, what was answered), as text()."""
        status, text = self.text(method, path, body)
        return status, json.loads(text)

    def text(self, method, path, body=None):
        """(status, what was answered); OSError or HTTPException when there was no answer."""
        if not self.http:
            self.http = http.client.HTTPConnection(self.address, timeout=self.timeout)
        try:
            self.http.request(method, path, body, JSON if body else {})
            answer = self.http.getresponse()
            text = answer.read().decode()
        except (OSError, http.client.HTTPException):
            self.close()
            raise
        return answer.status, text

    def close(self):
        if self.http:
            self.http.close()
        self.http = None


def heat():
    return entry("heat", {"heat": "H-%d" % next(_codes), "supplier": "Northmark Steel", "grade": "C82D"})


class Clients:
    """`n` of them, each sending one entry after the other until stop(), or until the server is gone."""

    def __init__(self, server, n, reads=False):
        self.server, self.reads = server, reads
        self.history, self.entries = [], {}
        self.lock = threading.Lock()
        self.stopping = threading.Event()
        self.errors = []
        self.threads = [threading.Thread(target=self.work, args=(i,)) for i in range(n)]

    def start(self):
        for t in self.threads:
            t.start()
        return self

    def stop(self):
        self.stopping.set()
        return self.join()

    def join(self):
        for t in self.threads:
            t.join()
        assert not self.errors, self.errors[0]
        return self

    def work(self, i):
        connection = Connection(self.server.url)
        dice = random.Random(i)
        try:
            while not self.stopping.is_set():
                if not self.one(i, connection, dice):
                    break
        except Exception as e:  # noqa: BLE001 (told by join)
            self.errors.append(e)
        connection.close()

    def ask(self, i, connection, what, key, method, path, body=None):
        asked = Asked(i, what, key, time.monotonic())
        with self.lock:
            self.history.append(asked)
        try:
            asked.status, asked.body = connection.ask(method, path, body)
        except (OSError, http.client.HTTPException):
            return None
        asked.answered = time.monotonic()
        return asked

    def one(self, i, connection, dice):
        e = heat()
        text = json.dumps(e)
        with self.lock:
            self.entries[e["key"]] = text
        asked = self.ask(i, connection, "append", e["key"], "POST", "/api/entries", text)
        if not asked or asked.status != 201:
            return False
        if not self.reads:
            return True
        what = dice.randrange(4)
        if what == 0:
            own = self.ask(i, connection, "own", e["key"], "GET", "/api/entries/%d" % asked.body["seq"])
            assert own and own.body["key"] == e["key"], "what was acknowledged can't be read"
        elif what == 1:
            self.ask(i, connection, "again", e["key"], "POST", "/api/entries", text)
        else:
            self.ask(i, connection, "head", None, "GET", "/api/ledger/head")
        return True

    def recorded(self, n):
        """Wait until so many of them are acknowledged, or all clients have stopped."""
        eventually(lambda: len(self.acknowledged()) >= n or not any(t.is_alive() for t in self.threads))
        return self

    # --- what came of it ---

    def of(self, what):
        return [a for a in list(self.history) if a.what == what and a.answered is not None]

    def acknowledged(self):
        """{key: seq}"""
        return {a.key: a.body["seq"] for a in self.of("append") if a.status == 201}

    def unknown(self):
        """Keys of entries that nobody answered for."""
        return [a.key for a in self.history if a.what == "append" and a.answered is None]

    def refused(self):
        return [a for a in self.of("append") if a.status != 201]


def stored(api):
    """{key: seq}, and the leaves; numbers without a gap."""
    leaves = api.leaves()
    out = {}
    for i, text in enumerate(leaves):
        e = json.loads(text)
        assert e["seq"] == i + 1, "a gap before entry %d" % e["seq"]
        assert e["key"] not in out, "twice: " + e["key"]
        out[e["key"]] = e["seq"]
    return out, leaves


def hold(api, acknowledged, asked):
    """Acknowledged is a subset of stored, and stored of asked. The stored ones, and the leaves."""
    there, leaves = stored(api)
    lost = {k: s for k, s in acknowledged.items() if there.get(k) != s}
    assert not lost, "%d of %d acknowledged entries are lost, such as %s" % (len(lost), len(acknowledged), next(iter(lost.items())))
    strange = set(there) - set(asked)
    assert not strange, "nobody sent " + ", ".join(strange)
    return there, leaves


def roots(leaves, sizes):
    hashes = [leaf_hash(x.encode()) for x in leaves]
    return {n: root(hashes[:n]).hex() for n in sizes}
