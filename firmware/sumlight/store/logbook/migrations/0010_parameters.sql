-- What a series was run for beside its legs, as JSON that protocol/run_parameters.py describes: target step and known
-- dose of a tablet, places of a field. NULL: nothing is known.
ALTER TABLE exposures ADD COLUMN parameters TEXT CHECK (parameters IS NULL OR json_valid(parameters));

-- Until now they stood in the note, which anybody may change: read once from those that still hold them. The notes
-- stay. Numbers beyond what a form takes were written by hand and are left out.
UPDATE exposures SET parameters = CASE
        WHEN json_valid(found.reference) AND substr(found.unit, 1, 7) = ' mJ/cm²'
            AND CAST(found.reference AS REAL) BETWEEN 0.1 AND 5000
        THEN json_object('target_step', found.step, 'reference_mj_cm2', CAST(found.reference AS REAL))
        ELSE json_object('target_step', found.step)
    END
FROM (
    SELECT exposure_id, CAST(digits AS INTEGER) AS step,
           substr(number, 1, length(number) - length(ltrim(number, '0123456789.'))) AS reference,
           ltrim(number, '0123456789.') AS unit
    FROM (
        SELECT exposure_id, substr(rest, 1, length(rest) - length(ltrim(rest, '0123456789'))) AS digits,
               CASE WHEN ltrim(rest, '0123456789') LIKE ', reference %'
                   THEN substr(ltrim(rest, '0123456789'), length(', reference ') + 1) ELSE '' END AS number
        FROM (
            SELECT exposure_id, substr(note, instr(note, 'target step ') + length('target step ')) AS rest
            FROM exposures WHERE kind = 'tablet' AND instr(note, 'target step ')
        )
    )
    WHERE length(digits) <= 2 AND CAST(digits AS INTEGER) BETWEEN 2 AND 20
) AS found
WHERE exposures.exposure_id = found.exposure_id;

UPDATE exposures SET parameters = json_object('places', json(found.places))
FROM (
    SELECT exposure_id,
           '[[' || replace(substr(note, length('places in mm: ') + 1), '; ', '],[') || ']]' AS places
    FROM exposures WHERE kind = 'field' AND instr(note, 'places in mm: ') = 1
) AS found
WHERE exposures.exposure_id = found.exposure_id AND CASE WHEN json_valid(found.places) THEN
    json_array_length(found.places) <= 60 AND NOT EXISTS (
        SELECT 1 FROM json_each(found.places) AS place
        WHERE place.type <> 'array' OR json_array_length(place.value) <> 2
            OR CASE WHEN place.type = 'array' THEN EXISTS (
                SELECT 1 FROM json_each(place.value) AS part
                WHERE part.type NOT IN ('integer', 'real') OR abs(part.value) > 2000
            ) END
    )
END;
