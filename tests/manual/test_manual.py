"""The manual against the program: everything that exists is explained once, and nothing else is."""

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from sumlight.box.description import BoxDescription
from sumlight.checkedfile import parse
from sumlight.cli import parser
from sumlight.cli.completion import choices
from sumlight.control.frontpanel.buttons import LONGEST_PRESS_S, STOOD_S
from sumlight.control.safety.faults import FAULTS
from sumlight.manual.search import LONGEST_QUERY, find, named, places
from sumlight.manual.topics import LANGUAGES, TOPICS, Topic, read, topic, topics
from sumlight.protocol.snapshot import FaultName
from sumlight.store.lamp_settings import HIGHEST_PERCENT, LOWEST_PERCENT
from sumlight.store.logbook.export import WHATS
from sumlight.store.recipe import Recipe
from sumlight.text.faults import TOLD
from sumlight.twin.events import EVENTS
from sumlight.twin.scenario import Scenario
from sumlight_web.access.sessions import LIFE_LIMIT_S, UNUSED_LIMIT_S
from sumlight_web.language import LANGUAGES as OF_THE_PAGE

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "firmware" / "sumlight" / "manual"
EACH_LANGUAGE = pytest.mark.parametrize("language", LANGUAGES)
DAY_S = 86_400

ENGLISH = {"the", "and", "is", "are", "of", "which", "with", "every", "its", "until", "from", "never"}
GERMAN = {"der", "das", "und", "ist", "sind", "nicht", "wird", "mit", "für", "auf", "bei", "oder", "eine"}


def names(of: Topic) -> list[str]:
    """Of a topic's entries."""
    return [entry.name for entry in of.entries]


def keys_of(schema: dict[str, Any], rules: dict[str, Any] | None = None, place: str = "") -> Iterator[str]:
    """Dotted names of all keys of a JSON schema, as pydantic draws it from a model; lists leave no trace."""
    known = schema.get("$defs", {}) if rules is None else rules
    while "properties" not in schema:
        inner = next((each for each in _inside(schema) if "$ref" in each or "items" in each), None)
        if inner is None:
            yield place
            return
        schema = known[inner["$ref"].rpartition("/")[2]] if "$ref" in inner else inner["items"]
    for name, below in schema["properties"].items():
        yield from keys_of(below, known, f"{place}.{name}".lstrip("."))


def _inside(schema: dict[str, Any]) -> list[dict[str, Any]]:
    return [schema, *schema.get("anyOf", []), *schema.get("allOf", [])]


@EACH_LANGUAGE
@pytest.mark.parametrize(("name", "model"), [("recipes", Recipe), ("box", BoxDescription)])
def test_every_key_of_a_file_has_an_entry_and_no_other(name: str, model: type[BaseModel], language: str) -> None:
    """Of recipes and of box.yaml; keys within blocks by their dotted names."""
    assert Counter(names(topic(name, language))) == Counter(keys_of(model.model_json_schema()))


@EACH_LANGUAGE
def test_every_command_has_an_entry_and_no_other(language: str) -> None:
    """As the command line itself knows them."""
    nouns = choices(parser())
    known = [f"{noun} {verb}" for noun, below in nouns.items() for verb in choices(below)]
    known += [noun for noun, below in nouns.items() if not choices(below)]
    assert Counter(entry.title for entry in topic("commands", language).entries) == Counter(
        f"sumlight {command}" for command in known
    )


@EACH_LANGUAGE
def test_what_can_be_exported_is_named_as_it_is_typed(language: str) -> None:
    """A kind of row that stands nowhere is never asked for."""
    (entry,) = (entry for entry in topic("commands", language).entries if entry.name == "records-export")
    assert tuple(re.findall(r"`(\w+)`", entry.text)) == WHATS


@EACH_LANGUAGE
def test_every_fault_has_an_entry_and_no_other(language: str) -> None:
    """With what was seen, what happens and what to do."""
    faults = topic("faults", language)
    assert names(faults) == [str(name) for name in FaultName]
    for entry in faults.entries:
        assert all(words in f"{entry.title} {entry.text}" for words in TOLD[entry.name])


