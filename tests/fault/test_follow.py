"""kinwire follow: a second ledger elsewhere. It takes over when the first is lost; and a first that was altered is found out.

The other server of the second half is a few lines of Python that tell what a ledger never tells.
"""
import http.server
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import threading
import time
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

from clients import Clients, Connection, hold
from rfc9162 import leaf_hash, root
from support import EXAMPLES, KINWIRE, PATIENCE, Heard, entry, eventually, own_port, run_cli

MILL = [json.loads(x) for x in (EXAMPLES / "5-small-mill" / "entries.ndjson").read_text().splitlines()]
HEAD = re.compile(r"(\d+) entries, (\d+) of them new; head ([0-9a-f]{64})")


def once(copy, url, *more):
    return run_cli("follow", "--ledger", copy, "--once", *more, url)


def head_of(done):
    found = HEAD.search(done.stdout)
    assert done.returncode == 0 and found, "%d %s%s" % (done.returncode, done.stdout, done.stderr)
    return int(found.group(1)), int(found.group(2)), found.group(3)


def test_a_copy_is_the_ledger(server_on, tmp_path):
    """Same head, entries to the byte, receipts, traces; and it goes on from there."""
    first = server_on(tmp_path / "first.kw")
    copy = tmp_path / "copy.kw"
    assert head_of(once(copy, first.url))[:2] == (0, 0)
    first.api.load(MILL[:90])
    assert head_of(once(copy, first.url))[:2] == (90, 90)
    receipts = first.api.load(MILL[90:])
    size, new, at = head_of(once(copy, first.url))
    assert (size, new) == (len(MILL), len(MILL) - 90)
    assert {"size": size, "root": at} == first.api.get("/api/ledger/head")
    assert head_of(once(copy, first.url))[1] == 0
    assert run_cli("verify", "--ledger", copy).returncode == 0
    second = server_on(copy)
    assert second.api.leaves() == first.api.leaves()
    heat = next(x["body"]["heat"] for x in MILL if x["kind"] == "heat")
    assert second.api.trace("heat:" + heat) == first.api.trace("heat:" + heat)
    for sent, receipt in list(zip(MILL[90:], receipts))[::7]:
        again = second.api.send(sent)
        assert again.status_code == 200 and again.json() == receipt, "sent again, it is answered as it was there"


def test_corrections_come_along(server_on, tmp_path):
    first = server_on(tmp_path / "first.kw")
    first.api.load(MILL)
    sent = next(x for x in MILL if x["kind"] == "receive")
    first.api.put("correct", {"entry": sent["key"], "reason": "weighed again", "body": {**sent["body"], "location": "YARD"}})
    first.api.put("note", {"about": "lot:" + sent["body"]["lot"], "text": "Überprüft \u2028 \"so\" =1+1"})
    copy = tmp_path / "copy.kw"
    head_of(once(copy, first.url))
    second = server_on(copy)
    assert second.api.leaves() == first.api.leaves()
    assert second.api.lot(sent["body"]["lot"]) == first.api.lot(sent["body"]["lot"])


def test_pages_of_a_long_ledger(server_on, tmp_path):
    """More than two pages of a thousand; each page is under the head that was seen."""
    first = server_on(tmp_path / "first.kw")
    first.api.load([entry("heat", {"heat": "L-%d" % i, "supplier": "Northmark Steel", "grade": "C82D"}) for i in range(2345)])
    copy = tmp_path / "copy.kw"
    assert head_of(once(copy, first.url))[:2] == (2345, 2345)
    assert run_cli("verify", "--ledger", copy).returncode == 0


