"""A day under a scanner: paths, parameters, bodies and bar codes as attack tools send them. Everything is answered at once and with a
refusal that says why; nothing is recorded, no memory is kept, and no answer is one of the server's own failures."""
import os
import socket
import time
from pathlib import Path
from urllib.parse import quote, urlsplit

import pytest

from support import PATIENCE, eventually, new_key

# Kinds of places that scanners ask for (common practice, no list copied), each in several spellings.
PLACES = ["admin", "login", "config", "backup", "server-status", ".env", ".git/config", ".htaccess", "wp-login.php", "phpinfo.php", "cgi-bin/test",
          "console", "api/v1/users", "api/../etc/passwd", "robots.txt", "sitemap.xml", "favicon.ico", "mill.kw", "mill.kw-wal", "mill.kw.access",
          "mill.kw.pepper", "..%2f..%2fetc%2fpasswd", "%2e%2e/%2e%2e/etc/passwd", "....//....//etc/passwd", "%c0%ae%c0%ae/", "%252e%252e/", "a" * 3000,
          "%00", "%0d%0aSet-Cookie:x=1", "?%3Cscript%3E", "*", "~root", "C:/boot.ini", "con", "nul.html", "index.html.bak", "index.html~", "index.html/",
          ".index.html.swp", "schema/../server.c", "schema/001-ledger.sql", "kinwire.js/..", "words/", "words", "shop/", "metrics/..", "api", "api/", "API/ME"]
VALUES = ["'", "\"", "' OR '1'='1", "1;DROP TABLE entry--", "\\", "%27", "heat:'||(SELECT 1)", "heat:%", "heat:_", "${7*7}", "{{7*7}}", "$(id)", "`id`", "|id",
          "../../etc/passwd", "file:///etc/passwd", "http://127.0.0.1/", "<script>alert(1)</script>", "\x7f", "\u202e", "\ud7ff", "\uffff",
          "A" * 5000, "-1", "0", "99999999999999999999", "1e308", "NaN", "0x10", "1,2", " ", "heat:", ":", "heat:H:H", "lot:" + "B" * 41, "lot:\u0130"]
ASKS = ["/api/trace?origin=%s", "/api/trace?origin=heat:H1&direction=%s", "/api/trace?origin=lot:L1&from_mm=%s&to_mm=5", "/api/find?q=%s", "/api/lots/%s",
        "/api/lots/%s/makeup", "/api/things/heat/%s", "/api/things/%s/H1", "/api/entries?before=%s", "/api/entries?kind=%s", "/api/entries/%s",
        "/api/ledger/entries?after=%s", "/api/ledger/proof?seq=%s&size=1", "/api/export?origin=%s&as=csv", "/api/export?origin=all&as=%s",
        "/api/labels?lots=%s&as=svg", "/api/labels?lots=L1&size=%s", "/api/floor?machine=%s", "/schema/%s", "/api/trace?origin=machine:M&since=%s"]


def figures(s):
    text = Path("/proc/%d/status" % s.process.pid).read_text()
    return (int([x for x in text.splitlines() if x.startswith("VmRSS")][0].split()[1]), len(os.listdir("/proc/%d/fd" % s.process.pid)))


def raw(url, request):
    """(status, seconds)"""
    where = urlsplit(url)
    began = time.monotonic()
    with socket.create_connection((where.hostname, where.port), timeout=PATIENCE) as c:
        try:
            c.sendall(request)
            head = c.recv(4096)
        except ConnectionResetError:
            head = b""
    return (int(head.split()[1]) if head.startswith(b"HTTP/") else 0), time.monotonic() - began


@pytest.fixture(scope="module")
def target(server):
    server.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    server.api.put("receive", {"lot": "L1", "heat": "H1", "diameter_um": 5500, "length_mm": 1000})
    return server


def sweep(s, requests, allowed=None):
    """Each answered, none by a failure of the server's own: (how many, worst seconds)."""
    worst, n = 0, 0
    for request in requests:
        status, took = raw(s.url, request)
        assert status and status < 500, (status, request[:200])
        assert not allowed or status in allowed, (status, request[:200])
        worst, n = max(worst, took), n + 1
    return n, worst


