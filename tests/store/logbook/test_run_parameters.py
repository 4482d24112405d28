"""Parameters of a series in the logbook: kept in a column of their own, and taken out of old notes once."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from sumlight.store.logbook import database
from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.logbook import Logbook
from tests.store.making import new_exposure

NINE = 9
"""The last version whose series kept their parameters in the note."""
OLD_NOTES = [
    ("tablet", "target step 9, reference 55 mJ/cm²", {"target_step": 9, "reference_mj_cm2": 55.0}),
    ("tablet", "target step 12, reference 0.25 mJ/cm²", {"target_step": 12, "reference_mj_cm2": 0.25}),
    ("tablet", "target step 8", {"target_step": 8}),
    ("tablet", "Lot 7. target step 8, warm room", {"target_step": 8}),
    ("tablet", "target step 9, reference 55 mJ/cm²; second try", {"target_step": 9, "reference_mj_cm2": 55.0}),
    ("tablet", "target step 9, reference 5.5.5 mJ/cm²", {"target_step": 9}),
    ("tablet", "target step 9, reference 55 J/m²", {"target_step": 9}),
    ("tablet", "target step 9, reference 9000 mJ/cm²", {"target_step": 9}),
    ("tablet", "target step 9, reference ", {"target_step": 9}),
    ("tablet", "target step 1", None),
    ("tablet", "target step 123", None),
    ("tablet", "target step nine", None),
    ("tablet", "target step ", None),
    ("tablet", "something else", None),
    ("tablet", "", None),
    ("field", "places in mm: 0, 0; -60, -40; 0, 0", {"places": [[0, 0], [-60, -40], [0, 0]]}),
    ("field", "places in mm: 12.5, -0; 0, 1e+03", {"places": [[12.5, 0], [0, 1000]]}),
    ("field", "places in mm: 0, 0; -60, -40, 3", None),
    ("field", "places in mm: 0, 0; a, b", None),
    ("field", "places in mm: 0, 0 with the new mask", None),
    ("field", "places in mm: 0, 0; 0, 2001", None),
    ("field", 'places in mm: 0, 0]], "x": [[0, 0', None),
    ("field", "places in mm: [0, 0]", None),
    ("field", 'places in mm: 0, 0], "text", [1, 1', None),
    ("field", "places in mm: 0, 0], 7, [1, 1", None),
    ("field", 'places in mm: 0, 0], {"a": 1, "b": 2}, [1, 1', None),
    ("field", 'places in mm: 0, 0], ["1", null], [1, 1', None),
    ("field", "places in mm: 0, 0], [[1], 1], [1, 1", None),
    ("field", "places in mm: 0, 0], [1e999, 1], [1, 1", None),
    ("field", "places in mm: " + "; ".join(["0, 0"] * 60), {"places": [[0, 0]] * 60}),
    ("field", "places in mm: " + "; ".join(["0, 0"] * 61), None),
    ("field", "places in mm: " + "[" * 1200, None),
    ("field", "places in mm: ", None),
    ("field", "my places in mm: 0, 0", None),
    ("panel", "target step 9, reference 55 mJ/cm²", None),
    ("panel", "places in mm: 0, 0", None),
]


@pytest.fixture
def old(path: Path) -> Path:
    """A logbook as the last version left it, with such notes."""
    with closing(sqlite3.connect(path, isolation_level=None)) as link:
        for number, script in database.migrations():
            if number <= NINE:
                link.executescript(script)
        link.execute("INSERT INTO panels (panel_id, label, created_utc) VALUES (1, 'P', '2026-11-25T08:00:00Z')")
        for kind, note, _ in OLD_NOTES:
            link.execute(
                "INSERT INTO exposures (panel_id, kind, note, recipe_name, recipe_text, recipe_sha256, box_name,"
                " simulated, started_utc) VALUES (1, ?, ?, 'r', 't', 's', 'b', 1, '2026-11-25T08:00:00Z')",
                (kind, note),
            )
        link.execute(f"PRAGMA user_version = {NINE}")
    return path


def test_old_notes_are_read_once_and_stay(old: Path) -> None:
    """What the page wrote into them, also where somebody added to it; nothing else is guessed at."""
    with Logbook(old) as book:
        rows = sorted(book.recent(100), key=lambda row: row["exposure_id"])
    found = [(row["kind"], row["note"], row["parameters"]) for row in rows]
    assert found == OLD_NOTES


def test_parameters_are_kept_beside_the_note(path: Path) -> None:
    """A new note leaves them alone."""
    with Logbook(path) as book:
        new = replace(new_exposure(), kind="tablet", parameters='{"target_step":9}')
        number = book.begin(new).exposure_id
        book.put_note(number, "target step 3", "", "somebody")
        found = book.exposure(number)
        assert found is not None
        assert (found["parameters"], found["note"]) == ({"target_step": 9}, "target step 3")
        plain = book.exposure(book.begin(new_exposure()).exposure_id)
        assert plain is not None
        assert plain["parameters"] is None


def test_what_is_no_json_is_no_parameter(path: Path) -> None:
    """The file itself refuses it, so that every reader can rely on the column."""
    with Logbook(path) as book, pytest.raises(LogbookError):
        book.begin(replace(new_exposure(), kind="tablet", parameters="{target_step"))
