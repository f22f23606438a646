"""The ledger's file changed by another program, that removed the triggers and put them back: verify names the first entry that is
wrong. What is consistent in itself, a tail cut off or a history written anew, is caught by a head that was kept outside."""
import hashlib
import json
import re
import shutil
import sqlite3

import pytest

from rfc9162 import leaf_hash, node_hash, root
from support import EXAMPLES, run_cli

ENTRIES = (EXAMPLES / "5-small-mill" / "entries.ndjson").read_text().splitlines()


@pytest.fixture(scope="module")
def mill(tmp_path_factory):
    """A ledger with the small mill in it, and its head."""
    folder = tmp_path_factory.mktemp("tampering")
    source = folder / "mill.ndjson"
    source.write_text("\n".join(ENTRIES) + "\n")
    ledger = folder / "mill.kw"
    done = run_cli("load", "--ledger", ledger, source)
    assert done.returncode == 0, done.stderr
    return ledger, re.search(r"head (\d+) ([0-9a-f]{64})", done.stdout).groups()


class Meddler:
    """sqlite3 with all rights, on a copy."""

    def __init__(self, ledger, folder):
        self.path = folder / "meddled.kw"
        shutil.copy(ledger, self.path)
        self.db = sqlite3.connect(self.path, isolation_level=None)
        self.triggers = self.db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in self.triggers:
            self.db.execute("DROP TRIGGER %s" % name)

    def do(self, sql, *args):
        done = self.db.execute(sql, args)
        assert done.rowcount != 0, "nothing was changed by " + sql
        return done

    def done(self, triggers=True):
        for _, sql in self.triggers if triggers else ():
            self.db.execute(sql)
        self.db.close()
        return self.path


@pytest.fixture
def meddler(mill, tmp_path):
    return Meddler(mill[0], tmp_path)


def verify(path, head=None):
    return run_cli("verify", "--ledger", path, *(("--head", "%s:%s" % head) if head else ()))


def expect_wrong(path, *numbers):
    done = verify(path)
    assert done.returncode == 1, done.stdout + done.stderr
    named = re.search(r"entry (\d+) is the first that is wrong", done.stderr)
    assert named and int(named.group(1)) in numbers, done.stderr


def leaves(db):
    return [x[0].encode() for x in db.execute("SELECT leaf FROM entry ORDER BY seq")]


