"""What stands on a small text display at the box: rows of plain letters, from words and a snapshot. Pure."""

import textwrap
from collections.abc import Sequence
from typing import Any

COLUMNS, ROWS = 20, 4
"""Of a common display; others say so."""

TURN_OVER_S = 3
"""Seconds after which the next lines of a long sentence are shown."""

PLAIN = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss"}
    | {"–": "-", "·": "-", "²": "2", "°": "", "±": "+-", "µ": "u", "λ": "lambda", "×": "x"}
    | {"…": "...", "„": '"', "“": '"'}
)
"""Such displays have letters of their own beyond ASCII, each kind others."""


def rows(state: str, sentence: str, left_s: int | None, *, columns: int, rows: int, turn: int) -> list[str]:
    """State and time left above, below it the `turn`-th sheet of what to do next; all as wide as the display."""
    if left_s is not None:
        clock = f" {left_s // 60}:{left_s % 60:02d}"
        state = state.translate(PLAIN)[: columns - len(clock)] + clock
    below = _wrapped(sentence, columns)
    sheets = [below[at : at + rows - 1] for at in range(0, len(below), rows - 1)]
    found = [_wrapped(state, columns)[0], *sheets[turn % len(sheets)]]
    return [line.ljust(columns) for line in [*found, *[""] * (rows - len(found))]]


def left_s(exposure: Any, state: str) -> int | None:
    """Seconds that the light will still last, by a snapshot's `exposure`; None where nothing is lit or known."""
    sides: Sequence[dict[str, Any]] = exposure["sides"] if exposure is not None and state == "light" else ()
    left = [side["left_s"] for side in sides if side["state"] == "lit" and side["left_s"] is not None]
    return round(max(left)) if left else None


def _wrapped(text: str, columns: int) -> list[str]:
    plain = text.translate(PLAIN).encode("ascii", "replace").decode("ascii")
    return textwrap.wrap(plain, columns) or [""]
