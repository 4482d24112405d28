"""The reader's language and units. Texts stand in English in the code; `locale/` holds their translations.

A reader is set for each request, and for each event of a live stream, on the thread that writes for it.
`python -m tests.catalogue` gathers the texts and compiles the translations.
"""

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path

LOCALE = Path(__file__).parent / "locale"
DOMAIN = "sumlight"

LANGUAGES = {"en": "English", "de": "Deutsch"}
"""Every language there is, by its code, named in itself."""

UNITS = ("metric", "inch")


@dataclass(frozen=True)
class Reader:
    """Whom a text is for: `language` a key of LANGUAGES, `units` metric (mm, °C) or inch (inch, mil, °F)."""

    language: str = "en"
    units: str = "metric"


_reader: ContextVar[Reader] = ContextVar("reader", default=Reader())  # noqa: B039 - it is frozen


def reader() -> Reader:
    """Whom this thread writes for."""
    return _reader.get()


def write_for(who: Reader) -> None:
    """From here on this thread writes for `who`."""
    _reader.set(who)


@contextmanager
def written_for(who: Reader) -> Iterator[None]:
    """Within the block this thread writes for `who`."""
    token = _reader.set(who)
    try:
        yield
    finally:
        _reader.reset(token)


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    if language not in LANGUAGES or language == "en":
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, LOCALE, [language], fallback=True)


def _(text: str, /, **values: object) -> str:
    """`text` in the reader's language, its `{names}` filled in."""
    said = _catalogue(reader().language).gettext(text) if text else ""
    return said.format(**values) if values else said


def n_(one: str, many: str, n: float, /, **values: object) -> str:
    """The form of a text that fits the number `n`, which also fills `{n}`."""
    whole = int(n) if n == int(n) else 2
    return _catalogue(reader().language).ngettext(one, many, whole).format(n=n, **values)


def N_(text: str) -> str:  # noqa: N802 - the name that tools for catalogues know
    """Marks a text for the catalogue that is translated later, when it is shown."""
    return text


def wanted(accepted: list[str]) -> str:
    """The first language of a browser's list that there is; English when there is none."""
    for code in accepted:
        short = code.partition("-")[0].lower()
        if short in LANGUAGES:
            return short
    return "en"
