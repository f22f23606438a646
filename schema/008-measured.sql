-- Level 8: what charts, retests and calibrations need. What is new is said by no entry before, so that the rows stay.
-- derived: kept

-- With the time of its test, so that a property is read in order of time.
ALTER TABLE result RENAME TO result_before;
CREATE TABLE result (
  test INTEGER NOT NULL, property TEXT NOT NULL, value INTEGER NOT NULL, at INTEGER NOT NULL, seq INTEGER NOT NULL,
  PRIMARY KEY (test, property)
) STRICT, WITHOUT ROWID;
INSERT INTO result (test, property, value, at, seq)
  SELECT b.test, b.property, b.value, t.at, b.seq FROM result_before b JOIN test t ON t.id = b.test;
DROP TABLE result_before;
CREATE INDEX result_by_property ON result (property, at);

ALTER TABLE test ADD COLUMN retest_of INTEGER;              -- the test that it repeats
CREATE INDEX test_by_retest ON test (retest_of) WHERE retest_of IS NOT NULL;

-- The tensile grade: the strength that a wire, or the wires of a rope, are made to.
ALTER TABLE lot ADD COLUMN tensile_kpa INTEGER;
ALTER TABLE work_order ADD COLUMN tensile_kpa INTEGER;
ALTER TABLE spec ADD COLUMN tensile_kpa INTEGER;

ALTER TABLE work_order ADD COLUMN joint_mm INTEGER;         -- how far joints in a strand are apart at least
ALTER TABLE spec ADD COLUMN retests INTEGER;                -- how many retests have to pass after a failed test
CREATE INDEX spec_with_tolerance ON spec (seq) WHERE tolerance IS NOT NULL;
ALTER TABLE instrument ADD COLUMN found TEXT;               -- good, bad: as the calibration found it
