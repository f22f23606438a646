-- The ledger, level 1.
--
-- The truth is entry, and node over it; both are only ever appended to. Everything under "derived" is computed from the
-- entries and can be dropped and rebuilt from them with the same rows as a result.

CREATE TABLE entry (
  seq      INTEGER PRIMARY KEY CHECK (seq > 0),
  key      TEXT NOT NULL UNIQUE,
  kind     TEXT NOT NULL,
  at       TEXT NOT NULL,
  logged   TEXT NOT NULL,
  by       TEXT NOT NULL,
  terminal TEXT NOT NULL,
  leaf     TEXT NOT NULL,                             -- canonical JSON, the very bytes that are hashed
  hash     BLOB NOT NULL CHECK (length(hash) = 32)    -- SHA-256(0x00 || leaf)
) STRICT;
CREATE INDEX entry_by_kind ON entry (kind, seq);

-- Hashes of complete subtrees (RFC 9162, 2.1): node (level, idx) covers entries idx * 2^level + 1 to (idx + 1) * 2^level.
-- Level 0 is entry.hash.
CREATE TABLE node (
  level INTEGER NOT NULL CHECK (level > 0),
  idx   INTEGER NOT NULL CHECK (idx >= 0),
  hash  BLOB NOT NULL CHECK (length(hash) = 32),
  PRIMARY KEY (level, idx)
) STRICT, WITHOUT ROWID;

-- What was answered when the entry was taken, where that was more than its number: [{"code","text"}].
CREATE TABLE receipt (
  seq      INTEGER PRIMARY KEY,
  findings TEXT NOT NULL
) STRICT;

CREATE TRIGGER entry_in_order BEFORE INSERT ON entry
  WHEN new.seq IS NOT (SELECT ifnull(max(seq), 0) + 1 FROM entry)
  BEGIN SELECT raise(ABORT, 'an entry can only be added at the end'); END;
