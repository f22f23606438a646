-- Level 14: a step of a run that is put right stays in its run. Before, the run was done again without it, and where it
-- could not stand so, the run was lost and the correction recorded all the same. What was recorded by then is derived as
-- it was, so that a ledger's traces stay what they were, and the correction that lost a run says so.
-- derived: again if SELECT 1 FROM step WHERE run_seq NOT IN (SELECT seq FROM run) LIMIT 1

CREATE TABLE rule (
  name  TEXT PRIMARY KEY,
  since INTEGER NOT NULL                              -- the first entry for which it holds
) STRICT, WITHOUT ROWID;
INSERT INTO rule (name, since) SELECT 'steps-stay', ifnull(max(seq), 0) + 1 FROM entry;

CREATE TRIGGER rule_fixed BEFORE UPDATE ON rule BEGIN SELECT raise(ABORT, 'a rule holds from where it began'); END;
CREATE TRIGGER rule_kept BEFORE DELETE ON rule BEGIN SELECT raise(ABORT, 'a rule is never removed'); END;
