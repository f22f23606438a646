-- Level 2: orders, and runs as they happen. Derived tables only; they are rebuilt from the entries after this.

CREATE TABLE work_order (
  id INTEGER PRIMARY KEY, seq INTEGER NOT NULL, code TEXT NOT NULL,
  customer TEXT, process TEXT, grade TEXT, diameter_um INTEGER, tolerance_um INTEGER, construction TEXT,
  one_heat INTEGER NOT NULL, machine TEXT, pieces TEXT
) STRICT;
CREATE INDEX work_order_by_seq ON work_order (seq);

-- What was done in a run that was logged as it happened, in order of seq. run_seq: the entry that opened it.
CREATE TABLE step (
  seq INTEGER PRIMARY KEY, run_seq INTEGER NOT NULL, kind TEXT NOT NULL
) STRICT;
CREATE INDEX step_by_run ON step (run_seq, seq);

ALTER TABLE run ADD COLUMN under_way INTEGER NOT NULL DEFAULT 0;   -- 1: opened and not closed
ALTER TABLE run ADD COLUMN ord TEXT;                               -- the order it is made for
CREATE INDEX run_by_under_way ON run (under_way) WHERE under_way = 1;
CREATE INDEX run_by_order ON run (ord) WHERE ord IS NOT NULL;
ALTER TABLE lot ADD COLUMN grade TEXT;                             -- of its heats, where that is one
