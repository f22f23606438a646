"""The table of rights, cell by cell: it is read from the server, and every route and every kind of entry is tried by everyone."""
import re
import sqlite3
import sys

import pytest

from people import Gatehouse, gatehouse_in
from support import PATIENCE, ROOT, entry

sys.path.insert(0, str(ROOT / "tests" / "standards"))
from test_schema_agrees import RIGHT  # noqa: E402  one right body of every kind

ROLES = ("operator", "quality", "auditor", "administrator")

# A path for each route: what stands for its "*". None of it need be there.
PARTS = {"lots": "NO-LOT", "things": "heat/NO-HEAT", "entries": "1", "people": "NO-ONE", "terminals": "NO-TERM", "tokens": "NO-TOKEN",
         "schema": "openapi.yaml"}


def path_of(route):
    path = route["path"]
    if path == "/**":
        return "/kinwire.css"
    if path.startswith("/api/things"):
        return "/api/things/heat/NO-HEAT"
    for name, part in PARTS.items():
        path = re.sub(r"(/%s)/\*" % name, r"\1/" + part, path)
    return re.sub(r"\*", "NO-SUCH", path)


@pytest.fixture(scope="module")
def callers(tmp_path_factory):
    """{who: (caller, roles, right to read or record by purpose or None)}"""
    for g in gatehouse_in(tmp_path_factory.mktemp("rights")):
        got = {"nobody": (g.nobody(), ())}
        for role in ROLES:
            g.person("P-" + role, role)
        g.person("P-NONE")
        g.person("P-GONE", *ROLES)
        gone = g.caller("P-GONE")
        g.say("person", {"person": "P-GONE", "name": "Gone", "roles": list(ROLES), "closed": True})
        closed_token = g.token("T-CLOSED", "quality")
        g.say("token", {"token": "T-CLOSED", "role": "quality", "closed": True})
        for role in ROLES:
            got[role] = (g.caller("P-" + role), (role,))
            got["token of " + role] = (g.nobody(token=g.token("T-" + role, role), origin=False), (role,))
        got["person without a role"] = (g.caller("P-NONE"), ())
        got["closed person"] = (gone, None)
        got["closed token"] = (g.nobody(token=closed_token, origin=False), None)
        got["token that reads the ledger"] = (g.nobody(token=g.token("T-LEDGER", "auditor", only={"read": "ledger"}), origin=False), ("auditor",))
        got["token that reads figures"] = (g.nobody(token=g.token("T-FIG", "auditor", only={"read": "metrics"}), origin=False), ("auditor",))
        got["token for tests"] = (g.nobody(token=g.token("T-TEST", "quality", only={"kind": "test"}), origin=False), ("quality",))
        got["token for nothing"] = (g.nobody(token=g.token("T-NOTHING", "quality", only={}), origin=False), ("quality",))
        g.rights = g.admin.get("/api/rights")
        g.callers = got
        yield g


# what a token with a purpose may at most, by the names of rights
PURPOSES = {
    "token that reads the ledger": {"be-known", "read-ledger"},
    "token that reads figures": {"be-known", "read-figures"},
    "token for tests": {"be-known", "record"},
    "token for nothing": {"be-known"},
}


def wanted(who, roles, route):
    """The status that bars, or None."""
    if route["anyone"]:
        return None
    if who == "nobody" or roles is None:
        return 401
    if not set(roles) & set(route["roles"]):
        return 403
    if who in PURPOSES and route["right"] not in PURPOSES[who]:
        return 403
    return None


def test_every_route_by_everyone(callers):
    contract = callers.admin.contract
    written = {(m.upper(), re.sub(r"\{\w+\}", "*", p)) for p, m, _ in contract.operations() if not p.startswith("/schema/")}
    routes = callers.rights["routes"]
    listed = {(r["method"], r["path"]) for r in routes}
    assert written <= listed and listed - written == {("GET", "/schema/*"), ("GET", "/**")}
    cells, wrong = 0, []
    for route in routes:
        assert route["right"] != "nothing", "%s has no right" % route["path"]
        if (route["method"], route["path"]) == ("POST", "/api/session/end"):
            continue  # ends what the others need: it is tried in test_people.py
        for who, (caller, roles) in callers.callers.items():
            method = route["method"]
            answer = caller.session.request(method, caller.url + path_of(route), timeout=PATIENCE, data=b"[]" if method == "POST" else None, headers={
                **({"Content-Type": "application/json"} if method == "POST" else {}),
                **({"Origin": caller.url, "Kinwire-Csrf": caller.csrf or ""} if not caller.token else {}),
                **({"Authorization": "Bearer " + caller.token} if caller.token else {})})
            slug = re.search(r"/problems/([a-z-]+)", answer.text) if answer.status_code >= 400 else None
            barred = answer.status_code if slug and slug.group(1) in ("no-session", "not-allowed") else None
            if who == "nobody" and route["anyone"]:
                barred = None if barred in (401, 403) and method == "POST" else barred  # says no for want of a secret
            expected = wanted(who, roles, route)
            cells += 1
            if barred != expected:
                wrong.append((who, method, route["path"], expected, answer.status_code, answer.text[:200]))
            if method == "GET":
                head = caller.session.head(caller.url + path_of(route), timeout=PATIENCE,
                                           headers={"Authorization": "Bearer " + caller.token} if caller.token else {})
                cells += 1
                if head.status_code != answer.status_code and answer.status_code != 503:
                    wrong.append((who, "HEAD", route["path"], answer.status_code, head.status_code))
    print("%d cells of routes" % cells)
    assert not wrong, wrong
    assert cells > 700


