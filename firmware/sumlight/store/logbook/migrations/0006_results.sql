-- What came of a panel after it had been developed, in the operator's words, and who wrote it last.

ALTER TABLE exposures ADD COLUMN result TEXT NOT NULL DEFAULT '';
ALTER TABLE exposures ADD COLUMN noted_by TEXT NOT NULL DEFAULT '';
CREATE INDEX exposures_by_recipe ON exposures (recipe_name, exposure_id);