def rebuild_tree(m):
    """As one would who knows RFC 9162."""
    level = [leaf_hash(x) for x in leaves(m.db)]
    m.db.execute("DELETE FROM node")
    for i, h in enumerate(level):
        m.db.execute("UPDATE entry SET hash = ? WHERE seq = ?", (h, i + 1))
    number = 0
    while len(level) > 1:
        number += 1
        level = [node_hash(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
        for i, h in enumerate(level):
            m.db.execute("INSERT INTO node VALUES (?, ?)", (((i + 1) << number) * 64 + number, h))


# --- what verify finds by itself ------------------------------------------------------------------------------------

N = 12


def test_whole(mill):
    assert verify(mill[0]).returncode == 0
    assert verify(*mill).returncode == 0


def edited_leaf(m):
    m.do("UPDATE entry SET leaf = replace(leaf, '\"by\":\"load\"', '\"by\":\"loan\"') WHERE seq = ?", N)
    return [N]


def edited_leaf_and_column(m):
    m.do("UPDATE entry SET leaf = replace(leaf, '\"by\":\"load\"', '\"by\":\"loan\"'), by = 'loan' WHERE seq = ?", N)
    return [N]


def edited_leaf_with_its_hash(m):
    leaf = m.db.execute("SELECT replace(leaf, '\"by\":\"load\"', '\"by\":\"loan\"') FROM entry WHERE seq = ?", (N,)).fetchone()[0]
    m.do("UPDATE entry SET leaf = ?, by = 'loan', hash = ? WHERE seq = ?", leaf, leaf_hash(leaf.encode()), N)
    return [N - 1, N]  # the first hash above it covers two entries


def edited_hash(m):
    m.do("UPDATE entry SET hash = zeroblob(32) WHERE seq = ?", N)
    return [N]


def not_canonical(m):
    m.do("UPDATE entry SET leaf = replace(leaf, '{\"at\"', '{ \"at\"') WHERE seq = ?", N)
    leaf = m.db.execute("SELECT leaf FROM entry WHERE seq = ?", (N,)).fetchone()[0]
    m.do("UPDATE entry SET hash = ? WHERE seq = ?", leaf_hash(leaf.encode()), N)
    return [N]


def edited_column(name):
    def edit(m):
        value = {"kind": "note", "key": "00000000-0000-4000-8000-00000000dead"}.get(name, "2026-01-01T00:00:01Z")
        m.do("UPDATE entry SET %s = ? WHERE seq = ?" % name, value, N)
        return [N]

    edit.__name__ = "edited_" + name
    return edit


def dropped_row(m):
    m.do("DELETE FROM entry WHERE seq = ?", N)
    return [N]


def dropped_first(m):
    m.do("DELETE FROM entry WHERE seq = 1")
    return [1]


def dropped_and_renumbered(m):
    m.do("DELETE FROM entry WHERE seq = ?", N)
    for seq in range(N + 1, len(ENTRIES) + 1):
        m.do("UPDATE entry SET seq = ? WHERE seq = ?", seq - 1, seq)
    return [N]


def swapped(m):
    m.do("UPDATE entry SET seq = 100000 WHERE seq = ?", N)
    m.do("UPDATE entry SET seq = ? WHERE seq = ?", N, N + 1)
    m.do("UPDATE entry SET seq = ? WHERE seq = 100000", N + 1)
    return [N]


def one_more(m):
    m.do("INSERT INTO entry SELECT 100000, 'x' || key, kind, at, logged, by, terminal, leaf, hash FROM entry WHERE seq = 1")
    return [len(ENTRIES) + 1]


def changed_node(m):
    m.do("UPDATE node SET hash = zeroblob(32) WHERE id = 8 * 64 + 2")
    return [8]  # named by the last entry under it


def dropped_node(m):
    m.do("DELETE FROM node WHERE id = 8 * 64 + 1")
    return [8]


def extra_node(m):
    m.do("INSERT INTO node VALUES (200002 * 64 + 1, zeroblob(32))")
    return [200002]


def changed_derived(table, column):
    def change(m):
        seq = m.db.execute("SELECT seq FROM %s ORDER BY seq LIMIT 1 OFFSET 1" % table).fetchone()[0]
        m.do("UPDATE %s SET %s = %s + 1 WHERE seq = ?" % (table, column, column), seq)
        return [seq]

    change.__name__ = "changed_%s_%s" % (table, column)
    return change


def dropped_derived(m):
    seq = m.db.execute("SELECT max(seq) FROM lot").fetchone()[0]
    m.do("DELETE FROM lot WHERE seq = ?", seq)
    return [seq]


def extra_derived(m):
    m.do("INSERT INTO taken (lot, from_mm, to_mm, what, code, at, seq) VALUES (4097, 0, 1, 'scrap', NULL, 0, 3)")
    return [3]


CHANGES = [
    edited_leaf, edited_leaf_and_column, edited_leaf_with_its_hash, edited_hash, not_canonical,
    *(edited_column(c) for c in ("key", "kind", "at", "logged", "by", "terminal")),
    dropped_row, dropped_first, dropped_and_renumbered, swapped, one_more, changed_node, dropped_node, extra_node,
    changed_derived("lot", "length_mm"), changed_derived("lot", "depth"), changed_derived("run", "tolerance_ppm"),
    changed_derived("feed", "to_mm"), changed_derived("weld", "v"), dropped_derived, extra_derived,
]


@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.__name__)
def test_the_first_wrong_entry_is_named(meddler, change):
    numbers = change(meddler)
    expect_wrong(meddler.done(), *numbers)


# --- gone on with from where it was kept ---------------------------------------------------------------------------

@pytest.fixture(scope="module")
def kept(mill, tmp_path_factory):
    """The replay of the whole ledger, as verify keeps it."""
    file = tmp_path_factory.mktemp("kept") / "mill.replay"
    done = run_cli("verify", "--ledger", mill[0], "--keep", file)
    assert done.returncode == 0 and "taken from" not in done.stdout, done.stdout + done.stderr
    return file


def keeping(path, kept, tmp_path, *more):
    file = tmp_path / "copy.replay"
    shutil.copy(kept, file)
    return run_cli("verify", "--ledger", path, "--keep", file, *more)


@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.__name__)
def test_what_was_verified_before_is_not_believed_of_the_ledger(meddler, kept, tmp_path, change):
    numbers = change(meddler)
    done = keeping(meddler.done(), kept, tmp_path)
    assert done.returncode == 1, done.stdout + done.stderr
    assert re.search(r"entry (%s)\b" % "|".join(map(str, numbers)), done.stderr), (numbers, done.stderr)


def test_only_what_is_new_is_replayed(mill, kept, tmp_path):
    ledger = tmp_path / "longer.kw"
    shutil.copy(mill[0], ledger)
    more = run_cli("load", "--ledger", ledger, "-", stdin=json.dumps(
        {"key": "00000000-0000-4000-8000-00000000abcd", "kind": "heat", "body": {"heat": "H-NEW", "supplier": "S", "grade": "C82D"}}) + "\n")
    assert more.returncode == 0, more.stderr
    done = keeping(ledger, kept, tmp_path)
    assert done.returncode == 0 and "entries 1 to %d" % len(ENTRIES) in done.stdout, done.stdout + done.stderr
    again = run_cli("verify", "--ledger", ledger, "--keep", tmp_path / "copy.replay")
    assert again.returncode == 0 and "entries 1 to %d" % (len(ENTRIES) + 1) in again.stdout, again.stdout + again.stderr
    whole = keeping(ledger, kept, tmp_path, "--from-start")
    assert whole.returncode == 0 and "taken from" not in whole.stdout, whole.stdout + whole.stderr


