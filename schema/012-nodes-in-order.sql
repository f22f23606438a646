-- Level 12: the tree's nodes in the order in which they become complete. By level they were put in a dozen places of their
-- table with every commit, each a page to write; so they are put at its end. What a node is, and its hash, is as it was.
-- derived: kept

CREATE TABLE node_in_order (
  id   INTEGER PRIMARY KEY                            -- number of the last entry under it * 64 + level
       CHECK (id & 63 > 0 AND (id >> 6) & ((1 << (id & 63)) - 1) = 0),
  hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
INSERT INTO node_in_order (id, hash)
  SELECT ((idx + 1) << level) * 64 + level, hash FROM node ORDER BY 1;
DROP TABLE node;
ALTER TABLE node_in_order RENAME TO node;

CREATE TRIGGER node_fixed BEFORE UPDATE ON node BEGIN SELECT raise(ABORT, 'a hash is never changed'); END;
CREATE TRIGGER node_kept BEFORE DELETE ON node BEGIN SELECT raise(ABORT, 'a hash is never removed'); END;
CREATE TRIGGER node_in_order BEFORE INSERT ON node
  WHEN new.id <= (SELECT ifnull(max(id), 0) FROM node)
  BEGIN SELECT raise(ABORT, 'a hash can only be added at the end'); END;
