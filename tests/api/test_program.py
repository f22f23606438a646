"""The commands: load, trace, verify, backup, serve; what they print, and their exit statuses 0 to 4."""
import json
import shutil
import socket
import sqlite3
import subprocess

import pytest

from support import KINWIRE, PATIENCE, entry, examples, new_key, run_cli

GOOD, NO, USAGE, BAD_INPUT, UNUSABLE = 0, 1, 2, 3, 4


def text_of(entries):
    return "".join(json.dumps(e) + "\n" for e in entries)


@pytest.fixture
def ledger(tmp_path):
    name, entries, _ = examples()[2]
    f = tmp_path / "mill.kw"
    done = run_cli("load", "--ledger", f, "-", stdin=text_of(entries))
    assert done.returncode == GOOD, done.stderr
    return f


def test_help_reads_well():
    for args in (["--help"], ["serve", "--help"], ["load", "--help"], ["trace", "--help"], ["verify", "--help"], ["backup", "--help"]):
        done = run_cli(*args)
        assert done.returncode == GOOD
        assert "--ledger" in done.stdout and done.stderr == ""
    assert "kinwire serve" in run_cli("--help").stdout


@pytest.mark.parametrize("args", [
    [], ["dance"], ["serve"], ["load"], ["trace"], ["verify"], ["backup"], ["serve", "--ledger"], ["load", "--ledger", "x.kw"],
    ["trace", "--ledger", "LEDGER"], ["trace", "--ledger", "LEDGER", "heat:H-A", "--direction", "sideways"],
    ["trace", "--ledger", "LEDGER", "heat"], ["trace", "--ledger", "LEDGER", "heat:H-A", "--from-mm", "x"],
    ["verify", "--ledger", "LEDGER", "--colour", "red"], ["serve", "--ledger", "LEDGER", "--listen", "nonsense"],
])
def test_wrong_usage(args, ledger):
    done = run_cli(*[str(ledger) if a == "LEDGER" else a for a in args])
    assert done.returncode == USAGE, (args, done.stdout, done.stderr)
    assert done.stderr and done.stdout == ""


def test_load_a_file_and_from_standard_input(tmp_path):
    f, source = tmp_path / "a.kw", tmp_path / "a.ndjson"
    name, entries, _ = examples()[0]
    source.write_text(text_of(entries))
    done = run_cli("load", "--ledger", f, source)
    assert done.returncode == GOOD, done.stderr
    again = run_cli("load", "--ledger", f, source)
    assert again.returncode == GOOD, "the same file again adds nothing"
    more = run_cli("load", "--ledger", f, "--as", "night shift", "-", stdin=text_of([entry("note", {"about": "lot:BB-1", "text": "x"})]))
    assert more.returncode == GOOD
    with sqlite3.connect("file:%s?mode=ro" % f, uri=True) as db:
        rows = db.execute("SELECT count(*), max(by) FROM entry").fetchone()
    assert rows == (len(entries) + 1, "night shift")


@pytest.mark.parametrize("line,field", [
    ('{"key":', None),
    (json.dumps(entry("heat", {"heat": "H9", "supplier": 1, "grade": "x"})), "/body/supplier"),
    (json.dumps(entry("receive", {"lot": "L9", "heat": "NONE", "diameter_um": 5500, "length_mm": 1})), "/body/heat"),
])
def test_bad_input_is_said_with_file_line_and_field_and_nothing_is_loaded(tmp_path, ledger, line, field):
    source = tmp_path / "bad.ndjson"
    good = [entry("note", {"about": "lot:BB-1", "text": "x"}) for _ in range(2)]
    source.write_text(text_of(good) + line + "\n")
    before = ledger.read_bytes()
    done = run_cli("load", "--ledger", ledger, source)
    assert done.returncode == BAD_INPUT
    assert str(source) in done.stderr and "3" in done.stderr
    if field:
        assert field in done.stderr
    with sqlite3.connect("file:%s?mode=ro" % ledger, uri=True) as db:
        assert db.execute("SELECT count(*) FROM entry").fetchone() == (len(examples()[2][1]),)
    assert len(before) <= ledger.stat().st_size


def test_load_from_a_file_that_is_not_there(tmp_path, ledger):
    done = run_cli("load", "--ledger", ledger, tmp_path / "none.ndjson")
    assert done.returncode == BAD_INPUT and "none.ndjson" in done.stderr


