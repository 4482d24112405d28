-- Jobs of the bench and the cards of their panels. numbers is what a card's sentences need (metal, thickness, recipe,
-- what was timed in the baths), steps the plan in its order; both as craft.jobs describes them.
CREATE TABLE jobs (
    job_id INTEGER PRIMARY KEY,
    artwork TEXT NOT NULL,
    wanted INTEGER NOT NULL CHECK (wanted > 0),
    numbers TEXT NOT NULL CHECK (json_valid(numbers)),
    steps TEXT NOT NULL CHECK (json_valid(steps)),
    made_utc TEXT NOT NULL,
    made_by TEXT NOT NULL DEFAULT '',
    ended_utc TEXT
) STRICT;
CREATE INDEX jobs_open ON jobs (job_id) WHERE ended_utc IS NULL;

-- One piece of metal on its way; its exposures are those of the panel with the same label.
CREATE TABLE job_panels (
    job_panel_id INTEGER PRIMARY KEY,
    job_id INTEGER NOT NULL REFERENCES jobs (job_id),
    label TEXT NOT NULL,
    ended_utc TEXT,
    outcome TEXT CHECK (outcome IN ('finished', 'given_up')),
    CHECK ((ended_utc IS NULL) = (outcome IS NULL))
) STRICT;
CREATE INDEX job_panels_by_job ON job_panels (job_id);
CREATE INDEX job_panels_by_label ON job_panels (label);

-- What was noted of a step. A step without a row was passed without a word, or is still to come.
CREATE TABLE job_steps (
    job_panel_id INTEGER NOT NULL REFERENCES job_panels (job_panel_id),
    step_id INTEGER NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('begun', 'done', 'skipped', 'wrong')),
    began_utc TEXT,
    ended_utc TEXT,
    word TEXT NOT NULL DEFAULT '',
    noted_by TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (job_panel_id, step_id)
) STRICT;

-- A timer of a step, or one started by hand. elapsed_s had passed at noted_utc; unsure: the clock was set since.
CREATE TABLE timers (
    timer_id INTEGER PRIMARY KEY,
    job_panel_id INTEGER REFERENCES job_panels (job_panel_id),
    step_id INTEGER,
    title TEXT NOT NULL,
    schedule TEXT NOT NULL CHECK (json_valid(schedule)),
    answered INTEGER NOT NULL DEFAULT 0 CHECK (answered >= 0),
    began_utc TEXT NOT NULL,
    elapsed_s REAL NOT NULL CHECK (elapsed_s >= 0),
    noted_utc TEXT NOT NULL,
    unsure INTEGER NOT NULL DEFAULT 0 CHECK (unsure IN (0, 1)),
    stopped_utc TEXT
) STRICT;
CREATE INDEX timers_running ON timers (timer_id) WHERE stopped_utc IS NULL;
