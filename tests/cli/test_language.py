"""The command line in the language of the environment: every sentence, argparse's own too; JSON in none."""

import argparse
import ast
import contextlib
import gettext
import itertools
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight import cli
from sumlight.cli import main, parser, parsertexts
from sumlight.cli.completion import choices
from sumlight.language import Reader, of_environment, reader
from sumlight.store.recipes import RecipeStore
from tests import catalogue
from tests.store.making import RECIPE_TEXT

CLI = Path(str(cli.__file__)).parent
MARKED = ("_", "N_", "n_")
ENGLISH = {"the", "is", "are", "not", "of", "and", "with", "its", "this", "for", "to", "there", "must"}
NOT_SAID = {
    "commands.py": "examples of commands",
    "completion.py": "a script for bash",
    "trial.py": "a recipe, which is a file",
}
"""Modules with texts of several words that are no sentences, besides marked ones."""
NAMES = {
    *("brass, copper, steel …", "iron, persulfate, peroxide …"),  # words that may be typed
    *("panel strip", "panel tablet", "panel teach", "light transmission", "light field"),  # commands
    *("step tablet", "test strip", "steady light", "the twin's attendant"),  # names that go on record
    *(
        "no trace",
        "spectral match",
        "other lamps",
        "warmth of the lamps",
        "gain steps",
        "sensor temperature",
    ),  # keys of tables, put in words beside them
    " was refused: ",  # to whoever plays the simulated box in a test
}
SENTENCE = re.compile(r"[a-z]{2,},? [a-z]{2,}", re.IGNORECASE)
NEVER_ASKED: tuple[str, ...] = (
    "conflict",
    "not defined",
    "'required' is",
    "mutually exclusive",
    "subcommands",
    "description",
)
NEVER_ASKED += ("not callable", "can't open", "cannot merge", "invalid option string", "dest= is", "cannot have")
NEVER_ASKED += ('argument "-"', "unexpected option string")
"""Beginnings and parts of what argparse says to programmers only, or of what this command line does not use."""