def test_the_manual_tells_of_each_fault_whether_it_darkens_as_control_has_it() -> None:
    """Each says one of the two."""
    for entry in topic("faults").entries:
        stops = FAULTS[FaultName(entry.name)].stops
        assert ("Lamps dark at once" in entry.text, "light goes on" in entry.text) == (stops, not stops)


@EACH_LANGUAGE
def test_every_word_of_a_scenario_is_explained_and_no_other(language: str) -> None:
    """Keys and events of the simulated box; in their lists the words before the first colon."""
    told = {entry.name: entry.text for entry in topic("twin", language).entries}
    lists = {name: re.findall(r"^- ((?:`\w+`(?:, )?)+):", text, re.MULTILINE) for name, text in told.items()}
    words = {name: re.findall(r"\w+", " ".join(heads)) for name, heads in lists.items()}
    assert Counter(words["keys"]) == Counter([*Scenario.model_fields])
    assert Counter(words["events"]) == Counter([*EVENTS])


@EACH_LANGUAGE
def test_the_manuals_recipe_and_scenario_are_usable(language: str) -> None:
    """People will copy them."""
    (recipe,) = re.findall(r"```yaml\n(.*?)```", topic("recipes", language).text, re.DOTALL)
    assert parse(recipe, Recipe, "manual").sides == "turned"
    (scenario,) = re.findall(r"```yaml\n(.*?)```", topic("twin", language).text, re.DOTALL)
    assert len(parse(scenario, Scenario, "manual").events) == 2


def test_the_languages_are_those_of_the_page_and_have_the_same_topics_and_entries() -> None:
    """So that an address means the same in each."""
    assert set(LANGUAGES) == set(OF_THE_PAGE)
    for language in LANGUAGES:
        assert {path.stem for path in (FOLDER / language).glob("*.md")} == set(TOPICS)
    for name in TOPICS:
        entries = {language: Counter(names(topic(name, language))) for language in LANGUAGES}
        assert len(set(map(str, map(sorted, (each.elements() for each in entries.values()))))) == 1, name


@pytest.mark.parametrize("name", TOPICS)
def test_each_topic_is_written_in_its_language(name: str) -> None:
    """Words that are only in one of them; what is made of messages is put into words where it is read."""
    for language, own, other in (("en", ENGLISH, GERMAN), ("de", GERMAN, ENGLISH)):
        written = (FOLDER / language / f"{name}.md").read_text(encoding="utf-8")
        text = re.sub(r"```.*?```|`[^`]*`|\]\([^)]*\)|\{#[^}]*\}", "", written, flags=re.DOTALL)
        words = Counter(re.findall(r"\w+", text.casefold()))
        assert sum(words[word] for word in own) > 0
        assert {word: words[word] for word in other if words[word]} == {}


@EACH_LANGUAGE
def test_every_link_leads_to_a_place(language: str) -> None:
    """A topic's file, or an entry of it."""
    there = {place.address for place in places(topics(language))}
    written = [path.read_text(encoding="utf-8") for path in (FOLDER / language).glob("*.md")]
    links = [link for text in written for link in re.findall(r"\]\(([^)]*)\)", text)]
    assert len(links) > 10
    assert [link for link in links if link.replace(".md", "") not in there or ".md" not in link] == []


@EACH_LANGUAGE
def test_nothing_is_explained_twice(language: str) -> None:
    """No two entries say the same; a word is explained where words are, and pointed to from elsewhere."""
    texts = Counter(entry.text for each in topics(language) for entry in each.entries)
    assert [text for text, times in texts.items() if times > 1] == []