def test_the_first_is_lost_under_load(server_on, tmp_path):
    """The drill: killed and its file gone, the copy serves; what is missing is at most what was recorded since it last asked."""
    ledger, copy = tmp_path / "first.kw", tmp_path / "copy.kw"
    heads = tmp_path / "heads"
    first = server_on(ledger)
    follower = subprocess.Popen([KINWIRE, "follow", "--ledger", str(copy), "--every", "1", "--heads", str(heads), first.url],
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    told = Heard(follower.stdout)
    steps = lambda: [int(n) for n, new, _ in HEAD.findall(told.so_far()) if int(new)]  # noqa: E731
    clients = Clients(first, 8).start().recorded(200)
    assert eventually(lambda: len(steps()) >= 3), told.so_far()
    lost_at = time.monotonic()
    first.stop(signal.SIGKILL)
    clients.join()
    for name in tmp_path.glob("first.kw*"):
        name.unlink() if name.is_file() else shutil.rmtree(name)
    follower.send_signal(signal.SIGTERM)
    assert follower.wait(PATIENCE) == 0, follower.stderr.read()
    told.close()
    follower.stderr.close()
    followed = steps()
    second = server_on(copy)
    ready = time.monotonic() - lost_at
    acknowledged = clients.acknowledged()
    there = {json.loads(x)["key"]: json.loads(x)["seq"] for x in second.api.leaves()}
    missing = [k for k in acknowledged if k not in there]
    late = [a.answered for a in clients.of("append") if a.key in missing]
    window = lost_at - min(late) if late else 0
    # clients send again what they know of; those that were followed keep their numbers
    connection = Connection(second.url)
    for key in acknowledged:
        status, body = connection.ask("POST", "/api/entries", clients.entries[key])
        assert status == (201 if key in missing else 200), body
        assert key in missing or body["seq"] == acknowledged[key] == there[key]
    connection.close()
    lines = heads.read_text().splitlines()
    leaves = second.api.leaves()
    for line in lines:
        _, size, at = line.split()
        assert root([leaf_hash(x.encode()) for x in leaves[:int(size)]]).hex() == at, "a head that was kept is the ledger's"
    print("\nfirst ledger lost: %d acknowledged, %d not yet followed (the last %.1f s), answers again after %.2f s; %d heads kept"
          % (len(acknowledged), len(missing), window, ready, len(lines)))
    assert followed == sorted(followed) and len(followed) >= 3
    assert all(acknowledged[k] > followed[-1] for k in missing), "more is missing than what was recorded since the last step"
    assert second.stop() == 0
    assert run_cli("verify", "--ledger", copy).returncode == 0


def test_it_waits_while_the_first_is_away(server_on, tmp_path):
    ledger, copy = tmp_path / "first.kw", tmp_path / "copy.kw"
    where = "127.0.0.1:%d" % own_port()
    first = server_on(ledger, "--listen", where)
    first.api.load(MILL[:20])
    follower = subprocess.Popen([KINWIRE, "follow", "--ledger", str(copy), "--every", "1", first.url], stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True)
    assert HEAD.search(follower.stdout.readline()).group(1) == "20"
    first.stop()
    assert "asked again" in follower.stderr.readline()
    again = server_on(ledger, "--listen", where)
    again.api.load(MILL[20:])
    assert HEAD.search(follower.stdout.readline()).group(1) == str(len(MILL))
    follower.send_signal(signal.SIGTERM)
    assert follower.wait(PATIENCE) == 0
    follower.stdout.close()
    follower.stderr.close()


# --- a first that is not what it was -----------------------------------------------------------------


class Told(http.server.BaseHTTPRequestHandler):
    """Tells `leaves` as a ledger does, with the heads and proofs that they lead to; `lies` change one of its answers."""
    protocol_version = "HTTP/1.1"

    def log_message(self, *_):
        pass

    def do_GET(self):
        at, query = urlsplit(self.path).path, {k: int(v[0]) for k, v in parse_qs(urlsplit(self.path).query).items()}
        told = self.server
        if at in told.lies:
            body, status, headers = told.lies[at](query)
        elif at == "/api/ledger/head":
            body, status, headers = json.dumps({"size": len(told.leaves), "root": told.root(len(told.leaves))}), 200, {}
        elif at == "/api/ledger/entries":
            page = told.leaves[query["after"]:query["after"] + query["limit"]]
            body, status, headers = "".join(x + "\n" for x in page), 200, {}
        else:
            body, status, headers = json.dumps({"proof": told.proof(query["from"], query["size"])}), 200, {}
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        body = body if isinstance(body, bytes) else body.encode()
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


def consistency(hashes, first):
    """PROOF(m, D[n]) of RFC 9162, section 2.1.4.1, from the leaves' hashes, written here once more."""
    def sub(m, d, whole):
        if m == len(d):
            return [] if whole else [root(d)]
        k = 1
        while k * 2 < len(d):
            k *= 2
        return sub(m, d[:k], whole) + [root(d[k:])] if m <= k else sub(m - k, d[k:], False) + [root(d[:k])]
    return sub(first, hashes, True)


@pytest.fixture
def tells():
    servers = []

    def start(leaves):
        s = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Told)
        s.daemon_threads = True
        s.handle_error = lambda *_: None  # a follower that has heard enough hangs up
        s.leaves, s.lies = list(leaves), {}
        s.root = lambda n: root([leaf_hash(x.encode()) for x in s.leaves[:n]]).hex()
        s.proof = lambda m, n: [x.hex() for x in consistency([leaf_hash(x.encode()) for x in s.leaves[:n]], m)] if 0 < m < n else []
        s.url = "http://127.0.0.1:%d" % s.server_address[1]
        threading.Thread(target=s.serve_forever, daemon=True).start()
        servers.append(s)
        return s
    yield start
    for s in servers:
        s.shutdown()
        s.server_close()


