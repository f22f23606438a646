"""The program as the API tests see it: a live server on a ledger of its own, and answers held against schema/openapi.yaml."""
import contextlib
import itertools
import json
import os
import random
import re
import signal
import socket
import subprocess
import threading
import time
import uuid
from pathlib import Path
from urllib.parse import quote, urlsplit

import pytest
import requests

from contract import Contract

ROOT = Path(__file__).resolve().parent.parent.parent
KINWIRE = os.environ.get("KINWIRE", "kinwire")
EXAMPLES = ROOT / "tests" / "examples"

PATIENCE = 120  # seconds that a test waits for what takes one on a quiet machine

_keys = itertools.count(1)


def eventually(ask, within=PATIENCE):
    """What ask() gives once that is true; its last answer when it never was."""
    until = time.monotonic() + within
    while True:
        got = ask()
        if got or time.monotonic() > until:
            return got
        time.sleep(0.05)


def new_key():
    return str(uuid.UUID(int=0x6B77 << 112 | next(_keys), version=4))


def entry(kind, body, at=None, key=None):
    e = {"key": key or new_key(), "kind": kind, "body": body}
    if at:
        e["at"] = at
    return e


def own_port():
    """A port that stays free while a server is down: below those that the system gives to whoever asks for any."""
    least = int(Path("/proc/sys/net/ipv4/ip_local_port_range").read_text().split()[0])
    while True:
        port = random.randrange(20000, least if least > 21000 else 32768)
        with socket.socket() as s, contextlib.suppress(OSError):
            s.bind(("127.0.0.1", port))
            return port


def run_cli(*args, stdin=None, timeout=1200):
    return subprocess.run([KINWIRE, *map(str, args)], input=stdin, capture_output=True, text=True, timeout=timeout)


class Heard:
    """What a process says on a pipe, read while it is said, so that it never waits for room; read() gives all, once it has ended."""

    def __init__(self, pipe):
        self.pipe, self.parts, self.fresh = pipe, [], threading.Condition()
        self.thread = threading.Thread(target=self.hear, daemon=True)
        self.thread.start()

    def hear(self):
        for line in self.pipe:
            with self.fresh:
                self.parts.append(line)
                self.fresh.notify_all()
        with self.fresh:
            self.fresh.notify_all()

    def so_far(self):
        with self.fresh:
            return "".join(self.parts)

    def wait_for(self, words, within=PATIENCE):
        """Until they have been said."""
        with self.fresh:
            said = self.fresh.wait_for(lambda: words in "".join(self.parts) or not self.thread.is_alive(), within)
        assert said and words in self.so_far(), "%r was never said: %s" % (words, self.so_far())

    def read(self):
        self.thread.join()
        return self.so_far()

    def close(self):
        self.thread.join()
        self.pipe.close()


class Server:
    """`kinwire serve --open` (or without it) on a free port, until stop(); `before` is run in the process first."""

    def __init__(self, ledger, *args, open=True, before=None):
        self.ledger = Path(ledger)
        self.process = subprocess.Popen(
            [KINWIRE, "serve", "--ledger", str(ledger), "--listen", "127.0.0.1:0", *(["--open"] if open else ["--as-root"]), *args],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=before)
        line = self.process.stdout.readline()
        found = re.search(r"https?://127\.0\.0\.1:\d+", line)
        if not found:
            self.process.kill()
            pytest.fail("no address in %r; %s" % (line, self.process.stderr.read()))
        self.process.stderr = Heard(self.process.stderr)
        self.url = found.group(0)
        self.api = Api(self.url)

    def stop(self, how=signal.SIGTERM):
        """Exit status."""
        if self.process.poll() is None:
            self.process.send_signal(how)
            try:
                self.process.wait(PATIENCE)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
                pytest.fail("the server did not end within %d s of signal %d" % (PATIENCE, how))
        self.process.stdout.close()
        self.process.stderr.close()
        return self.process.returncode