def test_trace_as_a_table(ledger):
    done = run_cli("trace", "--ledger", ledger, "heat:h-a")
    assert done.returncode == GOOD
    for word in ("RC-1", "BB-1", "BB-2", "certain"):
        assert word in done.stdout
    done = run_cli("trace", "--ledger", ledger, "lot:BW-2", "--direction", "back", "--json")
    assert json.loads(done.stdout)["heats"] == ["H-A", "H-B"]
    part = run_cli("trace", "--ledger", ledger, "lot:RC-1", "--from-mm", 0, "--to-mm", 1, "--json")
    assert json.loads(part.stdout)["from_mm"] == 0


def test_trace_of_what_is_not_there(ledger):
    done = run_cli("trace", "--ledger", ledger, "heat:NONE")
    assert done.returncode == NO and "NONE" in done.stderr


def test_verify_and_its_no(ledger, tmp_path):
    assert run_cli("verify", "--ledger", ledger).returncode == GOOD
    spoiled = tmp_path / "spoiled.kw"
    for change, entry_number in (
            ("UPDATE entry SET leaf = replace(leaf, 'Northmark', 'Southmark') WHERE seq = 2", "2"),
            ("UPDATE feed SET to_mm = to_mm - 1 WHERE run = (SELECT max(run) FROM feed)", None),
            ("DELETE FROM entry WHERE seq = 6", None),
            ("UPDATE node SET hash = zeroblob(32) WHERE id = 2 * 64 + 1", None),
            ("UPDATE lot SET length_mm = length_mm + 1 WHERE code = 'BB-1'", None)):
        shutil.copy(ledger, spoiled)
        with sqlite3.connect(spoiled) as db:
            for t, in db.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
                db.execute("DROP TRIGGER " + t)
            assert db.execute(change).rowcount > 0
        done = run_cli("verify", "--ledger", spoiled)
        assert done.returncode in (NO, UNUSABLE), (change, done.stdout, done.stderr)
        if entry_number:
            assert done.returncode == NO and entry_number in done.stdout + done.stderr
        for f in tmp_path.glob("spoiled.kw*"):
            f.unlink()


def test_backup(ledger, tmp_path):
    to = tmp_path / "copy.kw"
    assert run_cli("backup", "--ledger", ledger, to).returncode == GOOD
    assert run_cli("verify", "--ledger", to).returncode == GOOD
    a, b = (run_cli("trace", "--ledger", f, "heat:H-A", "--json").stdout for f in (ledger, to))
    assert a == b and json.loads(a)["count"] == 4
    done = run_cli("backup", "--ledger", ledger, to)
    assert done.returncode != GOOD and "copy.kw" in done.stderr, "a backup never overwrites"


def test_backup_while_the_daemon_writes(server_on, tmp_path):
    s = server_on(tmp_path / "busy.kw")
    for i in range(20):
        s.api.put("note", {"about": "machine:M", "text": str(i)})
    done = run_cli("backup", "--ledger", s.ledger, tmp_path / "copy.kw")
    assert done.returncode == GOOD, done.stderr
    s.api.put("note", {"about": "machine:M", "text": "after"})
    with sqlite3.connect("file:%s?mode=ro" % (tmp_path / "copy.kw"), uri=True) as db:
        assert db.execute("SELECT count(*) FROM entry").fetchone() == (20,)
    assert run_cli("verify", "--ledger", tmp_path / "copy.kw").returncode == GOOD


def commands(f, tmp_path):
    yield ["trace", "--ledger", f, "heat:H-A"]
    yield ["verify", "--ledger", f]
    yield ["backup", "--ledger", f, tmp_path / "to.kw"]


def test_a_missing_ledger(tmp_path):
    for args in commands(tmp_path / "none.kw", tmp_path):
        done = run_cli(*args)
        assert done.returncode == UNUSABLE and "none.kw" in done.stderr, args
    assert not (tmp_path / "none.kw").exists()


def unusable(f, tmp_path, *words):
    for args in [*commands(f, tmp_path), ["serve", "--ledger", f, "--listen", "127.0.0.1:0", "--open"],
                 ["load", "--ledger", f, "-"]]:
        done = run_cli(*args, stdin="")
        assert done.returncode == UNUSABLE, (args, done.returncode, done.stderr)
        for word in words:
            assert word in done.stderr, (args, done.stderr)


