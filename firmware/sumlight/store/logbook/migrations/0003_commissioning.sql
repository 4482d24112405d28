-- Runs of commissioning, and overrides of the lock that holds until one has passed. Times are UTC.

-- wiring_sha256 is the fingerprint of box.yaml's wiring part; results what each step found, as JSON.
-- No outcome: the run is under way, or was cut off by the kill that it asks for.
CREATE TABLE commissionings (
    commissioning_id INTEGER PRIMARY KEY,
    began_utc TEXT NOT NULL UNIQUE,
    wiring_sha256 TEXT NOT NULL,
    box_name TEXT NOT NULL,
    simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
    who TEXT NOT NULL,
    step_index INTEGER NOT NULL CHECK (step_index >= 0),
    results TEXT NOT NULL,
    ended_utc TEXT,
    outcome TEXT CHECK (outcome IN ('passed', 'failed', 'aborted'))
) STRICT;
CREATE INDEX commissionings_by_wiring ON commissionings (wiring_sha256, commissioning_id);

CREATE TABLE commissioning_overrides (
    override_id INTEGER PRIMARY KEY,
    wiring_sha256 TEXT NOT NULL,
    who TEXT NOT NULL,
    reason TEXT NOT NULL CHECK (length(reason) > 0),
    given_utc TEXT NOT NULL
) STRICT;