def test_rows_of_what_was_kept_that_were_changed_show(mill, kept, tmp_path):
    file = tmp_path / "changed.replay"
    shutil.copy(kept, file)
    with sqlite3.connect(file) as db:
        db.execute("UPDATE lot SET length_mm = length_mm + 1 WHERE id = (SELECT min(id) FROM lot)")
    db.close()
    done = run_cli("verify", "--ledger", mill[0], "--keep", file)
    assert done.returncode == 1 and "table lot" in done.stderr, done.stderr
    assert run_cli("verify", "--ledger", mill[0], "--keep", file, "--from-start").returncode == 0


def test_the_replay_of_another_ledger_is_begun_anew(kept, tmp_path):
    other = tmp_path / "other.kw"
    done = run_cli("load", "--ledger", other, "-", stdin="\n".join(ENTRIES[:5]) + "\n")
    assert done.returncode == 0, done.stderr
    done = keeping(other, kept, tmp_path)
    assert done.returncode == 0 and "taken from" not in done.stdout, done.stdout + done.stderr


def test_a_replay_is_kept_under_no_other_name(mill, tmp_path):
    precious = tmp_path / "precious.kw"
    shutil.copy(mill[0], precious)
    before = precious.read_bytes()
    for name in (precious, tmp_path / ".replay.kw"):
        done = run_cli("verify", "--ledger", mill[0], "--keep", name)
        assert done.returncode in (2, 4) and ".replay" in done.stderr, done.stderr
    assert precious.read_bytes() == before
    assert run_cli("verify", "--ledger", mill[0], "--from-start").returncode == 2


def test_guards_that_were_left_off(meddler):
    done = verify(meddler.done(triggers=False))
    assert done.returncode == 1 and "triggers" in done.stderr, done.stderr


def test_one_guard_too_many(meddler):
    meddler.db.execute("CREATE TRIGGER more AFTER INSERT ON lot BEGIN DELETE FROM hold_span; END")
    done = verify(meddler.done())
    assert done.returncode == 1 and "triggers" in done.stderr, done.stderr


def test_a_newer_ledger_is_refused(meddler):
    meddler.db.execute("PRAGMA user_version=99")
    done = verify(meddler.done())
    assert done.returncode == 4 and "newer" in done.stderr, done.stderr


@pytest.mark.parametrize("table", ["node", "lot", "entry"])
def test_a_table_that_is_gone(meddler, table):
    meddler.triggers = [x for x in meddler.triggers if table not in x[1]]
    meddler.db.execute("DROP TABLE %s" % table)
    assert verify(meddler.done()).returncode in (1, 4)


# --- what only a head kept outside finds ----------------------------------------------------------------------------


def cut_tail(m, keep):
    for (name,) in m.db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall():
        columns = [x[1] for x in m.db.execute("PRAGMA table_info(%s)" % name)]
        if "seq" in columns:
            m.db.execute("DELETE FROM %s WHERE seq > ?" % name, (keep,))
    rebuild_tree(m)


@pytest.mark.parametrize("cut", [1, 2, 5])
def test_a_tail_cut_off(mill, meddler, cut):
    size, head = int(mill[1][0]), mill[1]
    cut_tail(meddler, size - cut)
    path = meddler.done()
    if verify(path).returncode != 0:
        pytest.skip("what was cut leaned on what is left")
    done = verify(path, head)
    assert done.returncode == 1 and "entry %d is the first that is missing" % (size - cut + 1) in done.stderr, done.stderr
    # an older head is still right
    db = sqlite3.connect(path)
    older = root([leaf_hash(x) for x in leaves(db)[:3]]).hex()
    assert verify(path, (3, older)).returncode == 0


def test_history_written_anew(mill, tmp_path):
    lines = [json.loads(x) for x in ENTRIES]
    at = next(i for i, e in enumerate(lines) if e["kind"] == "heat")
    lines[at]["body"]["supplier"] = "Another Steel"
    anew = tmp_path / "anew.ndjson"
    anew.write_text("\n".join(map(json.dumps, lines)) + "\n")
    ledger = tmp_path / "anew.kw"
    assert run_cli("load", "--ledger", ledger, anew).returncode == 0
    assert verify(ledger).returncode == 0, "it is consistent in itself"
    done = verify(ledger, mill[1])
    assert done.returncode == 1 and "kept outside" in done.stderr, done.stderr


@pytest.mark.parametrize("head", ["", "3", "3:abc", ":" + "0" * 64, "x:" + "0" * 64, "-1:" + "0" * 64,
                                  "3:" + "g" * 64, "99999999999999999999:" + "0" * 64])
def test_a_head_that_is_none(mill, head):
    assert run_cli("verify", "--ledger", mill[0], "--head", head).returncode == 2


def test_the_empty_head(mill):
    empty = hashlib.sha256(b"").hexdigest()
    assert verify(mill[0], (0, empty)).returncode == 0
    assert verify(mill[0], (0, "0" * 64)).returncode == 1
