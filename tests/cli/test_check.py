"""`sumlight setup check`, and every example file of the repository."""

from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.twin import demo

ROOT = Path(__file__).parents[2]


def test_every_example_file_of_the_repository_is_usable(capsys: pytest.CaptureFixture[str]) -> None:
    """Boxes, recipes and scenarios, found by pattern so that a new one cannot be forgotten."""
    boxes = [*ROOT.glob("hardware/*.yaml"), *demo.DEMO.glob("box*.yaml")]
    scenarios = list(demo.DEMO.glob("scenario*.yaml"))
    assert len(boxes) >= 3
    assert scenarios
    for box in boxes:
        assert main(["setup", "check", "--box", str(box)]) == 0
    for scenario in scenarios:
        assert main(["setup", "check", "--scenario", str(scenario)]) == 0
    assert main(["setup", "check", "--box", str(demo.TWO_BANK_BOX), "--recipes", str(demo.RECIPES)]) == 0
    assert "usable" in capsys.readouterr().out


def test_check_tells_what_a_box_cannot_run(capsys: pytest.CaptureFixture[str]) -> None:
    """A recipe for two banks against the one-bank box."""
    assert main(["setup", "check", "--box", str(demo.BOX), "--recipes", str(demo.RECIPES)]) == 1
    printed = capsys.readouterr()
    assert "together-25.yaml: sides: 'together' lights both sides at once" in printed.err
    assert "blue-38.yaml: usable" in printed.out


def test_check_of_nothing_says_what_to_name(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty check would pass for the wrong reason."""
    assert main(["setup", "check"]) == 2
    assert "name --box, --recipe, --recipes or --scenario" in capsys.readouterr().err


REAL_BOX = (ROOT / "hardware" / "box.yaml").read_text()


@pytest.mark.parametrize(
    ("old", "new", "field", "words"),
    [
        ("relay_pin: 17", "relay_pin: 14", "banks[0].relay_pin", "GPIO 14 sends the text of the serial console"),
        ("shut_pin: 23", "shut_pin: 15", "lid.shut_pin", "GPIO 15 receives the text of the serial console"),
        ("lights_when: high", "lights_when: low", "banks[0].relay_pin", "GPIO 17 is pulled down while the Pi starts"),
        ("relay_pin: 17", "relay_pin: 8", "banks[0].relay_pin", "GPIO 8 is pulled up while the Pi starts"),
        ("fan_pin: 12", "fan_pin: 7", "comforts.fan_pin", "GPIO 7 is pulled up while the Pi starts"),
        ("i2c_bus: 1 ", "i2c_bus: 3 ", "meters[0].i2c_bus", "bus 3 has no pins of its own on the header"),
        ("i2c_bus: 1 ", "i2c_bus: 0 ", "meters[0].i2c_bus", "bus 0 belongs to the board's identity chip"),
        (
            "i2c_bus: 1 ",
            "i2c_sda_pin: 6\n    i2c_scl_pin: 13\n    i2c_bus: 1 ",
            "meters[0].i2c_bus",
            "bus 1 is wired to GPIO 2 and 3",
        ),
        (
            "i2c_bus: 1 ",
            "i2c_sda_pin: 6\n    i2c_scl_pin: 6\n    i2c_bus: 3 ",
            "meters[0].i2c_bus",
            "both GPIO 6",
        ),
        (
            "i2c_bus: 1 ",
            "i2c_sda_pin: 14\n    i2c_scl_pin: 13\n    i2c_bus: 3 ",
            "meters[0].i2c_sda_pin",
            "serial console",
        ),
    ],
)
def test_check_refuses_a_pin_that_is_dangerous_before_the_program_runs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, field: str, words: str
) -> None:
    """Levels after a reset as in the BCM2835's peripheral manual; one message, with field and way out."""
    assert REAL_BOX.count(old) == 1
    path = tmp_path / "box.yaml"
    path.write_text(REAL_BOX.replace(old, new))
    assert main(["setup", "check", "--box", str(path)]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert f"{field}: " in line
    assert words in line


@pytest.mark.parametrize("pin", [2, 3])
@pytest.mark.parametrize(("old", "field"), [("enable_pin: 25", "enable_pin"), ("relay_pin: 17", "banks[0].relay_pin")])
def test_check_refuses_an_output_on_the_boards_own_pull_ups(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pin: int, old: str, field: str
) -> None:
    """With the meter on another bus the pins are free, and yet no rest level for a relay or the heartbeat."""
    text = REAL_BOX.replace("i2c_bus: 1 ", "i2c_sda_pin: 6\n    i2c_scl_pin: 13\n    i2c_bus: 3 ")
    path = tmp_path / "box.yaml"
    path.write_text(text.replace(old, f"{old.split()[0]} {pin}"))
    assert main(["setup", "check", "--box", str(path)]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert f"{field}: GPIO {pin} belongs to the I2C bus" in line


@pytest.mark.parametrize("pin", [4, 5, 6, 7, 8])
def test_check_lets_a_relay_that_closes_on_low_rest_on_a_pin_that_is_pulled_up(tmp_path: Path, pin: int) -> None:
    """The rule is about polarity, not about one kind of relay."""
    text = REAL_BOX.replace("over_temperature_pin: 5", "over_temperature_pin: 13")
    path = tmp_path / "box.yaml"
    path.write_text(text.replace("lights_when: high", "lights_when: low").replace("relay_pin: 17", f"relay_pin: {pin}"))
    assert main(["setup", "check", "--box", str(path)]) == 0


def test_check_takes_a_second_bus_with_its_pins_and_sees_them_used_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Named pins of a bus count like any other."""
    path = tmp_path / "box.yaml"
    path.write_text(REAL_BOX.replace("i2c_bus: 1 ", "i2c_sda_pin: 6\n    i2c_scl_pin: 13\n    i2c_bus: 3 "))
    assert main(["setup", "check", "--box", str(path)]) == 0
    path.write_text(REAL_BOX.replace("i2c_bus: 1 ", "i2c_sda_pin: 6\n    i2c_scl_pin: 25\n    i2c_bus: 3 "))
    assert main(["setup", "check", "--box", str(path)]) == 1
    assert "enable_pin: GPIO 25 already serves I2C bus 3" in capsys.readouterr().err
