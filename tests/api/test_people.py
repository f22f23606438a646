"""Who may come in: people, passwords, codes, sessions, terminals, PINs and tokens, over HTTP."""
import re
import sqlite3
import subprocess
import time

import pytest
import requests

from people import Caller, gatehouse_in, password
from support import PATIENCE, Server, entry, run_cli


@pytest.fixture(scope="module")
def gate(tmp_path_factory):
    yield from gatehouse_in(tmp_path_factory.mktemp("gate"))


@pytest.fixture
def own(tmp_path):
    """One whose locks and people are nobody else's."""
    yield from gatehouse_in(tmp_path)


# --- beginning --------------------------------------------------------------------------------


def test_nobody_is_there_before_the_console_says_so(server_on, tmp_path):
    s = server_on(tmp_path / "new.kw", open=False)
    assert s.api.get("/api/session") == {"open": False, "in_the_clear": False, "signed_in": False, "setup": True, "terminal": None}
    for person in ("admin", "administrator", "root", "kinwire", "open", "AD-1", ""):
        for word in ("", "admin", "password", "kinwire", "changeme"):
            got = s.api.request("POST", "/api/session", json={"person": person, "password": word})
            assert got.status_code in (401, 429), got.text
    s.stop()
    base = sqlite3.connect(tmp_path / "new.kw.access")
    assert base.execute("SELECT (SELECT count(*) FROM secret), (SELECT count(*) FROM code), (SELECT count(*) FROM bearer)").fetchone() \
        == (0, 0, 0)


def test_the_first_administrator_is_made_once_on_the_console(own, tmp_path):
    refused = own.cli("admin-init", "--person", "AD-2", "--name", "Another", status=1)
    assert "already" in refused.stderr
    own.cli("admin-init", "--person", "NOBODY", "--again", status=1)
    for args in (["--person", "AD-1"], ["--name", "x"], ["--person", "a b", "--name", "x"], ["--person", "x" * 41, "--name", "x"]):
        own.cli("admin-init", *args, status=2)
    code = own.cli("admin-init", "--person", "ad-1", "--again").stdout.strip()
    assert re.fullmatch(r"([0-9A-HJKMNP-TV-Z]{4}-){2}[0-9A-HJKMNP-TV-Z]{4}", code)
    own.set_by_code("AD-1", code.lower().replace("-", ""))
    own.admin = own.caller("AD-1")
    assert [b["why"] for b in own.access(what="code-given")] == ["on the console"] * 2


def test_a_code_does_once(gate):
    gate.say("person", {"person": "CO-1", "name": "Code One", "roles": ["operator"]})
    first = gate.admin.post("/api/people/CO-1/code")["code"]
    second = gate.admin.post("/api/people/co-1/code")
    assert second["person"] == "CO-1" and second["expires"] > time.strftime("%Y-%m-%dT%H", time.gmtime(time.time() + 23 * 3600))
    gate.set_by_code("CO-1", first, status=401)  # the later one has taken its place
    gate.set_by_code("CO-1", second["code"], word="short", status=422)  # which doesn't use it up
    gate.set_by_code("CO-1", second["code"])
    gate.set_by_code("CO-1", second["code"], status=401)
    gate.set_by_code("CO-2", second["code"], status=401)
    gate.nobody().post("/api/pin", {"person": "CO-1", "code": gate.admin.post("/api/people/CO-1/code")["code"], "pin": "907215"}, 401)


def test_a_code_ends(gate):
    gate.say("person", {"person": "CO-3", "name": "Code Three", "roles": []})
    code = gate.admin.post("/api/people/CO-3/code")["code"]
    base = sqlite3.connect(str(gate.ledger) + ".access", timeout=PATIENCE)
    base.execute("UPDATE code SET expires = ? WHERE of = 'CO-3'", (int(time.time()) - 1,))
    base.commit()
    gate.set_by_code("CO-3", code, status=401)


# --- passwords --------------------------------------------------------------------------------


