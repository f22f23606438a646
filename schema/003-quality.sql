-- Level 3: instruments and specifications. Derived tables only; they are rebuilt from the entries after this.

-- What was said of an instrument, in order of seq: the last before a test holds for it.
CREATE TABLE instrument (
  seq INTEGER PRIMARY KEY, code TEXT NOT NULL, what TEXT NOT NULL,
  calibrated INTEGER, valid_until INTEGER, note TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX instrument_by_code ON instrument (code, seq);

-- A version of a specification. NULL: it does not say.
CREATE TABLE spec (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL, version INTEGER NOT NULL,
  what TEXT NOT NULL, grade TEXT, construction TEXT, from_um INTEGER, below_um INTEGER,
  joint_multiple INTEGER, joint_of_um INTEGER, heats TEXT,
  tests TEXT,           -- JSON: [{"property","per","n"}]
  tolerance TEXT,       -- JSON: {process: ppm}
  source TEXT,          -- where its figures come from
  at INTEGER NOT NULL
) STRICT;
CREATE INDEX spec_by_code ON spec (code, version);
CREATE INDEX spec_by_seq ON spec (seq);
CREATE TABLE spec_limit (
  spec INTEGER NOT NULL, property TEXT NOT NULL, min INTEGER, max INTEGER, seq INTEGER NOT NULL,
  PRIMARY KEY (spec, property)
) STRICT, WITHOUT ROWID;

-- verdict is what counts: what the sender said, else what the specification that stood gives.
ALTER TABLE test ADD COLUMN said TEXT;
ALTER TABLE test ADD COLUMN judged TEXT;
ALTER TABLE test ADD COLUMN spec INTEGER;
CREATE INDEX test_by_spec ON test (spec) WHERE spec IS NOT NULL;
CREATE INDEX test_failed ON test (at) WHERE verdict = 'fail';

CREATE INDEX entry_by_who ON entry (by, seq);
