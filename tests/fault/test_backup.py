"""Backup while 32 clients write, and the drill: a ledger made of it, served, with the head that its manifest says; measured. And whatever
is wrong with a backup is found before anything takes the ledger's name."""
import hashlib
import json
import shutil
import signal
import subprocess
import time

import pytest

from clients import Clients, Connection, heat, hold, roots
from support import EXAMPLES, KINWIRE, PATIENCE, run_cli

MILL = EXAMPLES / "5-small-mill" / "entries.ndjson"


def manifest_of(copy):
    return copy.with_name(copy.name + ".manifest.json")


def check_manifest(copy):
    m = json.loads(manifest_of(copy).read_text())
    assert sorted(m) == ["bytes", "level", "root", "sha256", "size", "when"]
    data = copy.read_bytes()
    assert m["bytes"] == len(data) and m["sha256"] == hashlib.sha256(data).hexdigest()
    return m


def test_backup_under_load_and_drill(server_on, tmp_path):
    s = server_on(tmp_path / "live.kw")
    filler = "\n".join(json.dumps(heat()) for _ in range(4000))
    filled = {json.loads(x)["key"] for x in filler.splitlines()}
    connection = Connection(s.url)
    s.api.session.post(s.url + "/api/entries", data=filler.encode(), headers={"Content-Type": "application/x-ndjson"}, timeout=PATIENCE)
    clients = Clients(s, 32).start().recorded(200)
    copies, backup_s = [], []
    for n in range(3):
        copy = tmp_path / ("copy-%d.kw" % n)
        before = dict(clients.acknowledged())
        t = time.monotonic()
        done = run_cli("backup", "--ledger", s.ledger, copy)
        backup_s.append(time.monotonic() - t)
        assert done.returncode == 0, done.stderr
        copies.append((copy, before, clients.acknowledged()))
    clients.recorded(len(clients.acknowledged()) + 100).stop()
    worst = max(a.answered - a.sent for a in clients.of("append"))
    leaves = s.api.leaves()
    at_end = clients.acknowledged()
    assert not clients.unknown() and not clients.refused()
    head = s.api.get("/api/ledger/head")
    s.stop(signal.SIGKILL)  # the machine is gone

    restored = tmp_path / "restored.kw"
    copy, before, after = copies[-1]
    m = check_manifest(copy)
    t = time.monotonic()
    done = run_cli("restore", "--from", copy, "--ledger", restored)
    restore_s = time.monotonic() - t
    assert done.returncode == 0, done.stderr
    again = server_on(restored)
    start_s = time.monotonic() - t - restore_s
    assert again.api.get("/api/ledger/head") == {"size": m["size"], "root": m["root"]}
    # what was acknowledged before the backup began is in it; what came after is what is lost with the machine
    hold(again.api, before, set(clients.entries) | filled)
    assert roots(leaves, {m["size"]})[m["size"]] == m["root"], "the backup's head is one that the ledger had"
    lost = head["size"] - m["size"]
    # and the senders send it again, with the same keys
    for key, text in clients.entries.items():
        if key in at_end and at_end[key] > m["size"]:
            assert connection_for(again).ask("POST", "/api/entries", text)[0] == 201
    assert again.api.get("/api/ledger/head")["size"] == head["size"]
    for copy, before, _ in copies:
        check_manifest(copy)
        assert run_cli("verify", "--ledger", copy).returncode == 0
    connection.close()
    print("\nbackup: of %d entries under 32 writers, %s s, worst answer %.0f ms; drill: restored and verified in %.2f s, serving %.2f s later; "
          "%d entries were younger than the backup and were sent again" % (
              m["size"], ", ".join("%.2f" % x for x in backup_s), worst * 1000, restore_s, start_s, lost))
    meanwhile = [len(after) - len(before) for _, before, after in copies]
    assert max(meanwhile) > 0, "nobody could record while a backup was made"


def connection_for(server, _kept={}):  # noqa: B006 (one for all)
    if server.url not in _kept:
        _kept[server.url] = Connection(server.url)
    return _kept[server.url]


# --- refusals ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def backup(tmp_path):
    ledger, copy = tmp_path / "mill.kw", tmp_path / "copy.kw"
    assert run_cli("load", "--ledger", ledger, MILL).returncode == 0
    assert run_cli("backup", "--ledger", ledger, copy).returncode == 0
    return copy


def restore(copy, to, *more):
    return run_cli("restore", "--from", copy, "--ledger", to, *more)


def no_leavings(folder, *names):
    assert sorted(x.name for x in folder.iterdir() if not x.name.startswith("mill.kw")) == sorted(names)


def test_restored_as_it_was(backup, tmp_path):
    done = restore(backup, tmp_path / "new.kw")
    assert done.returncode == 0, done.stderr
    m = check_manifest(backup)
    assert "head %d %s" % (m["size"], m["root"]) in done.stdout
    assert run_cli("verify", "--ledger", tmp_path / "new.kw", "--head", "%d:%s" % (m["size"], m["root"])).returncode == 0
    no_leavings(tmp_path, "copy.kw", "copy.kw.manifest.json", "new.kw")