@pytest.mark.parametrize("word, status", [
    ("eleven char", 422), ("twelve chars", 200), ("walrus ladder opal and some more of them up to sixty-four and beyond", 200),
    ("ünïcödé kêttlé ✓ 木", 200), ("x" * 129, 422), ("passwordpassword", 422), ("123456789012", 422), ("kinwire rope mill", 422),
    ("Person PW-1 2026", 422), ("lower case only here", 200), ("\u0000" * 12, 400),
])
def test_passwords_that_are_taken(gate, word, status):
    gate.say("person", {"person": "PW-1", "name": "Person PW-1", "roles": ["operator"]})
    code = gate.admin.post("/api/people/PW-1/code")["code"]
    got = gate.set_by_code("PW-1", code, word, status)
    if status == 422:
        assert got["pointer"] == "/new" and got["type"].endswith("/bad-value")
    if status == 200:
        gate.nobody().sign_in("pw-1", word)
        gate.nobody().sign_in("PW-1", word[:-1], 401)
        gate.nobody().sign_in("PW-1", word + "x", 401)


def test_a_change_of_password_ends_the_other_sessions(gate):
    gate.person("CH-1", "operator")
    old = gate.passwords["CH-1"]
    a, b = gate.caller("CH-1"), gate.caller("CH-1")
    a.post("/api/password", {"old": "not it, surely", "new": password()}, 401)
    a.post("/api/password", {"old": old}, 422)
    a.post("/api/password", {"new": password()}, 422)
    new = password()
    a.post("/api/password", {"old": old, "new": new})
    a.get("/api/me")
    b.get("/api/me", status=401)
    gate.nobody().sign_in("CH-1", old, 401)
    gate.nobody().sign_in("CH-1", new)
    c = gate.nobody()
    c.sign_in("CH-1", new)
    code = gate.admin.post("/api/people/CH-1/code")["code"]
    gate.set_by_code("CH-1", code)
    for signed_in in (a, c):
        signed_in.get("/api/me", status=401)
    assert [x["why"] for x in gate.access(what="password-set", person="CH-1")] == ["with a one-time code", "signed in", "with a one-time code"]


def test_secrets_are_kept_as_hashes_alone(gate):
    gate.person("HA-1", "operator")
    gate.person("HA-2", "operator")
    gate.pin("HA-1", "918273")
    gate.token("HA-TOKEN", "auditor")
    base = sqlite3.connect(str(gate.ledger) + ".access", timeout=PATIENCE)
    hashes = [h for h, in base.execute("SELECT hash FROM secret")]
    assert len(hashes) >= 3 and len({h.split("$")[4] for h in hashes}) == len(hashes), "salts"
    assert all(h.startswith("$argon2id$v=19$m=65536,t=2,p=1$") for h in hashes)
    raw = b"".join((gate.ledger.parent / n).read_bytes() for n in ("mill.kw", "mill.kw-wal", "mill.kw.access"))
    pepper = (gate.ledger.parent / "mill.kw.pepper").read_text().strip()
    assert len(pepper) == 64 and pepper.encode() not in raw and bytes.fromhex(pepper) not in raw
    for secret in [*gate.passwords.values(), "918273"]:
        assert secret.encode() not in raw
    for name in ("mill.kw.access", "mill.kw.pepper"):
        assert (gate.ledger.parent / name).stat().st_mode & 0o777 == 0o600


# --- sessions ---------------------------------------------------------------------------------


