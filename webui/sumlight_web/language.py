"""The reader's language, kept by `sumlight.language` for page and command line; which one a browser asks for."""

from sumlight.language import (
    DECIMAL_COMMA,
    LANGUAGES,
    N_,
    UNITS,
    Reader,
    _,
    figure,
    n_,
    named,
    reader,
    write_for,
    written_for,
)

__all__ = [
    "DECIMAL_COMMA",
    "LANGUAGES",
    "N_",
    "UNITS",
    "Reader",
    "_",
    "figure",
    "n_",
    "named",
    "reader",
    "wanted",
    "write_for",
    "written_for",
]


def wanted(accepted: list[str]) -> str:
    """Return the first language of a browser's list that there is; English when there is none."""
    for code in accepted:
        short = code.partition("-")[0].lower()
        if short in LANGUAGES:
            return short
    return "en"