def test_a_scanner_day(target):
    s = target
    host = urlsplit(s.url).netloc.encode()
    size = s.api.get("/api/ledger/head")["size"]

    def get(path, method=b"GET"):
        return method + b" " + path + b" HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n"

    places = [get(b"/" + p.encode()) for p in PLACES]
    places += [get(b"/" + p.encode(), m) for p in PLACES[:12] for m in (b"POST", b"HEAD", b"OPTIONS", b"PROPFIND", b"DEBUG")]
    asks = [get((a % quote(v, safe="")).encode()) for a in ASKS for v in VALUES]
    asks += [get((a % v.replace(" ", "+")).encode("utf-8", "surrogatepass")) for a in ASKS[:6] for v in VALUES if v.isascii() and v.isprintable()]
    n = [sweep(s, places, {200, 400, 404, 405, 414, 415}), sweep(s, asks)]
    before = figures(s)
    n += [sweep(s, places), sweep(s, asks)]
    eventually(lambda: figures(s)[1] <= before[1] + 2)
    after = figures(s)
    assert s.api.get("/api/ledger/head")["size"] == size and s.api.get("/healthz")["ok"]
    total, worst = sum(x for x, _ in n), max(w for _, w in n)
    print("\nscanner: %d requests, 0 of them 5xx, worst %.0f ms; memory grew by %d KiB the second time round, descriptors by %d" % (
        total, worst * 1000, after[0] - before[0], after[1] - before[1]))
    assert after[0] - before[0] < 16 << 10 and after[1] - before[1] <= 2


# --- bar codes ----------------------------------------------------------------------------------

CODES = ["A" * 4096, "\x1d01095012345678", "A\x00B", "A\rB", "A\x1b[2J", "A B", "a" * 41, "", "A\u00a0B", "\u0410\u0412", "A'--", "A;B", "A\u200bB", "\ufeffA",
         "%41", "A\tB", "Ａ", "A\u0301", "^FD^FS", "~DN", "\x02A\x03", "]C1A", "A" * 40 + "\n"]


@pytest.mark.parametrize("code", CODES, ids=lambda c: repr(c[:12]))
def test_codes_as_a_scanner_may_read_them(target, code):
    for kind, body in (("heat", {"heat": code, "supplier": "A", "grade": "B"}),
                       ("receive", {"lot": code, "heat": "H1", "diameter_um": 5500, "length_mm": 1}),
                       ("move", {"lots": [code], "location": "X"}),
                       ("hold", {"hold": code, "reason": "x", "lots": [{"lot": code}]})):
        problem = target.api.refuse(kind, body, ("bad-code", "missing", "not-json", "bad-value", "unknown-lot", "bad-type"))
        assert problem["status"] in (400, 422), problem
    answer = target.api.session.get(target.url + "/api/find", params={"q": code[:2000]})
    assert answer.status_code in (200, 400)


# --- hostile JSON -------------------------------------------------------------------------------

SHELL = '{"key":"%s","kind":"note","body":{"about":"machine:M","text":%s}}'
HOSTILE = {
    "depth": '"x"}' + "[" * 5000, "64 KiB of brackets": "[" * 65536, "a million brackets": "[" * 1000000, "objects": '{"a":' * 20000,
    "a name twice": '"x","text":"y"', "a name twice, escaped": '"x","te\\u0078t":"y"', "beyond 2^53": "9007199254740993", "1e400": "1e400", "-1e400": "-1e400",
    "minus zero": "-0", "leading zero": "007", "bare point": "1.", "hex": "0x10", "NaN": "NaN", "Infinity": "Infinity", "a NUL": '"a\\u0000b"',
    "a raw NUL": '"a\x00b"', "a raw control": '"a\x01b"', "a lone surrogate": '"\\ud800"', "surrogates the wrong way": '"\\udc00\\ud800"',
    "a comment": '"x"/* */', "single quotes": "'x'", "a trailing comma": '"x",', "true with a tail": "trueish", "a BOM": '\ufeff"x"',
    "ten thousand nodes": "[" + ",".join(["1"] * 10000) + "]", "a long number": "1" * 60000, "a long exponent": "1e" + "9" * 60000, "a long text": '"' + "x" * 900000 + '"',
    "many names": "{" + ",".join('"a%d":1' % i for i in range(20000)) + "}", "escapes": '"' + "\\u0041" * 100000 + '"',
}


def test_hostile_json(target):
    s, worst, slowest = target, 0, ""
    size = s.api.get("/api/ledger/head")["size"]
    bodies = {k: (SHELL % (new_key(), v)).encode() for k, v in HOSTILE.items()}
    bodies["bad UTF-8"] = (SHELL % (new_key(), '"?"')).encode().replace(b"?", b"\xc3\x28")
    bodies["overlong UTF-8"] = (SHELL % (new_key(), '"?"')).encode().replace(b"?", b"\xc0\xaf")
    bodies["UTF-16"] = (SHELL % (new_key(), '"x"')).encode("utf-16")
    bodies["nothing"], bodies["spaces"], bodies["two of them"] = b"", b" " * 1000, (SHELL % (new_key(), '"x"')).encode() * 2
    before = figures(s)
    for name, body in bodies.items():
        ticks = cpu(s)
        t = time.monotonic()
        answer = s.api.session.post(s.url + "/api/entries", data=body, headers={"Content-Type": "application/json"}, timeout=PATIENCE)
        took = time.monotonic() - t
        assert answer.status_code in (400, 413, 422), (name, answer.status_code, answer.text[:200])
        assert answer.json()["detail"] and len(answer.content) < 4096, name
        assert cpu(s) - ticks < 1, name  # of the processor's time; 0.02 at most on a quiet machine
        if took > worst:
            worst, slowest = took, name
    after = figures(s)
    assert s.api.get("/api/ledger/head")["size"] == size
    print("\nhostile JSON: %d bodies refused, 0 recorded; slowest %s, %.1f ms; memory grew by %d KiB" % (
        len(bodies), slowest, worst * 1000, after[0] - before[0]))
    assert after[0] - before[0] < 32 << 10


