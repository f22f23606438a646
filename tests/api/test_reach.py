"""Beyond this machine: which addresses are served, under which names, by which TLS, and what a renewed certificate does."""
import contextlib
import http.client
import json
import os
import re
import signal
import socket
import ssl
import subprocess

import pytest

from support import KINWIRE, PATIENCE, Heard, entry, eventually, run_cli

USAGE = 2


def make_pair(folder, name="localhost", stem="cert"):
    """A certificate of its own, and its key."""
    cert, key = folder / (stem + ".pem"), folder / (stem + ".key")
    subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", str(key),
                    "-out", str(cert), "-days", "10", "-subj", "/CN=" + name, "-addext", "subjectAltName=DNS:" + name],
                   check=True, capture_output=True)
    return cert, key


def make_over(folder):
    """One that ended years ago."""
    cert, key = folder / "over.pem", folder / "over.key"
    (folder / "ca.conf").write_text("[ca]\ndefault_ca=own\n[own]\ndatabase=%s\nnew_certs_dir=%s\nserial=%s\ndefault_md=sha256\npolicy=any\n"
                                    "[any]\ncommonName=supplied\n" % (folder / "index", folder, folder / "serial"))
    (folder / "index").touch()
    (folder / "serial").write_text("01\n")
    for command in ("req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -keyout over.key -out over.csr -subj /CN=localhost",
                    "ca -batch -selfsign -notext -config ca.conf -keyfile over.key -in over.csr -out over.pem -startdate 20200101000000Z "
                    "-enddate 20200201000000Z"):
        subprocess.run(["openssl", *command.split()], cwd=folder, check=True, capture_output=True)
    return cert, key


@pytest.fixture
def pair(tmp_path):
    return make_pair(tmp_path)