@pytest.fixture(scope="module")
def leaves(tmp_path_factory):
    ledger = tmp_path_factory.mktemp("follow") / "true.kw"
    text = "".join(json.dumps(x) + "\n" for x in MILL)
    assert run_cli("load", "--ledger", ledger, "-", stdin=text).returncode == 0
    return run_cli("export", "--ledger", ledger, "all", "--as", "entries").stdout.splitlines()


def canonical(leaf):
    return json.dumps(leaf, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def changed(leaf, **members):
    return canonical({**json.loads(leaf), **members})


# What is done to the true entries after the copy has the first 100, and what the refusal has to name.
REWRITTEN = {
    "an early entry altered": (lambda x: x[:9] + [changed(x[9], by="someone")] + x[10:], "first 100 entries"),
    "an entry left out": (lambda x: x[:50] + x[51:], "100"),
    "the tail cut off": (lambda x: x[:80], "cut off"),
    "two changed about": (lambda x: x[:20] + [x[21], x[20]] + x[22:], "first 100 entries"),
    "a new entry that says another number": (lambda x: x[:120] + [changed(x[120], seq=500)] + x[121:], "entry 121"),
    "a new entry out of order": (lambda x: x[:120] + [x[121], x[120]] + x[122:], "entry 121"),
    "a new entry that is not canonical": (lambda x: x[:120] + [x[120].replace(",", ", ", 1)] + x[121:], "entry 121"),
    "a new entry that is not JSON": (lambda x: x[:120] + ["{"] + x[121:], "entry 121"),
    "a new entry of an unknown kind": (lambda x: x[:120] + [changed(x[120], kind="gift")] + x[121:], "entry 121"),
    "a new entry with a body of another shape": (lambda x: x[:120] + [changed(x[120], body={"lot": 7})] + x[121:], "entry 121"),
    "a new entry logged at no time": (lambda x: x[:120] + [changed(x[120], logged="yesterday")] + x[121:], "entry 121"),
    "a name far too long": (lambda x: x[:120] + [changed(x[120], by="n" * 5000)] + x[121:], "entry 121"),
    "an entry of deep brackets": (lambda x: x[:120] + ["[" * 60000] + x[121:], "entry 121"),
    "the same key twice": (lambda x: x[:120] + [changed(x[10], seq=121)] + x[121:], None),
}


@pytest.mark.parametrize("what", REWRITTEN)
def test_a_history_written_anew_is_refused(what, tells, leaves, tmp_path):
    change, names = REWRITTEN[what]
    copy = tmp_path / "copy.kw"
    s = tells(leaves[:100])
    _, _, before = head_of(once(copy, s.url))
    s.leaves = change(list(leaves))
    done = once(copy, s.url)
    assert done.returncode == 1, "%s: %s %s" % (what, done.stdout, done.stderr)
    assert names is None or names in done.stderr, done.stderr
    s.leaves = leaves[:100]
    assert head_of(once(copy, s.url)) == (100, 0, before), "the copy is as it was"
    assert run_cli("verify", "--ledger", copy).returncode == 0
    s.leaves = list(leaves)
    assert head_of(once(copy, s.url))[0] == len(leaves), "and goes on where the truth is told again"


# Answers that no ledger gives: of the route, what is told instead, and the exit status.
LIES = {
    "a root that the entries do not lead to": ("/api/ledger/head", lambda q: (json.dumps({"size": 197, "root": "00" * 32}), 200, {}), 1),
    "a size without entries": ("/api/ledger/entries", lambda q: ("", 200, {}), 1),
    "half an entry": ("/api/ledger/entries", lambda q: ('{"at":"2026-', 200, {}), 1),
    "a head that is not JSON": ("/api/ledger/head", lambda q: ("<html>", 200, {}), 1),
    "a head of a negative size": ("/api/ledger/head", lambda q: (json.dumps({"size": -1, "root": "00" * 32}), 200, {}), 1),
    "a head of half a hash": ("/api/ledger/head", lambda q: (json.dumps({"size": 9, "root": "00" * 9}), 200, {}), 1),
    "a head of a megabyte": ("/api/ledger/head", lambda q: ("[" + "1," * 500000 + "1]", 200, {}), 1),
    "a proof of a thousand hashes": ("/api/ledger/proof", lambda q: (json.dumps({"proof": ["00" * 32] * 1000}), 200, {}), 1),
    "no proof": ("/api/ledger/proof", lambda q: (json.dumps({"proof": []}), 200, {}), 1),
    "another page": ("/api/ledger/head", lambda q: ("", 302, {"Location": "http://127.0.0.1:9/"}), 1),
    "nobody may": ("/api/ledger/head", lambda q: ("{}", 401, {}), 4),
    "come again": ("/api/ledger/head", lambda q: ("{}", 503, {"Retry-After": "1"}), 4),
}


@pytest.mark.parametrize("what", LIES)
def test_answers_that_no_ledger_gives(what, tells, leaves, tmp_path):
    at, lie, status = LIES[what]
    copy = tmp_path / "copy.kw"
    s = tells(leaves[:100])
    before = head_of(once(copy, s.url))
    s.leaves = list(leaves)
    s.lies = {at: lie}
    done = once(copy, s.url)
    assert done.returncode == status, "%s: %d %s %s" % (what, done.returncode, done.stdout, done.stderr)
    assert done.stderr.startswith("kinwire follow: ")
    s.lies, s.leaves = {}, leaves[:100]
    assert head_of(once(copy, s.url))[::2] == before[::2]


def test_a_token_is_sent_and_only_there(tells, leaves, tmp_path):
    s = tells(leaves[:5])
    token = tmp_path / "token"
    token.write_text("kwt-secret\n")
    seen = []
    plain = Told.do_GET

    def look(handler):
        seen.append(handler.headers.get("Authorization"))
        plain(handler)
    s.RequestHandlerClass = type("Looking", (Told,), {"do_GET": look})
    assert head_of(once(tmp_path / "copy.kw", s.url + "/", "--token-file", token))[0] == 5
    assert set(seen) == {"Bearer kwt-secret"}
    token.write_text("")
    assert once(tmp_path / "copy.kw", s.url, "--token-file", token).returncode == 3


def test_wrong_usage(tmp_path):
    copy = tmp_path / "copy.kw"
    for args in ([], ["ftp://mill.example"], ["--every", "0", "http://127.0.0.1:1"], ["--every", "x", "http://127.0.0.1:1"]):
        done = run_cli("follow", "--ledger", copy, *args)
        assert done.returncode == 2 and done.stderr.startswith("kinwire follow: "), (args, done)
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        done = once(copy, "http://127.0.0.1:%d" % nobody.getsockname()[1])
    assert done.returncode == 4 and "does not answer" in done.stderr


def test_the_copy_can_be_read_while_it_follows(server_on, tmp_path):
    first = server_on(tmp_path / "first.kw")
    copy = tmp_path / "copy.kw"
    first.api.load(MILL)
    follower = subprocess.Popen([KINWIRE, "follow", "--ledger", str(copy), "--every", "1", first.url], stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE, text=True, env={**os.environ, "http_proxy": "http://127.0.0.1:9"})
    assert HEAD.search(follower.stdout.readline()).group(1) == str(len(MILL))
    heat = next(x["body"]["heat"] for x in MILL if x["kind"] == "heat")
    there = run_cli("trace", "--ledger", copy, "heat:" + heat, "--json")
    assert there.returncode == 0 and json.loads(there.stdout)["lots"] == first.api.trace("heat:" + heat)["lots"]
    follower.send_signal(signal.SIGTERM)
    assert follower.wait(PATIENCE) == 0
    follower.stdout.close()
    follower.stderr.close()
    assert Path(copy).exists()