@pytest.mark.parametrize(
    ("environ", "language"),
    [
        ({}, "en"),
        ({"LANG": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de"}, "de"),
        ({"LANG": "de_AT@euro"}, "de"),
        ({"LANG": "fr_FR.UTF-8"}, "en"),
        ({"LANG": "en_GB.UTF-8", "LC_MESSAGES": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C.UTF-8", "LANGUAGE": "de"}, "en"),
        ({"LANG": "de_DE.UTF-8", "LC_MESSAGES": "POSIX"}, "en"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": ""}, "de"),
        ({"LANG": "en_US.UTF-8", "LANGUAGE": "fr:de:en"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LANGUAGE": "en:de"}, "en"),
        ({"LANGUAGE": "de"}, "en"),
        ({"LANG": "den_CA.UTF-8"}, "en"),
    ],
)
def test_the_environment_names_the_language(environ: dict[str, str], language: str) -> None:
    """As the GNU gettext manual says: Locale Environment Variables; The LANGUAGE variable."""
    assert of_environment(environ) == language


def texts_of(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every text in code that no call of MARKED stands around, a formatted one with its values left out."""
    docs = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and not isinstance(node.value, ast.Call)
    }

    def walk(node: ast.AST) -> Iterator[tuple[int, str]]:
        if id(node) in docs:
            return
        if isinstance(node, ast.JoinedStr):
            yield node.lineno, "".join(str(part.value) for part in node.values if isinstance(part, ast.Constant))
            inner = [part.value for part in node.values if isinstance(part, ast.FormattedValue)]
        elif isinstance(node, ast.Constant):
            inner = []
            if isinstance(node.value, str):
                yield node.lineno, node.value
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MARKED:
            inner = [keyword.value for keyword in node.keywords]
        else:
            inner = list(ast.iter_child_nodes(node))  # type: ignore[arg-type]
        for each in inner:
            yield from walk(each)

    return walk(tree)


def test_no_sentence_of_the_command_line_goes_untranslated() -> None:
    """Whatever has two words in a row stands in the catalogue; docstrings are read by contributors only."""
    left = [
        f"{path.name}:{line}: {text}"
        for path in sorted(CLI.glob("*.py"))
        if path.name not in NOT_SAID
        for line, text in texts_of(ast.parse(path.read_text(encoding="utf-8")))
        if SENTENCE.search(text) and text not in NAMES
    ]
    assert left == []


def test_a_plain_sentence_would_be_found() -> None:
    """So that silence means something; a marked one is not."""
    code = 'print(f"{count} rows were written")\nprint(_("all is well", why="it is late"))'
    assert [text for _line, text in texts_of(ast.parse(code)) if SENTENCE.search(text)] == [
        " rows were written",
        "it is late",
    ]


def argparse_says() -> Iterator[str]:
    """Texts that Python's own module looks up in a catalogue."""
    for node in ast.walk(ast.parse(Path(str(argparse.__file__)).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_":
            yield from (str(told.value) for told in node.args[:1] if isinstance(told, ast.Constant))


def test_what_argparse_says_is_translated_too() -> None:
    """Its texts are its own: read from Python's source, of whichever version runs the tests."""
    said = [text for text in argparse_says() if not any(part in text for part in NEVER_ASKED)]
    assert len(said) > 12
    assert set(said) - set(parsertexts.TEXTS) == set()


def parsers() -> Iterator[argparse.ArgumentParser]:
    """The top, every noun and every verb."""
    top = parser()
    yield top
    for noun in choices(top).values():
        yield noun
        yield from choices(noun).values()


def shown(each: argparse.ArgumentParser) -> list[str]:
    """Texts of one help page."""
    return [text for text in (each.description, *(action.help for action in each._actions)) if text]


@pytest.mark.usefixtures("german")
def test_every_help_page_is_german_throughout() -> None:
    """A text that is the same in both languages must not be one that has another translation."""
    known = {m.id for m in catalogue.load("de") if isinstance(m.id, str) and m.id and m.id != m.string}
    english = list(parsers())
    pages = [each.format_help() for each in english]
    with cli._speaking("de"):
        german = list(parsers())
        for one, page, other in zip(english, pages, german, strict=True):
            assert set(shown(one)) & set(shown(other)) & known == set(), one.prog
            assert not {"example:", "usage:", "options:", "arguments:"} & set(other.format_help().split()), one.prog
            assert other.format_help() != page, one.prog
    assert len(german) > 60


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> None:
    """An environment in German."""
    monkeypatch.setenv("LANG", "de_DE.UTF-8")


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What a command prints, on both outputs."""
    with contextlib.suppress(SystemExit):
        main(list(arguments))
    out, err = capsys.readouterr()
    return str(out + err)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["bath", "mix", "developr"], "Fehler: Angabe BATH"),
        (["bath", "mix", "developer"], "diese Angaben fehlen: --volume"),
        (["bath", "mix", "iron", "--volume", "1l"], "sumlight: --stock wird gebraucht"),
        (["bath", "dwell", "--clear", "30s"], "50"),
        (["bath", "dwell", "--clear", "30 Kilo"], "Angabe --clear: "),
        (["bath", "meet", "iron", "peroxide"], "! "),
        (["bath", "meet", "iron", "aluminium"], "sumlight: "),
        (["bath", "smallest", "--thickness", "150um"], "µm"),
        (["bath", "etch-time", "brass", "iron", "--thickness", "150um", "--rate", "10um/min"], "µm"),
        (["light", "contact", "--half-angle", "30", "--gap", "50"], "an jeder Kante"),
        (["panel", "teach", "--seconds", "9"], "nennen Sie ein Rezept des laufenden Kastens: sumlight panel teach"),
        (["setup", "check"], "nichts zu prüfen"),
        (["help", "no-such-thing"], "Die Anleitung sagt nichts zu „no-such-thing“"),
        (["records", "signs"], "letzte gehaltene Stufe"),
        (["setup", "faults"], "Abhilfe"),
        (["light", "contact", "--half-angle", "95"], "Angabe --half-angle: "),
    ],
)
@pytest.mark.usefixtures("german")
def test_answers_and_refusals_are_german(
    capsys: pytest.CaptureFixture[str], arguments: list[str], expected: str
) -> None:
    """Of the command line, of argparse, of the arithmetic and of the manual."""
    said = told(capsys, *arguments)
    assert expected in said
    assert not ENGLISH & set(re.findall(r"\b[a-z]+\b", said)), said


@pytest.mark.usefixtures("german")
def test_a_panel_on_the_twin_is_told_in_german(capsys: pytest.CaptureFixture[str]) -> None:
    """What control says on the way, and what came of it, with a decimal comma."""
    said = told(capsys, "panel", "expose", "--twin")
    assert re.search(r"^Seite A: \d+,\d\d in Einheiten dieses Kastens", said, re.MULTILINE)
    assert said.splitlines()[1] == "fertig belichtet"
    assert not ENGLISH & set(re.findall(r"\b[a-z]+\b", said)), said


@pytest.mark.usefixtures("german")
def test_mistakes_of_a_file_are_german(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Each with its line and field, the number with a comma only where it is not the file's."""
    recipe = tmp_path / "mine.yaml"
    recipe.write_text(RECIPE_TEXT.replace("dose_mj_cm2: 60", "dose_mj_cm2: 0"), encoding="utf-8")
    said = told(capsys, "recipes", "check", str(recipe))
    assert re.search(r"mine\.yaml, Zeile \d+: dose_mj_cm2: ", said)
    assert "muss mindestens" in said


def test_what_programs_read_is_in_no_language(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The same object in every environment: English words, with code and values beside them."""
    RecipeStore(tmp_path / "recipes").save("blue", RECIPE_TEXT)
    asked = (
        ["bath", "mix", "persulfate", "--volume", "1l"],
        ["bath", "meet", "iron", "peroxide"],
        ["bath", "smallest", "--thickness", "150um"],
        ["light", "contact", "--half-angle", "30", "--gap", "50"],
        ["light", "reciprocity", "--held", "1,80", "--held", "4,60"],
        ["recipes", "list", "--data", str(tmp_path)],
        ["setup", "faults"],
        ["records", "signs"],
        ["help", "words"],
    )
    found = {}
    for language in ("", "de_DE.UTF-8"):
        monkeypatch.setenv("LANG", language)
        found[language] = [json.loads(told(capsys, *each, "--json")) for each in asked]
    for english, german in itertools.zip_longest(*found.values()):
        assert english == german
    assert found[""][4]["sentence_code"]["code"]
    assert set(found[""][4]["sentence_code"]) == {"code", "values"}
    assert [step["code"] for step in found[""][0]["steps_code"]]


@pytest.mark.usefixtures("german")
def test_the_language_ends_with_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    """So that a program that calls `main` goes on in its own."""
    domain = gettext.textdomain()
    told(capsys, "setup", "check")
    assert (reader(), gettext.textdomain()) == (Reader(), domain)
