-- Level 7: the tables that grow most are kept by id, and an entry's ids are seq * 4096 and what follows, so that its rows
-- are found without an index by seq. Each index less is a page less to write with every commit.
-- derived: kept

DROP INDEX lot_by_seq;
DROP INDEX run_by_seq;
DROP INDEX weld_by_seq;
