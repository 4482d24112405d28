-- What the tablet's own certificate says, as JSON: densities of steps 1 to 21, and their standard uncertainty where it is
-- stated. NULL for a usual tablet.
ALTER TABLE tablet_readings ADD COLUMN certificate TEXT CHECK (certificate IS NULL OR json_valid(certificate));
