-- Relative rms swing of the lamps' steady light from conversion to conversion; NULL for readings before and for too short
-- a light.
ALTER TABLE lamp_readings ADD COLUMN flicker REAL;
