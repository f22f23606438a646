-- Level 5: beside a finding's sentence the values that are in it, so that a page can say it in the reader's language and
-- units. The derived table is made anew; it is filled again from the entries after this.

DROP TABLE finding;
CREATE TABLE finding (
  seq INTEGER NOT NULL, ord INTEGER NOT NULL, code TEXT NOT NULL, text TEXT NOT NULL,
  said TEXT NOT NULL,    -- JSON: {"as": which of the code's sentences, name: integer or text}
  PRIMARY KEY (seq, ord)
) STRICT, WITHOUT ROWID;
