"""The reader's language and units. Texts stand in English in the code; `locale/` holds their translations.

The page sets a reader for each request, and for each event of a live stream, on the thread that writes for it; the
command line sets one for each command. `python -m tests.catalogue` gathers the texts and compiles the translations.
"""

import gettext
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from sumlight.text.message import AS_WRITTEN, Message, Value, filled, say_named, written
from sumlight.text.words import WORDS

LOCALE = Path(__file__).parent / "locale"
DOMAIN = "sumlight"

LANGUAGES = {"en": "English", "de": "Deutsch"}
"""Every language there is, by its code, named in itself."""

DECIMAL_COMMA = {"de"}
"""Languages that write 0,5 for a half, and 50 % with a space (DIN 5008)."""

UNITS = ("metric", "inch")


@dataclass(frozen=True)
class Reader:
    """Whom a text is for: `language` a key of LANGUAGES, `units` metric (mm, °C) or inch (inch, mil, °F).

    `as_in_files` is for texts about files that people edit by hand, where a number has a decimal point everywhere.
    """

    language: str = "en"
    units: str = "metric"
    as_in_files: bool = False


_reader: ContextVar[Reader] = ContextVar("reader", default=Reader())  # noqa: B039 - it is frozen


def reader() -> Reader:
    """Return whom this thread writes for."""
    return _reader.get()


def write_for(who: Reader) -> None:
    """Write for `who` on this thread from here on."""
    _reader.set(who)


@contextmanager
def written_for(who: Reader) -> Iterator[None]:
    """Write for `who` on this thread within the block."""
    token = _reader.set(who)
    try:
        yield
    finally:
        _reader.reset(token)


def of_environment(environ: Mapping[str, str]) -> str:
    """Return the language that a process was started in: a key of LANGUAGES, English where there is no other.

    The first of LC_ALL, LC_MESSAGES and LANG that is set names the locale. LANGUAGE may list others that a person
    reads better, unless the locale is C (GNU gettext manual, "Locale Environment Variables", "The LANGUAGE variable").
    """
    locale = next((value for name in ("LC_ALL", "LC_MESSAGES", "LANG") if (value := environ.get(name))), "C")
    if locale.partition(".")[0] in ("C", "POSIX"):
        return "en"
    for name in (*environ.get("LANGUAGE", "").split(":"), locale):
        code = name[:2].lower()
        if code in LANGUAGES and not name[2:3].isalnum():
            return code
    return "en"


@cache
def _catalogue(language: str) -> gettext.NullTranslations:
    if language not in LANGUAGES or language == "en":
        return gettext.NullTranslations()
    return gettext.translation(DOMAIN, LOCALE, [language], fallback=True)


def _(text: str, /, **values: object) -> str:
    """Return `text` in the reader's language, its `{names}` filled in.

    A number is written as its format asks, with the reader's decimal mark; a message is said in the reader's words.
    """
    said = _catalogue(reader().language).gettext(text) if text else ""
    return said.format(**{name: _shown(value) for name, value in values.items()}) if values else said


def n_(one: str, many: str, n: float, /, **values: object) -> str:
    """Return the form of a text that fits the number `n`, which also fills `{n}`."""
    whole = int(n) if n == int(n) else 2
    said = _catalogue(reader().language).ngettext(one, many, whole)
    return said.format(n=_shown(n), **{name: _shown(value) for name, value in values.items()})


def N_(text: str) -> str:  # noqa: N802 - the name that tools for catalogues know
    """Mark a text for the catalogue; it is translated later, when it is shown."""
    return text


def figure(value: float, wanted: str) -> str:
    """Write a number as `wanted` asks (`.1f`, `g`, `.0%`), with the reader's decimal mark and space before a %."""
    text = written(value, wanted)
    point_stays = reader().as_in_files or reader().language not in DECIMAL_COMMA
    return text if point_stays else text.replace(".", ",").replace("%", "\N{NO-BREAK SPACE}%")


class _Figure:
    """A number with decimals that is about to be filled in, in the format that the words ask for."""

    def __init__(self, value: float) -> None:
        self._value = value

    def __format__(self, wanted: str) -> str:
        return figure(self._value, wanted)


def _shown(value: object) -> object:
    if isinstance(value, float):
        return _Figure(value)
    return text_of(value) if isinstance(value, Message) else value


def text_of(text: str) -> str:
    """Return `text` as the reader understands it: a message by its code, a text without one if it has a translation."""
    if isinstance(text, Message) and text.code != AS_WRITTEN:
        return filled(_(WORDS[text.code]), text.values, _put)
    return _(text) if text else text


def named(kind: str, name: str) -> str:
    """Return what a name means for the reader, such as a `state` of the box; one that is not known stays as it is."""
    code = f"{kind}_{name}"
    return text_of(say_named(code)) if code in WORDS else name


def _put(value: Value, wanted: str) -> str:
    if isinstance(value, str):
        return text_of(value) if isinstance(value, Message) else value
    return figure(value, wanted) if isinstance(value, int | float) else format(value, wanted)
