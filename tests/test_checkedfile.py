"""Hand-edited files: every mistake is told with file, line, field, value and what is allowed."""

import re
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Literal, Self

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, Field, model_validator

from sumlight import checkedfile
from sumlight.box.description import BoxDescription
from sumlight.checkedfile import Checked, FileProblemsError, MistakesError, parse
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.recipe import Recipe
from sumlight.twin import demo
from sumlight.twin.scenario import Scenario
from tests.control.bench_box import recipe_text
from tests.real_box import REAL_BOX


class Opens(Checked):
    """One kind of event."""

    do: Literal["opens"]
    at_s: float


class Fails(Checked):
    """Another kind of event."""

    do: Literal["fails"]
    at_s: float
    tubes: Annotated[int, Field(ge=1)]


class Part(Checked):
    """A part with a number."""

    pin: Annotated[int, Field(ge=2, le=27)]
    label: str = ""


class Whole(Checked):
    """A file with all that files of this project have."""

    name: Annotated[str, Field(min_length=1)]
    parts: list[Part] = Field(default=[])
    spare: Part | None = None
    speed_m_s: Annotated[float, Field(gt=0)] = 1.0
    events: list[Annotated[Opens | Fails, Field(discriminator="do")]] = Field(default=[])

    @model_validator(mode="after")
    def _pins_differ(self) -> Self:
        pins = [part.pin for part in self.parts]
        if len(set(pins)) < len(pins):
            raise MistakesError([(("parts", len(pins) - 1, "pin"), "the same pin twice")])
        if self.name == "nameless":
            raise ValueError("give it a name")
        return self


def told(text: str) -> str:
    """The whole message about a text."""
    with pytest.raises(FileProblemsError) as caught:
        checkedfile.parse(text, Whole, "whole.yaml")
    return str(caught.value)


def test_a_correct_file_becomes_a_model(tmp_path: Path) -> None:
    """From the disk, with nested parts and defaults."""
    file = tmp_path / "whole.yaml"
    file.write_text("name: ü\nparts:\n- pin: 4\n- {pin: 5, label: five}\nevents:\n- {do: opens, at_s: 3}\n")
    whole = checkedfile.load(file, Whole)
    assert whole.parts == [Part(pin=4), Part(pin=5, label="five")]
    assert whole.events == [Opens(do="opens", at_s=3)]
    assert (whole.name, whole.speed_m_s) == ("ü", 1.0)


def test_all_mistakes_of_a_file_are_told_at_once() -> None:
    """The whole text, in the order of the file."""
    text = """\
nam: box
speed_m_s: -3
parts:
- pin: 4
  lable: four
- pin: 99
- label: five
- 7
spare: [1]
events:
- {do: opens, at_s: soon}
- do: fails
  at_s: 3
  tube: 2
- at_s: 2
- do: explodes
"""
    assert told(text) == (
        "whole.yaml, line 1: name: is missing and has no default\n"
        "whole.yaml, line 1: nam: unknown key; known here: name, parts, spare, speed_m_s, events\n"
        "whole.yaml, line 2: speed_m_s: input should be greater than 0 (given: -3)\n"
        "whole.yaml, line 5: parts[0].lable: unknown key; known here: pin, label\n"
        "whole.yaml, line 6: parts[1].pin: input should be less than or equal to 27 (given: 99)\n"
        "whole.yaml, line 7: parts[2].pin: is missing and has no default\n"
        "whole.yaml, line 8: parts[3]: needs keys of its own: pin, label (given: 7)\n"
        "whole.yaml, line 9: spare: needs keys of its own: pin, label\n"
        "whole.yaml, line 11: events[0].at_s: input should be a valid number (given: 'soon')\n"
        "whole.yaml, line 12: events[1].tubes: is missing and has no default\n"
        "whole.yaml, line 14: events[1].tube: unknown key; known here: do, at_s, tubes\n"
        "whole.yaml, line 15: events[2].do: is missing and has no default\n"
        "whole.yaml, line 16: events[3].do: should be one of 'opens', 'fails' (given: 'explodes')"
    )


def test_of_very_many_mistakes_twenty_are_told() -> None:
    """The last of them counts the rest; handed on, it stays so."""
    with pytest.raises(FileProblemsError) as caught:
        checkedfile.parse("pin: 4\n" + "".join(f"k{n}: 1\n" for n in range(57)), Part, "part.yaml")
    problems = caught.value.problems
    assert [problem.line for problem in problems] == list(range(2, 22))
    assert problems[-1].message == "and 38 more mistakes from here on; mend the others first"
    assert FileProblemsError(problems).problems == problems