def test_signing_in_and_out(gate):
    gate.person("SI-1", "quality", "auditor", name="Sía Ørn")
    c = gate.nobody()
    assert c.get("/api/session")["signed_in"] is False
    answer = c.request("POST", "/api/session", json={"person": "si-1", "password": gate.passwords["SI-1"]})
    me = answer.json()
    assert (me["by"], me["name"], me["roles"], me["how"], me["terminal"], me["open"]) == \
        ("SI-1", "Sía Ørn", ["quality", "auditor"], "password", None, False)
    assert 240 <= me["fresh_s"] <= 300 and 1740 <= me["idle_s"] <= 1800 and 43140 <= me["ends_s"] <= 43200
    assert re.fullmatch(r"s=[A-Za-z0-9_-]{43}; HttpOnly; SameSite=Strict; Path=/", answer.headers["Set-Cookie"])
    first = c.cookie()
    c.csrf = me["csrf"]
    assert c.get("/api/me")["by"] == "SI-1"
    c.sign_in("SI-1", gate.passwords["SI-1"])
    assert c.cookie() != first, "a new one at sign-in"
    stale = gate.nobody()
    stale.session.cookies.set("s", first)
    stale.get("/api/me", status=401)
    kept = c.cookie()
    assert c.post("/api/session/end") == {"signed_in": False}
    assert not c.cookie()
    stale.session.cookies.set("s", kept)
    stale.get("/api/me", status=401)
    assert len(gate.access(what="sign-in", person="SI-1")) == 2 and len(gate.access(what="sign-out", person="SI-1")) == 1
    c.csrf = None
    c.post("/api/session/end", status=401)


def test_giving_the_password_again_renews_the_cookie(gate):
    gate.person("AG-1", "quality")
    c = gate.caller("AG-1")
    before, csrf = c.cookie(), c.csrf
    c.again("wrong one entirely", 401)
    me = c.again(gate.passwords["AG-1"])
    assert c.cookie() != before and me["csrf"] == csrf and me["fresh_s"] >= 240
    # what was under way with the former cookie still gets through, but isn't fresh
    former = gate.nobody()
    former.session.cookies.set("s", before)
    former.csrf = csrf
    assert former.get("/api/me")["fresh_s"] == 0
    assert former.slug("POST", "/api/check", json=entry("spec", SPEC)) == (403, "password-again")


SPEC = {"spec": "S-1", "version": 1, "what": "wire", "limits": {}, "tests": []}


def test_a_post_by_a_session_says_where_it_comes_from(gate):
    gate.person("CS-1", "operator")
    c = gate.caller("CS-1")
    note = {"json": entry("note", {"about": "machine:M-1", "text": "x"})}
    good = c.csrf
    assert c.slug("POST", "/api/check", **note) == (200, None)
    for csrf in (None, "", "x", good[:-1], good + "x", good.swapcase()):
        c.csrf = csrf
        assert c.slug("POST", "/api/check", **note) == (403, "not-allowed"), csrf
        assert c.slug("POST", "/api/session/end", json={}) == (403, "not-allowed")
    c.csrf = good
    for origin in ("https://evil.example", "null", gate.url + ".evil.example", gate.url.replace("127.0.0.1", "localhost")):
        assert c.slug("POST", "/api/check", headers={"Origin": origin}, **note) == (403, "not-allowed"), origin
    c.origin = False
    assert c.slug("POST", "/api/check", **note) == (403, "not-allowed")
    assert c.slug("POST", "/api/check", headers={"Sec-Fetch-Site": "same-origin"}, **note) == (200, None)
    assert c.slug("POST", "/api/check", headers={"Sec-Fetch-Site": "cross-site"}, **note) == (403, "not-allowed")
    other = gate.caller("CS-1")
    c.origin, c.csrf = True, other.csrf
    assert c.slug("POST", "/api/check", **note) == (403, "not-allowed"), "of another session"


def test_secrets_of_sessions_are_all_different(gate):
    got = set()
    c = gate.nobody()
    for _ in range(30):
        c.sign_in("AD-1", gate.passwords["AD-1"])
        got |= {c.cookie(), c.csrf}
    assert len(got) == 60 and all(re.fullmatch(r"[A-Za-z0-9_-]{43}", x) for x in got)


def test_a_restart_ends_sessions_and_nothing_else(own):
    own.person("RE-1", "operator")
    c = own.caller("RE-1")
    own.restart()
    c.url = own.url
    c.get("/api/me", status=401)
    own.caller("RE-1").get("/api/me")


