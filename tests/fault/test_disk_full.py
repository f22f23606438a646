"""A disk of 8 MB that fills up: refused with 507, reading goes on, and so does recording when there is room again, without a start."""
import json
import os
import subprocess
import time

import pytest

from clients import Clients, Connection, heat, hold
from people import Gatehouse
from support import entry, run_cli


@pytest.fixture
def small_disk(tmp_path):
    place = tmp_path / "disk"
    place.mkdir()
    mounted = os.geteuid() == 0 and subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", str(place)], capture_output=True).returncode == 0
    if not mounted:
        pytest.skip("a small disk can only be mounted by root")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_full_and_free_again(server_on, small_disk):
    ledger, filler = small_disk / "full.kw", small_disk / "filler"
    filler.write_bytes(b"x" * (2 << 20))
    s = server_on(ledger, "--free-space", "0")
    clients = Clients(s, 8).start()
    clients.join()  # each goes on until it is refused
    assert {a.status for a in clients.refused()} == {507}
    assert not clients.unknown()
    problem = clients.refused()[0].body
    assert problem["type"].endswith("/disk-full") and "full" in problem["detail"], problem

    acknowledged = clients.acknowledged()
    assert s.api.get("/api/ledger/head")["size"] == len(acknowledged)
    assert s.api.get("/api/find", q="H-")
    assert s.api.get("/healthz")["size"] == len(acknowledged)
    connection = Connection(s.url)
    refused_again = 0
    for _ in range(20):
        e = heat()
        clients.entries[e["key"]] = json.dumps(e)
        status, body = connection.ask("POST", "/api/entries", clients.entries[e["key"]])
        refused_again += status == 507
        if status == 201:
            acknowledged[e["key"]] = body["seq"]
    assert refused_again

    filler.unlink()
    t = time.monotonic()
    key = clients.refused()[0].key
    status, body = connection.ask("POST", "/api/entries", clients.entries[key])
    took = time.monotonic() - t
    assert status == 201, body
    acknowledged[key] = body["seq"]
    more = Clients(s, 8).start().recorded(20).stop()
    acknowledged.update(more.acknowledged())
    there, _ = hold(s.api, acknowledged, {**clients.entries, **more.entries})
    assert len(there) == len(acknowledged), "rows are acknowledged ones"
    print("\ndisk full: %d acknowledged, %d stored, 0 lost; %d refused with 507; recorded again %.1f ms after there was room" % (
        len(acknowledged), len(there), len(clients.refused()) + refused_again, took * 1000))
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", ledger).returncode == 0


def test_a_backup_to_a_full_disk(small_disk, tmp_path):
    ledger, filler = tmp_path / "some.kw", small_disk / "filler"
    entries = "\n".join(json.dumps(heat()) for _ in range(200))
    assert run_cli("load", "--ledger", ledger, "-", stdin=entries).returncode == 0
    filler.write_bytes(b"x" * (7900 << 10))
    done = run_cli("backup", "--ledger", ledger, small_disk / "copy.kw")
    assert done.returncode == 4, done.stderr
    assert sorted(x.name for x in small_disk.iterdir()) == ["filler"], "nothing half is left"
    filler.unlink()
    assert run_cli("backup", "--ledger", ledger, small_disk / "copy.kw").returncode == 0


def fill(path):
    with open(path, "wb", buffering=0) as f:
        while True:
            try:
                f.write(b"x" * 4096)
            except OSError:
                return


def test_who_signs_in_while_the_disk_is_full_reads(small_disk):
    """Let in to read, said in the journal at once and in the ledger when there is room; then it is a whole session."""
    house = Gatehouse(small_disk, "--free-space", "0")
    note = {"about": "heat:H-1", "text": "n" * 1500}
    try:
        house.person("QM-1", "quality")
        quality = house.caller("QM-1")
        quality.post("/api/entries", entry("heat", {"heat": "H-1", "supplier": "Northmark", "grade": "C82D"}), 201)
        fill(small_disk / "filler")
        for _ in range(300):  # what room the log has left is used up first
            answer = quality.request("POST", "/api/entries", json=entry("note", note))
            if answer.status_code == 507:
                break
        assert answer.status_code == 507, answer.text
        late = house.caller("QM-1")
        assert late.get("/api/me")["reading"] is True
        assert late.get("/api/find", q="H-1")["found"]
        before = late.get("/api/ledger/head")["size"]
        refused = late.request("POST", "/api/entries", json=entry("note", note))
        assert refused.status_code == 507 and "signed in" in refused.json()["detail"], refused.text
        assert house.nobody().request("POST", "/api/session", json={"person": "QM-1", "password": "wrong one 12"}).status_code == 401
        assert late.get("/api/ledger/head")["size"] == before

        (small_disk / "filler").unlink()
        until = time.monotonic() + 120
        while late.get("/api/me")["reading"] and time.monotonic() < until:
            time.sleep(0.2)
        assert late.get("/api/me")["reading"] is False
        late.post("/api/entries", entry("note", note), 201)
        lines = [json.loads(x) for x in late.get("/api/ledger/entries", after=before, limit=100).text.splitlines()]
        signed = [x for x in lines if x["kind"] == "access" and x["body"]["what"] == "sign-in"]
        assert [(x["by"], x["body"]["person"], "since" in x["body"]) for x in signed] == [("QM-1", "QM-1", True)]
        house.stop()
    finally:
        house.kill()
