"""What the manual takes from the program instead of saying it a second time: bounds of keys, faults, cautions."""

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sumlight.bounds import bounds_of, choices_of
from sumlight.box.description import BoxDescription
from sumlight.craft.chemistry import hazards
from sumlight.manual.entry import Entry, Told
from sumlight.protocol.snapshot import ONLY_TOLD
from sumlight.store.recipe import Recipe
from sumlight.text.faults import TOLD
from sumlight.text.message import Message, as_written, say, say_named

KEYS: dict[str, type[BaseModel]] = {"recipes": Recipe, "box": BoxDescription}
"""The model behind the keys of a topic."""

PARAGRAPH = "\n\n"


def with_facts(topic: str, entry: Entry, told: Told) -> str:
    """The text of an entry, and for a key what may stand there, as the model has it."""
    facts = " ".join(told(fact) for fact in _facts(topic, entry.name))
    return PARAGRAPH.join(part for part in (entry.text, facts) if part)


def more_entries(topic: str, told: Told) -> Iterator[Entry]:
    """Entries of a topic that are made from tables of the program."""
    if topic == "faults":
        yield from _faults(told)
    elif topic == "baths":
        yield from _baths(told)


def _facts(topic: str, key: str) -> Iterator[Message]:
    model = KEYS.get(topic)
    found = _field(model, key) if model else None
    if found is None:
        return
    owner, name, field = found
    allowed = bounds_of(owner, name).in_words()
    try:
        yield say("manual_one_of", known=[as_written(str(word)) for word in choices_of(owner, name)])
    except (KeyError, StopIteration):
        if allowed:
            yield say("manual_allowed", allowed=allowed)
    if field.is_required():
        yield say("manual_required")
    elif field.default in (None, ""):
        yield say("manual_left_out")
    else:
        value = field.default
        yield say("manual_default", value=as_written(f"{value:g}" if isinstance(value, int | float) else str(value)))


def _field(model: Any, key: str) -> tuple[Any, str, FieldInfo] | None:
    """The model that holds a dotted key, the key's own name, and what the model says of it."""
    name, _, rest = key.partition(".")
    field = model.model_fields.get(name)
    if field is None or not rest:
        return None if field is None else (model, name, field)
    inner = next((part for part in _parts(field.annotation) if hasattr(part, "model_fields")), None)
    return None if inner is None else _field(inner, rest)


def _parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _parts(inner)


def _faults(told: Told) -> Iterator[Entry]:
    for fault in TOLD:
        title, seen, remedy = (say_named(f"fault_{fault}_{part}") for part in ("title", "seen", "remedy"))
        happens = say("fault_is_told") if fault in ONLY_TOLD else say("fault_darkens")
        lines = (
            say("manual_seen", seen=seen),
            say("manual_remedy", remedy=remedy),
            say("manual_happens", happens=happens),
            say("manual_clears", clears=say("fault_clears_by")),
            say("manual_named", name=as_written(fault)),
        )
        yield Entry(fault, told(title), PARAGRAPH.join(told(line) for line in lines))


def _baths(told: Told) -> Iterator[Entry]:
    for kind in hazards.KINDS:
        yield Entry(kind, _capital(told(hazards.NAMES[kind])), _list([told(one) for one in hazards.CAUTIONS[kind]]))
    apart = [
        f"{_capital(told(say('never_with', ones=_named(ones), others=_named(others))))}: {told(why)}."
        for ones, others, why in hazards.groups_apart()
    ]
    yield Entry("never-meet", told(say("never_meet_title")), _list(apart))
    container = hazards.container(hazards.KINDS[0])
    waste = f"{_capital(told(say('waste_container', vessel=container.vessel)))} {told(hazards.WASTE_WORDS)}"
    yield Entry("waste", told(say("waste_title")), waste)


def _named(liquids: tuple[str, ...]) -> list[Message]:
    return [hazards.NAMES[liquid] for liquid in liquids]


def _list(lines: list[str]) -> str:
    return "\n".join(f"- {line}" for line in lines)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
