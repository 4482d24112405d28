-- The journal holds the exposure under way and nothing else (0004): what its index saves in looking is less than what
-- the page of it costs the card with every record.
DROP INDEX dose_journal_by_side;