def test_a_repeated_key_is_told_with_both_lines() -> None:
    """Plain YAML would let the last one win in silence."""
    assert told("name: a\nparts:\n- pin: 4\n  pin: 5\nname: b\n") == (
        "whole.yaml, line 4: parts[0].pin: stands twice, first on line 3\n"
        "whole.yaml, line 5: name: stands twice, first on line 1"
    )


def test_a_mistake_across_fields_points_at_its_place() -> None:
    """As the model's own check asks."""
    assert told("name: a\nparts:\n- pin: 4\n- pin: 4\n") == ("whole.yaml, line 4: parts[1].pin: the same pin twice")
    assert told("name: nameless") == "whole.yaml, line 1: give it a name"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "whole.yaml: must hold `key: value` lines"),
        ("# only a remark\n", "whole.yaml: must hold `key: value` lines"),
        ("- name\n", "whole.yaml: must hold `key: value` lines"),
        ("name: [a\n", "whole.yaml, line 2: is not valid YAML: expected ',' or ']', but got '<stream end>'"),
        (
            "name: a\n\tparts: []\n",
            "whole.yaml, line 2: is not valid YAML: found character '\\t' that cannot start any token",
        ),
        ("name: a\n---\nname: b\n", "whole.yaml, line 2: is not valid YAML: but found another document"),
        (
            "name: &x a\nparts: *x\n",
            "whole.yaml, line 2: aliases (*name) are not used here; write it out",
        ),
        ("name: a\nspeed_m_s: !!int ''\n", "whole.yaml, line 2: tags (!name) are not used here; write it out"),
        ("name: a\nspare: !!bool x\n", "whole.yaml, line 2: tags (!name) are not used here; write it out"),
        (
            "name: a\nlabel: b\x07\n",
            "whole.yaml, line 2: holds a character that YAML does not allow (#x0007); remove it",
        ),
        ("name: a\n1: b\n", "whole.yaml, line 2: '1' is not a word that can be a key; quote it or remove it"),
        (
            "name: a\nparts:\n- on: b\n",
            "whole.yaml, line 3: parts[0]: 'on' is not a word that can be a key; quote it or remove it",
        ),
        ("name: a\n<<: {}\n", "whole.yaml, line 2: '<<' is not a word that can be a key; quote it or remove it"),
        (
            "name: a\n? [b]\n: c\n",
            "whole.yaml, line 2: a list or a mapping is not a word that can be a key; quote it or remove it",
        ),
        (
            "name: 2026-99-99\n",
            "whole.yaml, line 1: name: cannot be read: month must be in 1..12 (given: '2026-99-99')",
        ),
        ("name: =\n", "whole.yaml, line 1: name: cannot be read; put it in quotes (given: '=')"),
        ("name:\n  " + "[" * 60_000, "whole.yaml, line 2: is nested more than 20 deep"),
        ("name:\n  " + "- " * 30_000, "whole.yaml, line 2: is nested more than 20 deep"),
    ],
)
def test_a_text_that_is_not_plain_yaml_is_told_in_one_line(text: str, message: str) -> None:
    """Never a traceback, and the line where there is one."""
    assert told(text) == message


def test_a_number_of_absurd_length_is_told_and_cut() -> None:
    """Neither an endless message nor a crash."""
    message = told("name: a\nspeed_m_s: " + "9" * 5000)
    assert message.startswith("whole.yaml, line 2: speed_m_s: is not written as a plain decimal (given: 9")
    assert len(message) < 300


def test_a_file_that_is_absent_too_large_or_not_text_is_told(tmp_path: Path) -> None:
    """With its path, since there is no line."""
    file = tmp_path / "whole.yaml"
    with pytest.raises(FileProblemsError) as absent:
        checkedfile.load(file, Whole)
    file.write_bytes(b"name: \xff\n")
    with pytest.raises(FileProblemsError) as latin:
        checkedfile.load(file, Whole)
    file.write_bytes(b"#" * (checkedfile.MAX_BYTES + 1))
    with pytest.raises(FileProblemsError) as large:
        checkedfile.load(file, Whole)
    assert [str(caught.value) for caught in (absent, latin, large)] == [
        f"{file}: cannot be read: No such file or directory",
        f"{file}: is not UTF-8 text (byte 6); save it as UTF-8",
        f"{file}: is larger than 64 KiB, more than such a file needs",
    ]


