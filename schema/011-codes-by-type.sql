-- Level 11: a code is looked for under each type that there is, so that it need not be kept by itself as well. Every lot,
-- run and joint has one; in an index of their own they were a quarter of what a commit writes.
-- derived: kept

DROP INDEX thing_by_code;
