-- Level 4: where a specification's figures come from. Some ledgers of level 3 have the column and some have not, so the
-- derived table is made anew; it is filled again from the entries after this.

DROP TABLE spec;
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
