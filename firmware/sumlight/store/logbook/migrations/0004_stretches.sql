-- One row for each time a side was lit without interruption: all that today's code needs to work its dose out again
-- from the trace. Seconds named mono are on control's monotonic clock of that run, as in the trace. No `ended`: control
-- was killed under light, or is at it now. mw_cm2_per_basic_count: JSON, one number for each gain code. The two before `ended` are the recipe's
-- departure from reciprocity.
CREATE TABLE light_stretches (
    stretch_id INTEGER PRIMARY KEY,
    side_id INTEGER NOT NULL REFERENCES sides (side_id),
    began_utc TEXT NOT NULL,
    lit_mono_s REAL NOT NULL,
    dark_end_mono_s REAL NOT NULL,
    dark_mw_cm2 REAL NOT NULL,
    mw_cm2_per_basic_count TEXT NOT NULL,
    integration_ms REAL NOT NULL,
    transmission REAL NOT NULL,
    lead_s REAL NOT NULL,
    from_mj_cm2 REAL NOT NULL,
    from_doubt_mj_cm2 REAL NOT NULL,
    found_at_mw_cm2 REAL,
    reciprocity_p REAL NOT NULL,
    ended TEXT CHECK (ended IN ('cut', 'interrupted')),
    off_mono_s REAL,
    closed_mono_s REAL,
    to_mj_cm2 REAL,
    to_doubt_mj_cm2 REAL
) STRICT;
CREATE INDEX light_stretches_by_side ON light_stretches (side_id);

ALTER TABLE traces ADD COLUMN stretch_id INTEGER REFERENCES light_stretches (stretch_id);

-- The dose journal of a side whose exposure has ended, without loss, as store/journals.py packs it. Rows of
-- dose_journal serve while a panel is under way; ten years of them would fill the card.
CREATE TABLE packed_journals (
    packed_journal_id INTEGER PRIMARY KEY,
    side_id INTEGER NOT NULL REFERENCES sides (side_id),
    entry_count INTEGER NOT NULL CHECK (entry_count > 0),
    packed BLOB NOT NULL
) STRICT;
CREATE INDEX packed_journals_by_side ON packed_journals (side_id);

-- utc_unsure: the wall clock was behind what had been written before, or was set while this exposure's run of control
-- went on. Order is that of the row numbers, always.
ALTER TABLE exposures ADD COLUMN utc_unsure INTEGER NOT NULL DEFAULT 0 CHECK (utc_unsure IN (0, 1));
CREATE INDEX exposures_by_start ON exposures (started_utc);

-- What was done to the logbook itself: checked, backed_up, saved (from a damaged one), tidied, clock_set.
CREATE TABLE upkeep (
    upkeep_id INTEGER PRIMARY KEY,
    done_utc TEXT NOT NULL,
    what TEXT NOT NULL,
    told TEXT NOT NULL
) STRICT;
CREATE INDEX upkeep_by_what ON upkeep (what, upkeep_id);
