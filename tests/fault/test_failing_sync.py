"""A sync that fails under load: nobody is told that an entry is recorded, the daemon ends with status 70, and comes back whole."""
import os
import subprocess
import time

from clients import Clients, hold
from support import PATIENCE, run_cli


def test_the_daemon_ends_and_comes_back(server_on, tmp_path, monkeypatch):
    ledger, switch = tmp_path / "sync.kw", tmp_path / "fails"
    monkeypatch.setenv("LD_PRELOAD", os.environ["KW_FAILING_DISK"])
    monkeypatch.setenv("KW_SYNC_FAILS", str(switch))
    monkeypatch.setenv("ASAN_OPTIONS", "verify_asan_link_order=0")
    s = server_on(ledger)
    monkeypatch.delenv("LD_PRELOAD")
    clients = Clients(s, 16).start().recorded(100)
    switch.touch()
    since = time.monotonic()
    try:
        assert s.process.wait(PATIENCE) == 70
    except subprocess.TimeoutExpired:
        clients.stopping.set()
        raise
    took = time.monotonic() - since
    said = s.process.stderr.read()
    clients.join()
    assert "disk" in said, said
    acknowledged = clients.acknowledged()
    assert len(acknowledged) > 10
    late = [a for a in clients.of("append") if a.status == 201 and a.sent > since]
    assert not late, "%d were acknowledged although nothing could be synced" % len(late)
    assert {a.status for a in clients.refused()} <= {503}, {a.status for a in clients.refused()}

    again = server_on(ledger)
    there, _ = hold(again.api, acknowledged, clients.entries)
    print("\nfailing sync: %d acknowledged before, 0 lost, 0 acknowledged after; %d answered 503, %d without an answer; ended with 70 "
          "after %.1f s" % (len(acknowledged), len(clients.refused()), len(clients.unknown()), took))
    assert again.stop() == 0
    assert run_cli("verify", "--ledger", ledger).returncode == 0