def test_whoever_is_closed_or_gets_other_roles_is_out_at_once(gate):
    gate.person("CL-1", "operator")
    c = gate.caller("CL-1")
    c.get("/api/me")
    gate.say("person", {"person": "CL-1", "name": "New Name", "roles": ["operator"]})
    assert c.get("/api/me")["name"] == "New Name", "a name is no right"
    gate.say("person", {"person": "CL-1", "name": "New Name", "roles": ["operator", "quality"]})
    c.get("/api/me", status=401)
    c = gate.caller("CL-1")
    gate.say("person", {"person": "CL-1", "name": "New Name", "roles": ["operator", "quality"], "closed": True})
    c.get("/api/me", status=401)
    gate.nobody().sign_in("CL-1", gate.passwords["CL-1"], 401)
    gate.admin.post("/api/people/CL-1/code", status=404)
    closed = [p for p in gate.admin.get("/api/people")["people"] if p["person"] == "CL-1"][0]
    assert closed["closed"] is True and closed["password"] is True


def test_somebody_stays_administrator(own):
    body = {"person": "AD-1", "name": "Ada", "roles": ["administrator"]}
    own.admin.refuse("person", {**body, "closed": True}, "last-administrator", "/body/closed", 409)
    own.admin.refuse("person", {**body, "roles": ["quality"]}, "last-administrator", "/body/roles", 409)
    own.say("person", {"person": "AD-2", "name": "Second", "roles": ["administrator"], "badge": "B-1"})
    own.admin.refuse("person", {"person": "OP-1", "name": "x", "roles": [], "badge": "b-1"}, "code-taken", "/body/badge", 409)
    own.say("person", {**body, "roles": ["quality"]})
    made = own.set_by_code("AD-2", own.cli("admin-init", "--person", "AD-2", "--again").stdout.strip())
    assert made == {"set": True}
    own.caller("AD-2")
    own.admin = own.caller("AD-2")


def test_what_is_said_of_people_is_said_anew(gate):
    gate.say("person", {"person": "VO-1", "name": "x", "roles": []})
    key = gate.admin.get("/api/entries", kind="person", limit=1)["entries"][0]["key"]
    gate.admin.refuse("void", {"entry": key, "reason": "x"}, "bad-value", "/body/entry")
    gate.admin.refuse("correct", {"entry": key, "reason": "x", "body": {"person": "VO-1", "name": "y", "roles": []}}, "bad-value")
    gate.admin.refuse("access", {"what": "sign-in", "person": "VO-1"}, "not-allowed", "/kind", 403)


# --- tokens -----------------------------------------------------------------------------------


def test_tokens(gate):
    secret = gate.token("UTM-FILE", "operator", only={"kind": "test", "instrument": "utm-1"})
    assert re.fullmatch(r"kwt_[A-Za-z0-9_-]{43}", secret)
    t = gate.nobody(token=secret, origin=False)
    me = t.get("/api/me")
    assert (me["by"], me["how"], me["roles"], me["csrf"]) == ("UTM-FILE", "token", ["operator"], None)
    test = {"test": "T-1", "lot": "NO-SUCH", "instrument": "UTM-1", "results": {"tensile_kpa": 1}}
    assert t.slug("POST", "/api/check", json=entry("test", test)) == (422, "unknown-lot"), "as far as the ledger"
    for kind, body in (("test", {**test, "instrument": "UTM-2"}), ("test", {k: v for k, v in test.items() if k != "instrument"}),
                       ("note", {"about": "machine:M", "text": "x"}), ("hold", {"hold": "H", "reason": "x", "lots": ["A"]})):
        assert t.slug("POST", "/api/check", json=entry(kind, body)) == (403, "not-allowed"), kind
    for path in ("/api/find?q=x", "/api/people", "/api/ledger/head", "/metrics", "/api/entries"):
        assert t.slug("GET", path) == (403, "not-allowed"), path
    newer = gate.admin.post("/api/tokens/UTM-FILE/secret")["secret"]
    t.get("/api/me", status=401)
    t.token = newer
    t.get("/api/me")
    gate.say("token", {"token": "UTM-FILE", "role": "operator", "closed": True})
    t.get("/api/me", status=401)
    gate.wait_for(what="refused", token="UTM-FILE")
    gate.admin.post("/api/tokens/UTM-FILE/secret", status=404)
    gate.say("token", {"token": "ENDED", "role": "auditor", "expires": "2026-01-01T00:00:00Z"})
    t.token = gate.admin.post("/api/tokens/ENDED/secret")["secret"]
    t.get("/api/me", status=401)
    listed = {x["token"]: x for x in gate.admin.get("/api/tokens")["tokens"]}
    assert listed["UTM-FILE"]["closed"] and listed["ENDED"]["expires"] == "2026-01-01T00:00:00Z"


