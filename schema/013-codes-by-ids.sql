-- Level 13: the lots, runs and joints that an entry made are found by their ids, in tables of their own. They are most of
-- the codes there are, and an index of codes by entry, of which they were most, keeps the others alone.
-- derived: kept

DROP INDEX thing_by_seq;
CREATE INDEX thing_by_seq ON thing (seq) WHERE type <> 'lot' AND type <> 'run' AND type <> 'weld';
