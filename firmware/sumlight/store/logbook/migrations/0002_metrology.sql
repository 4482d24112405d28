-- What the doses are worth: lamp sets, calibrations and what was read to make them. Times and units as in 0001.

-- Lamps fitted as a set. Number 0 is the set that was in the bank before the first one recorded here; the table banks
-- counts hours and strikes of the present set, retired_* keep those of the set before.
CREATE TABLE lamp_sets (
    bank TEXT NOT NULL REFERENCES banks (bank),
    number INTEGER NOT NULL CHECK (number > 0),
    lamp_type TEXT NOT NULL,
    fitted_utc TEXT NOT NULL,
    retired_lit_s REAL NOT NULL,
    retired_strikes INTEGER NOT NULL,
    PRIMARY KEY (bank, number)
) STRICT;

-- ln_ratio: natural logarithm of mW/cm² per basic count, at the nominal size of the gain that fingerprint names.
-- fingerprint: JSON of six shares, their sigmas and the gain
-- code. A later calibration from the same exposure replaces the earlier one.
CREATE TABLE calibrations (
    calibration_id INTEGER PRIMARY KEY,
    origin TEXT NOT NULL CHECK (origin IN ('radiometer', 'tablet', 'teach')),
    meter TEXT NOT NULL,
    bank TEXT NOT NULL REFERENCES banks (bank),
    lamp_set INTEGER NOT NULL,
    position TEXT NOT NULL,
    ln_ratio REAL NOT NULL,
    ln_sigma REAL NOT NULL CHECK (ln_sigma > 0),
    common_ln_sigma REAL NOT NULL CHECK (common_ln_sigma >= 0),
    lamp_hours REAL NOT NULL CHECK (lamp_hours >= 0),
    made_utc TEXT NOT NULL,
    fingerprint TEXT,
    exposure_id INTEGER REFERENCES exposures (exposure_id),
    note TEXT NOT NULL
) STRICT;

-- Changes of the meter's window found by its self-check. Those that moved the calibration have applied = 1; the others
-- only say how much was already in the calibration.
CREATE TABLE shifts (
    shift_id INTEGER PRIMARY KEY,
    meter TEXT NOT NULL,
    bank TEXT NOT NULL REFERENCES banks (bank),
    lamp_set INTEGER NOT NULL,
    lamp_hours REAL NOT NULL,
    ln_shift REAL NOT NULL,
    ln_sigma REAL NOT NULL CHECK (ln_sigma >= 0),
    applied INTEGER NOT NULL CHECK (applied IN (0, 1)),
    made_utc TEXT NOT NULL
) STRICT;

-- step: a number, all_held or all_gone, in the convention it was read in.
CREATE TABLE tablet_readings (
    reading_id INTEGER PRIMARY KEY,
    exposure_id INTEGER NOT NULL REFERENCES exposures (exposure_id),
    zone TEXT NOT NULL,
    dose_mj_cm2 REAL NOT NULL,
    step TEXT NOT NULL,
    convention TEXT NOT NULL CHECK (convention IN ('last_held', 'first_cleared')),
    half INTEGER NOT NULL CHECK (half IN (0, 1)),
    lot TEXT NOT NULL,
    read_utc TEXT NOT NULL
) STRICT;
CREATE INDEX tablet_readings_by_exposure ON tablet_readings (exposure_id);

-- led: JSON of six basic counts with the board's LED on, darkness taken off. The first one is the reference until a
-- later one is marked so.
CREATE TABLE self_checks (
    check_id INTEGER PRIMARY KEY,
    meter TEXT NOT NULL,
    bank TEXT NOT NULL REFERENCES banks (bank),
    made_utc TEXT NOT NULL,
    lamp_hours REAL NOT NULL,
    led TEXT NOT NULL,
    lamp_basic_counts REAL,
    verdict TEXT NOT NULL,
    is_reference INTEGER NOT NULL CHECK (is_reference IN (0, 1))
) STRICT;

-- result: JSON as the command that worked it out gave it.
CREATE TABLE measurements (
    measurement_id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('transmission', 'field', 'strip')),
    exposure_id INTEGER NOT NULL REFERENCES exposures (exposure_id),
    made_utc TEXT NOT NULL,
    result TEXT NOT NULL
) STRICT;

-- What was learned of one doubling of the gain, as ln of true over nominal.
CREATE TABLE gain_steps (
    gain_step_id INTEGER PRIMARY KEY,
    meter TEXT NOT NULL,
    code INTEGER NOT NULL CHECK (code BETWEEN 0 AND 9),
    ln_error REAL NOT NULL,
    ln_sigma REAL NOT NULL CHECK (ln_sigma > 0),
    learned_utc TEXT NOT NULL
) STRICT;

-- budget: JSON of the uncertainty of the side's dose, with the ratio and the fingerprint it was measured with.
ALTER TABLE sides ADD COLUMN budget TEXT;