def cpu(s):
    """Seconds of processor time."""
    f = Path("/proc/%d/stat" % s.process.pid).read_text().rsplit(")", 1)[1].split()
    return (int(f[11]) + int(f[12])) / os.sysconf("SC_CLK_TCK")


# --- sizes --------------------------------------------------------------------------------------


def test_requests_that_never_were_leave_nothing_behind(target):
    """More parameters than the library has room for: it hangs up before it has told of a request."""
    s = target
    where = urlsplit(s.url)
    text = b"GET /api/find?" + b"&".join(b"q%d=1" % i for i in range(4000)) + b" HTTP/1.1\r\nHost: " + where.netloc.encode() + b"\r\n\r\n"

    def figure(name):
        return [float(x.split()[1]) for x in s.api.get("/metrics").text.splitlines() if x.startswith(name + " ")][0]

    def some(n):
        for _ in range(n):
            with socket.create_connection((where.hostname, where.port), timeout=PATIENCE) as c:
                c.sendall(text)
        assert eventually(lambda: figure("kinwire_http_connections") <= 2)

    some(300)
    # what is left behind is left behind each time; what the allocator keeps at hand for the next ones is not
    grown = []
    while len(grown) < 8 and min(grown, default=1 << 20) >= 1 << 10:
        before = figures(s)
        some(300)
        grown.append(figures(s)[0] - before[0])
    print("\nrequests that never were: 300 at a time, memory grew by %s KiB" % ", ".join(map(str, grown)))
    assert grown[-1] < 1 << 10 and eventually(lambda: figure("kinwire_http_requests_open") == 1), grown


def test_sizes_leave_no_memory_behind(target):
    """What is too large in any way is refused, or cut at its deadline (two of them), and what it took is given back."""
    s = target
    host = urlsplit(s.url).netloc.encode()
    post = b"POST /api/entries HTTP/1.1\r\nHost: " + host + b"\r\nContent-Type: application/json\r\n"
    get = b"GET /healthz HTTP/1.1\r\nHost: " + host + b"\r\n"
    chunk = b"10000\r\n" + b"x" * 65536 + b"\r\n"
    cases = {"a long target": b"GET /" + b"a" * 60000 + b" HTTP/1.1\r\nHost: " + host + b"\r\n\r\n", "a long header": get + b"X: " + b"a" * 60000 + b"\r\n\r\n",
             "many headers": get + b"".join(b"X%d: a\r\n" % i for i in range(4000)) + b"\r\n",
             "many cookies": get + b"Cookie: " + b"; ".join(b"c%d=1" % i for i in range(6000)) + b"\r\n\r\n",
             "many parameters": b"GET /api/find?" + b"&".join(b"q%d=1" % i for i in range(4000)) + b" HTTP/1.1\r\nHost: " + host + b"\r\n\r\n",
             "a length beyond all": post + b"Content-Length: 999999999999\r\n\r\n", "a body too long": post + b"Content-Length: 2000000\r\n\r\n" + b"x" * 2000000,
             "chunks without an end": post + b"Transfer-Encoding: chunked\r\n\r\n" + chunk * 40, "one huge chunk": post + b"Transfer-Encoding: chunked\r\n\r\nFFFFFFFF\r\n" + b"x" * 65536}

    def round_of():
        statuses = {}
        for name, request in cases.items():
            where = urlsplit(s.url)
            with socket.create_connection((where.hostname, where.port), timeout=1 if name in ("one huge chunk", "many parameters") else PATIENCE) as c:
                try:
                    c.sendall(request)
                    head = c.recv(4096)
                except OSError:
                    head = b""
            statuses[name] = int(head.split()[1]) if head.startswith(b"HTTP/") else 0
        return statuses

    first = round_of()
    assert all(x in (0, 400, 413, 414, 431) for x in first.values()), first
    before = figures(s)
    for _ in range(5):
        round_of()
    eventually(lambda: figures(s)[1] <= before[1] + 2)
    after = figures(s)
    print("\nsizes: %s; memory grew by %d KiB over 5 more rounds" % (first, after[0] - before[0]))
    assert after[0] - before[0] < 16 << 10 and after[1] <= before[1] + 2
    assert s.api.get("/healthz")["ok"]
