"""Messages: English by themselves, a code and values wherever they go."""

import json
from copy import deepcopy
from dataclasses import asdict, dataclass

import pytest
from pydantic import TypeAdapter, ValidationError

from sumlight.text.message import Message, as_written, filled, joined, later, packed, read_stored, say, stored, unpacked


@dataclass
class Answer:
    """As answers are."""

    told: Message


def test_a_message_is_plain_text_to_whoever_reads_english() -> None:
    """Also as JSON and inside an error."""
    told = say("leg_done", number=1, count=3)
    assert told == "Round 1 of 3 is done."
    assert json.dumps(told) == '"Round 1 of 3 is done."'
    assert str(ValueError(told)) == told


def test_a_message_remembers_what_it_was_made_from() -> None:
    """Also as the argument of an error and as a part of an answer that was copied."""
    told = say("pulling_vacuum", seconds=41.7)
    for kept in (told, ValueError(told).args[0], deepcopy(told), asdict(Answer(told))["told"]):
        assert isinstance(kept, Message)
        assert (kept.code, kept.values) == ("pulling_vacuum", {"seconds": 41.7})
    assert told.startswith("Pulling vacuum, 42 s.")


def test_it_crosses_the_wire_as_code_and_values_and_comes_back() -> None:
    """Messages within messages too; what else is in the answer stays as it was."""
    told = joined(say("lid_was_opened"), say("fault_standing", title=as_written("t"), remedy=say("dose_is_kept")))
    line = json.dumps(packed({"told": [told], "n": 1.5, "none": None}))
    assert '"code": "lid_was_opened"' in line
    assert "The lid was opened." not in line
    back = unpacked(json.loads(line))
    assert back == {"told": [told], "n": 1.5, "none": None}
    assert packed(back) == json.loads(line)


def test_a_message_of_a_newer_version_is_told_by_its_code() -> None:
    """No word is lost, nothing fails."""
    assert unpacked({"code": "not_yet_invented", "values": {"n": 2}}) == "not_yet_invented: n 2"
    assert unpacked({"code": "leg_done", "values": {"number": 1}}) == "leg_done: number 1"
    assert unpacked({"code": "refused", "values": {}, "more": 1}) == {"code": "refused", "values": {}, "more": 1}


def test_nothing_joined_leaves_nothing() -> None:
    """And one alone stays itself."""
    lid = say("lid_was_opened")
    assert joined(as_written(""), lid) is lid
    assert joined() == ""


def test_lists_are_filled_in_with_what_the_words_put_between() -> None:
    """A comma where they say nothing."""
    assert filled("{a} / {a: and }", {"a": ["x", say("dose_is_kept")]}) == (
        "x, The dose so far is kept. / x and The dose so far is kept."
    )


def test_a_field_of_a_message_takes_nothing_else() -> None:
    """A plain text on the wire would be untranslatable: it is refused."""
    told = TypeAdapter(Message)
    assert told.validate_json('{"code": "dose_is_kept", "values": {}}') == "The dose so far is kept."
    for wrong in (
        '"The dose so far is kept."',
        '{"code": "no_such", "values": {}}',
        '{"code": "leg_done", "values": {}}',
    ):
        with pytest.raises(ValidationError):
            told.validate_json(wrong)


def test_words_that_want_another_value_are_refused_at_once() -> None:
    """A misspelt value is a mistake of the program."""
    with pytest.raises(KeyError, match="count"):
        say("leg_done", number=1)


def test_what_is_kept_for_later_needs_no_words_until_it_is_said() -> None:
    """Where something has to be dark first, nothing about words may stand in the way; a mistake in them neither."""
    assert later("leg_done", number=3, count=9).said() == say("leg_done", number=3, count=9)
    assert later("no_such_code", bank="lower").said() == "no_such_code: bank lower"


def test_a_stored_message_comes_back_with_its_code() -> None:
    """What an earlier version wrote in English stays as it was written, even if it looks like JSON."""
    told = say("fault_standing", title=say("fault_no_light_title"), remedy=as_written("ä {x}"))
    again = read_stored(stored(told))
    assert (again, again.code, again.values) == (told, told.code, told.values)
    for old in ("bank lower: no light", "", "[1]", '{"code": 1, "values": {}}', "7"):
        assert (read_stored(old), read_stored(old).code) == (old, "as_written")
