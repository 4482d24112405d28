-- When the lid was first seen open after the end of an exposure, or its end where no lamp was on: until then what was
-- lit may still lie inside. NULL: nobody saw it; exposures from before this column are asked about once.
ALTER TABLE exposures ADD COLUMN taken_out_utc TEXT;
