"""A mill where one signs in: a server without --open, its administrator, and people with every role."""
import itertools
import json
import re
import signal

import requests

from support import Api, Server, entry, eventually, run_cli

WORDS = ("walrus", "ladder", "opal", "kettle", "bison", "quince", "meadow", "tulip", "gravel", "lantern", "pickle", "harbour")
_numbers = itertools.count(1)


def password():
    """One that nobody has had."""
    n = next(_numbers)
    return "%s %s %s %d" % (WORDS[n % 12], WORDS[n // 12 % 12], WORDS[(n * 5 + 3) % 12], 7000 + n)


class Caller(Api):
    """Whoever asks: nobody, a session with its cookie and csrf, or a token."""

    def __init__(self, url, token=None, origin=True):
        super().__init__(url)
        self.csrf = None
        self.token = token
        self.origin = origin

    def request(self, method, path, **how):
        headers = dict(how.pop("headers", None) or {})
        if method == "POST" and self.origin:
            headers.setdefault("Origin", self.url)
        if method == "POST" and self.csrf:
            headers.setdefault("Kinwire-Csrf", self.csrf)
        if self.token:
            headers.setdefault("Authorization", "Bearer " + self.token)
        return super().request(method, path, headers=headers, **how)

    def post(self, path, body=None, status=200, **how):
        answer = self.request("POST", path, json=body if body is not None else {}, **how)
        assert answer.status_code == status, "POST %s: %d %s" % (path, answer.status_code, answer.text[:400])
        return answer.json()

    def sign_in(self, person, word, status=200):
        got = self.post("/api/session", {"person": person, "password": word}, status)
        self.csrf = got.get("csrf")
        return got

    def again(self, word, status=200):
        return self.post("/api/session/again", {"password": word}, status)

    def unchanged(self, before):
        """But for refusals of earlier requests, which are recorded by and by, as entries of kind access."""
        if super().unchanged(before):
            return True
        came = self.get("/api/ledger/entries", after=before["size"], limit=1000).text.splitlines()
        return bool(came) and all(json.loads(line)["kind"] == "access" for line in came)

    def slug(self, method, path, **how):
        """(status, last part of the problem's type or None)"""
        answer = self.request(method, path, **how)
        found = re.search(r'"type":"[^"]*/([a-z-]+)"', answer.text) if answer.status_code >= 400 else None
        return answer.status_code, found.group(1) if found else None

    def cookie(self, name="s"):
        return self.session.cookies.get(name)


class Gatehouse:
    """The server and those who were let in."""

    def __init__(self, folder, *args):
        self.ledger = folder / "mill.kw"
        self.code = self.cli("admin-init", "--person", "AD-1", "--name", "Ada Minkels").stdout.strip()
        self.args = args
        self.server = Server(self.ledger, "--rate", "0", *args, open=False)
        self.passwords = {}
        self.set_by_code("AD-1", self.code)
        self.admin = self.caller("AD-1")

    def cli(self, command, *args, status=0):
        done = run_cli(command, "--ledger", self.ledger, *args)
        assert done.returncode == status, done.stdout + done.stderr
        return done

    @property
    def url(self):
        return self.server.url

    def nobody(self, **how):
        return Caller(self.url, **how)

    def set_by_code(self, person, code, word=None, status=200):
        word = word or password()
        got = self.nobody().post("/api/password", {"person": person, "code": code, "new": word}, status)
        if status == 200:
            self.passwords[person] = word
        return got

    def caller(self, person):
        """Signed in by password."""
        c = self.nobody()
        c.sign_in(person, self.passwords[person])
        return c

    def keep_fresh(self):
        if self.admin.get("/api/me")["fresh_s"] < 60:
            self.admin.again(self.passwords["AD-1"])

    def say(self, kind, body):
        self.keep_fresh()
        return self.admin.put(kind, body)

    def person(self, code, *roles, **more):
        """A person with a password."""
        self.say("person", {"person": code, "name": more.pop("name", "Person " + code), "roles": list(roles), **more})
        self.set_by_code(code, self.admin.post("/api/people/%s/code" % code)["code"])
        return code

    def pin(self, person, pin):
        self.keep_fresh()
        code = self.admin.post("/api/people/%s/pin" % person)["code"]
        self.nobody().post("/api/pin", {"person": person, "code": code, "pin": pin})

    def terminal(self, code):
        """A browser that is the terminal from now on."""
        self.say("terminal", {"terminal": code, "where": "bay of " + code})
        given = self.admin.post("/api/terminals/%s/code" % code)["code"]
        c = self.nobody()
        c.post("/api/terminals/enrol", {"terminal": code, "code": given})
        return c

    def token(self, name, role, **more):
        self.say("token", {"token": name, "role": role, **more})
        return self.admin.post("/api/tokens/%s/secret" % name)["secret"]

    def access(self, **wanted):
        """Bodies of the entries of kind access, oldest first, that say what is wanted."""
        got = self.admin.get("/api/entries", kind="access", limit=1000)["entries"]
        return [e["body"] for e in reversed(got) if all(e["body"].get(k) == v for k, v in wanted.items())]

    def wait_for(self, **wanted):
        """The same, once there is one: refusals are recorded by and by."""
        got = eventually(lambda: self.access(**wanted))
        assert got, "no access entry with %s: %s" % (wanted, json.dumps(self.access()))
        return got

    def restart(self):
        assert self.server.stop() == 0
        self.server = Server(self.ledger, "--rate", "0", *self.args, open=False)
        self.admin = self.caller("AD-1")

    def stop(self):
        assert self.server.stop() == 0
        checked = run_cli("verify", "--ledger", self.ledger)
        assert checked.returncode == 0, checked.stdout + checked.stderr

    def kill(self):
        self.server.stop(signal.SIGKILL)


def gatehouse_in(folder, *args):
    g = Gatehouse(folder, *args)
    try:
        yield g
        g.stop()
    finally:
        g.kill()