class Api:
    """Requests whose answers must be what schema/openapi.yaml says."""

    contract = Contract(ROOT / "schema")

    def __init__(self, url):
        self.url = url
        self.session = requests.Session()

    def request(self, method, path, **how):
        query = how.pop("params", None)
        url = self.url + path
        answer = self.session.request(method, url, params=query, timeout=PATIENCE, **how)
        self.contract.hold(method, urlsplit(answer.url).path, answer)
        return answer

    def get(self, path, status=200, **query):
        answer = self.request("GET", path, params=query)
        assert answer.status_code == status, "%s %s: %d %s" % (path, query, answer.status_code, answer.text[:400])
        return answer.json() if "json" in answer.headers["Content-Type"] and "ndjson" not in answer.headers["Content-Type"] \
            else answer

    def lot(self, code, what=""):
        return self.get("/api/lots/%s%s" % (quote(code, safe=""), what))

    def trace(self, origin, direction="forward", **more):
        return self.get("/api/trace", origin=origin, direction=direction, **{k: v for k, v in more.items() if v is not None})

    def spans(self, origin, direction="forward", **more):
        return {x["lot"]: {"certain": x["certain"], "possible": x["possible"]}
                for x in self.trace(origin, direction, **more)["lots"]}

    def send(self, e):
        return self.request("POST", "/api/entries", json=e)

    def put(self, kind, body, at=None, key=None):
        """Recorded; the receipt."""
        answer = self.send(entry(kind, body, at, key))
        assert answer.status_code == 201, "%s %s: %s" % (kind, body, answer.text)
        return answer.json()

    def refuse(self, kind, body, slug, pointer=None, status=None, at=None, key=None):
        """Refused as said, and the ledger as before; the problem."""
        before = self.get("/api/ledger/head")
        answer = self.send(entry(kind, body, at, key))
        return self.expect(answer, slug, pointer, status, before)

    def expect(self, answer, slug, pointer=None, status=None, before=None):
        assert answer.status_code >= 400, "taken, though %s was expected: %s" % (slug, answer.text)
        problem = answer.json()
        got = problem["type"].rsplit("/", 1)[1]
        allowed = (slug,) if isinstance(slug, str) else slug
        assert got in allowed, "%s was expected: %s" % (slug, problem)
        assert problem["status"] == answer.status_code
        if pointer is not None:
            assert problem.get("pointer", "") == pointer, problem
        if status is not None:
            assert answer.status_code == status, problem
        if before is not None:
            assert self.unchanged(before), "a refused entry changed the ledger"
        return problem

    def unchanged(self, before):
        """Whether the ledger is as it was when its head was before."""
        return self.get("/api/ledger/head") == before

    def leaves(self):
        """The texts of all entries, fetched in pages."""
        got = []
        while True:
            page = self.get("/api/ledger/entries", after=len(got), limit=1000).content.decode().splitlines()
            got += page
            if len(page) < 1000:
                return got

    def load(self, entries):
        """All of them in one request; the receipts."""
        answer = self.request("POST", "/api/entries", data="".join(json.dumps(e) + "\n" for e in entries).encode(),
                              headers={"Content-Type": "application/x-ndjson"})
        assert answer.status_code == 201, answer.text
        return [json.loads(x) for x in answer.text.splitlines()]


@pytest.fixture
def server_on():
    """server_on(ledger): a live server; ended with the test."""
    running = []

    def start(ledger, *args, **how):
        running.append(Server(ledger, *args, **how))
        return running[-1]

    yield start
    for s in running:
        s.stop(signal.SIGKILL)


@contextlib.contextmanager
def serving(ledger):
    """A server that ends well, on a ledger that verifies afterwards."""
    s = Server(ledger)
    try:
        yield s
        code = s.stop()
        assert code == 0, "the server ended with status %d after SIGTERM" % code
        checked = run_cli("verify", "--ledger", s.ledger)
        assert checked.returncode == 0, checked.stdout + checked.stderr
    finally:
        s.stop(signal.SIGKILL)


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """One live server for the tests of a file; its ledger must verify when they are done."""
    with serving(tmp_path_factory.mktemp("mill") / "mill.kw") as s:
        yield s


@pytest.fixture
def fresh(server_on, tmp_path):
    """The API of a server with an empty ledger, for one test."""
    return server_on(tmp_path / "fresh.kw").api


@pytest.fixture(scope="module")
def api(server):
    return server.api


def examples():
    """[(name, entries, questions)]"""
    out = []
    for d in sorted(EXAMPLES.iterdir()):
        if (d / "traces.json").exists():
            entries = [json.loads(x) for x in (d / "entries.ndjson").read_text().splitlines()]
            out.append((d.name, entries, json.loads((d / "traces.json").read_text())))
    return out


# --- a small mill for tests that need something to work on --------------------------------------


class Bench:
    """Makes things with codes that no other test of the same server uses."""

    _number = itertools.count(1)

    def __init__(self, api):
        self.api = api

    def code(self, prefix):
        return "%s-%d" % (prefix, next(Bench._number))

    def heat(self):
        h = self.code("H")
        self.api.put("heat", {"heat": h, "supplier": "Northmark Steel", "grade": "C82D"})
        return h

    def rod(self, length_mm=1_000_000, heat=None, **more):
        lot = self.code("RC")
        self.api.put("receive", {"lot": lot, "heat": heat or self.heat(), "diameter_um": 5500, "length_mm": length_mm, **more})
        return lot

    def run_body(self, feeds, out=None, kind="bobbin", **more):
        """One line; `feeds` are lots or feeds, `out` lengths of packages."""
        feeds = [f if isinstance(f, dict) else {"lot": f} for f in feeds]
        packages = [p if isinstance(p, dict) else {"lot": self.code("BB"), "kind": kind, "length_mm": p}
                    for p in (out or [1_000_000])]
        return {"run": self.code("R"), "process": "wind", "machine": "WIND-1", "lines": [{"line": "1", "feeds": feeds}],
                "packages": packages, **more}

    def wind(self, feeds, out=None, **more):
        """The codes of the packages."""
        body = self.run_body(feeds, out, **more)
        self.api.put("run", body)
        return [p["lot"] for p in body["packages"] if "lot" in p]


@pytest.fixture
def bench(api):
    return Bench(api)
