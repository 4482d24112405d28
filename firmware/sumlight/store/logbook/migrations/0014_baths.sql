-- Baths from mixing to waste. contents is what each was mixed of, as craft.baths describes it. waste_into is the kind of
-- the container it went into; all three of waste are empty while it is in use.
CREATE TABLE baths (
    bath_id INTEGER PRIMARY KEY,
    contents TEXT NOT NULL CHECK (json_valid(contents)),
    mixed_utc TEXT NOT NULL,
    mixed_by TEXT NOT NULL DEFAULT '',
    waste_utc TEXT,
    waste_into TEXT,
    waste_by TEXT,
    CHECK ((waste_utc IS NULL) = (waste_into IS NULL) AND (waste_utc IS NULL) = (waste_by IS NULL))
) STRICT;
CREATE INDEX baths_in_use ON baths (bath_id) WHERE waste_utc IS NULL;

-- A panel in a bath. taken is its metal, area, depth, time and temperature, as craft.baths describes it; expected_s and
-- used is what was expected before. ended_utc is empty while it is in there. A panel without a card has no number.
CREATE TABLE bath_panels (
    bath_panel_id INTEGER PRIMARY KEY,
    bath_id INTEGER NOT NULL REFERENCES baths (bath_id),
    job_panel_id INTEGER REFERENCES job_panels (job_panel_id),
    step_id INTEGER,
    label TEXT NOT NULL DEFAULT '',
    taken TEXT NOT NULL CHECK (json_valid(taken)),
    expected_s REAL,
    used REAL,
    began_utc TEXT NOT NULL,
    ended_utc TEXT,
    noted_by TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX bath_panels_by_bath ON bath_panels (bath_id);
CREATE INDEX bath_panels_by_panel ON bath_panels (job_panel_id);
