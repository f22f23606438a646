"""What takes long to make of a large ledger is kept in files beside it: a restart has it at once, and nothing that does not fit is used."""
import shutil
import signal
from contextlib import contextmanager

import pytest
from support import Server
from test_large import LOTS, large_ledger, rod, when_there


@pytest.fixture(scope="module")
def rods():
    return [rod(n) for n in range(LOTS)]


@pytest.fixture(scope="module")
def made(tmp_path_factory, rods):
    """A ledger that was served until all was made, and stopped; and what was answered then."""
    ledger = large_ledger(tmp_path_factory.mktemp("kept"), rods)
    with again(ledger) as s:
        answers = {path: when_there(s.api, path)[0] for path in ("/api/balance", "/api/gaps")}
        assert s.stop() == 0
    return ledger, answers


@pytest.fixture
def ledger(made, tmp_path):
    for file in made[0].parent.glob("mill.kw*"):
        shutil.copy(file, tmp_path)
    return tmp_path / "mill.kw"


@pytest.fixture
def answers(made):
    return made[1]


@contextmanager
def again(ledger):
    s = Server(ledger)
    try:
        yield s
    finally:
        s.stop(signal.SIGKILL)


def at_once(api, path):
    answer = api.request("GET", path)
    assert answer.status_code == 200, answer.text
    return answer.json()


def beside(ledger, suffix):
    return ledger.with_name(ledger.name + suffix)


def test_a_restart_has_what_was_made_before(ledger, answers):
    assert beside(ledger, ".months").exists() and beside(ledger, ".gaps").exists()
    with again(ledger) as s:
        for path, answer in answers.items():
            assert at_once(s.api, path) == answer
        assert s.stop() == 0
        assert "is not used" not in s.process.stderr.so_far()


def test_what_was_recorded_before_it_was_killed(ledger, answers, rods):
    """The files are of before that. What came is taken in; what was put right leaves nothing of the sums to be believed."""
    with again(ledger) as s:
        body = {"lot": "R-MAY", "heat": "H1", "diameter_um": 5500, "length_mm": 1000, "mass_g": 777}
        s.api.put("receive", body, at="2026-05-05T05:05:05Z")
        s.stop(signal.SIGKILL)
    with again(ledger) as s:
        more = at_once(s.api, "/api/balance")
        assert more["in_g"] == answers["/api/balance"]["in_g"] + 777
        body = dict(rods[9]["body"], mass_g=rods[9]["body"]["mass_g"] - 9)
        s.api.put("correct", {"entry": rods[9]["key"], "reason": "read wrongly", "body": body})
        s.stop(signal.SIGKILL)
    with again(ledger) as s:
        right, _ = when_there(s.api, "/api/balance")
        assert right["in_g"] == more["in_g"] - 9
        s.process.stderr.wait_for("mill.kw.months is not used: something was put right after it was written; it is made again")
        gaps, _ = when_there(s.api, "/api/gaps")
        assert gaps["ledger"] == right["ledger"] and gaps["count"] > answers["/api/gaps"]["count"]
        assert s.stop() == 0


@pytest.mark.parametrize("suffix, path", [(".months", "/api/balance"), (".gaps", "/api/gaps")])
def test_a_file_that_the_disk_changed(ledger, answers, suffix, path):
    file = beside(ledger, suffix)
    raw = bytearray(file.read_bytes())
    raw[len(raw) // 2] ^= 4
    file.write_bytes(raw)
    with again(ledger) as s:
        after, _ = when_there(s.api, path)
        assert after == answers[path]
        s.process.stderr.wait_for("mill.kw%s is not used: it is damaged; it is made again" % suffix)
        assert s.stop() == 0
        assert s.process.stderr.so_far().count("is not used") == 1
    assert file.read_bytes() != raw
    with again(ledger) as s:
        assert at_once(s.api, path) == answers[path]


def test_a_folder_in_which_nothing_can_be_made(ledger, answers):
    """Where the file can't be written, that is told and all is answered; here a folder has its name."""
    beside(ledger, ".months").unlink()
    beside(ledger, ".months.new").mkdir()
    with again(ledger) as s:
        assert when_there(s.api, "/api/balance")[0] == answers["/api/balance"]
        assert s.stop() == 0
        assert "mill.kw.months could not be written" in s.process.stderr.so_far()
