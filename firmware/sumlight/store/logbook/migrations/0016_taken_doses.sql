-- Doses of recipes that a person has said to be meant on the scale of then, after a calibration had moved it. before is
-- what the recipe said until then. anchors is, by bank, what a count was worth. What was exposed after
-- after_exposure_id tells more.
CREATE TABLE taken_doses (
    taken_dose_id INTEGER PRIMARY KEY,
    recipe_name TEXT NOT NULL,
    dose_mj_cm2 REAL NOT NULL CHECK (dose_mj_cm2 > 0),
    before_mj_cm2 REAL NOT NULL CHECK (before_mj_cm2 > 0),
    after_exposure_id INTEGER NOT NULL,
    anchors TEXT NOT NULL CHECK (json_valid(anchors)),
    taken_utc TEXT NOT NULL,
    taken_by TEXT NOT NULL
) STRICT;
CREATE INDEX taken_doses_by_recipe ON taken_doses (recipe_name, taken_dose_id);
