"""The Pi's under-voltage alarm as the kernel shows it, in a folder made for the test."""

from pathlib import Path

import pytest

from sumlight.box.supply import SupplyGauge


def sensor(root: Path, number: int, name: str, alarm: str | None) -> Path:
    """A hardware monitor of the kernel."""
    folder = root / f"hwmon{number}"
    folder.mkdir(parents=True)
    (folder / "name").write_text(f"{name}\n")
    if alarm is not None:
        (folder / "in0_lcrit_alarm").write_text(alarm)
    return folder


@pytest.mark.parametrize(("alarm", "low"), [("1\n", True), ("0\n", False)])
def test_the_alarm_is_read_each_time(tmp_path: Path, alarm: str, low: bool) -> None:
    """Beside other sensors, by its name."""
    sensor(tmp_path, 0, "cpu_thermal", "1\n")
    folder = sensor(tmp_path, 1, "rpi_volt", alarm)
    gauge = SupplyGauge(tmp_path)
    assert gauge.low() is low
    (folder / "in0_lcrit_alarm").write_text("0\n" if low else "1\n")
    assert gauge.low() is not low


def test_a_machine_without_the_sensor_cannot_tell(tmp_path: Path) -> None:
    """None, which is no fault."""
    sensor(tmp_path, 0, "cpu_thermal", None)
    (tmp_path / "hwmon1").mkdir()
    assert SupplyGauge(tmp_path).low() is None
    assert SupplyGauge(tmp_path / "nothing").low() is None


def test_an_alarm_that_cannot_be_read_cannot_tell(tmp_path: Path) -> None:
    """Nor does it raise in the loop."""
    assert SupplyGauge(sensor(tmp_path, 0, "rpi_volt", None).parent).low() is None