@EACH_LANGUAGE
def test_numbers_of_the_manual_are_those_of_the_program(language: str) -> None:
    """Where it names one that the program keeps elsewhere."""
    told = {place.address: place.text for place in places(topics(language))}
    sessions = re.findall(r"\d+", told["access#passwords"])
    assert sessions == [f"{UNUSED_LIMIT_S / DAY_S:g}", f"{LIFE_LIMIT_S / DAY_S:g}"]
    assert re.findall(r"\d+", told["lamps#level"]) == [f"{LOWEST_PERCENT:g}", f"{HIGHEST_PERCENT:g}"]
    script = (ROOT / "webui" / "sumlight_web" / "static" / "hold.js").read_text(encoding="utf-8")
    held_ms = [int(found) for found in re.findall(r"HOLD_MS = (\d+)", script)]
    assert [f"{ms / 1000:g}" for ms in held_ms] == [
        number.replace(",", ".") for number in re.findall(r"\d[.,]\d", told["pages#bench"])
    ]
    assert held_ms == [1000 * STOOD_S], "page and button ask the same of a press"
    pressed = re.findall(r"([\d.,]+)\s+s\b", told["box#front_panel.go_pin"])
    assert [number.replace(",", ".") for number in pressed] == [f"{LONGEST_PRESS_S:g}", f"{STOOD_S:g}"]


def test_a_key_tells_what_may_stand_there() -> None:
    """From the model of the file; worked out by hand for one key of each kind."""
    told = {f"{name}.{entry.name}": entry.text for name in ("recipes", "box") for entry in topic(name).entries}
    assert told["recipes.dose_mj_cm2"].endswith("Allowed: from 1 to 5000. May be left out.")
    assert told["recipes.time_guard_s"].endswith("Allowed: from 1 to 36000. Has to be given.")
    assert told["recipes.tolerance"].endswith("Allowed: from 0.02 to 1. Default: 0.1.")
    assert told["recipes.sides"].endswith("One of: one, turned, together. Has to be given.")
    assert told["recipes.note"].endswith("May be left out.")
    assert told["recipes.transmission.b"].endswith("Allowed: more than 0, at most 1. May be left out.")
    assert told["box.comforts.fan_run_on_s"].endswith("Allowed: from 0 to 3600. Default: 120.")
    assert told["box.banks.lights_when"].endswith("One of: low, high. Has to be given.")


def test_a_thing_is_found_by_its_name() -> None:
    """A key, also by its last part, a fault, a command with or without `sumlight`, a word."""
    manual = topics()
    for name, address in (
        ("dose_mj_cm2", "recipes#dose_mj_cm2"),
        ("relay_pin", "box#banks.relay_pin"),
        ("TUBE_OUT", "faults#tube_out"),
        ("panel expose", "commands#panel-expose"),
        ("sumlight panel expose", "commands#panel-expose"),
        ("held step", "words#held-step"),
        ("±", "words#uncertainty"),
    ):
        assert [place.address for place in named(manual, name)] == [address], name
    assert named(manual, "zebra") == []


def test_words_are_found_where_all_of_them_stand_titles_first() -> None:
    """Whatever their case; nothing is found for nothing, and no query is too long."""
    manual = (
        read("a", "# One\nLid and wire.\n\n## Wire\n\nBroken.\n"),
        read("b", "# Two\nwire, broken\n\n## A broken WIRE\n\nx\n"),
    )
    assert [place.address for place in find(manual, "broken wire")] == ["b#a-broken-wire", "a#wire", "b"]
    assert find(manual, "") == find(manual, " ,; ") == []
    assert find(manual, "x" * 10_000) == []
    assert len("x" * 10_000) > LONGEST_QUERY


def test_a_file_that_cannot_be_read_is_told() -> None:
    """While it is written, not at the bench."""
    with pytest.raises(ValueError, match="the first line must be"):
        read("a", "No title\n")
    with pytest.raises(ValueError, match="a heading stands twice"):
        read("a", "# A\n\n## B\n\nx\n\n## b\n\ny\n")
    with pytest.raises(KeyError):
        topic("nothing")
    with pytest.raises(KeyError):
        topic("start", "xx")


def test_a_word_is_explained_here_or_to_contributors_but_not_twice() -> None:
    """The page for contributors keeps the words that only the code knows."""
    glossary = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Glossary")[2]
    theirs = set(re.findall(r"^\| ([^|]+?) \|", glossary, re.MULTILINE)) - {"word", "---"}
    assert len(theirs) > 5
    assert {entry.title for entry in topic("words").entries} & theirs == set()