def test_a_backup_never_overwrites(backup, tmp_path):
    was = backup.read_bytes(), manifest_of(backup).read_bytes()
    done = run_cli("backup", "--ledger", tmp_path / "mill.kw", backup)
    assert done.returncode == 2 and "already" in done.stderr
    assert (backup.read_bytes(), manifest_of(backup).read_bytes()) == was


@pytest.mark.parametrize("there", ["new.kw", "new.kw-wal", "new.kw-journal"])
def test_restoring_never_overwrites(backup, tmp_path, there):
    (tmp_path / there).write_bytes(b"precious")
    done = restore(backup, tmp_path / "new.kw")
    assert done.returncode == 2 and "already" in done.stderr
    assert (tmp_path / there).read_bytes() == b"precious"
    no_leavings(tmp_path, "copy.kw", "copy.kw.manifest.json", there)


def flip(path, at):
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)


def flipped_head(copy):
    flip(copy, 30)


def flipped_middle(copy):
    flip(copy, copy.stat().st_size // 2)


def cut_short(copy):
    copy.write_bytes(copy.read_bytes()[:-4096])


def empty(copy):
    copy.write_bytes(b"")


def gone(copy):
    copy.unlink()


def without_manifest(copy):
    manifest_of(copy).unlink()


def edited(**members):
    def edit(copy):
        m = json.loads(manifest_of(copy).read_text())
        m.update(members)
        manifest_of(copy).write_text(json.dumps(m))

    edit.__name__ = "edited_" + "_".join(members)
    return edit


def not_a_manifest(copy):
    manifest_of(copy).write_text("[]")


def half_a_manifest(copy):
    manifest_of(copy).write_bytes(manifest_of(copy).read_bytes()[:60])


def of_another_ledger(copy):
    other = copy.with_name("mill.kw.other")
    assert run_cli("load", "--ledger", other, EXAMPLES / "1-one-weld" / "entries.ndjson").returncode == 0
    copy.unlink()
    manifest = manifest_of(copy).read_bytes()
    manifest_of(copy).unlink()
    assert run_cli("backup", "--ledger", other, copy).returncode == 0
    manifest_of(copy).write_bytes(manifest)


WRONG = [flipped_head, flipped_middle, cut_short, empty, gone, without_manifest, not_a_manifest, half_a_manifest, of_another_ledger,
         edited(size=3), edited(root="0" * 64), edited(sha256="0" * 64), edited(bytes=1), edited(root="x"), edited(size="3"),
         edited(when="yesterday"), edited(when="2026-01-01T00:00\u7409")]


@pytest.mark.parametrize("spoil", WRONG, ids=lambda f: f.__name__)
def test_what_is_wrong_is_found_before_it_is_a_ledger(backup, tmp_path, spoil):
    spoil(backup)
    done = restore(backup, tmp_path / "new.kw")
    assert done.returncode == 3, done.stdout + done.stderr
    assert not (tmp_path / "new.kw").exists()
    assert not list(tmp_path.glob("*.partial*")), "nothing half is left"


def test_a_manifest_that_agrees_does_not_hide_a_changed_entry(backup, tmp_path):
    """The file was changed and the sum with it: the entries are verified all the same."""
    data = backup.read_bytes()
    assert data.count(b'"kind":"receive"') > 0
    backup.write_bytes(data.replace(b'"kind":"receive"', b'"kind":"recieve"', 1))
    edited(sha256=hashlib.sha256(backup.read_bytes()).hexdigest())(backup)
    done = restore(backup, tmp_path / "new.kw")
    assert done.returncode == 3 and "entry" in done.stderr, done.stderr
    assert not (tmp_path / "new.kw").exists()


def test_without_manifest_when_asked(backup, tmp_path):
    without_manifest(backup)
    assert restore(backup, tmp_path / "new.kw", "--without-manifest").returncode == 0
    flip(backup, 30)
    assert restore(backup, tmp_path / "more.kw", "--without-manifest").returncode in (3, 4)
    assert not (tmp_path / "more.kw").exists()


def test_a_backup_that_is_killed_has_no_name(backup, tmp_path):
    for wait in (0, 0.002, 0.01, 0.03):
        to = tmp_path / "killed.kw"
        p = subprocess.Popen([KINWIRE, "backup", "--ledger", str(tmp_path / "mill.kw"), str(to)], stdout=subprocess.DEVNULL)
        time.sleep(wait)
        p.kill()
        p.wait()
        if to.exists():
            check_manifest(to)
            to.unlink()
    assert run_cli("backup", "--ledger", tmp_path / "mill.kw", tmp_path / "killed.kw").returncode == 0
    check_manifest(tmp_path / "killed.kw")


def test_a_copy_is_not_touched_by_restoring(backup, tmp_path):
    backup.chmod(0o400)
    was = backup.read_bytes()
    assert restore(backup, tmp_path / "new.kw").returncode == 0
    assert backup.read_bytes() == was
    shutil.rmtree(tmp_path / "none", ignore_errors=True)
    assert restore(backup, tmp_path / "none" / "new.kw").returncode == 4
