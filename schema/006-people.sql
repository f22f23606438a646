-- derived: kept
-- Level 6: people, terminals, tokens. No ledger of an earlier level has entries of these kinds.

-- What was said of a person, in order of seq: the last holds. roles: one bit a role (include/kinwire/rights.h).
CREATE TABLE person (
  seq INTEGER PRIMARY KEY, code TEXT NOT NULL, name TEXT NOT NULL, roles INTEGER NOT NULL,
  badge TEXT, closed INTEGER NOT NULL, note TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX person_by_code ON person (code, seq);
CREATE INDEX person_by_badge ON person (badge, seq) WHERE badge IS NOT NULL;

CREATE TABLE terminal (
  seq INTEGER PRIMARY KEY, code TEXT NOT NULL, place TEXT NOT NULL,
  closed INTEGER NOT NULL, note TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX terminal_by_code ON terminal (code, seq);

-- Access tokens: the secret itself is nowhere here. NULL: its purpose does not say.
CREATE TABLE token (
  seq INTEGER PRIMARY KEY, code TEXT NOT NULL, role INTEGER NOT NULL,
  only_kind TEXT, only_machine TEXT, only_instrument TEXT, only_read TEXT,
  purpose INTEGER NOT NULL,   -- 1: it has one, whatever it says
  expires INTEGER, closed INTEGER NOT NULL, note TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX token_by_code ON token (code, seq);
