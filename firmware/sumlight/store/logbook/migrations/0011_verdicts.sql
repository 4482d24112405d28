-- Whether the panel of a draft, which is lit by time, came out well, and who said so; empty while nobody has.
ALTER TABLE exposures ADD COLUMN verdict TEXT NOT NULL DEFAULT ''
    CHECK (verdict IN ('', 'good', 'too_little', 'too_much', 'unknown'));
ALTER TABLE exposures ADD COLUMN judged_by TEXT NOT NULL DEFAULT '';

-- Sides lit by time are few: what still waits for an answer is found without looking through all panels.
CREATE INDEX sides_by_time ON sides (exposure_id) WHERE target_mj_cm2 IS NULL;
