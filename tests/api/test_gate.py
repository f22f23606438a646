"""Requests that are not as they should be: unknown paths and parameters, wrong methods, media and sizes, and the headers of answers."""
import json

import pytest

from support import PATIENCE, entry

GETS = ["/api/me", "/api/attention", "/api/holds", "/api/ledger/head", "/api/ledger/verify", "/healthz", "/metrics",
        "/schema/openapi.yaml", "/schema/entry.schema.json", "/api/entries", "/api/ledger/entries"]


def test_unknown_paths(api):
    for path in ("/api", "/api/", "/api/nothing", "/api/lots", "/api/lots/", "/api/lots/X/y", "/api/lots/X/Y/Z", "/nothing.html",
                 "/api/entries/", "/api/things/heat", "/schema/nothing.json", "/schema/001-ledger.sql"):
        answer = api.request("GET", path)
        assert answer.status_code in (400, 404), path
        assert answer.headers["Content-Type"].startswith("application/problem+json"), path


@pytest.mark.parametrize("path", GETS)
def test_unknown_parameters(api, path):
    api.expect(api.request("GET", path, params={"colour": "red"}), "bad-request", status=400)


def test_a_parameter_twice(api, bench):
    lot = bench.rod(10)
    answer = api.request("GET", "/api/trace", params=[("origin", "lot:" + lot), ("origin", "lot:" + lot)])
    assert answer.status_code == 400


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH"])
def test_methods_that_a_path_does_not_have(api, method):
    for path in ("/api/entries", "/api/trace", "/api/ledger/head", "/healthz"):
        assert api.request(method, path).status_code == 405


def test_post_where_there_is_only_get(api):
    for path in ("/api/trace", "/api/me", "/healthz", "/api/lots/X"):
        answer = api.request("POST", path, data=b"{}", headers={"Content-Type": "application/json"})
        api.expect(answer, "bad-method", status=405)


def test_media_types(api, bench):
    text = json.dumps(entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"})).encode()
    for media in ("text/plain", "application/x-www-form-urlencoded", "application/xml", ""):
        answer = api.request("POST", "/api/entries", data=text, headers={"Content-Type": media})
        api.expect(answer, "wrong-media", status=415)
    answer = api.request("POST", "/api/entries", data=text, headers={"Content-Type": "Application/JSON; charset=utf-8"})
    assert answer.status_code == 201


def test_too_large(api):
    before = api.get("/api/ledger/head")
    body = b'{"key":"' + b"x" * (3 << 20) + b'"}'
    try:
        answer = api.session.post(api.url + "/api/entries", data=body, headers={"Content-Type": "application/json"}, timeout=PATIENCE)
        assert answer.status_code == 413 and answer.json()["type"].endswith("/too-large")
    except (ConnectionError, OSError):
        pass  # cut while still being sent
    assert api.get("/api/ledger/head") == before


def test_every_answer_carries_the_guards(api, bench):
    lot = bench.rod(10)
    for path in GETS + ["/", "/nothing", "/api/lots/" + lot, "/api/lots/NONE", "/api/trace?origin=lot:" + lot, "/api/trace"]:
        headers = api.session.get(api.url + path).headers
        csp = headers["Content-Security-Policy"]
        assert "default-src 'none'" in csp and "unsafe-inline" not in csp and "unsafe-eval" not in csp, path
        assert headers["X-Content-Type-Options"] == "nosniff", path
        assert "Access-Control-Allow-Origin" not in headers, path


def test_a_foreign_page_cannot_post(api, bench):
    e = entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"})
    for origin in ("https://evil.example", "null"):
        answer = api.request("POST", "/api/entries", json=e, headers={"Origin": origin})
        assert answer.status_code in (400, 403), origin
    answer = api.request("POST", "/api/entries", json=e, headers={"Origin": api.url})
    assert answer.status_code == 201


def test_a_wrong_terminal_name(api, bench):
    e = entry("heat", {"heat": bench.code("H"), "supplier": "A", "grade": "B"})
    answer = api.request("POST", "/api/entries", json=e, headers={"Kinwire-Terminal": "a b<c>"})
    assert answer.status_code in (400, 422)


def test_pages_are_served(api):
    for path in ("/", "/recall.html", "/lot.html?lot=X", "/log.html", "/ledger.html", "/thing.html?type=heat&code=X"):
        answer = api.session.get(api.url + path)
        assert answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html"), path
        assert "<script>" not in answer.text


def test_a_person_who_mistyped_an_address_is_shown_a_page(api):
    """As a browser asks for a page; a program that asks for the same, or for what lies deeper, is told of a problem."""
    browser = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
    for path, accept, media in [("/recal.html", browser, "text/html"), ("/recal.html", {}, "application/problem+json"),
                                ("/a/recal.html", browser, "application/problem+json"), ("/schema/x.json", browser, "application/problem+json"),
                                ("/api/recal", browser, "application/problem+json"), ("/%2e%2e", browser, None)]:
        answer = api.session.get(api.url + path, headers=accept)
        assert answer.status_code in ((400, 404) if media is None else (404,)), path
        if media:
            assert answer.headers["Content-Type"].startswith(media), path
    assert "recal" not in api.session.get(api.url + "/recal.html", headers=browser).text


def test_head_is_get_without_a_body(api):
    answer = api.session.head(api.url + "/healthz")
    assert answer.status_code == 200 and answer.content == b""
