"""Texts and their translations: `python -m tests.catalogue` gathers, merges and compiles; `--check` only looks.

Babel does the work, at build time only: the page itself reads the compiled files with the standard library.
"""

import argparse
import io
import re
import sys
from datetime import UTC, datetime
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

import sumlight_web
from sumlight.language import DOMAIN, LANGUAGES, LOCALE
from sumlight.text.words import WORDS

SPEAKING = (Path(str(sumlight_web.__file__)).parent, LOCALE.parent / "cli", LOCALE.parent / "fleet")
"""Packages whose code and templates say texts of their own; what others say has a code."""
METHODS = [("**.py", "python"), ("**/templates/**.html", "jinja2")]
OPTIONS = {"**/templates/**.html": {"silent": "false"}}
KEYWORDS = {"_": None, "N_": None, "n_": (1, 2)}
NO_DATE = datetime(2026, 1, 1, tzinfo=UTC)
"""One date for all, so that a file changes only when a text does."""


def gathered() -> Catalog:
    """Every text in the page's code and templates, and the words of every code."""
    found = Catalog(project="sumlight", creation_date=NO_DATE, revision_date=NO_DATE)
    for folder in SPEAKING:
        for file, line, message, _comments, _context in extract_from_dir(
            folder, method_map=METHODS, options_map=OPTIONS, keywords=KEYWORDS
        ):
            found.add(message, locations=[(file, line)])
    for text in WORDS.values():
        if re.sub(r"\{[^}]*\}", "", text).strip():
            found.add(text, locations=[("text/words.py", 1)])
    return found


def po_path(language: str) -> Path:
    """The file that translators edit."""
    return LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po"


def load(language: str) -> Catalog:
    """The translations as they are kept."""
    with po_path(language).open("rb") as file:
        return read_po(file, locale=language)


def merged(language: str) -> Catalog:
    """The translations brought up to the texts of today; what is new is empty, what is gone is dropped."""
    kept = load(language) if po_path(language).exists() else Catalog()
    new = Catalog(locale=language, project="sumlight", creation_date=NO_DATE, revision_date=NO_DATE)
    for message in gathered():
        if message.id:
            old = kept.get(message.id)
            new.add(message.id, old.string if old else None)
    return new


def as_po(catalogue: Catalog) -> bytes:
    """As it is kept: sorted, without line numbers, so that moving code changes nothing."""
    file = io.BytesIO()
    write_po(file, catalogue, no_location=True, omit_header=False, sort_output=True, width=110)
    return file.getvalue()


def as_mo(catalogue: Catalog) -> bytes:
    """As the page reads it."""
    file = io.BytesIO()
    write_mo(file, catalogue)
    return file.getvalue()


def missing(catalogue: Catalog) -> list[str]:
    """Texts without a translation."""
    return [
        message.id if isinstance(message.id, str) else message.id[0]
        for message in catalogue
        if message.id and not (all(message.string) if isinstance(message.string, tuple | list) else message.string)
    ]


def main() -> int:
    """Bring all languages up to date, or tell what is not."""
    parser = argparse.ArgumentParser(prog="python -m tests.catalogue", description=__doc__)
    parser.add_argument("--check", action="store_true", help="change nothing; exit status 1 if something is stale")
    options = parser.parse_args()
    stale = False
    for language in LANGUAGES:
        if language == "en":
            continue
        catalogue = merged(language)
        files = {po_path(language): as_po(catalogue), po_path(language).with_suffix(".mo"): as_mo(catalogue)}
        for path, body in files.items():
            same = path.exists() and path.read_bytes() == body
            stale |= not same
            if not same and not options.check:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(body)
                print(f"written: {path.relative_to(LOCALE.parent)}")
        for text in missing(catalogue):
            print(f"{language}: not translated: {text}")
            stale |= True
    return int(stale and options.check)


if __name__ == "__main__":
    sys.exit(main())
