"""What is said about dose, ± and meter is short, and in words that people at the bench know."""

import re

import pytest

from tests.wording import OTHER_NAMES, TO_BUILDERS, sentences, texts, to_read, wrong


def test_no_sentence_about_dose_and_meter_is_long_or_strange() -> None:
    """In both languages; there are hundreds of them."""
    found = list(sentences())
    assert {each.language for each in found} == {"en", "de"}
    assert len(found) > 400
    assert [f"{each.text}: {each.wrong}" for each in found if each.wrong] == []


def test_every_exception_is_still_needed() -> None:
    """And none is wide enough to let a whole subject through."""
    found = list(sentences())
    for piece in TO_BUILDERS:
        assert 1 <= sum(piece in each.text for each in found) <= 6, piece


@pytest.mark.parametrize(
    ("language", "sentence", "why"),
    [
        ("en", "The dose is ± 5 absolute.", "says 'absolute'"),
        ("en", "± 0.6 repeat (k = 2)", "says '± 0.6 repeat'"),
        ("en", "The dose " + "is " * 19, "21 words"),
        ("en", "The dose " + "is " * 18, ""),
        ("en", "Doses repeat within ± 2 %.", ""),
        ("de", "Die Dosis ist ± 5 absolut.", "says 'absolut'"),
    ],
)
def test_what_is_wrong_is_named(language: str, sentence: str, why: str) -> None:
    """The word, or how many there are."""
    assert wrong(language, sentence) == why


def test_one_thing_has_one_name() -> None:
    """Words that once stood beside the name of the house are gone from the English, wherever they were said."""
    lines = [line for text in to_read("en").values() for line in text.splitlines()]
    plain = [re.sub(r"\{.*?\}|`.*?`", "", text) for text in (*texts()["en"], *lines)]
    assert [text for text in plain if OTHER_NAMES.search(text)] == []
