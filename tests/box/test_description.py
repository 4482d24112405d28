"""box.yaml: every mistake is told with file, line, field and what is allowed."""

from pathlib import Path

import pytest

from sumlight.box.description import BoxDescription, load_box
from sumlight.checkedfile import FileProblemsError
from sumlight.twin import demo
from tests.box.parts import changed, demo_text, write


def told(folder: Path, text: str) -> list[str]:
    """The messages about this text, without the path in front."""
    path = write(folder, text)
    with pytest.raises(FileProblemsError) as error:
        load_box(path)
    lines = str(error.value).splitlines()
    assert all(line.startswith(str(path)) for line in lines)
    return [line.removeprefix(str(path)).removeprefix(", ") for line in lines]


def line_of(text: str, part: str) -> int:
    """The number of the line that holds `part`."""
    return next(number for number, line in enumerate(text.splitlines(), 1) if part in line)


@pytest.mark.parametrize("path", [demo.BOX, demo.TWO_BANK_BOX])
def test_the_demo_boxes_are_good(path: Path) -> None:
    """As they are shipped."""
    box = load_box(path)
    assert isinstance(box, BoxDescription)
    for bank in box.banks:
        assert box.meter_of(bank).name == bank.meter
        assert box.bank_for(bank.side) == bank


def test_an_unknown_key_is_told_with_the_known_ones(tmp_path: Path) -> None:
    """A misspelt key must not be passed over."""
    text = changed(demo_text(), ("relay_pin: 17", "relay_pim: 17"))
    unknown, missing = sorted(told(tmp_path, text), key=lambda words: "missing" in words)
    line = line_of(text, "relay_pim")
    assert unknown.startswith(f"line {line}: banks[0].relay_pim: unknown key; known here: name, side, relay_pin")
    assert missing.endswith("banks[0].relay_pin: is missing and has no default")


def test_a_missing_limit_stops_the_start(tmp_path: Path) -> None:
    """Limits that guard people have no default."""
    for name in ("strike_limit_s", "lit_limit_s", "bridge_limit_s", "dark_limit_mw_cm2", "drop_limit"):
        text = "\n".join(line for line in demo_text().splitlines() if f" {name}:" not in line)
        (message,) = told(tmp_path, text)
        assert message == f"line {line_of(text, 'limits:')}: limits.{name}: is missing and has no default"


@pytest.mark.parametrize(
    ("old", "new", "field", "other"),
    [
        ("shut_pin: 23", "shut_pin: 17", "lid.shut_pin", "banks[0].relay_pin"),
        ("open_pin: 24", "open_pin: 23", "lid.open_pin", "lid.shut_pin"),
        ("enable_pin: 25", "enable_pin: 24", "enable_pin", "lid.open_pin"),
        ("relay_pin: 17", "relay_pin: 2", "banks[0].relay_pin", "I2C bus 1"),
        ("enable_pin: 25", "enable_pin: 3", "enable_pin", "I2C bus 1"),
    ],
)
def test_a_pin_used_twice_is_told_with_its_other_use(
    tmp_path: Path, old: str, new: str, field: str, other: str
) -> None:
    """At the line of the second use; the pins of the I2C bus count as used."""
    text = changed(demo_text(), (old, new))
    pin = new.split()[-1]
    assert told(tmp_path, text) == [
        f"line {line_of(text, new)}: {field}: GPIO {pin} already serves {other}; every pin may serve once"
    ]


def test_the_pins_of_a_bus_that_is_not_used_are_free(tmp_path: Path) -> None:
    """With the meter on bus 3, GPIO 2 is a pin like any other."""
    text = changed(demo_text(), ("relay_pin: 17", "relay_pin: 2"), ("i2c_bus: 1", "i2c_bus: 3"))
    assert load_box(write(tmp_path, text)).banks[0].relay_pin == 2


@pytest.mark.parametrize("pin", [0, 1, 28, 40, -1, 1000])
def test_a_number_that_is_no_gpio_of_the_header_is_told(tmp_path: Path, pin: int) -> None:
    """0 and 1 belong to the board itself, beyond 27 there is nothing."""
    text = changed(demo_text(), ("relay_pin: 17", f"relay_pin: {pin}"))
    (message,) = told(tmp_path, text)
    assert message.startswith(f"line {line_of(text, 'relay_pin')}: banks[0].relay_pin: input should be ")
    assert message.endswith(f"(given: {pin})")
    assert ("2" if pin < 2 else "27") in message


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("relay_pin: 17", "relay_pin: GPIO17", "banks[0].relay_pin", "integer"),
        ("relay_pin: 17", 'relay_pin: "17"', "banks[0].relay_pin", "integer"),
        ("relay_pin: 17", "relay_pin: 17.0", "banks[0].relay_pin", "integer"),
        ("relay_pin: 17", "relay_pin: yes", "banks[0].relay_pin", "integer"),
        ("lights_when: low", "lights_when: 0", "banks[0].lights_when", "'low', 'high'"),
        ("side: A", "side: C", "banks[0].side", "'A', 'B'"),
        ("pin_library: twin", "pin_library: pigpio", "pin_library", "'lgpio', 'twin'"),
        ("kind: as7341", "kind: tsl2591", "meters[0].kind", "'as7341'"),
        ("i2c_address: 0x39", "i2c_address: 0x80", "meters[0].i2c_address", "119"),
        ("drop_limit: 0.1", "drop_limit: 10", "limits.drop_limit", "less than 0.9"),
        ("bridge_limit_s: 0.5", "bridge_limit_s: .nan", "limits.bridge_limit_s", "plain decimal"),
        ("bridge_limit_s: 0.5", "bridge_limit_s: 5", "limits.bridge_limit_s", "less than or equal to 2"),
        ("disagreement_limit_s: 0.5", "disagreement_limit_s: 0", "lid.disagreement_limit_s", "greater than 0"),
        ("name: lower", "name: Lower bank", "banks[0].name", "pattern"),
    ],
)
def test_a_value_of_the_wrong_kind_is_told_with_what_is_allowed(
    tmp_path: Path, old: str, new: str, field: str, words: str
) -> None:
    """No silent conversions."""
    text = changed(demo_text(), (old, new))
    (message,) = told(tmp_path, text)
    assert message.startswith(f"line {line_of(text, new)}: {field}: ")
    assert words in message
    assert "(given: " in message


