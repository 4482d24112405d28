-- *Dark* that came over a network and was obeyed, with the name that its sender signed; exposure_id is what was under
-- way then, if anything was.
CREATE TABLE network_darks (
    network_dark_id INTEGER PRIMARY KEY,
    exposure_id INTEGER REFERENCES exposures (exposure_id),
    obeyed_utc TEXT NOT NULL,
    sender TEXT NOT NULL
) STRICT;
CREATE INDEX network_darks_by_exposure ON network_darks (exposure_id);
