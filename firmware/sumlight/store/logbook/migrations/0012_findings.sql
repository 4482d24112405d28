-- What was seen on a panel and what is known of it beside, put on as a whole: signs as a list of names, known as an
-- object, both as JSON that craft/causes describes. Names that a version does not know stay as they are.
CREATE TABLE findings (
    exposure_id INTEGER PRIMARY KEY REFERENCES exposures (exposure_id),
    signs TEXT NOT NULL CHECK (json_valid(signs)),
    known TEXT NOT NULL CHECK (json_valid(known)),
    found_utc TEXT NOT NULL,
    found_by TEXT NOT NULL
) STRICT;

-- A cause that a person has confirmed: only these change how often this bench expects a cause. Guesses are not kept.
CREATE TABLE confirmed_causes (
    exposure_id INTEGER NOT NULL REFERENCES exposures (exposure_id),
    cause TEXT NOT NULL,
    confirmed_utc TEXT NOT NULL,
    confirmed_by TEXT NOT NULL,
    PRIMARY KEY (exposure_id, cause)
) STRICT;
