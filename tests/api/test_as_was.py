"""A question asked again at an earlier size of the ledger: the answer is the one that was given then."""
import json
import threading
import time

import pytest
import requests
from support import PATIENCE, Bench, run_cli


def ask(ledger, origin, *more):
    done = run_cli("trace", "--ledger", ledger, origin, "--json", *more)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture
def history(server_on, tmp_path):
    """(ledger, what was answered at each size, the API of its server)"""
    server = server_on(tmp_path / "mill.kw")
    api, answers = server.api, {}
    bench = Bench(api)

    def remember():
        answer = api.trace("heat:H1")
        answers[answer["ledger"]["size"]] = answer

    api.put("heat", {"heat": "H1", "supplier": "Northmark Steel", "grade": "C82D"})
    coils = [bench.rod(heat="H1") for _ in range(3)]
    remember()
    run = bench.run_body(coils[:2], [700_000, 1_300_000])
    key = "22222222-2222-4222-8222-222222222222"
    api.put("run", run, key=key)
    remember()
    bobbin = run["packages"][0]["lot"]
    api.put("hold", {"hold": "Q1", "reason": "counter", "lots": [{"lot": bobbin, "from_mm": 0, "to_mm": 1000}]})
    remember()
    api.put("release", {"hold": "Q1", "disposition": "release", "reason": "checked"})
    remember()
    right = dict(run, lines=[{"line": "1", "feeds": [{"lot": coils[2]}, {"lot": coils[1]}]}])
    api.put("correct", {"entry": key, "reason": "the first coil was the third", "body": right})
    remember()
    api.put("dispatch", {"consignment": "C1", "consignee": "Calder Quay Port", "lots": [bobbin]})
    remember()
    return server.ledger, answers, api


def test_each_answer_is_given_again(history):
    ledger, answers, _ = history
    assert len(answers) == 6
    for size, then in answers.items():
        now = ask(ledger, "heat:H1", "--at-size", size)
        assert now == then, size
        assert now["ledger"] == {"size": size, "root": then["ledger"]["root"]}
    assert ask(ledger, "heat:H1") == answers[max(answers)]


def test_an_export_of_then(history, tmp_path):
    ledger, answers, _ = history
    size = sorted(answers)[2]
    done = run_cli("export", "--ledger", ledger, "all", "--as", "entries", "--at-size", size)
    assert len(done.stdout.splitlines()) == size
    pack = tmp_path / "then.zip"
    assert run_cli("export", "--ledger", ledger, "heat:H1", "--as", "pack", "--at-size", size, "-o", pack).returncode == 0
    checked = run_cli("verify", pack)
    assert checked.returncode == 0 and answers[size]["ledger"]["root"] in checked.stdout


def test_sizes_that_never_were(history):
    ledger, answers, _ = history
    for size in (max(answers) + 1, -1, "x", "", "1.5"):
        assert run_cli("trace", "--ledger", ledger, "heat:H1", "--at-size=%s" % size).returncode == 2, size
    assert run_cli("trace", "--ledger", ledger, "heat:H1", "--at-size", "0").returncode == 1


# --- over HTTP ----------------------------------------------------------------------------------------


