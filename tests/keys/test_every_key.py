"""Every key of box.yaml, of recipes, of scenarios and of lamps.yaml acts, or stands on a list of words with its reason.

The keys are taken from the models of the files, so that a key added later without effect fails here.
"""

import re
import types
from collections.abc import Iterator
from typing import Any, Union, get_args, get_origin

import pytest
from pydantic import BaseModel

from sumlight.box.assembly import PinLibraryError, real_pin_factory
from sumlight.box.description import BoxDescription
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.recipe import Recipe
from sumlight.twin.events import EVENTS as KINDS
from sumlight.twin.events import Event
from sumlight.twin.scenario import Scenario
from tests.keys.changes import BOX, ELSEWHERE, EVENTS, RECIPE, SCENARIO, WORDS_ONLY, Happens, Try, event
from tests.keys.story import Change, Files, changed, files, is_told, told

MODELS = {"box": BoxDescription, "recipe": Recipe, "scenario": Scenario, "lamps": LampSettings}
TRIES = (*BOX, *RECIPE, *SCENARIO)
PIN_LIBRARY = "box.pin_library"
OWN = {happens.do: happens for happens in EVENTS}
FIELDS = [(happens, name) for happens in EVENTS for name in happens.others]


def keys_of(model: type[BaseModel], place: str) -> Iterator[str]:
    """Dotted names of all keys, those of blocks within it included."""
    for name, given in model.model_fields.items():
        inner = [kind for kind in _kinds(given.annotation) if not issubclass(kind, Event)]
        if issubclass(model, Scenario) and name == "events":
            continue  # below, kind by kind
        if not inner:
            yield f"{place}.{name}"
        for kind in inner:
            yield from keys_of(kind, f"{place}.{name}")


def _kinds(annotation: Any) -> list[type[BaseModel]]:
    """Models within an annotation such as `list[Bank]` or `Comforts | None`."""
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        return [annotation] if issubclass(annotation, BaseModel) else []
    if get_origin(annotation) in (list, Union, types.UnionType) or get_args(annotation):
        return [kind for part in get_args(annotation) for kind in _kinds(part)]
    return []


def without_numbers(place: str) -> str:
    """The key at a place of a file."""
    return re.sub(r"\.\d+", "", place)


_LIVED: dict[str, list[Any]] = {}


def base(*given: Change, two_banks: bool = False) -> list[Any]:
    """The story before the change."""
    return lived(files(*given, two_banks=two_banks))


def lived(of: Files) -> list[Any]:
    """Its whole story, lived through once."""
    name = repr(of)
    if name not in _LIVED:
        _LIVED[name] = told(of)
    return _LIVED[name]


def test_every_key_of_every_file_is_tried_or_named_as_words() -> None:
    """Neither may be missing, and no key stands here that files do not have."""
    known = {key for place, model in MODELS.items() for key in keys_of(model, place)}  # type: ignore[arg-type]
    tried = [without_numbers(change.key) for change in TRIES] + [PIN_LIBRARY]
    assert sorted([*tried, *WORDS_ONLY, *ELSEWHERE]) == sorted(known)
    assert all(len(reason) > 10 for reason in WORDS_ONLY.values())


def test_every_event_and_every_field_of_it_is_tried() -> None:
    """`at_s` and `since` are every event's alike and tried with one."""
    assert sorted(OWN) == sorted(KINDS)
    shared = {"at_s", "since"}
    for do, kind in KINDS.items():
        own = set(kind.model_fields) - {"do"} - (set() if do == "lid_opens" else shared)
        assert set(OWN[do].others) == own, do


def test_a_story_is_the_same_whenever_the_files_are() -> None:
    """Else every key would seem to act."""
    first = files(two_banks=True)
    assert told(first) == told(first)
    assert len({repr(look) for look in base()}) > 10


@pytest.mark.parametrize("key", [key for key in WORDS_ONLY if not key.endswith((".kind", "banks.name", "meters.name"))])
def test_words_change_nothing(key: str) -> None:
    """Neither light nor dose nor any pin: so a story can tell a key that does not act."""
    value = 99.0 if key.endswith("_um") else "Other words"
    assert told(changed(files(), (key, value))) == base()


@pytest.mark.parametrize("change", TRIES, ids=lambda change: change.key)
def test_the_box_acts_differently_with_another_value(change: Try) -> None:
    """As wired before: the file alone is changed."""
    before = files(*change.given, two_banks=change.two_banks)
    after_files = changed(before, (change.key, change.value), *change.with_)
    if change.refused_with:
        assert base(*change.given, two_banks=change.two_banks)
        with pytest.raises(ValueError, match=re.escape(change.refused_with)):
            told(after_files)
        return
    same = is_told(after_files, base(*change.given, two_banks=change.two_banks))
    assert not same, f"{change.key} acts on nothing"


def test_the_pin_library_decides_what_drives_the_pins() -> None:
    """`twin` never opens a real box's pins; `lgpio` is tried, and told when this machine has none."""
    with pytest.raises(PinLibraryError, match="cannot drive a real box"):
        real_pin_factory("twin")
    try:
        real_pin_factory("lgpio").close()
    except PinLibraryError as error:
        assert "cannot be opened" in str(error)  # noqa: PT017 - on a Pi it is opened


@pytest.mark.parametrize("happens", EVENTS, ids=lambda happens: happens.do)
def test_every_event_makes_a_difference(happens: Happens) -> None:
    """Against the same story without it."""
    same = is_told(_with(happens, {}), base(("scenario.events", [*happens.first, *happens.then])))
    assert not same, f"{happens.do} changes nothing"


@pytest.mark.parametrize(("happens", "name"), FIELDS, ids=lambda part: part if isinstance(part, str) else part.do)
def test_every_field_of_an_event_makes_a_difference(happens: Happens, name: str) -> None:
    """Another moment, another part, another size. Which bank or meter shows on the box with two of each."""
    two = name in ("bank", "meter")
    same = is_told(_with(happens, {name: happens.others[name]}, two), lived(_with(happens, {}, two)))
    assert not same, f"{name} of {happens.do} acts on nothing"


def _with(happens: Happens, values: dict[str, Any], two: bool = False) -> Files:
    first = list(happens.first)
    if two:  # what is put right was wrong with both
        part, names = ("bank", ("lower", "upper")) if "bank" in happens.others else ("meter", ("below", "above"))
        first = [{**one, part: name} for one in first for name in names]
    own = {**event(happens.do), **happens.values, **values}
    return files(("scenario.events", [*first, own, *happens.then]), two_banks=two)
