"""The gate, byte by byte: requests that two readers of HTTP could read differently, other sites' requests, sizes and deadlines.

Each is sent over a socket as it stands here, since an HTTP library would put it right. A refusal is one problem+json reply and
the end of the connection, so that nothing sent after it is taken for a request of its own.
"""
import json
import re
import socket
import time
from urllib.parse import urlsplit

import pytest

from support import PATIENCE, entry

HOST = b"Host: 127.0.0.1\r\n"
JSON = b"Content-Type: application/json\r\n"
NDJSON = b"Content-Type: application/x-ndjson\r\n"
SMUGGLED = b"GET /api/me HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


def connect(api):
    where = urlsplit(api.url)
    return socket.create_connection((where.hostname, where.port), timeout=PATIENCE)


def talk(api, *parts, timeout=PATIENCE):
    """(replies, closed): what comes back until the server closes or is silent."""
    with connect(api) as s:
        out, closed = b"", False
        try:
            for part in parts:
                s.sendall(part)
        except (ConnectionResetError, BrokenPipeError):
            pass
        s.settimeout(timeout)
        try:
            while True:
                more = s.recv(65536)
                if not more:
                    closed = True
                    break
                out += more
        except socket.timeout:
            pass
        except ConnectionResetError:
            closed = True
        return out, closed


def status(reply):
    found = re.match(rb"HTTP/1\.1 (\d{3}) ", reply)
    return int(found.group(1)) if found else None


def refused(api, *parts, want=400, slug=None):
    size = api.get("/api/ledger/head")["size"]
    reply, closed = talk(api, *parts)
    assert status(reply) == want, reply[:400]
    assert closed, "the connection stays open"
    replies = [int(x) for x in re.findall(rb"HTTP/1\.1 (\d{3}) ", reply)]
    if b"problem+json" in reply:
        assert replies == [want], "a second reply: %r" % reply
        problem = json.loads(reply.split(b"\r\n\r\n", 1)[1])
        assert problem["status"] == want
        assert slug is None or problem["type"].endswith("/" + slug), problem
    else:  # the HTTP library's own refusal, whose first line it may send twice
        assert slug is None and set(replies) == {want}, reply
    assert api.get("/api/ledger/head")["size"] == size
    return reply


def post(head=b"", body=b"", path=b"/api/entries", host=HOST, media=JSON):
    return b"POST " + path + b" HTTP/1.1\r\n" + host + media + head + b"\r\n" + body


def get(head=b"", path=b"/healthz", host=HOST, line=None):
    return (line or b"GET " + path + b" HTTP/1.1\r\n") + host + head + b"\r\n"


CHUNKED = b"2\r\n{}\r\n0\r\n\r\n"