@given(st.text(st.sampled_from("name:parts -pi\n{}[]'\"!&*|>?#%@0129.\t"), max_size=60) | st.text(max_size=40))
def test_no_text_whatever_raises_anything_else(text: str) -> None:
    """Any text is a model or a list of mistakes."""
    with suppress(FileProblemsError):
        checkedfile.parse(text, Whole, "whole.yaml")


@pytest.mark.parametrize(
    ("written", "taken"),
    [
        ("060", "48"),
        ("1:10.5", "70.5"),
        ("1:10", "70"),
        ("0x3C", "60"),
        ("6_0", "60"),
        ("0b11", "3"),
        ("060.0", "60.0"),
        (".5", "0.5"),
        ("5.", "5.0"),
        ("6.0e+1", "60.0"),
        (".inf", "inf"),
        ("-.inf", "-inf"),
        (".nan", "nan"),
        ("1.0e+400", "inf"),
        ("1" * 40, "1" * 40),
    ],
)
def test_a_number_that_is_no_plain_decimal_is_refused_with_what_yaml_makes_of_it(written: str, taken: str) -> None:
    """What YAML 1.1 makes of these is in its specification (yaml.org/type/int.html, float.html: base 8, base 60)."""
    with pytest.raises(FileProblemsError) as found:
        parse(f"replace_at_percent: {written}\n", LampSettings, "lamps.yaml")
    told = str(found.value)
    assert told.startswith("lamps.yaml, line 1: replace_at_percent: is not written as a plain decimal (given: ")
    assert f"YAML would take it for {taken})" in told
    assert "Write a number like 60" in told


@pytest.mark.parametrize("written", ["1e400", "0o17", "6,0", "1e3", "+.5", "0b2", "0x"])
def test_what_yaml_takes_for_text_is_no_number_either(written: str) -> None:
    """Other readers of YAML, of version 1.2, take some of these for numbers."""
    with pytest.raises(FileProblemsError, match="replace_at_percent: "):
        parse(f"replace_at_percent: {written}\n", LampSettings, "lamps.yaml")


def test_only_an_address_on_the_bus_may_be_hexadecimal() -> None:
    """0x39 in the box's file is what the data sheet says; a pin is a plain number."""
    text = demo.BOX.read_text(encoding="utf-8")
    assert parse(text, BoxDescription, "box.yaml").meters[0].i2c_address == 0x39
    for wrong in (
        text.replace("i2c_bus: 1", "i2c_bus: 0x1"),
        text.replace("i2c_address: 0x39", "i2c_address: 071"),
        text.replace("i2c_address: 0x39", "i2c_address: 5_7"),
    ):
        assert wrong != text
        with pytest.raises(FileProblemsError, match="is not written as a plain decimal"):
            parse(wrong, BoxDescription, "box.yaml")


@pytest.mark.parametrize(
    ("text", "model"),
    [
        (REAL_BOX.read_text(encoding="utf-8"), BoxDescription),
        (demo.BOX.read_text(encoding="utf-8"), BoxDescription),
        (recipe_text(sides="turned", dose_mj_cm2=20), Recipe),
    ],
    ids=["real box", "demo box", "recipe"],
)
def test_no_other_key_of_a_file_may_be_hexadecimal(text: str, model: type[BaseModel]) -> None:
    """Every whole number that stands there, one after the other."""
    parse(text, model, "file.yaml")
    found = list(re.finditer(r"^[^#\n]*?(\w+): ([0-9]+)(?=[ ,}\n])", text, re.MULTILINE))
    assert len(found) >= 5
    for number in found:
        key, value = number.group(1), int(number.group(2))
        odd = f"{text[: number.start(2)]}{value:#x}{text[number.end(2) :]}"
        with pytest.raises(FileProblemsError, match=f"{key}: is not written as a plain decimal"):
            parse(odd, model, "file.yaml")


def test_scenarios_are_read_in_the_same_way() -> None:
    """`at_s: 1:30` would be ninety seconds."""
    with pytest.raises(FileProblemsError, match=r"events\[0\].at_s: is not written as a plain decimal"):
        parse("events:\n- {at_s: 1:30, do: lid_opens}\n", Scenario, "s.yaml")
