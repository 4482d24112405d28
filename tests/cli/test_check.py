"""`sumlight setup check`, and every example file of the repository."""

from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.twin import demo
from tests.real_box import other_box

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


def test_check_says_when_the_box_cuts_a_recipes_guard(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The recipe stays usable, but what counts is said."""
    recipe = (demo.RECIPES / "blue-38.yaml").read_text(encoding="utf-8")
    long = tmp_path / "long.yaml"
    lines = [line for line in recipe.splitlines() if not line.startswith("time_guard_s")]
    long.write_text("\n".join([*lines, "time_guard_s: 3000"]) + "\n", encoding="utf-8")
    assert main(["setup", "check", "--box", str(demo.BOX), "--recipe", str(long)]) == 0
    printed = capsys.readouterr().out
    assert "long.yaml: usable, but time_guard_s is 3000 s" in printed
    assert "allows 1800 s" in printed


def test_check_of_nothing_says_what_to_name(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty check would pass for the wrong reason."""
    assert main(["setup", "check"]) == 2
    assert "name --box, --recipe, --recipes or --scenario" in capsys.readouterr().err


SECOND_BUS = ("i2c_bus: 1 ", "i2c_sda_pin: 6\n    i2c_scl_pin: 13\n    i2c_bus: 3 ")
"""The light sensor on pins of its own, so that those of the header's bus are free."""


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
        ("limits:\n", "front_panel: {buzzer_pin: 7}\nlimits:\n", "front_panel.buzzer_pin", "GPIO 7 is pulled up"),
        ("limits:\n", "front_panel: {stop_pin: 14}\nlimits:\n", "front_panel.stop_pin", "serial console"),
        (
            "limits:\n",
            "front_panel: {press_to_light: true}\nlimits:\n",
            "front_panel.press_to_light",
            "needs a go button",
        ),
        ("limits:\n", "front_panel: {go_recipe: blue}\nlimits:\n", "front_panel.go_recipe", "needs a go button"),
        (
            "limits:\n",
            "front_panel: {display_sda_pin: 9}\nlimits:\n",
            "front_panel.display_sda_pin",
            "give front_panel.display_scl_pin too",
        ),
        (
            "limits:\n",
            "front_panel: {display_scl_pin: 9}\nlimits:\n",
            "front_panel.display_scl_pin",
            "give front_panel.display_sda_pin too",
        ),
        (
            "limits:\n",
            "front_panel: {display_sda_pin: 9, display_scl_pin: 14}\nlimits:\n",
            "front_panel.display_scl_pin",
            "serial console",
        ),
        (
            "limits:\n",
            "front_panel: {display_sda_pin: 9, display_scl_pin: 3}\nlimits:\n",
            "front_panel.display_scl_pin",
            "GPIO 3 already serves I2C bus 1",
        ),
    ],
)
def test_check_refuses_a_pin_that_is_dangerous_before_the_program_runs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, field: str, words: str
) -> None:
    """Levels after a reset as in the BCM2835's peripheral manual; one message, with field and way out."""
    assert main(["setup", "check", "--box", str(other_box(tmp_path, (old, new)))]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert f"{field}: " in line
    assert words in line


@pytest.mark.parametrize("pin", [2, 3])
@pytest.mark.parametrize(("old", "field"), [("enable_pin: 25", "enable_pin"), ("relay_pin: 17", "banks[0].relay_pin")])
def test_check_refuses_an_output_on_the_boards_own_pull_ups(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pin: int, old: str, field: str
) -> None:
    """With the meter on another bus the pins are free, and yet no rest level for a relay or the heartbeat."""
    path = other_box(tmp_path, SECOND_BUS, (old, f"{old.split()[0]} {pin}"))
    assert main(["setup", "check", "--box", str(path)]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert f"{field}: GPIO {pin} belongs to the I2C bus" in line


@pytest.mark.parametrize("pin", [2, 3])
@pytest.mark.parametrize(
    ("old", "field"),
    [
        ("shut_pin: 23", "lid.shut_pin"),
        ("emergency_stop_pin: 27", "signals.emergency_stop_pin"),
        ("k1_mirror_pin: 22", "signals.k1_mirror_pin"),
    ],
)
def test_check_refuses_a_contact_on_the_headers_bus(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pin: int, old: str, field: str
) -> None:
    """A bus line that is pulled low would read as a lid that is shut."""
    path = other_box(tmp_path, SECOND_BUS, (old, f"{old.split()[0]} {pin}"))
    assert main(["setup", "check", "--box", str(path)]) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert f"{field}: GPIO {pin} belongs to I2C bus 1" in line
    assert "use another pin" in line


@pytest.mark.parametrize("pins", [(6, 7), (9, 11)])
def test_check_lets_a_display_have_pins_of_either_pull(tmp_path: Path, pins: tuple[int, int]) -> None:
    """It is no output of control's, and is switched on by neither level."""
    display = f"front_panel: {{display_sda_pin: {pins[0]}, display_scl_pin: {pins[1]}}}\nlimits:\n"
    assert main(["setup", "check", "--box", str(other_box(tmp_path, ("limits:\n", display)))]) == 0


@pytest.mark.parametrize("pin", [4, 5, 6, 7, 8])
def test_check_lets_a_relay_that_closes_on_low_rest_on_a_pin_that_is_pulled_up(tmp_path: Path, pin: int) -> None:
    """The rule is about polarity, not about one kind of relay."""
    path = other_box(
        tmp_path,
        ("over_temperature_pin: 5", "over_temperature_pin: 13"),
        ("lights_when: high", "lights_when: low"),
        ("relay_pin: 17", f"relay_pin: {pin}"),
    )
    assert main(["setup", "check", "--box", str(path)]) == 0


def test_check_takes_a_second_bus_with_its_pins_and_sees_them_used_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Named pins of a bus count like any other."""
    assert main(["setup", "check", "--box", str(other_box(tmp_path, SECOND_BUS))]) == 0
    twice = other_box(tmp_path, SECOND_BUS, ("i2c_scl_pin: 13", "i2c_scl_pin: 25"))
    assert main(["setup", "check", "--box", str(twice)]) == 1
    assert "enable_pin: GPIO 25 already serves I2C bus 3" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("accepts_deg: 63", "accepts_deg: 63", "sees 6 of 6 tubes"),
        ("accepts_deg: 63", "accepts_deg: 60", "sees 4 of 6 tubes; not seen: 1, 6"),
        ("accepts_deg: 63", "accepts_deg: 45", "sees 2 of 6 tubes; not seen: 1, 2, 5, 6"),
        ("across_mm: 0", "across_mm: 20", "sees 5 of 6 tubes; not seen: 1, and nothing is claimed"),
        ("tubes: 6", "tubes: 8", "sees 6 of 8 tubes; not seen: 1, 8"),
        ("pitch_mm: 50", "pitch_mm: 60", "sees 4 of 6 tubes; not seen: 1, 6"),
        ("height_mm: 80", "height_mm: 60", "sees 4 of 6 tubes; not seen: 1, 6"),
    ],
)
def test_check_tells_which_tubes_the_sensor_sees(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, words: str
) -> None:
    """Worked on paper: atan(125 mm / 80 mm) = 57.4° to the outermost of six tubes, and 5° beyond it are asked for."""
    assert main(["setup", "check", "--box", str(other_box(tmp_path, (old, new)))]) == 0
    assert f"sensor below {words}" in capsys.readouterr().out


def test_check_refuses_an_angle_that_no_sensor_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Named with the field and what is allowed."""
    path = other_box(tmp_path, ("accepts_deg: 63", "accepts_deg: 95"))
    assert main(["setup", "check", "--box", str(path)]) == 1
    assert "meters[0].sight.accepts_deg" in capsys.readouterr().err
