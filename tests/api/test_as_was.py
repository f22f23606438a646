"""A question asked again at an earlier size of the ledger: the answer is the one that was given then."""
import json

import pytest
from support import Bench, run_cli


def ask(ledger, origin, *more):
    done = run_cli("trace", "--ledger", ledger, origin, "--json", *more)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture
def history(server_on, tmp_path):
    """(ledger, what was answered at each size)"""
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
    return server.ledger, answers


def test_each_answer_is_given_again(history):
    ledger, answers = history
    assert len(answers) == 6
    for size, then in answers.items():
        now = ask(ledger, "heat:H1", "--at-size", size)
        assert now == then, size
        assert now["ledger"] == {"size": size, "root": then["ledger"]["root"]}
    assert ask(ledger, "heat:H1") == answers[max(answers)]


def test_an_export_of_then(history, tmp_path):
    ledger, answers = history
    size = sorted(answers)[2]
    done = run_cli("export", "--ledger", ledger, "all", "--as", "entries", "--at-size", size)
    assert len(done.stdout.splitlines()) == size
    pack = tmp_path / "then.zip"
    assert run_cli("export", "--ledger", ledger, "heat:H1", "--as", "pack", "--at-size", size, "-o", pack).returncode == 0
    checked = run_cli("verify", pack)
    assert checked.returncode == 0 and answers[size]["ledger"]["root"] in checked.stdout


def test_sizes_that_never_were(history):
    ledger, answers = history
    for size in (max(answers) + 1, -1, "x", "", "1.5"):
        assert run_cli("trace", "--ledger", ledger, "heat:H1", "--at-size=%s" % size).returncode == 2, size
    assert run_cli("trace", "--ledger", ledger, "heat:H1", "--at-size", "0").returncode == 1
