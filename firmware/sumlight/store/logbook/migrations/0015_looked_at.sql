-- An operator has looked at the lamps after a fault of light, and the word they left; all three are set together.
ALTER TABLE faults ADD COLUMN looked_utc TEXT;
ALTER TABLE faults ADD COLUMN looked_by TEXT;
ALTER TABLE faults ADD COLUMN looked_word TEXT;
