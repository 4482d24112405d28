"""Leave to light, and leave to hold K1 alone. Renewed every tick from all conditions at once; runs out by itself."""

from typing import NamedTuple

from sumlight.text.message import Message, say

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

    def why_not(self) -> str:
        """The same as one sentence; that nothing asks for light any more only follows from the rest."""
        why = self.refusals()
        return ", ".join(why[:-1] if len(why) > 1 and not self.wanted else why)


ALL_MET = Conditions(
    lid_shut=True, no_fault=True, meter_reads=True, loop_in_time=True, record_on_disk=True, wanted=True
)


K1_ALONE_S = 20.0
"""Longest time that K1 may be held alone: a person at the box reaches lid, stop or button within it."""

K1_REFUSALS = {
    "banks_off": say("bank_is_on"),
    "no_light": say("light_was_seen"),
    "meter_reads": say("no_reading"),
    "no_other_fault": say("fault_stands"),
    "loop_in_time": say("loop_held_up"),
    "k1_follows": say("k1_disobeyed"),
}


class K1Conditions(NamedTuple):
    """Everything that must hold for K1 to be held alone, as found in this tick. One that is not known is not met."""

    banks_off: bool = False
    no_light: bool = False
    meter_reads: bool = False
    no_other_fault: bool = False
    loop_in_time: bool = False
    k1_follows: bool = False

    def refusals(self) -> tuple[Message, ...]:
        """What stands in the way."""
        return tuple(K1_REFUSALS[name] for name, met in self._asdict().items() if not met)


K1_ALL_MET = K1Conditions(
    banks_off=True, no_light=True, meter_reads=True, no_other_fault=True, loop_in_time=True, k1_follows=True
)


class K1Leave:
    """Leave to hold K1 with every bank off, for one step of commissioning. It lights nothing.

    Lent once, for `K1_ALONE_S` at most. Fail-safe: once ended, by a withdrawal or by one condition, only lending it
    anew brings it back. Withdrawing may come from any thread at any time, since `renew` never writes what it clears.
    """

    def __init__(self) -> None:
        self._end_s: float | None = None
        self._until_s = float("-inf")

    @property
    def lent(self) -> bool:
        """Whether it was lent and nothing has ended it since."""
        return self._end_s is not None

    def lend(self, now_s: float) -> None:
        """Begin. The first `renew` makes it count."""
        self._until_s = float("-inf")
        self._end_s = now_s + K1_ALONE_S

    def renew(self, now_s: float, conditions: K1Conditions) -> bool:
        """Let it stand until `now_s + VALID_S` if every condition holds, else end it for good; returns which."""
        end_s = self._end_s
        if end_s is None or now_s >= end_s or conditions != K1_ALL_MET:
            self.withdraw()
            return False
        self._until_s = min(now_s + VALID_S, end_s)
        return self.granted(now_s)

    def withdraw(self) -> None:
        """End it at once and for good."""
        self._end_s = None

    def granted(self, now_s: float) -> bool:
        """Whether K1 may be held at `now_s`."""
        return self._end_s is not None and now_s <= self._until_s


class Permit:
    """The one leave that lamp banks ask. Fail-safe: none at first, none when not renewed for `VALID_S`.

    While K1 is lent alone (`k1`) no lamp has leave, whatever the conditions.
    """

    def __init__(self) -> None:
        self._until_s: float | None = None
        self.conditions = Conditions()
        self.k1 = K1Leave()

    def renew(self, now_s: float, conditions: Conditions) -> bool:
        """Grant until `now_s + VALID_S` if every condition holds, else withdraw; returns which."""
        self.conditions = conditions
        granted = conditions == ALL_MET and not self.k1.lent
        self._until_s = now_s + VALID_S if granted else None
        return granted

    def lend_k1(self, now_s: float) -> None:
        """Lend K1 alone; whatever leave to light there was is taken away."""
        self._until_s = None
        self.k1.lend(now_s)

    def withdraw(self) -> None:
        """Take every leave away at once: that to light and that to hold K1."""
        self._until_s = None
        self.k1.withdraw()

    def may_hold(self, now_s: float) -> bool:
        """Whether K1 may be held at `now_s`, for lamps or alone."""
        return self.granted(now_s) or self.k1.granted(now_s)

    def granted(self, now_s: float) -> bool:
        """Whether lamps may be on at `now_s`."""
        return self._until_s is not None and now_s <= self._until_s and not self.k1.lent
