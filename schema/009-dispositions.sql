-- Level 9: the question that a hold was opened from, what its release allows, and a second person's word.
-- derived: again for hold release

ALTER TABLE hold ADD COLUMN decides TEXT;        -- who is to decide
ALTER TABLE hold ADD COLUMN question TEXT;       -- in words
ALTER TABLE hold ADD COLUMN trace TEXT;          -- JSON: the question, and the head at which it was answered

ALTER TABLE release ADD COLUMN grade TEXT;       -- of regraded lots
ALTER TABLE release ADD COLUMN works TEXT;       -- rework: the processes, with commas between them; NULL: not stated
ALTER TABLE release ADD COLUMN agreed INTEGER;   -- the entry by which a second person agreed
CREATE INDEX release_by_agreed ON release (agreed) WHERE agreed IS NOT NULL;

CREATE TABLE agreement (
  seq INTEGER PRIMARY KEY, hold INTEGER NOT NULL, disposition TEXT NOT NULL, reason TEXT NOT NULL,
  grade TEXT, works TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX agreement_by_hold ON agreement (hold);
-- What of the hold was agreed to; no row: all of it.
CREATE TABLE agreement_span (
  hold INTEGER NOT NULL, lot INTEGER NOT NULL, from_mm INTEGER NOT NULL, to_mm INTEGER NOT NULL, seq INTEGER NOT NULL
) STRICT;
CREATE INDEX agreement_span_by_seq ON agreement_span (seq);
CREATE INDEX agreement_span_by_lot ON agreement_span (lot);