def test_every_kind_by_everyone(callers):
    """By asking whether it would be taken. What isn't barred fails further in, or is taken: both are past the table."""
    cells, wrong = 0, []
    kinds = {k["kind"]: k for k in callers.rights["kinds"]}
    assert set(kinds) == set(RIGHT)
    for role in ROLES:
        callers.callers[role][0].again(callers.passwords["P-" + role])
    for kind, right in kinds.items():
        body = RIGHT[kind][0]
        for who, (caller, roles) in callers.callers.items():
            status, slug = caller.slug("POST", "/api/check", json=entry(kind, body))
            if who == "nobody" or roles is None:
                expected = "no-session"
            elif not set(roles) & {"operator", "quality", "administrator"} or (who in PURPOSES and "record" not in PURPOSES[who]):
                expected = "not-allowed"  # does not get as far as kinds
            elif not set(roles) & set(right["roles"]) and kind not in ("correct", "void"):
                expected = "not-allowed"
            elif who == "token for tests" and kind not in ("test", "correct", "void"):
                expected = "not-allowed"
            else:
                expected = None
            barred = slug if slug in ("no-session", "not-allowed", "password-again") else None
            cells += 1
            if barred != expected:
                wrong.append((who, kind, expected, status, slug))
    print("%d cells of kinds" % cells)
    assert not wrong, wrong
    assert cells > 400


def test_what_needs_the_password_again(callers):
    """With a session whose password was given longer ago: its former cookie does for that."""
    cells = 0
    for role in ROLES:
        fresh = callers.caller("P-" + role)
        old = callers.nobody()
        old.session.cookies.set("s", fresh.cookie())
        old.csrf = fresh.csrf
        fresh.again(callers.passwords["P-" + role])
        for right in callers.rights["kinds"]:
            if role not in right["roles"] or right["kind"] in ("correct", "void"):
                continue
            status, slug = old.slug("POST", "/api/check", json=entry(right["kind"], RIGHT[right["kind"]][0]))
            assert (slug == "password-again") == right["fresh"], (role, right["kind"], status, slug)
            if right["fresh"]:
                assert status == 403
            cells += 1
        for route in callers.rights["routes"]:
            if route["fresh"] and role in route["roles"]:
                assert old.slug("POST", path_of(route), json={}) == (403, "password-again"), route
                cells += 1
    print("%d cells of freshness" % cells)


def test_who_puts_right_needs_the_right_to_what_is_put_right(callers):
    quality, operator, administrator = (callers.callers[r][0] for r in ("quality", "operator", "administrator"))
    quality.again(callers.passwords["P-quality"])
    quality.put("spec", {"spec": "PUT-1", "version": 1, "what": "wire", "limits": {}, "tests": []})
    spec = callers.admin.get("/api/entries", kind="spec", limit=1)["entries"][0]["key"]
    operator.put("note", {"about": "machine:M-1", "text": "x"})
    note = callers.admin.get("/api/entries", kind="note", limit=1)["entries"][0]["key"]
    void = {"reason": "x"}
    assert operator.slug("POST", "/api/check", json=entry("void", {"entry": spec, **void})) == (403, "not-allowed")
    assert administrator.slug("POST", "/api/check", json=entry("void", {"entry": spec, **void})) == (403, "not-allowed")
    assert quality.slug("POST", "/api/check", json=entry("void", {"entry": spec, **void})) == (200, None)
    assert operator.slug("POST", "/api/check", json=entry("void", {"entry": note, **void})) == (200, None)
    assert administrator.slug("POST", "/api/check", json=entry("void", {"entry": note, **void})) == (200, None)


def test_denials_are_recorded(callers):
    got = callers.wait_for(what="denied", person="P-AUDITOR")
    assert any(b["why"].startswith("POST /api/") for b in got)
    assert callers.wait_for(what="denied", token="T-AUDITOR")


def test_when_roles_cant_be_looked_up_nobody_gets_in(tmp_path):
    """The table of people is taken away under the running server."""
    g = Gatehouse(tmp_path)
    try:
        g.person("Q-1", "quality")
        c = g.caller("Q-1")
        t = g.nobody(token=g.token("T-1", "auditor"), origin=False)
        base = sqlite3.connect(g.ledger, timeout=PATIENCE)
        for table in ("person", "token"):
            base.execute("ALTER TABLE %s RENAME TO gone_%s" % (table, table))
        base.commit()
        for caller in (c, t, g.admin):
            for path in ("/api/me", "/api/find?q=x", "/api/ledger/head", "/metrics", "/api/people"):
                answer = caller.session.get(caller.url + path, headers={"Authorization": "Bearer " + caller.token} if caller.token else {})
                assert answer.status_code == 503, (path, answer.text)
                assert "person" not in answer.json()["detail"] and "SQL" not in answer.text
        posted = c.slug("POST", "/api/entries", json=entry("note", {"about": "machine:M", "text": "x"}))
        assert posted[0] == 503
        got = g.nobody().slug("POST", "/api/session", json={"person": "Q-1", "password": g.passwords["Q-1"]})
        assert got[0] in (500, 503)
        assert g.nobody().session.get(g.url + "/healthz").status_code == 200
        assert g.nobody().session.get(g.url + "/kinwire.css").status_code == 200
        for table in ("person", "token"):
            base.execute("ALTER TABLE gone_%s RENAME TO %s" % (table, table))
        base.commit()
        base.close()
        c.get("/api/me")
    finally:
        g.kill()  # the ledger was tampered with, so that it does not verify