def test_a_machines_token_records_what_its_machine_does(gate):
    t = gate.nobody(token=gate.token("BLOCK-7", "operator", only={"machine": "BLOCK-7"}))
    body = {"run": "TR-1", "process": "wind", "machine": "BLOCK-7", "lines": ["1"]}
    assert t.put("open", body)["seq"]
    doff = {"run": "TR-1", "lot": "TB-1", "kind": "bobbin", "length_mm": 5}
    assert t.slug("POST", "/api/check", json=entry("doff", doff)) != (403, "not-allowed"), "it goes by the run's machine"
    assert t.slug("POST", "/api/check", json=entry("doff", {**doff, "run": "OTHER"})) == (403, "not-allowed")
    assert t.slug("POST", "/api/check", json=entry("open", {**body, "run": "TR-2", "machine": "BLOCK-8"})) == (403, "not-allowed")
    stored = gate.admin.get("/api/entries", kind="open", limit=1)["entries"][0]
    assert (stored["by"], stored["terminal"]) == ("BLOCK-7", "BLOCK-7")


@pytest.mark.parametrize("credentials", ["Bearer", "Bearer ", "Bearer x", "Bearer kwt_", "Basic YTpi", "bearer kwt_" + "A" * 43, "x" * 8000])
def test_bad_credentials(gate, credentials):
    c = gate.nobody()
    got = c.request("GET", "/api/me", headers={"Authorization": credentials})
    assert got.status_code == 401 and got.headers["WWW-Authenticate"].startswith("Bearer")


def test_a_token_from_the_console(own):
    secret = own.cli("token", "--role", "auditor", "--name", "follow-1", "--only", "read=ledger").stdout.strip()
    t = own.nobody(token=secret)
    assert t.get("/api/ledger/head")["size"] > 0
    t.get("/api/find", 403, q="x")
    for args in ([], ["--role", "boss", "--name", "X"], ["--role", "auditor"], ["--role", "auditor", "--name", "a b"],
                 ["--role", "auditor", "--name", "X", "--only", "kind"], ["--role", "auditor", "--name", "X", "--only", "=x"]):
        own.cli("token", *args, status=2)
    for args in (["--only", "kind=nosuch"], ["--only", "read=all"], ["--expires", "tomorrow"], ["--only", "kind=test,read=ledger"]):
        own.cli("token", "--role", "auditor", "--name", "X", *args, status=3)
    own.cli("token", "--role", "auditor", "--name", "AD-1", status=3)  # is a person
    assert not [t for t in own.admin.get("/api/tokens")["tokens"] if t["token"] == "X"]


# --- terminals and PINs -----------------------------------------------------------------------


