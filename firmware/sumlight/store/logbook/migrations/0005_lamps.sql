-- total_… count from the beginning of the logbook and never start anew; lit_s and strikes count the present lamps.
ALTER TABLE banks ADD COLUMN total_lit_s REAL NOT NULL DEFAULT 0;
ALTER TABLE banks ADD COLUMN total_strikes INTEGER NOT NULL DEFAULT 0;
UPDATE banks SET total_lit_s = lit_s, total_strikes = strikes;

-- strike_s: from switching on to first light. burned_s: from first light to the reading. air_c and self_check where the
-- box has a thermometer and the sensor checked itself. total_lit_s: the bank's count at the reading.
ALTER TABLE lamp_readings ADD COLUMN strike_s REAL;
ALTER TABLE lamp_readings ADD COLUMN burned_s REAL;
ALTER TABLE lamp_readings ADD COLUMN air_c REAL;
ALTER TABLE lamp_readings ADD COLUMN self_check REAL;
ALTER TABLE lamp_readings ADD COLUMN total_lit_s REAL;
UPDATE lamp_readings SET total_lit_s = lit_s;

-- One row for each tube in each place it was fitted. The tube's own count goes on from hours_at_fitting; what the bank
-- had counted then tells how much is its own. label: what somebody wrote on the tube, so that its past can be found.
CREATE TABLE tubes (
    tube_id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL REFERENCES banks (bank),
    position INTEGER NOT NULL CHECK (position BETWEEN 1 AND 60),
    label TEXT NOT NULL,
    lamp_type TEXT NOT NULL,
    wavelength_class TEXT NOT NULL,
    expected_life_h REAL CHECK (expected_life_h > 0),
    fitted_utc TEXT NOT NULL,
    hours_at_fitting REAL NOT NULL CHECK (hours_at_fitting >= 0),
    strikes_at_fitting INTEGER NOT NULL CHECK (strikes_at_fitting >= 0),
    bank_total_lit_s REAL NOT NULL,
    bank_total_strikes INTEGER NOT NULL,
    removed_utc TEXT,
    hours_at_removal REAL,
    strikes_at_removal INTEGER,
    CHECK ((removed_utc IS NULL) = (hours_at_removal IS NULL))
) STRICT;
CREATE UNIQUE INDEX tubes_in_place ON tubes (bank, position) WHERE removed_utc IS NULL;
CREATE INDEX tubes_by_label ON tubes (label);

-- A change of one or more tubes; `whole` when all of the bank's were changed, which begins a new life of the bank.
CREATE TABLE lamp_changes (
    change_id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL REFERENCES banks (bank),
    changed_utc TEXT NOT NULL,
    whole INTEGER NOT NULL CHECK (whole IN (0, 1)),
    tube_count INTEGER NOT NULL CHECK (tube_count > 0),
    hours_after REAL NOT NULL,
    bank_total_lit_s REAL NOT NULL,
    after_reading_id INTEGER NOT NULL,
    told TEXT NOT NULL
) STRICT;
CREATE INDEX lamp_changes_by_bank ON lamp_changes (bank);

-- What lamp_readings say of each day, kept beside them so that years of them are judged at once. life: number of the
-- change that began the bank's present life, 0 before the first. Sums are weighted; readings of unsettled light weigh
-- little (store/lampbook.py).
CREATE TABLE lamp_days (
    bank TEXT NOT NULL REFERENCES banks (bank),
    life INTEGER NOT NULL,
    day INTEGER NOT NULL,
    readings INTEGER NOT NULL,
    weight REAL NOT NULL,
    light_sum REAL NOT NULL,
    total_lit_s_sum REAL NOT NULL,
    check_sum REAL NOT NULL,
    checks INTEGER NOT NULL,
    PRIMARY KEY (bank, life, day)
) STRICT;
INSERT INTO lamp_days
SELECT bank, 0, CAST(julianday(substr(read_utc, 1, 10)) + 0.5 AS INTEGER) AS day, count(*), count(*),
       sum(settled_mw_cm2), sum(lit_s), 0.0, 0
FROM lamp_readings WHERE settled_mw_cm2 > 0 GROUP BY bank, day;
