"""32 clients at once, their history held against the model: one list of entries, appended to by one client at a time, each request taking
effect at some moment between being sent and being answered (linearizability)."""
import bisect
import time

from clients import Clients, hold, roots
from conftest import LONG
from support import run_cli

SECONDS = 60 if LONG else 5


def check_order(appends):
    """What was answered before another was sent comes before it."""
    by_answer = sorted(appends, key=lambda a: a.answered)
    latest, answered = 0, []
    most = []
    for a in by_answer:
        latest = max(latest, a.body["seq"])
        answered.append(a.answered)
        most.append(latest)
    for a in appends:
        at = bisect.bisect_left(answered, a.sent)
        assert at == 0 or most[at - 1] < a.body["seq"], "entry %d was sent after %d was answered" % (a.body["seq"], most[at - 1])
    return answered, most


def check_heads(heads, appends, answered, most):
    """A head has all that was answered before it was asked for, nothing that was sent after it was answered, and never shrinks."""
    sent = {a.body["seq"]: a.sent for a in appends}
    for h in heads:
        at = bisect.bisect_left(answered, h.sent)
        assert at == 0 or h.body["size"] >= most[at - 1], "a head that lacks what was answered before"
        assert h.body["size"] == 0 or sent[h.body["size"]] <= h.answered, "a head with an entry from the future"
    by_answer = sorted(heads, key=lambda h: h.answered)
    for early in by_answer:
        for late in heads:
            if late.sent > early.answered:
                assert late.body["size"] >= early.body["size"], "a head that shrank"


def test_one_after_the_other(server_on, tmp_path):
    s = server_on(tmp_path / "history.kw")
    clients = Clients(s, 32, reads=True).start()
    time.sleep(SECONDS)
    clients.stop()
    appends, heads, again = clients.of("append"), clients.of("head"), clients.of("again")
    assert all(a.status == 201 for a in appends) and not clients.unknown()
    acknowledged = clients.acknowledged()
    there, leaves = hold(s.api, acknowledged, clients.entries)
    assert sorted(acknowledged.values()) == list(range(1, len(there) + 1)), "numbers without gaps"
    assert all(a.status == 200 and a.body["seq"] == acknowledged[a.key] for a in again), "the same key, the same number"
    check_heads(heads[:3000], appends, *check_order(appends))
    some = heads[:: max(1, len(heads) // 60)]
    right = roots(leaves, {h.body["size"] for h in some})
    assert all(h.body["root"] == right[h.body["size"]] for h in some)
    worst = max(a.answered - a.sent for a in appends)
    print("\nhistory: 32 clients, %d requests (%d entries, %d heads, %d sent again, %d read back), 0 violations; worst answer %.0f ms" % (
        len(clients.history), len(appends), len(heads), len(again), len(clients.of("own")), worst * 1000))
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", s.ledger).returncode == 0
