"""Leave to light. It is renewed every tick from all conditions at once and runs out by itself."""

from typing import NamedTuple

VALID_S = 0.1
"""Twenty ticks: a loop that stalls for longer has lost the right to keep lamps on."""

REFUSALS = {
    "lid_shut": "the lid is not shut",
    "no_fault": "a fault is standing",
    "meter_reads": "the light meter gives no reading",
    "loop_in_time": "the control loop was held up",
    "record_on_disk": "the exposure is not on disk yet",
    "wanted": "no exposure asks for light",
}


class Conditions(NamedTuple):
    """Everything that must hold for lamps to be on, as found in this tick. One that is not known is not met."""

    lid_shut: bool = False
    no_fault: bool = False
    meter_reads: bool = False
    loop_in_time: bool = False
    record_on_disk: bool = False
    wanted: bool = False

    def refusals(self) -> tuple[str, ...]:
        """What stands in the way, in words."""
        return tuple(REFUSALS[name] for name, met in self._asdict().items() if not met)


ALL_MET = Conditions(
    lid_shut=True, no_fault=True, meter_reads=True, loop_in_time=True, record_on_disk=True, wanted=True
)


class Permit:
    """The one leave that lamp banks ask. Fail-safe: none at first, none when not renewed for `VALID_S`."""

    def __init__(self) -> None:
        self._until_s: float | None = None
        self.conditions = Conditions()

    def renew(self, now_s: float, conditions: Conditions) -> bool:
        """Grant until `now_s + VALID_S` if every condition holds, else withdraw; returns which."""
        self.conditions = conditions
        granted = conditions == ALL_MET
        self._until_s = now_s + VALID_S if granted else None
        return granted

    def withdraw(self) -> None:
        """Take the leave away at once."""
        self._until_s = None

    def granted(self, now_s: float) -> bool:
        """Whether lamps may be on at `now_s`."""
        return self._until_s is not None and now_s <= self._until_s
