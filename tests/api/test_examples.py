"""The design's worked examples, asked of a live server: to the millimetre, and nothing more."""
import json

import pytest

from oracle import Mill
from support import examples, run_cli

ALL = examples()


@pytest.mark.parametrize("name,entries,questions", ALL, ids=[x[0] for x in ALL])
def test_example(name, entries, questions, fresh):
    fresh.load(entries)
    for q in questions:
        answer = fresh.trace(q["origin"], q["direction"], from_mm=q.get("from_mm"), to_mm=q.get("to_mm"))
        got = {x["lot"]: {"certain": x["certain"], "possible": x["possible"]} for x in answer["lots"]}
        assert got == q["lots"], (name, q["origin"], q["direction"])
        assert answer["count"] == len(got)
        if q["direction"] != "forward":
            mill = Mill(entries)
            assert answer["heats"] == mill.heats_of(mill.back(mill.starts(q["origin"], from_mm=q.get("from_mm"), to_mm=q.get("to_mm"))))


@pytest.mark.parametrize("name,entries,questions", ALL, ids=[x[0] for x in ALL])
def test_example_on_the_command_line(name, entries, questions, tmp_path):
    ledger = tmp_path / "x.kw"
    done = run_cli("load", "--ledger", ledger, "-", stdin="".join(json.dumps(e) + "\n" for e in entries))
    assert done.returncode == 0, done.stderr
    for q in questions[:4]:
        args = ["trace", "--ledger", ledger, q["origin"], "--direction", q["direction"], "--json"]
        if "from_mm" in q:
            args += ["--from-mm", q["from_mm"], "--to-mm", q["to_mm"]]
        done = run_cli(*args)
        assert done.returncode == 0, done.stderr
        got = {x["lot"]: {"certain": x["certain"], "possible": x["possible"]} for x in json.loads(done.stdout)["lots"]}
        assert got == q["lots"]
