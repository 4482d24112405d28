"""The documents against the program: what exists is described, and described commands exist."""

import re
from pathlib import Path

import pytest

from sumlight.box.description import BoxDescription, LogbookRules
from sumlight.checkedfile import parse
from sumlight.cli.commands import NOUNS
from sumlight.store.recipe import Recipe
from tests.benchmarks.__main__ import BENCHMARKS
from tests.mutation.targets import TARGETS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


COMMANDS = ["sumlight help", *(f"sumlight {noun.name} {verb.name}" for noun in NOUNS for verb in noun.verbs)]

LONGEST_README = 150
"""Lines: what a newcomer needs, and where the rest is."""


def test_the_readme_stays_short() -> None:
    """All else belongs to the manual, to the builder's guide or to the page for contributors."""
    assert len(README.splitlines()) <= LONGEST_README


def test_the_readme_begins_with_the_job_and_what_can_hurt() -> None:
    """Before the first command."""
    opening = README.partition("## ")[0]
    assert "measured dose" in opening
    for danger in ("UV lamps hurt eyes and skin", "mains voltage kills", "etchants burn", "hard-wired lid switch"):
        assert danger in opening, danger
    for decides in ("licensed electrician", "local code", "waste authority", "No certification is claimed"):
        assert decides in opening, decides


def test_the_readme_leads_to_the_manual_to_the_builders_guide_and_to_the_contributors_page() -> None:
    """And each link leads somewhere."""
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert {"hardware/README.md", "DEVELOPERS.md"} <= set(links)
    assert [link for link in links if "manual" in link] != []
    assert [link for link in links if not (ROOT / link).exists()] == []
    assert "`sumlight help`" in README


def test_documents_and_page_name_no_command_that_is_none() -> None:
    """Neither an old spelling nor a slip: the two words after `sumlight` in code, or where it is called by its path."""
    texts = [
        *ROOT.glob("*.md"),
        *ROOT.glob("hardware/**/*.md"),
        *ROOT.glob("hardware/systemd/*"),
        ROOT / "hardware/box.yaml",
    ]
    texts += [ROOT / "hardware/install", *ROOT.glob("webui/**/*.html"), *ROOT.glob("webui/**/*.po")]
    texts += ROOT.glob("firmware/sumlight/manual/**/*.md")
    old = {"sumlight expose"}  # named in the manual as what it is
    for path in texts:
        text = path.read_text(encoding="utf-8")
        for words in re.findall(r"(?:`|bin/|^ *)sumlight\"? ([a-z][a-z-]*(?: [\w-]+)?)", text, re.MULTILINE):
            named = f"sumlight {words}"
            assert named in old or any(named.startswith(command) for command in COMMANDS), (path.name, named)


def test_the_developers_page_names_every_benchmark_and_every_target_of_mutation_and_no_other() -> None:
    """In the rows of their commands: words such as dose, page and loop stand elsewhere anyway."""
    benchmarks = re.search(r"-m tests\.benchmarks \[([a-z -]+)\]", DEVELOPERS)
    targets = re.search(r"\| mutation check of [^:|]+: ([a-z_, ]+) \(", DEVELOPERS)
    assert benchmarks is not None
    assert targets is not None
    assert sorted(benchmarks[1].split()) == sorted(BENCHMARKS)
    assert sorted(targets[1].split(", ")) == sorted(TARGETS)


@pytest.mark.parametrize("key", [*LogbookRules.model_fields])
def test_every_rule_of_the_logbook_is_in_the_manual_and_in_the_builders_guide(key: str) -> None:
    """Who loses samples was told before."""
    for path in (
        "firmware/sumlight/manual/en/records.md",
        "firmware/sumlight/manual/de/records.md",
        "hardware/README.md",
    ):
        assert key in (ROOT / path).read_text(encoding="utf-8"), path


def test_the_readmes_recipe_is_usable() -> None:
    """The example that people will copy."""
    (example,) = (block for block in code_blocks("yaml") if "dose_mj_cm2" in block)
    assert parse(example, Recipe, "README").sides == "turned"


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