class Daemon:
    """`kinwire serve` with just these options."""

    def __init__(self, *args):
        self.process = subprocess.Popen([KINWIRE, "serve", *map(str, args)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.line = self.process.stdout.readline()
        found = re.match(r"kinwire: (https?)://([0-9.]+|\[[0-9a-f:]+\]):(\d+)/", self.line)
        assert found, (self.line, self.process.stderr.read() if self.process.poll() is not None else "")
        self.scheme, self.port = found.group(1), int(found.group(3))
        self.process.stderr = Heard(self.process.stderr)

    def stop(self):
        self.process.terminate()
        self.said = self.process.stderr.read()
        self.process.stdout.close()
        self.process.stderr.close()
        return self.process.wait(PATIENCE)

    def ask(self, path="/healthz", host=None, tls=None, head="", body=None, method="GET"):
        """(status, headers as text, body) of a request to 127.0.0.1, whatever name it asks for."""
        text = "%s %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n%s" % (method, path, host or "127.0.0.1:%d" % self.port, head)
        if body is not None:
            text += "Content-Type: application/json\r\nContent-Length: %d\r\n" % len(body)
        s = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE)
        if tls:
            s = tls.wrap_socket(s, server_hostname="localhost")
        with s:
            s.sendall((text + "\r\n" + (body or "")).encode())
            reply = b""
            while True:
                more = s.recv(65536)
                if not more:
                    break
                reply += more
        head, _, rest = reply.partition(b"\r\n\r\n")
        return int(head.split()[1]), head.decode(), rest


@pytest.fixture
def daemon(tmp_path):
    running = []

    def start(*args):
        running.append(Daemon("--ledger", tmp_path / "mill.kw", *args))
        return running[-1]

    yield start
    for d in running:
        if d.process.poll() is None:
            d.process.kill()
            d.process.wait()


def trust(cert):
    return ssl.create_default_context(cafile=str(cert))


# --- what is refused at the start ---------------------------------------------------------------


@pytest.mark.parametrize("args,word", [
    (["--listen", "0.0.0.0:0"], "loopback"),
    (["--listen", "0.0.0.0:0", "--host", "mill.example"], "loopback"),
    (["--listen", "[::]:0", "--host", "mill.example"], "loopback"),
    (["--listen", "0.0.0.0:0", "--insecure-lan"], "--host"),
    (["--listen", "0.0.0.0:0", "--insecure-lan", "--host", "mill.example", "--open"], "loopback"),
    (["--listen", "127.0.0.1:0", "--behind-proxy", "mill.example", "--open"], "loopback"),
    (["--listen", "127.0.0.1:0", "--host", "mill example"], "name"),
    (["--listen", "127.0.0.1:0", "--host", ""], "name"),
    (["--listen", "127.0.0.1:0", "--host", "mill.example,,"], "name"),
    (["--listen", "127.0.0.1:0", "--host", "http://mill.example"], "name"),
    (["--listen", "127.0.0.1:0", "--host", ",".join("m%d.example" % i for i in range(9))], "names"),
    (["--listen", "127.0.0.1:0", "--cert", "CERT"], "--key"),
    (["--listen", "127.0.0.1:0", "--key", "KEY"], "--cert"),
    (["--listen", "127.0.0.1:0", "--cert", "NONE", "--key", "KEY"], "can't be read"),
    (["--listen", "127.0.0.1:0", "--cert", "CERT", "--key", "NONE"], "can't be read"),
    (["--listen", "127.0.0.1:0", "--cert", "LETTER", "--key", "KEY"], "PEM"),
    (["--listen", "127.0.0.1:0", "--cert", "CERT", "--key", "LETTER"], "PEM"),
    (["--listen", "127.0.0.1:0", "--cert", "CERT", "--key", "OTHER"], "not the key"),
    (["--listen", "127.0.0.1:0", "--cert", "CERT", "--key", "LOOSE"], "everyone"),
    (["--listen", "127.0.0.1:0", "--cert", "OVER", "--key", "OVERKEY"], "is over"),
])
def test_what_is_not_served(tmp_path, pair, args, word):
    cert, key = pair
    _, other = make_pair(tmp_path, stem="other")
    letter, loose = tmp_path / "letter.pem", tmp_path / "loose.key"
    letter.write_text("Dear customer,\n")
    letter.chmod(0o600)
    loose.write_text(key.read_text())
    loose.chmod(0o644)
    over, over_key = tmp_path / "over.pem", tmp_path / "over.key"
    if "OVER" in args:
        over, over_key = make_over(tmp_path)
    names = {"CERT": cert, "KEY": key, "NONE": tmp_path / "none", "LETTER": letter, "OTHER": other, "LOOSE": loose, "OVER": over,
             "OVERKEY": over_key}
    done = run_cli("serve", "--as-root", "--ledger", tmp_path / "a.kw", *[names.get(a, a) for a in args])
    assert done.returncode == USAGE and word in done.stderr, done.stderr
    assert not (tmp_path / "a.kw").exists(), "refused before a ledger is made"


# --- names --------------------------------------------------------------------------------------


def test_further_names(daemon):
    d = daemon("--as-root", "--listen", "127.0.0.1:0", "--host", "ledger.mill.example,mill:9000")
    assert d.line.rstrip().endswith(", asked for as http://ledger.mill.example:%d/" % d.port)
    for host, want in (("ledger.mill.example", 200), ("LEDGER.mill.example:%d" % d.port, 200), ("mill:9000", 200), ("mill", 400),
                       ("ledger.mill.example:1", 400), ("ledger.mill.example.evil.example", 400), ("evil.example", 400),
                       ("localhost", 200)):
        assert d.ask(host=host)[0] == want, host
    assert d.ask(host="evil.example")[2].find(b"ledger.mill.example") > 0, "it says under which name it is asked"


def test_behind_a_proxy(daemon):
    d = daemon("--as-root", "--listen", "127.0.0.1:0", "--behind-proxy", "ledger.mill.example")
    assert d.scheme == "http" and "https://ledger.mill.example/" in d.line
    name = "ledger.mill.example"
    status, head, _ = d.ask(host=name)
    assert status == 200 and "Strict-Transport-Security: max-age=31536000" in head
    note = json.dumps(entry("note", {"about": "machine:M", "text": "x"}))
    for host, origin, allowed in ((name, "https://" + name, True), (name, "http://" + name, False),
                                  (name, "https://evil.example", False), ("127.0.0.1:%d" % d.port, "http://127.0.0.1:%d" % d.port, True),
                                  ("127.0.0.1:%d" % d.port, "https://127.0.0.1:%d" % d.port, False)):
        status = d.ask("/api/check", host, head="Origin: %s\r\n" % origin, body=note, method="POST")[0]
        assert (status != 403) == allowed, (host, origin, status)
    # what a proxy adds is nobody's credential
    head = "X-Forwarded-For: 10.0.0.1\r\nX-Forwarded-Host: evil.example\r\nX-Forwarded-User: admin\r\nForwarded: for=10.0.0.1;host=x\r\n"
    assert d.ask("/api/me", name, head=head)[2] == d.ask("/api/me", name)[2]


def test_a_network_of_ones_own_says_so(daemon):
    d = daemon("--as-root", "--listen", "0.0.0.0:0", "--insecure-lan", "--host", "mill.example")
    status, head, body = d.ask("/api/me", "mill.example")
    assert "Strict-Transport-Security" not in head
    if status == 200:
        assert json.loads(body)["in_the_clear"] is True


def test_one_address_does_not_take_every_connection(daemon):
    d = daemon("--as-root", "--listen", "0.0.0.0:0", "--insecure-lan", "--host", "mill.example")
    held = []
    for _ in range(60):
        s = socket.create_connection(("127.0.0.1", d.port), timeout=PATIENCE)
        held.append(s)
        with contextlib.suppress(ConnectionResetError, BrokenPipeError):
            s.sendall(b"GET /healthz HTTP/1.1\r\nHost: mill.example\r\n\r\n")

    def let_in(s):
        try:
            return s.recv(100).startswith(b"HTTP/1.1 200")
        except ConnectionResetError:
            return False
    # all of them stay; those beyond the limit are closed at once
    assert [let_in(s) for s in held] == [True] * 32 + [False] * 28
    for s in held:
        s.close()

    def answered():
        try:
            return d.ask(host="mill.example")[0] == 200
        except (ConnectionError, IndexError):
            return False
    assert eventually(answered)


# --- TLS ----------------------------------------------------------------------------------------


def versions():
    out = []
    for name in ("TLSv1", "TLSv1_1", "TLSv1_2", "TLSv1_3"):
        out.append((getattr(ssl.TLSVersion, name), name in ("TLSv1_2", "TLSv1_3")))
    return out


def test_tls(daemon, pair):
    cert, key = pair
    d = daemon("--as-root", "--listen", "127.0.0.1:0", "--cert", cert, "--key", key, "--open")
    assert d.scheme == "https"
    status, head, _ = d.ask(tls=trust(cert), host="localhost:%d" % d.port)
    assert status == 200 and "Strict-Transport-Security: max-age=31536000" in head
    for version, want in versions():
        old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        old.load_verify_locations(str(cert))
        old.set_ciphers("ALL:@SECLEVEL=0")
        old.minimum_version = old.maximum_version = version
        try:
            assert d.ask(tls=old)[0] == 200
            took = True
        except (ssl.SSLError, ConnectionError):
            took = False
        assert took == want, version
    note = json.dumps(entry("note", {"about": "machine:M", "text": "x"}))
    own = "localhost:%d" % d.port
    assert d.ask("/api/entries", own, trust(cert), "Origin: https://%s\r\n" % own, note, "POST")[0] == 201
    assert d.ask("/api/entries", own, trust(cert), "Origin: http://%s\r\n" % own, note, "POST")[0] == 403


def test_weak_ciphers_are_not_spoken(daemon, pair):
    cert, key = pair
    d = daemon("--as-root", "--listen", "127.0.0.1:0", "--cert", cert, "--key", key, "--open")
    for version, want in (("-tls1", False), ("-tls1_1", False), ("-tls1_2", True), ("-tls1_3", True)):
        done = subprocess.run(["openssl", "s_client", "-connect", "127.0.0.1:%d" % d.port, version, "-cipher", "ALL:@SECLEVEL=0"],
                              input="", capture_output=True, text=True, timeout=PATIENCE)
        took = re.search(r"Cipher is (?!\(NONE\))", done.stdout) is not None
        assert took == want, (version, done.stdout)
    for weak in ("NULL", "RC4", "3DES", "EXPORT", "aNULL", "DES"):
        done = subprocess.run(["openssl", "s_client", "-connect", "127.0.0.1:%d" % d.port, "-tls1_2", "-cipher", weak + ":@SECLEVEL=0"],
                              input="", capture_output=True, text=True, timeout=PATIENCE)
        assert not re.search(r"Cipher is (?!\(NONE\))", done.stdout), weak


def test_plain_http_to_the_tls_port_is_dropped(daemon, pair):
    cert, key = pair
    d = daemon("--as-root", "--listen", "127.0.0.1:0", "--cert", cert, "--key", key, "--open")
    with socket.create_connection(("127.0.0.1", d.port), timeout=PATIENCE) as s:
        s.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n")
        try:
            reply = s.recv(65536)
        except ConnectionResetError:
            reply = b""
    assert b"HTTP/" not in reply
    assert d.ask(tls=trust(cert))[0] == 200


def shown(d):
    return ssl.get_server_certificate(("127.0.0.1", d.port)).split()


def test_a_renewed_certificate(daemon, tmp_path, pair):
    cert, key = pair
    d = daemon("--as-root", "--listen", "127.0.0.1:0", "--cert", cert, "--key", key, "--open")
    first = cert.read_text().split()
    assert shown(d) == first
    held = trust(cert).wrap_socket(socket.create_connection(("127.0.0.1", d.port)), server_hostname="localhost")

    def goes_on():
        held.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n")
        answer = http.client.HTTPResponse(held)
        answer.begin()
        return answer.read() and answer.status == 200
    new_cert, new_key = make_pair(tmp_path, stem="new")
    os.replace(new_cert, cert)
    d.process.send_signal(signal.SIGHUP)  # the key is not the certificate's now: what was there stays
    d.process.stderr.wait_for("not the key")
    assert goes_on() and shown(d) == first
    os.replace(new_key, key)
    d.process.send_signal(signal.SIGHUP)
    eventually(lambda: goes_on() and shown(d) != first)  # it asks often enough not to be cut for silence
    assert shown(d) == cert.read_text().split()
    assert goes_on(), "a connection goes on with the certificate that it began with"
    held.close()
    assert d.stop() == 0
    assert "not the key" in d.said and "read again" in d.said, d.said
