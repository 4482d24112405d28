"""The Raspberry Pi's own complaint about its supply voltage, as the kernel shows it."""

from pathlib import Path
from typing import Protocol

HWMON = Path("/sys/class/hwmon")
NAME = "rpi_volt"


class Gauge(Protocol):
    """Anything that can tell of the computer's supply."""

    def low(self) -> bool | None:
        """Whether the supply is too low now; None if it cannot be told."""


class SupplyGauge:
    """Reads the under-voltage alarm. Fail-safe: a machine without it says None, which is not a fault.

    Wiring: none; the board watches its 5 V input by itself.
    """

    def __init__(self, root: Path = HWMON) -> None:
        self._alarm = next((path / "in0_lcrit_alarm" for path in _sensors(root)), None)

    def low(self) -> bool | None:
        """Whether the supply is too low now; None if this machine cannot tell."""
        if self._alarm is None:
            return None
        try:
            return self._alarm.read_text().strip() == "1"
        except OSError:
            return None


def _sensors(root: Path) -> list[Path]:
    found = []
    for path in sorted(root.glob("hwmon*")):
        try:
            if (path / "name").read_text().strip() == NAME:
                found.append(path)
        except OSError:
            continue
    return found
