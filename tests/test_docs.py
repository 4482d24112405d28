"""The documents against the program: what exists is described, and described commands exist."""

import re
from pathlib import Path

import pytest

from sumlight.box.description import BoxDescription, LogbookRules
from sumlight.checkedfile import parse
from sumlight.cli.commands import NOUNS
from sumlight.store.recipe import Recipe
from sumlight.twin.events import EVENTS
from sumlight.twin.scenario import Scenario
from tests.benchmarks.__main__ import BENCHMARKS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


COMMANDS = [f"sumlight {noun.name} {verb.name}" for noun in NOUNS for verb in noun.verbs]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_in_the_readme(command: str) -> None:
    """By the words one would type."""
    assert re.search(rf"`{command}[` ]", README)


def test_documents_and_page_name_no_command_that_is_none() -> None:
    """Neither an old spelling nor a slip: the two words after `sumlight` in code, or where it is called by its path."""
    texts = [
        *ROOT.glob("*.md"),
        *ROOT.glob("hardware/**/*.md"),
        *ROOT.glob("hardware/systemd/*"),
        ROOT / "hardware/box.yaml",
    ]
    texts += [ROOT / "hardware/install", *ROOT.glob("webui/**/*.html"), *ROOT.glob("webui/**/*.po")]
    old = {"sumlight expose", "sumlight lamps --new"}  # named in the README as what they are
    for path in texts:
        text = path.read_text(encoding="utf-8")
        for words in re.findall(r"(?:`|bin/|^ *)sumlight\"? ([a-z][a-z-]*(?: [\w-]+)?)", text, re.MULTILINE):
            named = f"sumlight {words}"
            assert named in old or any(named.startswith(command) for command in COMMANDS), (path.name, named)


@pytest.mark.parametrize("key", [*Recipe.model_fields])
def test_every_key_of_a_recipe_is_in_the_readme(key: str) -> None:
    """In the example or beside it."""
    assert re.search(rf"\b{key}\b", README)


@pytest.mark.parametrize("name", [*EVENTS, *Scenario.model_fields])
def test_every_word_of_a_scenario_is_in_the_readme(name: str) -> None:
    """Events and keys."""
    assert re.search(rf"\b{name}\b", README)


@pytest.mark.parametrize("name", [*BENCHMARKS])
def test_every_benchmark_is_in_the_developers_page(name: str) -> None:
    """By its name."""
    assert name in DEVELOPERS


@pytest.mark.parametrize("key", [*LogbookRules.model_fields])
def test_every_rule_of_the_logbook_is_in_both_readmes(key: str) -> None:
    """Who loses samples was told before."""
    guide = (ROOT / "hardware" / "README.md").read_text(encoding="utf-8")
    assert key in README
    assert key in guide


def test_the_readmes_recipe_is_usable() -> None:
    """The example that people will copy."""
    (example,) = (block for block in code_blocks("yaml") if "dose_mj_cm2" in block)
    assert parse(example, Recipe, "README").sides == "turned"


def test_the_readmes_scenario_is_usable() -> None:
    """Likewise."""
    (example,) = (block for block in code_blocks("yaml") if "lamp_hours" in block)
    assert len(parse(example, Scenario, "README").events) == 2


def test_the_example_box_is_described_key_by_key() -> None:
    """hardware/README.md speaks of every block of box.yaml."""
    guide = (ROOT / "hardware" / "README.md").read_text(encoding="utf-8")
    for key in BoxDescription.model_fields:
        if key not in ("name", "limits", "pin_library"):
            assert key.rstrip("s") in guide, key


def test_pictures_that_the_readme_shows_exist() -> None:
    """No broken image."""
    for path in re.findall(r'<img src="([^"]+)"', README):
        assert (ROOT / path).is_file()


def code_blocks(language: str) -> list[str]:
    """Fenced blocks of the README."""
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)