DIFFERENTLY = {
    "length and chunked": post(b"Content-Length: 6\r\nTransfer-Encoding: chunked\r\n", b"0\r\n\r\n" + SMUGGLED),
    "chunked and length": post(b"Transfer-Encoding: chunked\r\nContent-Length: 6\r\n", b"0\r\n\r\n" + SMUGGLED),
    "two lengths": post(b"Content-Length: 2\r\nContent-Length: 60\r\n", b"{}" + SMUGGLED),
    "the same length twice": post(b"Content-Length: 2\r\nContent-Length: 2\r\n", b"{}"),
    "a list of lengths": post(b"Content-Length: 2, 2\r\n", b"{}"),
    "a signed length": post(b"Content-Length: +2\r\n", b"{}"),
    "a hexadecimal length": post(b"Content-Length: 0x2\r\n", b"{}"),
    "an empty length": post(b"Content-Length: \r\n", b"{}"),
    "a space before the colon": post(b"Content-Length : 2\r\n", b"{}" + SMUGGLED),
    "a tab before the colon": post(b"Transfer-Encoding\t: chunked\r\n", CHUNKED),
    "an unknown coding": post(b"Transfer-Encoding: xchunked\r\n", CHUNKED),
    "a list of codings": post(b"Transfer-Encoding: gzip, chunked\r\n", CHUNKED),
    "the identity": post(b"Transfer-Encoding: identity\r\nContent-Length: 2\r\n", b"{}"),
    "two codings": post(b"Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n", CHUNKED),
    "a quoted coding": post(b'Transfer-Encoding: "chunked"\r\n', CHUNKED),
    "a coding with a control": post(b"Transfer-Encoding: \x0bchunked\r\n", CHUNKED),
    "a coding with a space after": post(b"Transfer-Encoding: chunked \r\n", CHUNKED),
    "a chunk that is no number": post(b"Transfer-Encoding: chunked\r\n", b"zz\r\n{}\r\n0\r\n\r\n"),
    "chunked in HTTP/1.0": b"POST /api/entries HTTP/1.0\r\n" + HOST + JSON + b"Transfer-Encoding: chunked\r\n\r\n" + CHUNKED,
    "a GET with a body": get(b"Content-Length: 44\r\n") + SMUGGLED,
    "a GET with chunks": get(b"Transfer-Encoding: chunked\r\n") + b"0\r\n\r\n" + SMUGGLED,
    "two hosts": get(b"Host: elsewhere.example\r\n"),
    "the same host twice": get(HOST),
    "no host": get(host=b""),
    "no host in HTTP/1.0": b"GET /healthz HTTP/1.0\r\n\r\n",
    "two kinds of content": post(b"Content-Length: 2\r\nContent-Type: text/plain\r\n", b"{}"),
    "two cookies": get(b"Cookie: a=1\r\nCookie: a=2\r\n"),
    "two credentials": get(b"Authorization: Bearer a\r\nAuthorization: Bearer b\r\n"),
    "a bare line feed": get(b"X: a\nY: b\r\n"),
    "bare line feeds only": b"GET /healthz HTTP/1.1\nHost: 127.0.0.1\n\n",
    "a bare carriage return": get(b"X: a\rY: b\r\n"),
    "a NUL in a value": get(b"X: a\x00b\r\n"),
    "a NUL in the last value": b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\x00.elsewhere.example\r\n\r\n",
    "a NUL in a name": get(b"X\x00Y: a\r\n"),
    "a NUL in the path": get(path=b"/healthz\x00.html"),
    "a folded header": get(b"X: a\r\n b\r\n"),
    "a header folded before the first": b"GET /healthz HTTP/1.1\r\n X: a\r\n" + HOST + b"\r\n",
    "no name": get(b": a\r\n"),
    "a control in a value": get(b"X: a\x01b\r\n"),
    "no colon": get(b"Xa\r\n"),
    "two spaces": get(line=b"GET  /healthz HTTP/1.1\r\n"),
    "a space in the path": get(path=b"/health z"),
    "a tab in the path": get(path=b"/health\tz"),
    "a byte that isn't ASCII": get(path=b"/health\xff"),
    "an encoded NUL": get(path=b"/healthz%00"),
    "an encoded NUL in the query": get(path=b"/api/find?q=%00"),
    "dots": get(path=b"/../healthz"),
    "dots at the end": get(path=b"/api/.."),
    "one dot": get(path=b"/./healthz"),
    "encoded dots": get(path=b"/%2e%2E/healthz"),
    "dots behind an encoded slash": get(path=b"/x%2f..%2fetc"),
    "two slashes": get(path=b"//healthz"),
    "another's whole address": get(path=b"http://elsewhere.example/healthz"),
    "its own whole address": get(path=b"http://127.0.0.1/healthz"),
    "a star": get(path=b"*"),
}


@pytest.mark.parametrize("name", DIFFERENTLY)
def test_what_two_readers_could_read_differently(api, name):
    refused(api, DIFFERENTLY[name])


@pytest.mark.parametrize("host", [b"elsewhere.example", b"127.0.0.1.elsewhere.example", b"127.0.0.1:1", b"127.0.0.2", b"0.0.0.0",
                                  b"localhost.", b"", b"127.0.0.1 ", b"user@127.0.0.1", b"[::1"])
def test_other_names(api, host):
    refused(api, get(host=b"Host: " + host + b"\r\n"))


def test_its_own_names(api):
    port = b":%d" % urlsplit(api.url).port
    for host in (b"127.0.0.1", b"localhost", b"LOCALHOST", b"[::1]", b"127.0.0.1" + port, b"localhost" + port, b"[::1]" + port):
        reply, _ = talk(api, get(b"Connection: close\r\n", host=b"Host: " + host + b"\r\n"))
        assert status(reply) == 200, (host, reply)


@pytest.mark.parametrize("head", [b"Origin: http://elsewhere.example\r\n", b"Origin: null\r\n", b"Origin: https://127.0.0.1\r\n",
                                  b"Origin: http://127.0.0.1:1\r\n", b"Origin: http://127.0.0.1.elsewhere.example\r\n",
                                  b"Origin: \r\n", b"Sec-Fetch-Site: cross-site\r\n", b"Sec-Fetch-Site: same-site\r\n"])
def test_pages_of_other_sites(api, head):
    refused(api, post(head + b"Content-Length: 2\r\n", b"{}"), want=403, slug="not-allowed")