def test_two_meters_at_one_address_are_told(tmp_path: Path) -> None:
    """The one kind of sensor has a fixed address, the other a choice of four."""
    text = changed(demo_text(two_banks=True), ("i2c_bus: 3", "i2c_bus: 1"))
    (message,) = told(tmp_path, text)
    line = [number for number, words in enumerate(text.splitlines(), 1) if "i2c_bus: 1" in words][1]
    assert message == (
        f"line {line}: meters[1].i2c_bus: both meters sit at the same bus and address; "
        "an AS7341 has one fixed address, so use two buses"
    )
    (message,) = told(tmp_path, text.replace("as7341", "as7331").replace("0x39", "0x74"))
    assert message.endswith("; give one AS7331 another address by its address pins, or use two buses")


def test_banks_that_share_what_each_needs_alone_are_told(tmp_path: Path) -> None:
    """Name, side and meter, all three at once, each at its line."""
    text = changed(
        demo_text(two_banks=True),
        ("name: upper", "name: lower"),
        ("side: B", "side: A"),
        ("meter: above", "meter: below"),
    )
    messages = told(tmp_path, text)
    assert [message.split(": ")[1] for message in messages] == ["banks[1].name", "banks[1].side", "banks[1].meter"]
    assert all("each bank needs its own" in message for message in messages)


def test_a_bank_with_an_unknown_meter_is_told_the_known_ones(tmp_path: Path) -> None:
    """By its line."""
    text = changed(demo_text(), ("meter: below", "meter: attic"))
    assert told(tmp_path, text) == [
        f"line {line_of(text, 'meter: attic')}: banks[0].meter: no meter is called 'attic'; there is below"
    ]


def test_a_single_bank_is_side_a(tmp_path: Path) -> None:
    """Side B alone is refused."""
    text = changed(demo_text(), ("side: A", "side: B"))
    assert told(tmp_path, text) == [
        f"line {line_of(text, 'banks:')}: banks: none lights side A; a single bank is always side A"
    ]


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("banks", "at least 1"),
        ("meters", "at least 1"),
    ],
)
def test_a_box_without_banks_or_meters_is_told(tmp_path: Path, part: str, words: str) -> None:
    """There is nothing to do with it."""
    lines = demo_text().splitlines()
    begin = lines.index(f"{part}:")
    end = next(n for n in range(begin + 1, len(lines)) if not lines[n].startswith(" "))
    text = "\n".join([*lines[:begin], f"{part}: []", *lines[end:]])
    messages = told(tmp_path, text)
    assert any(message.startswith(f"line {begin + 1}: {part}: ") and words in message for message in messages)


def test_three_mistakes_are_told_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    """The whole message, as a person sees it."""
    text = changed(
        demo_text(),
        ("lights_when: low ", "lights_when: off "),
        ("open_pin: 24", "open_pim: 24"),
        ("drop_limit: 0.1", "drop_limit: none"),
    )
    low, pim, drop = (line_of(text, part) for part in ("lights_when", "open_pim", "drop_limit"))
    lid = line_of(text, "lid:")
    path = write(tmp_path, text)
    with pytest.raises(FileProblemsError) as error:
        load_box(path)
    assert str(error.value) == "\n".join(
        [
            f"{path}, line {low}: banks[0].lights_when: input should be one of 'low', 'high' (given: False)",
            f"{path}, line {lid}: lid.open_pin: is missing and has no default",
            f"{path}, line {pim}: lid.open_pim: unknown key; known here: shut_pin, open_pin, disagreement_limit_s",
            f"{path}, line {drop}: limits.drop_limit: input should be a valid number (given: 'none')",
        ]
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "must hold `key: value` lines"),
        ("- a\n- b\n", "must hold `key: value` lines"),
        ("name: [\n", "not valid YAML"),
        ("name: a\nname: b\n", "stands twice"),
    ],
)
def test_a_file_that_is_no_box_at_all_is_told(tmp_path: Path, text: str, words: str) -> None:
    """Without a trace of the program."""
    assert any(words in message for message in told(tmp_path, text))


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    """By its path."""
    with pytest.raises(FileProblemsError, match=r"nowhere\.yaml"):
        load_box(tmp_path / "nowhere.yaml")


def test_traces_are_kept_for_good_unless_a_rule_says_otherwise(tmp_path: Path) -> None:
    """A rule that would remove this month's work is refused at its line."""
    assert load_box(write(tmp_path, demo_text())).logbook.keep_traces_days is None
    rule = "\nlogbook: {keep_traces_days: 730}\n"
    assert load_box(write(tmp_path, demo_text() + rule)).logbook.keep_traces_days == 730
    (message,) = told(tmp_path, demo_text() + rule.replace("730", "29"))
    assert "logbook.keep_traces_days: input should be greater than or equal to 30 (given: 29)" in message
    (message,) = told(tmp_path, demo_text() + rule.replace("730", "1.5"))
    assert "valid integer" in message