def test_badge_and_pin_at_an_enrolled_terminal(gate):
    gate.person("OP-1", "operator", badge="B-100")
    gate.person("QU-1", "operator", "quality", badge="B-200")
    gate.person("AU-1", "auditor", badge="B-300")
    for person, pin in (("OP-1", "907215"), ("QU-1", "118273"), ("AU-1", "665544")):
        gate.pin(person, pin)
    t = gate.terminal("DRAW-1")
    assert t.get("/api/session")["terminal"] == "DRAW-1"
    elsewhere = gate.nobody()
    assert elsewhere.slug("POST", "/api/session/badge", json={"badge": "B-100", "pin": "907215"}) == (403, "not-allowed")
    me = t.post("/api/session/badge", {"badge": "b-100", "pin": "907215"})
    t.csrf = me["csrf"]
    assert (me["by"], me["how"], me["roles"], me["terminal"], me["fresh_s"]) == ("OP-1", "pin", ["operator"], "DRAW-1", 0)
    assert 240 <= me["idle_s"] <= 300
    t.put("note", {"about": "machine:DRAW-1", "text": "die changed"})
    stored = gate.admin.get("/api/entries", kind="note", limit=1)["entries"][0]
    assert (stored["by"], stored["terminal"]) == ("OP-1", "DRAW-1")
    answer = t.request("POST", "/api/entries", json=entry("note", {"about": "machine:DRAW-1", "text": "y"}), headers={"Kinwire-Terminal": "DRAW-2"})
    assert answer.status_code == 201
    assert gate.admin.get("/api/entries", kind="note", limit=1)["entries"][0]["terminal"] == "DRAW-1", "whatever the header says"
    # a cookie that is carried away from its terminal is good for nothing
    elsewhere.session.cookies.set("s", t.cookie())
    elsewhere.get("/api/me", status=401)
    t.get("/api/me")
    # quality at a terminal acts as an operator
    me = t.post("/api/session/badge", {"person": "QU-1", "pin": "118273"})
    t.csrf = me["csrf"]
    assert me["roles"] == ["operator"]
    assert t.slug("POST", "/api/check", json=entry("spec", SPEC)) == (403, "not-allowed")
    assert t.slug("POST", "/api/session/again", json={"password": gate.passwords["QU-1"]}) == (403, "not-allowed")
    t.csrf = None
    assert t.slug("POST", "/api/session/badge", json={"badge": "B-300", "pin": "665544"}) == (403, "not-allowed"), "an auditor"
    assert t.slug("POST", "/api/session/badge", json={"pin": "665544"}) == (422, "missing")
    assert t.slug("POST", "/api/session/badge", json={"badge": "B-100", "person": "OP-1", "pin": "907215"}) == (422, "missing")
    # by password at the terminal: everything, and bound to it
    me = t.sign_in("QU-1", gate.passwords["QU-1"])
    assert me["terminal"] == "DRAW-1" and me["roles"] == ["operator", "quality"]
    gate.say("terminal", {"terminal": "DRAW-1", "where": "bay", "closed": True})
    t.get("/api/me", status=401)
    assert t.get("/api/session")["terminal"] is None


def test_enrolment(gate):
    t = gate.terminal("ENR-1")
    answer_cookie = [c for c in t.session.cookies if c.name == "t"][0]
    assert answer_cookie.has_nonstandard_attr("HttpOnly") and answer_cookie.expires > time.time() + 399 * 86400
    assert [x["enrolled"] for x in gate.admin.get("/api/terminals")["terminals"] if x["terminal"] == "ENR-1"] == [True]
    code = gate.admin.post("/api/terminals/ENR-1/code")
    assert code["terminal"] == "ENR-1"
    gate.nobody().post("/api/terminals/enrol", {"terminal": "ENR-2", "code": code["code"]}, 401)
    second = gate.nobody()
    second.post("/api/terminals/enrol", {"terminal": "enr-1", "code": code["code"]})
    assert second.get("/api/session")["terminal"] == "ENR-1" and t.get("/api/session")["terminal"] is None
    gate.nobody().post("/api/terminals/enrol", {"terminal": "ENR-1", "code": code["code"]}, 401)
    gate.admin.post("/api/terminals/NO-SUCH/code", status=404)


@pytest.mark.parametrize("pin", ["12345", "123456", "111111", "abcdef", "1234567890123", "98-7654", ""])
def test_pins_that_are_not_taken(gate, pin):
    gate.say("person", {"person": "PI-1", "name": "Pin", "roles": ["operator"]})
    code = gate.admin.post("/api/people/PI-1/pin")["code"]
    got = gate.nobody().post("/api/pin", {"person": "PI-1", "code": code, "pin": pin}, 422)
    assert got["pointer"] == "/pin"