def test_a_page_of_its_own(api, bench):
    body = json.dumps(entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"})).encode()
    port = b":%d" % urlsplit(api.url).port
    head = b"Origin: http://127.0.0.1%s\r\nSec-Fetch-Site: same-origin\r\nConnection: close\r\nContent-Length: %d\r\n"
    reply, _ = talk(api, post(head % (port, len(body)), body, host=b"Host: 127.0.0.1" + port + b"\r\n"))
    assert status(reply) == 201, reply


@pytest.mark.parametrize("method", [b"PUT", b"DELETE", b"PATCH", b"OPTIONS", b"TRACE", b"CONNECT", b"get", b"PROPFIND", b"X"])
def test_methods(api, method):
    reply = refused(api, get(line=method + b" /api/entries HTTP/1.1\r\n"), want=405, slug="bad-method")
    assert b"\r\nAllow: GET, HEAD, POST\r\n" in reply


@pytest.mark.parametrize("media,length", [(JSON, (1 << 20) + 1), (JSON, 10 ** 9), (NDJSON, (64 << 20) + 1), (NDJSON, 10 ** 12)])
@pytest.mark.parametrize("expect", [b"", b"Expect: 100-continue\r\n"])
def test_a_length_that_is_too_large_is_refused_before_the_body(api, media, length, expect):
    """None of the body is ever sent, and at the deadline for one there is no reply at all."""
    refused(api, post(expect + b"Content-Length: %d\r\n" % length, media=media), want=413, slug="too-large")


def test_chunks_are_counted(api):
    chunk = b"10000\r\n" + b" " * 65536 + b"\r\n"
    refused(api, post(b"Transfer-Encoding: chunked\r\nConnection: close\r\n"), *[chunk] * 17, b"0\r\n\r\n", want=413, slug="too-large")
    reply, closed = talk(api, post(b"Transfer-Encoding: chunked\r\n"), *[chunk] * 200)
    assert closed and status(reply) in (None, 413), "a body without an end is cut"


def test_chunks_and_100_continue(api, bench):
    body = json.dumps(entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"})).encode()
    chunks = b"".join(b"%x\r\n%s\r\n" % (len(body[i:i + 7]), body[i:i + 7]) for i in range(0, len(body), 7)) + b"0\r\n\r\n"
    reply, _ = talk(api, post(b"Transfer-Encoding: Chunked\r\nConnection: close\r\n", chunks))
    assert status(reply) == 201, reply
    with connect(api) as s:
        s.sendall(post(b"Expect: 100-continue\r\nConnection: close\r\nContent-Length: %d\r\n" % len(body)))
        assert s.recv(65536).startswith(b"HTTP/1.1 100 ")
        s.sendall(body)
        assert b" 200 " in s.recv(65536).split(b"\r\n")[0]


def test_headers_and_targets_that_are_too_large(api):
    for request, want in ((get(b"X: " + b"a" * 40000 + b"\r\n"), 431), (get(path=b"/" + b"a" * 40000), 414),
                          (get(b"".join(b"X%d: a\r\n" % i for i in range(3000))), 431)):
        reply, closed = talk(api, request)
        assert closed and status(reply) == want, reply[:200]
    reply, _ = talk(api, get(b"Connection: close\r\nX: " + b"a" * 8000 + b"\r\n"))
    assert status(reply) == 200
    assert api.get("/healthz")["ok"] is True


def test_requests_one_after_another_on_a_connection(api):
    one = get(path=b"/api/me")
    reply, _ = talk(api, one + one + get(b"Connection: close\r\n", path=b"/api/nothing"))
    assert [int(x) for x in re.findall(rb"HTTP/1\.1 (\d{3}) ", reply)] == [200, 200, 404]


def drip(api, start, byte, seconds):
    """How long it takes until a client that sends a byte now and then is cut."""
    began = time.monotonic()
    with connect(api) as s:
        s.sendall(start)
        while time.monotonic() - began < seconds:
            time.sleep(0.25)
            try:
                s.sendall(byte)
                s.settimeout(0.01)
                if s.recv(1) == b"":
                    return time.monotonic() - began
            except socket.timeout:
                pass
            except (ConnectionResetError, BrokenPipeError):
                return time.monotonic() - began
        return None


@pytest.mark.parametrize("start", [b"GET /heal", get()[:-2] + b"X: ", post(b"Content-Length: 1000\r\n", b"{")],
                         ids=["request line", "headers", "body"])
def test_a_client_that_drips_is_cut(api, start):
    took = drip(api, start, b"a", PATIENCE)  # the library's own limit is on silence, and this one is never silent
    assert took is not None and took > 8, took
    assert api.get("/healthz")["ok"] is True
