-- The first shape of the logbook. Times are ISO 8601 text in UTC; every measured column carries its unit.

CREATE TABLE panels (
    panel_id INTEGER PRIMARY KEY,
    label TEXT NOT NULL,
    created_utc TEXT NOT NULL
) STRICT;

-- kind is panel for ordinary work, else what a series was for (tablet, strip, teach, steady, compare, field).
-- hold_s and hold_limit_s are copied from the recipe text, so that a list needs no parsing.
CREATE TABLE exposures (
    exposure_id INTEGER PRIMARY KEY,
    panel_id INTEGER NOT NULL REFERENCES panels (panel_id),
    kind TEXT NOT NULL,
    note TEXT NOT NULL,
    recipe_name TEXT NOT NULL,
    recipe_text TEXT NOT NULL,
    recipe_sha256 TEXT NOT NULL,
    hold_s REAL,
    hold_limit_s REAL,
    box_name TEXT NOT NULL,
    simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
    started_utc TEXT NOT NULL,
    ended_utc TEXT,
    outcome TEXT,
    doubtful INTEGER NOT NULL DEFAULT 0 CHECK (doubtful IN (0, 1)),
    CHECK ((ended_utc IS NULL) = (outcome IS NULL))
) STRICT;
CREATE INDEX exposures_by_panel ON exposures (panel_id);
CREATE INDEX exposures_unfinished ON exposures (exposure_id) WHERE ended_utc IS NULL;

-- lit_s and strikes count from the fitting of the present lamps.
CREATE TABLE banks (
    bank TEXT PRIMARY KEY,
    lit_s REAL NOT NULL DEFAULT 0 CHECK (lit_s >= 0),
    strikes INTEGER NOT NULL DEFAULT 0 CHECK (strikes >= 0),
    release_s REAL,
    gain_code INTEGER
) STRICT;

-- The last known state of a side; how it came about stands in dose_journal. A side is A or B of a panel or, in a
-- series, the number of a leg. No target: the leg was lit for a set time.
CREATE TABLE sides (
    side_id INTEGER PRIMARY KEY,
    exposure_id INTEGER NOT NULL REFERENCES exposures (exposure_id),
    side TEXT NOT NULL CHECK (length(side) BETWEEN 1 AND 12),
    bank TEXT NOT NULL REFERENCES banks (bank),
    target_mj_cm2 REAL CHECK (target_mj_cm2 > 0),
    transmission REAL NOT NULL CHECK (transmission > 0 AND transmission <= 1),
    state TEXT NOT NULL DEFAULT 'waiting',
    dose_mj_cm2 REAL NOT NULL DEFAULT 0,
    doubt_mj_cm2 REAL NOT NULL DEFAULT 0,
    lit_s REAL NOT NULL DEFAULT 0,
    pauses INTEGER NOT NULL DEFAULT 0,
    longest_gap_s REAL NOT NULL DEFAULT 0,
    UNIQUE (exposure_id, side)
) STRICT;

CREATE TABLE dose_journal (
    entry_id INTEGER PRIMARY KEY,
    side_id INTEGER NOT NULL REFERENCES sides (side_id),
    written_utc TEXT NOT NULL,
    state TEXT NOT NULL,
    dose_mj_cm2 REAL NOT NULL,
    doubt_mj_cm2 REAL NOT NULL,
    lit_s REAL NOT NULL
) STRICT;
CREATE INDEX dose_journal_by_side ON dose_journal (side_id);

-- packed: columns of samples as store/traces.py lays them out.
CREATE TABLE traces (
    trace_id INTEGER PRIMARY KEY,
    side_id INTEGER NOT NULL REFERENCES sides (side_id),
    sample_count INTEGER NOT NULL CHECK (sample_count > 0),
    packed BLOB NOT NULL
) STRICT;
CREATE INDEX traces_by_side ON traces (side_id);

CREATE TABLE pauses (
    pause_id INTEGER PRIMARY KEY,
    exposure_id INTEGER NOT NULL REFERENCES exposures (exposure_id),
    cause TEXT NOT NULL,
    began_utc TEXT NOT NULL,
    gap_s REAL CHECK (gap_s >= 0),
    UNIQUE (exposure_id, began_utc)
) STRICT;

CREATE TABLE faults (
    fault_id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    detail TEXT NOT NULL,
    exposure_id INTEGER REFERENCES exposures (exposure_id),
    raised_utc TEXT NOT NULL,
    cleared_utc TEXT,
    cleared_by TEXT
) STRICT;
CREATE INDEX faults_by_exposure ON faults (exposure_id);
CREATE INDEX faults_standing ON faults (name) WHERE cleared_utc IS NULL;

-- lit_s and strikes of the bank are those at the time of the reading.
CREATE TABLE lamp_readings (
    reading_id INTEGER PRIMARY KEY,
    bank TEXT NOT NULL REFERENCES banks (bank),
    side_id INTEGER NOT NULL REFERENCES sides (side_id),
    read_utc TEXT NOT NULL,
    settled_mw_cm2 REAL NOT NULL,
    warm_up_s REAL,
    lit_s REAL NOT NULL,
    strikes INTEGER NOT NULL
) STRICT;
CREATE INDEX lamp_readings_by_bank ON lamp_readings (bank);
CREATE INDEX lamp_readings_by_side ON lamp_readings (side_id);