def test_a_pin_by_ones_own_password(gate):
    gate.person("PI-2", "operator")
    c = gate.caller("PI-2")
    c.post("/api/pin", {"pin": "908172"})
    assert [p["pin"] for p in gate.admin.get("/api/people")["people"] if p["person"] == "PI-2"] == [True]
    gate.nobody().post("/api/pin", {"pin": "908172"}, 401)
    gate.nobody().post("/api/pin", {"person": "PI-2", "pin": "908172"}, 422)


# --- forms ------------------------------------------------------------------------------------


@pytest.mark.parametrize("body, status", [
    (b"", 422), (b"{", 400), (b"[]", 422), (b"null", 422), (b'{"person":"AD-1"}', 422), (b'{"person":1,"password":"x"}', 422),
    (b'{"person":"AD-1","password":"x","role":"administrator"}', 422), (b'{"person":"AD-1","person":"AD-2","password":"x"}', 400),
    (b'{"person":"AD-1","password":"' + b"x" * 5000 + b'"}', 413), (b'{"person":"\xff","password":"x"}', 400),
    (b"[" * 15, 400), (b"[" * 4000, 413),
], ids=range(12))
def test_forms_are_read_strictly(gate, body, status):
    c = gate.nobody()
    got = c.request("POST", "/api/session", data=body, headers={"Content-Type": "application/json"})
    assert got.status_code == status, got.text
    assert c.request("POST", "/api/session", data=body, headers={"Content-Type": "text/plain"}).status_code == 415
    assert c.request("POST", "/api/session", data=body).status_code == 415
    for method in ("PUT", "DELETE", "TRACE", "OPTIONS", "PATCH"):
        assert c.request(method, "/api/session").status_code == 405


def test_with_open_nobody_signs_in(fresh):
    me = fresh.get("/api/me")
    assert (me["by"], me["how"], me["csrf"], me["roles"]) == ("open", "open", None, ["operator", "quality", "auditor", "administrator"])
    assert fresh.get("/api/session")["setup"] is False
    fresh.put("person", {"person": "P-1", "name": "Demo", "roles": ["quality"]})
    assert fresh.get("/api/people")["people"][0]["person"] == "P-1"
    for path in ("/api/session", "/api/people/P-1/code", "/api/tokens/T/secret", "/api/password"):
        got = fresh.request("POST", path, json={})
        assert got.status_code == 403, got.text
    fresh.refuse("access", {"what": "sign-in"}, "not-allowed", "/kind")


def test_the_table_of_rights_is_served_as_it_is(gate):
    """Everybody who is known may see it, and it is the same for everyone."""
    table = gate.admin.get("/api/rights")
    gate.person("RI-1", "operator")
    assert gate.caller("RI-1").get("/api/rights") == table
    gate.nobody().get("/api/rights", status=401)
    kinds = {k["kind"]: k for k in table["kinds"]}
    assert set(kinds) == set(gate.admin.contract.openapi["components"]["schemas"]["EntryKind"]["enum"])
    assert kinds["release"] == {"kind": "release", "roles": ["quality"], "fresh": True} and kinds["access"]["roles"] == []