def test_a_file_that_is_no_ledger(tmp_path):
    f = tmp_path / "letter.kw"
    f.write_text("Dear customer,\n" * 1000)
    unusable(f, tmp_path, "letter.kw")
    assert f.read_text() == "Dear customer,\n" * 1000
    other = tmp_path / "other.kw"
    with sqlite3.connect(other) as db:
        db.execute("CREATE TABLE x (a)")
    unusable(other, tmp_path, "other.kw")


def test_a_damaged_ledger(ledger, tmp_path):
    with sqlite3.connect(ledger) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    for f in tmp_path.glob("mill.kw-*"):
        f.unlink()
    data = bytearray(ledger.read_bytes())
    for at in range(4096, len(data), 4096):
        data[at:at + 256] = b"\xa5" * 256
    ledger.write_bytes(data)
    unusable(ledger, tmp_path, "mill.kw")


def test_a_ledger_of_a_newer_version(ledger, tmp_path):
    with sqlite3.connect(ledger) as db:
        db.execute("PRAGMA user_version = 4711")
    unusable(ledger, tmp_path, "newer")


def test_a_folder_and_a_file_that_may_not_be_written(tmp_path):
    done = run_cli("load", "--ledger", tmp_path, "-", stdin="")
    assert done.returncode == UNUSABLE
    done = run_cli("load", "--ledger", tmp_path / "no" / "such" / "folder.kw", "-", stdin="")
    assert done.returncode == UNUSABLE


def test_a_port_in_use(tmp_path):
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        s.listen()
        done = run_cli("serve", "--ledger", tmp_path / "a.kw", "--listen", "127.0.0.1:%d" % s.getsockname()[1], "--open")
    assert done.returncode not in (GOOD, None) and "in use" in done.stderr


def test_open_is_for_loopback_only(tmp_path):
    done = run_cli("serve", "--ledger", tmp_path / "a.kw", "--listen", "0.0.0.0:0", "--open")
    assert done.returncode == USAGE and "loopback" in done.stderr


def test_serve_makes_the_ledger_says_its_url_and_ends_on_sigterm(server_on, tmp_path):
    s = server_on(tmp_path / "new.kw")
    s.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    assert s.stop() == GOOD
    assert not (tmp_path / "new.kw-wal").exists() or (tmp_path / "new.kw-wal").stat().st_size == 0
    again = server_on(tmp_path / "new.kw")
    assert again.api.get("/api/ledger/head")["size"] == 1
    again.stop()


def test_a_second_writer_is_kept_out(server_on, tmp_path):
    s = server_on(tmp_path / "one.kw")
    done = run_cli("serve", "--ledger", s.ledger, "--listen", "127.0.0.1:0", "--open")
    assert done.returncode == UNUSABLE, "two daemons on one ledger"
    s.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})


def test_reading_commands_beside_the_daemon(server_on, tmp_path):
    s = server_on(tmp_path / "busy.kw")
    s.api.load(examples()[0][1])
    assert run_cli("trace", "--ledger", s.ledger, "heat:H-A").returncode == GOOD
    assert run_cli("verify", "--ledger", s.ledger).returncode == GOOD
    assert s.api.get("/api/ledger/head")["size"] == 5


def test_an_answer_does_not_change_what_is_asked(ledger):
    before = ledger.read_bytes()
    for args in (["trace", "--ledger", ledger, "heat:H-A"], ["verify", "--ledger", ledger]):
        assert run_cli(*args).returncode == GOOD
    assert ledger.read_bytes() == before


def test_output_that_nobody_reads(ledger):
    """A closed pipe ends the command without a crash."""
    p = subprocess.Popen([KINWIRE, "trace", "--ledger", str(ledger), "heat:H-A", "--json"], stdout=subprocess.PIPE,
                         stderr=subprocess.PIPE)
    p.stdout.close()
    p.stderr.read()
    assert p.wait(PATIENCE) in (-13, 0, 1, 3, 4)


def test_big_input_with_empty_lines_and_no_last_newline(tmp_path):
    lines = [json.dumps(entry("note", {"about": "machine:M", "text": "x" * 2000}, key=new_key())) for _ in range(500)]
    done = run_cli("load", "--ledger", tmp_path / "n.kw", "-", stdin="\n".join(lines))
    assert done.returncode == GOOD, done.stderr
    with sqlite3.connect("file:%s?mode=ro" % (tmp_path / "n.kw"), uri=True) as db:
        assert db.execute("SELECT count(*) FROM entry").fetchone() == (500,)
