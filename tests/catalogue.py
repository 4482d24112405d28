"""Texts and their translations: `python -m tests.catalogue` gathers, merges and compiles; `--check` only looks.

Babel does the work, at build time only: the page itself reads the compiled files with the standard library.
"""

import argparse
import io
import sys
from datetime import UTC, datetime
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from sumlight.bounds import BOUNDS_WORDS
from sumlight.box.description import load_box
from sumlight.control.commissioning.contact_steps import LIGHT_HINT, MIRROR_HINT, SLOW
from sumlight.control.commissioning.state_machine import Commissioning, Phase
from sumlight.control.commissioning.steps import FAULT_HINTS, NO_LIGHT_HINT, PREPARE_ALONE, steps_for
from sumlight.control.safety.faults import FAULTS
from sumlight.craft.control_chart import RULES
from sumlight.quantity import MESSAGES
from sumlight.twin import demo
from sumlight_web.language import DOMAIN, LANGUAGES, LOCALE

WEBUI = LOCALE.parent
METHODS = [("**.py", "python"), ("**/templates/**.html", "jinja2")]
OPTIONS = {"**/templates/**.html": {"silent": "false"}}
KEYWORDS = {"_": None, "N_": None, "n_": (1, 2)}
PHASES: list[Phase] = ["ask", "prepare", "lighting", "holding", "act", "watching", "confirm", "undo"]
NO_DATE = datetime(2026, 1, 1, tzinfo=UTC)
"""One date for all, so that a file changes only when a text does."""


def gathered() -> Catalog:
    """Every text in the page's code and templates, titles and remedies of control's faults, the rules of charts."""
    found = Catalog(project="sumlight", creation_date=NO_DATE, revision_date=NO_DATE)
    for file, line, message, _comments, _context in extract_from_dir(
        WEBUI, method_map=METHODS, options_map=OPTIONS, keywords=KEYWORDS
    ):
        found.add(message, locations=[(file, line)])
    for kind in FAULTS.values():
        for text in (kind.title, kind.remedy):
            found.add(text, locations=[("control/safety/faults.py", 1)])
    for text in RULES.values():
        found.add(text, locations=[("craft/control_chart.py", 1)])
    for text in (*MESSAGES.values(), *BOUNDS_WORDS.values()):
        found.add(text, locations=[("quantity.py", 1)])
    for text in commissioning_texts():
        found.add(text, locations=[("control/commissioning/steps.py", 1)])
    return found


def commissioning_texts() -> list[str]:
    """What control says in the steps of commissioning: of a box that leaves nothing out, so that there are all."""
    steps, _left_out = steps_for(load_box(demo.BOX))
    runs = [Commissioning([step], "", 1.0) for step in steps for _phase in PHASES]
    for run, phase in zip(runs, PHASES * len(steps), strict=True):
        run.phase = phase
    # what is to be done under a held K1 is told twice, and translated as a sentence of its own
    said = [run.words().partition(PREPARE_ALONE)[2].strip() or run.words() for run in runs] + [
        text for step in steps for text in (step.title, step.hint)
    ]
    others = {*FAULT_HINTS.values(), NO_LIGHT_HINT, PREPARE_ALONE, LIGHT_HINT, MIRROR_HINT, SLOW, "a whole working day"}
    return sorted({*said, *others} - {""})


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
                print(f"written: {path.relative_to(WEBUI)}")
        for text in missing(catalogue):
            print(f"{language}: not translated: {text}")
            stale |= True
    return int(stale and options.check)


if __name__ == "__main__":
    sys.exit(main())
