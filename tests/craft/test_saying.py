"""Sentences that remember what they were made from."""

from copy import deepcopy
from dataclasses import asdict, dataclass
from json import dumps

from sumlight.craft.saying import Said, say


@dataclass
class Told:
    """As answers are."""

    words: Said


def test_a_sentence_is_plain_text_to_whoever_reads_english() -> None:
    """Also as JSON and inside an error."""
    said = say("{n} g of {name}", n="5", name=say("soda"))
    assert said == "5 g of soda"
    assert dumps(said) == '"5 g of soda"'
    assert str(ValueError(said)) == "5 g of soda"


def test_a_sentence_remembers_what_it_was_made_from() -> None:
    """Also as the argument of an error and as a part of an answer that was copied."""
    said = say("{n} g of {name}", n="5", name=say("soda"))
    for kept in (said, ValueError(said).args[0], deepcopy(said), asdict(Told(said))["words"]):
        assert isinstance(kept, Said)
        assert kept.template == "{n} g of {name}"
        assert isinstance(kept.values["name"], Said)


def test_braces_in_a_text_without_values_stay() -> None:
    """Nothing to fill in."""
    assert say("a {b}") == "a {b}"
