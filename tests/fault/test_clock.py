"""The time of day jumps: back, forward, into another year's summer time, past 2038. Entries are numbered on, none is refused for it, and
deadlines, which count on another clock, hold."""
import calendar
import json
import os
import time

import pytest

from clients import hold
from support import entry, run_cli

HOUR, DAY, YEAR = 3600, 86400, 31557600


@pytest.fixture
def clocked(server_on, tmp_path, monkeypatch):
    """(server, set): set(seconds) puts the daemon's clock off by so much."""
    file = tmp_path / "clock"

    def set_off(seconds):
        new = tmp_path / "clock.new"
        new.write_text(str(int(seconds)))
        os.replace(new, file)

    set_off(0)
    with monkeypatch.context() as m:
        m.setenv("LD_PRELOAD", os.environ["KW_SKEWED_CLOCK"])
        m.setenv("KW_CLOCK", str(file))
        m.setenv("ASAN_OPTIONS", "verify_asan_link_order=0")
        return server_on(tmp_path / "mill.kw"), set_off


def seconds(stamp):
    return calendar.timegm(time.strptime(stamp, "%Y-%m-%dT%H:%M:%SZ"))


def to(year, month=1, day=1, hour=0):
    return calendar.timegm((year, month, day, hour, 0, 0)) - time.time()


def test_jumps(clocked):
    s, set_off = clocked
    offsets = [0, -HOUR, -DAY, -10 * YEAR, 0, HOUR, 30 * DAY, to(2027, 3, 28), to(2027, 3, 28, 1), to(2038, 1, 19, 3), to(2038, 1, 19, 4),
               to(2099, 12, 31, 23), 0]
    acknowledged, asked, wrong, spans = {}, {}, [], []
    for n, offset in enumerate(offsets):
        set_off(offset)
        for k in range(3):
            e = entry("note", {"about": "machine:M", "text": "%d %d" % (n, k)})
            if k == 1:
                e["at"] = "2026-03-04T09:12:00Z"
            sent = time.time()
            answer = s.api.send(e)
            spans.append((sent + int(offset), time.time() + int(offset)))
            assert answer.status_code == 201, (offset, answer.text)
            acknowledged[e["key"]] = answer.json()["seq"]
            asked[e["key"]] = e
        assert s.api.send(e).status_code == 200, "the same key, whatever the time"
        assert s.api.get("/healthz")["size"] == len(acknowledged)
        age = [x for x in s.api.get("/metrics").text.splitlines() if x.startswith("kinwire_head_age_seconds ")][0]
        assert 0 <= float(age.split()[1]) < HOUR / 2, "it counts on another clock"
    there, leaves = hold(s.api, acknowledged, asked)
    assert list(there.values()) == list(range(1, len(asked) + 1))
    for i, text in enumerate(leaves):
        e = json.loads(text)
        if not spans[i][0] - 2 <= seconds(e["logged"]) <= spans[i][1] + 2:
            wrong.append(e["logged"])
        assert e["at"] == ("2026-03-04T09:12:00Z" if i % 3 == 1 else e["logged"])
    assert not wrong
    print("\nclock: %d jumps from %d years back to 2099, %d entries recorded and numbered on, 0 refused, 0 lost" % (
        len(offsets) - 1, 10, len(asked)))
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", s.ledger).returncode == 0


def test_deadlines_do_not_follow_the_clock(clocked):
    """A client that has been let in is neither cut early nor kept for ever by a jump."""
    from clients import Connection
    s, set_off = clocked
    c = Connection(s.url)
    assert c.ask("GET", "/healthz")[0] == 200
    kept = c.http.sock
    for offset in (DAY, -DAY, 20 * YEAR, 0):
        set_off(offset)
        time.sleep(0.6)
        assert c.ask("GET", "/healthz")[0] == 200
        assert c.http.sock is kept, "the connection was cut"
    c.close()
