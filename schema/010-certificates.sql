-- derived: kept
-- Level 10: certificates that stand in for others, and marks on them cleared. No ledger of an earlier level has either.

ALTER TABLE certificate ADD COLUMN replaces INTEGER;   -- id of the certificate that it stands in for
CREATE INDEX certificate_by_replaces ON certificate (replaces) WHERE replaces IS NOT NULL;

-- What spoke against a certificate is answered, by an entry after it. holds: JSON, only these; NULL: all before it.
CREATE TABLE clearing (
  seq INTEGER PRIMARY KEY, certificate INTEGER NOT NULL, reason TEXT NOT NULL, holds TEXT, at INTEGER NOT NULL
) STRICT;
CREATE INDEX clearing_by_certificate ON clearing (certificate);