CREATE TRIGGER entry_fixed BEFORE UPDATE ON entry BEGIN SELECT raise(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT raise(ABORT, 'an entry is never removed'); END;
CREATE TRIGGER node_fixed BEFORE UPDATE ON node BEGIN SELECT raise(ABORT, 'a hash is never changed'); END;
CREATE TRIGGER node_kept BEFORE DELETE ON node BEGIN SELECT raise(ABORT, 'a hash is never removed'); END;
CREATE TRIGGER node_once BEFORE INSERT ON node
  WHEN EXISTS (SELECT 1 FROM node WHERE level = new.level AND idx = new.idx)
  BEGIN SELECT raise(ABORT, 'a hash is never changed'); END;
CREATE TRIGGER receipt_fixed BEFORE UPDATE ON receipt BEGIN SELECT raise(ABORT, 'a receipt is never changed'); END;
CREATE TRIGGER receipt_kept BEFORE DELETE ON receipt BEGIN SELECT raise(ABORT, 'a receipt is never removed'); END;

-- Derived. Every row names the entry that made it (seq) and is never changed: an entry is undone by removing its rows.
-- Ids are seq * 4096 + a number within the entry, so that they do not depend on the order in which entries were redone.
-- Times are seconds since 1970, lengths mm.

-- What stands of an entry: absent, its own body; else the body of entry body_seq, or nothing when void = 1.
CREATE TABLE standing (
  seq      INTEGER PRIMARY KEY,       -- the entry that was put right
  body_seq INTEGER NOT NULL,          -- the last entry that did so
  void     INTEGER NOT NULL
) STRICT;
-- Each correct and void, by the entry that it put right.
CREATE TABLE correction (
  seq    INTEGER PRIMARY KEY,
  target INTEGER NOT NULL,
  void   INTEGER NOT NULL,
  reason TEXT NOT NULL
) STRICT;
CREATE INDEX correction_by_target ON correction (target, seq);

-- Every code in use, for find and for 'a code is never used twice'.
CREATE TABLE thing (
  type TEXT NOT NULL,     -- heat, supply, lot, batch, run, weld, test, hold, certificate, consignment
  code TEXT NOT NULL,
  id   INTEGER NOT NULL,
  seq  INTEGER NOT NULL,
  PRIMARY KEY (type, code)
) STRICT, WITHOUT ROWID;
CREATE INDEX thing_by_code ON thing (code, type);
CREATE INDEX thing_by_seq ON thing (seq);

CREATE TABLE heat (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL,
  supplier TEXT NOT NULL, grade TEXT NOT NULL, mill_certificate TEXT, analysis TEXT
) STRICT;
CREATE INDEX heat_by_seq ON heat (seq);

CREATE TABLE supply (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL,
  what TEXT NOT NULL, supplier TEXT NOT NULL, supplier_lot TEXT
) STRICT;
CREATE INDEX supply_by_seq ON supply (seq);

CREATE TABLE lot (
  id           INTEGER PRIMARY KEY,
  seq          INTEGER NOT NULL,
  code         TEXT NOT NULL,
  kind         TEXT NOT NULL,
  length_mm    INTEGER NOT NULL,
  length_from  TEXT NOT NULL,     -- counted, mass
  mass_g       INTEGER,
  mass_from    TEXT,              -- weighed, diameter, inputs
  diameter_um  INTEGER,
  construction TEXT,
  heat         INTEGER,           -- of a received lot
  supply       INTEGER,
  run          INTEGER,           -- that made it; NULL: received
  s0           INTEGER,           -- its place on the run's output
  depth        INTEGER NOT NULL,  -- of the run that made it; 0: received
  at           INTEGER NOT NULL,
  ord          TEXT,              -- the order it was received for
  measured     TEXT               -- [um, ...]
) STRICT;
CREATE INDEX lot_by_seq ON lot (seq);
CREATE INDEX lot_by_heat ON lot (heat) WHERE heat IS NOT NULL;
CREATE INDEX lot_by_supply ON lot (supply) WHERE supply IS NOT NULL;

CREATE TABLE batch (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL,
  process TEXT NOT NULL, machine TEXT NOT NULL, started INTEGER, ended INTEGER, at INTEGER NOT NULL
) STRICT;
CREATE INDEX batch_by_seq ON batch (seq);
CREATE INDEX batch_by_machine ON batch (machine, at);
CREATE TABLE batch_lot (
  batch INTEGER NOT NULL, lot INTEGER NOT NULL, from_mm INTEGER, to_mm INTEGER,   -- NULL: what was left at the time
  seq INTEGER NOT NULL
) STRICT;
CREATE INDEX batch_lot_by_batch ON batch_lot (batch);
CREATE INDEX batch_lot_by_lot ON batch_lot (lot);
CREATE INDEX batch_lot_by_seq ON batch_lot (seq);

CREATE TABLE run (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL,
  process TEXT NOT NULL, machine TEXT NOT NULL, started INTEGER, ended INTEGER, at INTEGER NOT NULL,
  batch INTEGER, tolerance_ppm INTEGER NOT NULL, length_mm INTEGER NOT NULL, depth INTEGER NOT NULL,
  override TEXT
) STRICT;
CREATE INDEX run_by_seq ON run (seq);
CREATE INDEX run_by_machine ON run (machine, at);
CREATE INDEX run_by_batch ON run (batch) WHERE batch IS NOT NULL;
-- Holds that lay on what a run with an override took when it was recorded: its packages are on them too.
CREATE TABLE overridden (
  run INTEGER NOT NULL, hold TEXT NOT NULL, seq INTEGER NOT NULL,
  PRIMARY KEY (run, hold)
) STRICT, WITHOUT ROWID;
CREATE INDEX overridden_by_hold ON overridden (hold);
CREATE TABLE run_supply (run INTEGER NOT NULL, supply INTEGER NOT NULL, seq INTEGER NOT NULL) STRICT;
CREATE INDEX run_supply_by_supply ON run_supply (supply);
CREATE INDEX run_supply_by_seq ON run_supply (seq);

CREATE TABLE line (
  run INTEGER NOT NULL, ord INTEGER NOT NULL, label TEXT NOT NULL, length_mm INTEGER NOT NULL, seq INTEGER NOT NULL,
  PRIMARY KEY (run, ord)
) STRICT, WITHOUT ROWID;

-- A feed is also a claim on its lot. v0: its place on the line. inner: paid off from the inner end.
CREATE TABLE feed (
  run INTEGER NOT NULL, line INTEGER NOT NULL, ord INTEGER NOT NULL, lot INTEGER NOT NULL,
  from_mm INTEGER NOT NULL, to_mm INTEGER NOT NULL, inner INTEGER NOT NULL, v0 INTEGER NOT NULL, seen_mm INTEGER,
  seq INTEGER NOT NULL,
  PRIMARY KEY (run, line, ord)
) STRICT, WITHOUT ROWID;
CREATE INDEX feed_by_lot ON feed (lot, from_mm);

CREATE TABLE package (
  run INTEGER NOT NULL, ord INTEGER NOT NULL, lot INTEGER NOT NULL,   -- 0: scrap
  s0 INTEGER NOT NULL, s1 INTEGER NOT NULL, doffed INTEGER, reason TEXT, seq INTEGER NOT NULL,
  PRIMARY KEY (run, ord)
) STRICT, WITHOUT ROWID;

-- The joint before a feed.
CREATE TABLE weld (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL,
  run INTEGER NOT NULL, line INTEGER NOT NULL, feed INTEGER NOT NULL, v INTEGER NOT NULL,
  made_by TEXT NOT NULL, affected_mm INTEGER NOT NULL, seen_mm INTEGER
) STRICT;
CREATE INDEX weld_by_run ON weld (run, line, feed);
CREATE INDEX weld_by_seq ON weld (seq);

-- Claims on a lot other than feeds: sample, scrap, dispatch.
CREATE TABLE taken (
  lot INTEGER NOT NULL, from_mm INTEGER NOT NULL, to_mm INTEGER NOT NULL,
  what TEXT NOT NULL, code TEXT, at INTEGER NOT NULL, seq INTEGER NOT NULL
) STRICT;
CREATE INDEX taken_by_lot ON taken (lot, from_mm);
CREATE INDEX taken_by_seq ON taken (seq);

CREATE TABLE test (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL, lot INTEGER NOT NULL,
  at_mm INTEGER, sample_mm INTEGER, instrument TEXT, verdict TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX test_by_seq ON test (seq);
CREATE INDEX test_by_lot ON test (lot);
CREATE INDEX test_by_instrument ON test (instrument, at) WHERE instrument IS NOT NULL;
CREATE TABLE result (
  test INTEGER NOT NULL, property TEXT NOT NULL, value INTEGER NOT NULL, seq INTEGER NOT NULL,
  PRIMARY KEY (test, property)
) STRICT, WITHOUT ROWID;

CREATE TABLE hold (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL, reason TEXT NOT NULL, at INTEGER NOT NULL
) STRICT;
CREATE INDEX hold_by_seq ON hold (seq);
-- What a hold bars. run: 0, or the run whose override brought its packages under the hold.
CREATE TABLE hold_span (
  hold INTEGER NOT NULL, lot INTEGER NOT NULL, from_mm INTEGER NOT NULL, to_mm INTEGER NOT NULL, run INTEGER NOT NULL,
  seq INTEGER NOT NULL
) STRICT;
CREATE INDEX hold_span_by_hold ON hold_span (hold);
CREATE INDEX hold_span_by_lot ON hold_span (lot);
CREATE INDEX hold_span_by_seq ON hold_span (seq);
-- What a release frees of it.
CREATE TABLE release (
  seq INTEGER PRIMARY KEY, hold INTEGER NOT NULL, disposition TEXT NOT NULL, reason TEXT NOT NULL, at INTEGER NOT NULL
) STRICT;
CREATE INDEX release_by_hold ON release (hold);
CREATE TABLE release_span (
  hold INTEGER NOT NULL, lot INTEGER NOT NULL, from_mm INTEGER NOT NULL, to_mm INTEGER NOT NULL, seq INTEGER NOT NULL
) STRICT;
CREATE INDEX release_span_by_lot ON release_span (lot);
CREATE INDEX release_span_by_hold ON release_span (hold);
CREATE INDEX release_span_by_seq ON release_span (seq);

CREATE TABLE certificate (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL, type TEXT NOT NULL, statement TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX certificate_by_seq ON certificate (seq);
CREATE TABLE certificate_reel (certificate INTEGER NOT NULL, lot INTEGER NOT NULL, seq INTEGER NOT NULL) STRICT;
CREATE INDEX certificate_reel_by_certificate ON certificate_reel (certificate);
CREATE INDEX certificate_reel_by_lot ON certificate_reel (lot);
CREATE INDEX certificate_reel_by_seq ON certificate_reel (seq);
CREATE TABLE certificate_test (certificate INTEGER NOT NULL, test INTEGER NOT NULL, seq INTEGER NOT NULL) STRICT;
CREATE INDEX certificate_test_by_test ON certificate_test (test);
CREATE INDEX certificate_test_by_seq ON certificate_test (seq);
CREATE TABLE withdrawal (
  seq INTEGER PRIMARY KEY, certificate INTEGER NOT NULL, reason TEXT NOT NULL, at INTEGER NOT NULL
) STRICT;
CREATE INDEX withdrawal_by_certificate ON withdrawal (certificate);

CREATE TABLE consignment (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL, consignee TEXT NOT NULL, at INTEGER NOT NULL
) STRICT;
CREATE INDEX consignment_by_seq ON consignment (seq);
CREATE TABLE consignment_lot (consignment INTEGER NOT NULL, lot INTEGER NOT NULL, seq INTEGER NOT NULL) STRICT;
CREATE INDEX consignment_lot_by_consignment ON consignment_lot (consignment);
CREATE INDEX consignment_lot_by_lot ON consignment_lot (lot);
CREATE INDEX consignment_lot_by_seq ON consignment_lot (seq);

-- Where a lot was put; the row with the greatest seq is where it is.
CREATE TABLE place (
  lot INTEGER NOT NULL, seq INTEGER NOT NULL, location TEXT NOT NULL,
  PRIMARY KEY (lot, seq)
) STRICT, WITHOUT ROWID;
CREATE INDEX place_by_seq ON place (seq);

CREATE TABLE note (
  seq INTEGER PRIMARY KEY, type TEXT NOT NULL, code TEXT NOT NULL, text TEXT NOT NULL, at INTEGER NOT NULL
) STRICT;
CREATE INDEX note_by_about ON note (type, code);

-- What is odd about an entry, though it was taken.
CREATE TABLE finding (
  seq INTEGER NOT NULL, ord INTEGER NOT NULL, code TEXT NOT NULL, text TEXT NOT NULL,
  PRIMARY KEY (seq, ord)
) STRICT, WITHOUT ROWID;