def test_a_backup_has_the_hashes_and_not_the_pepper(own, tmp_path):
    own.person("BA-1", "operator", badge="B-BA")
    own.pin("BA-1", "907215")
    token = own.token("BA-K", "auditor")
    copy, back = tmp_path / "copy" / "b.kw", tmp_path / "back" / "mill.kw"
    copy.parent.mkdir()
    back.parent.mkdir()
    done = run_cli("backup", "--ledger", own.ledger, copy)
    assert done.returncode == 0 and "pepper" in done.stderr, done.stderr
    assert sorted(p.name for p in copy.parent.iterdir()) == ["b.kw", "b.kw.access", "b.kw.manifest.json"]
    assert (copy.parent / "b.kw.access").stat().st_mode & 0o777 == 0o600
    (back.parent / "mill.kw.access").write_bytes(b"an old one")
    assert run_cli("restore", "--from", copy, "--ledger", back).returncode == 2
    (back.parent / "mill.kw.access").unlink()
    assert run_cli("restore", "--from", copy, "--ledger", back).returncode == 0
    serve = ["serve", "--ledger", back, "--listen", "127.0.0.1:0", "--as-root"]
    refused = run_cli(*serve)
    assert refused.returncode == 4 and "pepper is missing" in refused.stderr
    (back.parent / "mill.kw.pepper").write_text("0" * 64)
    refused = run_cli(*serve)
    assert refused.returncode == 4 and "not the one that belongs" in refused.stderr
    (back.parent / "mill.kw.pepper").write_text((own.ledger.parent / "mill.kw.pepper").read_text())
    restored = Server(back, "--rate", "0", open=False)
    try:
        c = Caller(restored.url)
        c.sign_in("BA-1", own.passwords["BA-1"])
        assert Caller(restored.url, token=token).get("/api/me")["by"] == "BA-K"
    finally:
        restored.stop()


def test_sign_ins_are_counted(own):
    own.nobody().sign_in("AD-1", "wrong", 401)
    text = own.admin.request("GET", "/metrics").text
    assert 'kinwire_sign_ins_total{outcome="signed-in"} 1' in text and 'kinwire_sign_ins_total{outcome="refused"} 1' in text


COOKIE = r"__Host-s=[A-Za-z0-9_-]{43}; Secure; HttpOnly; SameSite=Strict; Path=/"


def test_cookies_over_tls_are_for_tls_alone(own, tmp_path):
    """By a certificate of the server's own, and behind a proxy; what asks this machine directly has no TLS."""
    cert, key = tmp_path / "c.pem", tmp_path / "k.pem"
    subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", key,
                    "-out", cert, "-days", "2", "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1"],
                   check=True, capture_output=True)
    own.say("terminal", {"terminal": "TLS-T", "where": "x"})
    code = own.admin.post("/api/terminals/TLS-T/code")["code"]
    word = own.passwords["AD-1"]
    assert own.server.stop() == 0
    body = {"person": "AD-1", "password": word}
    tls = Server(own.ledger, "--rate", "0", "--cert", cert, "--key", key, open=False)
    c, other = requests.Session(), requests.Session()
    for each in (c, other):
        each.verify, each.trust_env = str(cert), False
    answer = c.post(tls.url + "/api/session", json=body)
    assert answer.status_code == 200 and re.fullmatch(COOKIE, answer.headers["Set-Cookie"]), answer.headers
    assert "max-age" in answer.headers["Strict-Transport-Security"]
    assert c.get(tls.url + "/api/me").json()["by"] == "AD-1"
    enrolled = c.post(tls.url + "/api/terminals/enrol", json={"terminal": "TLS-T", "code": code})
    assert re.fullmatch(r"__Host-t=kwd_[A-Za-z0-9_-]{43}; Max-Age=34560000; Secure; HttpOnly; SameSite=Strict; Path=/",
                        enrolled.headers["Set-Cookie"])
    # the name that says so is the only one that counts there
    assert other.get(tls.url + "/api/me", cookies={"s": c.cookies["__Host-s"]}).status_code == 401
    assert other.get(tls.url + "/api/me", cookies={"__Host-s": c.cookies["__Host-s"]}).status_code == 200
    assert tls.stop() == 0
    proxied = Server(own.ledger, "--rate", "0", "--behind-proxy", "ledger.mill.example", open=False)
    answer = requests.post(proxied.url + "/api/session", json=body, headers={"Host": "ledger.mill.example"})
    assert re.fullmatch(COOKIE, answer.headers["Set-Cookie"])
    answer = requests.post(proxied.url + "/api/session", json=body)
    assert answer.headers["Set-Cookie"].startswith("s=")
    assert proxied.stop() == 0


def test_terminals_are_not_called_what_the_server_calls_places(own):
    for code in ("WEB", "API", "CONSOLE", "load"):
        own.admin.refuse("terminal", {"terminal": code, "where": "x"}, "code-taken", "/body/terminal", 409)