def then(api, path, **query):
    """The answer once the ledger of that size has been made."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        answer = api.request("GET", path, params=query)
        if answer.status_code not in (202, 503):
            return answer
        assert answer.headers["Retry-After"]
        if answer.status_code == 202:
            assert answer.json()["size"] == query["size"] and answer.json()["done"] <= query["size"]
        time.sleep(0.05)
    raise AssertionError("the ledger of size %d was never made" % query["size"])


def test_each_answer_is_given_again_over_http(history):
    _, answers, api = history
    # there and back again: only two ledgers are kept, so some are made twice
    for size in [*answers, *reversed(answers)]:
        assert then(api, "/api/trace", origin="heat:H1", size=size).json() == answers[size], size
    assert api.trace("heat:H1") == answers[max(answers)]


def test_lots_things_and_exports_of_then(history):
    ledger, answers, api = history
    sizes = sorted(answers)
    bobbin = [x["lot"] for x in answers[sizes[-1]]["lots"] if x["state"] == "dispatched"][0]
    assert then(api, "/api/lots/" + bobbin, size=sizes[0]).status_code == 404
    held = then(api, "/api/lots/" + bobbin, size=sizes[2]).json()
    now = api.lot(bobbin)
    assert (held["state"], now["state"]) == ("on-hold", "dispatched") and held["left_mm"] == held["length_mm"]
    for what in ("/makeup", "/joints", "/balance"):
        assert then(api, "/api/lots/%s%s" % (bobbin, what), size=sizes[1]).status_code == 200
    assert then(api, "/api/things/heat/H1", size=sizes[0]).status_code == 200
    assert then(api, "/api/balance", origin="heat:H1", size=sizes[0]).json()["ledger"]["size"] == sizes[0]
    entries = then(api, "/api/export", origin="all", size=sizes[2], **{"as": "entries"}).text
    assert len(entries.splitlines()) == sizes[2]
    report = then(api, "/api/export", origin="lot:" + bobbin, size=sizes[2], **{"as": "report"}).content
    done = run_cli("export", "--ledger", ledger, "lot:" + bobbin, "--as", "report", "--at-size", sizes[2], "-o", ledger.parent / "then.pdf")
    assert done.returncode == 0 and (ledger.parent / "then.pdf").read_bytes() == report


def test_an_export_that_is_not_there_yet_leaves_the_readers_alone(history):
    """Told to come again, it has no ledger to give back: one that was given back twice would be read by two at once."""
    _, answers, api = history
    now = answers[max(answers)]
    for size in list(answers) * 2:
        then(api, "/api/export", origin="all", size=size, **{"as": "entries"})
    got = []

    def work():
        for _ in range(40):
            answer = requests.get(api.url + "/api/trace", params={"origin": "heat:H1"}, timeout=PATIENCE)
            got.append(answer.status_code == 200 and answer.json() == now)

    threads = [threading.Thread(target=work) for _ in range(8)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert got == [True] * 320
    assert api.get("/healthz")["ok"]


def test_sizes_that_never_were_over_http(history):
    _, answers, api = history
    api.get("/api/trace", status=422, origin="heat:H1", size=max(answers) + 1)
    for size in ("-1", "x", "1.5"):
        api.get("/api/trace", status=400, origin="heat:H1", size=size)
    assert then(api, "/api/trace", origin="heat:H1", size=0).status_code == 404


def test_when_the_ledger_had_how_many_entries(history):
    _, answers, api = history
    now = api.get("/api/ledger/head")
    assert api.get("/api/ledger/at", time="2999-01-01T00:00:00Z") == now
    assert api.get("/api/ledger/at", time="1999-01-01T00:00:00Z")["size"] == 0
    logged = [json.loads(x)["logged"] for x in api.leaves()]
    for t in sorted(set(logged)):
        assert api.get("/api/ledger/at", time=t)["size"] == sum(x <= t for x in logged)
    api.get("/api/ledger/at", status=400)
    api.get("/api/ledger/at", status=400, time="yesterday")


def test_two_sizes_asked_at_once_are_both_answered(history):
    _, answers, api = history
    sizes, got = sorted(answers)[:4], {}

    def ask_for(size):
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            answer = requests.get(api.url + "/api/trace", params={"origin": "heat:H1", "size": size}, timeout=PATIENCE)
            if answer.status_code == 200:
                got[size] = answer.json()
                return
            assert answer.status_code in (202, 503), answer.text
            time.sleep(0.05)

    threads = [threading.Thread(target=ask_for, args=(s,)) for s in sizes]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert got == {s: answers[s] for s in sizes}
