"""English words for every code, from the tables beside this module. A code stands in one table only."""

from sumlight.text import (
    artwork,
    asked,
    bathlife,
    baths,
    causes,
    commissioning,
    etching,
    exposing,
    faults,
    files,
    frontpanel,
    hazards,
    jobs,
    lamps,
    light,
    manual,
    measuring,
    records,
    refusals,
    signs,
    sums,
    troubles,
)

TABLES = (
    artwork.WORDS,
    asked.WORDS,
    bathlife.WORDS,
    baths.WORDS,
    causes.WORDS,
    commissioning.WORDS,
    etching.WORDS,
    exposing.WORDS,
    faults.WORDS,
    files.WORDS,
    frontpanel.WORDS,
    hazards.WORDS,
    jobs.WORDS,
    lamps.WORDS,
    light.WORDS,
    manual.WORDS,
    measuring.WORDS,
    records.WORDS,
    refusals.WORDS,
    signs.WORDS,
    sums.WORDS,
    troubles.WORDS,
)

WORDS: dict[str, str] = {
    "as_written": "{text}",
    "sentences": "{parts: }",
    **{code: words for table in TABLES for code, words in table.items()},
}
"""Words by code; `{name}` is filled with a value, `{name:.1f}` with a number written so."""
