"""The table of faults, and the desk where they latch until their cause is gone and a person has acknowledged them."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class FaultKind:
    """One kind of fault.

    `seen` is what the box noticed, `remedy` what the person does. A fault that `stops` darkens the lamps and keeps the
    dose; the others are only told.
    """

    name: str
    title: str
    seen: str
    remedy: str
    stops: bool = True


FAULTS: dict[str, FaultKind] = {
    kind.name: kind
    for kind in (
        FaultKind(
            "lid_mismatch",
            "The lid contacts disagree",
            "Both contacts said shut, or both said open, for longer than lid.disagreement_limit_s.",
            "Open and shut the lid firmly. If it comes again, have both contacts and their wires checked.",
        ),
        FaultKind(
            "lid_bounces",
            "The lid will not come to rest",
            "The lid contacts changed again and again within a few seconds.",
            "Look for a loose contact or a lid that does not lie flat. Do not use the box until it shuts cleanly.",
        ),
        FaultKind(
            "inputs_unpowered",
            "The supply of the inputs is missing",
            "Both lid contacts and every other input read open at the same moment.",
            "Check the 24 V supply of the inputs, its fuse and the plug of the input board. Then acknowledge.",
        ),
        FaultKind(
            "emergency_stop",
            "Emergency stop",
            "The emergency stop is pressed, or its signal wire is broken.",
            "When the danger is over, release it, then acknowledge. The panel may be continued.",
        ),
        FaultKind(
            "too_hot",
            "The box is too hot",
            "The over-temperature contact has opened.",
            "Let the box cool with the lid open; check fan and air paths. Acknowledge once it is cool.",
        ),
        FaultKind(
            "k1_welded",
            "Contactor K1 does not drop",
            "The mirror contact shows K1 closed although its pump has stopped.",
            "Pull the plug. K1 may be welded and must be replaced by an electrician before the box is used again.",
        ),
        FaultKind(
            "k1_silent",
            "Contactor K1 does not close",
            "The mirror contact shows K1 dropped although its pump is fed.",
            "Check emergency stop, lid switch and fuse. The mains side is for an electrician.",
        ),
        FaultKind(
            "meter_lost",
            "The light meter went silent",
            "No reading of the light for longer than limits.bridge_limit_s.",
            "Check the sensor's cable and plug. Acknowledge when readings are back; the dose so far is kept.",
        ),
        FaultKind(
            "meter_stuck",
            "The light meter repeats itself",
            "The same six counts came again and again while lamps were on; live light is never that steady.",
            "Switch the sensor's supply off and on (unplug the box). If it comes again, replace the sensor.",
        ),
        FaultKind(
            "meter_saturated",
            "The light is too strong for the meter",
            "Readings stayed at full scale even at the smallest gain.",
            "Put a denser diffuser or a smaller aperture before the sensor, then calibrate anew.",
        ),
        FaultKind(
            "no_light",
            "The lamps do not light",
            "Lamps were switched on, but no light came within limits.strike_limit_s.",
            "Check lid switch, fuse and tubes, and that nothing covers the sensor. Mains: only an electrician.",
        ),
        FaultKind(
            "light_lost",
            "The light went out",
            "Nearly all light disappeared while lamps were on.",
            "Check mains and tubes, and that nothing covers the sensor. Acknowledge to continue; the dose is kept.",
        ),
        FaultKind(
            "tube_out",
            "A tube may have gone out",
            "The light fell suddenly by more than limits.drop_limit.",
            "Look for a dark tube once the box is unplugged and cool; replace tubes as a set. The field was uneven: "
            "judge this panel with care.",
        ),
        FaultKind(
            "foreign_light",
            "Foreign light reaches the sensor",
            "The light rose suddenly, or its colour moved towards daylight.",
            "Shut out daylight and work lights: lid seal, cable holes. The dose since then is doubtful.",
        ),
        FaultKind(
            "wrong_lamp",
            "These are not the lamps of the calibration",
            "The colour of the light differs from that at the calibration by more than age can explain.",
            "Were lamps changed? Record new lamps and expose a step tablet. If not, look at the sensor's filter glass. "
            "The panel got next to nothing so far.",
        ),
        FaultKind(
            "light_while_dark",
            "There is light although lamps are off",
            "More light than limits.dark_limit_mw_cm2 while no lamp was switched on.",
            "If lamps burn, pull the plug: a relay may be welded. Otherwise look for daylight getting in.",
        ),
        FaultKind(
            "time_guard",
            "It took too long",
            "One side was lit for longer than the recipe's time_guard_s or the box's limits.lit_limit_s.",
            "Lamps may be old or cold, the sensor dirty, or the recipe's guard too short. Check before you continue.",
        ),
        FaultKind(
            "loop_late",
            "The controller was held up",
            "The control loop missed its time while lamps were on; the lamps were switched off by the watch.",
            "Acknowledge to continue. If it comes again, something else on this computer takes too much of it.",
        ),
        FaultKind(
            "too_slow",
            "This computer is too slow",
            "The control loop ticked less often, over some seconds, than the charge pump of K1 needs.",
            "End what else runs on this computer, restart it and acknowledge. If it comes again, use a faster one.",
        ),
        FaultKind(
            "disk_full",
            "The card is full",
            "There is no room left to write the logbook; without it a power cut would lose the dose.",
            "Free space on the card: what waits is then written by itself. Acknowledge to continue the panel.",
        ),
        FaultKind(
            "logbook_damaged",
            "The logbook is damaged",
            "The logbook's file can no longer be read as one; the card may be failing.",
            "Stop Sumlight, keep a copy of the file, put back a backup or let a new one be made, and renew the card.",
        ),
        FaultKind(
            "logbook_failed",
            "The logbook cannot be written",
            "Writing to the logbook failed for a reason that the detail names.",
            "Do what the detail says: permissions, another program's lock, the card. What was recorded before is kept.",
        ),
        FaultKind(
            "internal",
            "The controller found a mistake of its own",
            "An error in the program was caught; the lamps were switched off.",
            "Acknowledge to continue, and please report the text in the log.",
        ),
        FaultKind(
            "logbook_unsound",
            "Part of the logbook was damaged",
            "Damage was found in the logbook when control started, or at night; the detail says what was saved.",
            "Work may go on. Take a backup, restart the box so that what is readable is saved, and renew the card.",
            stops=False,
        ),
        FaultKind(
            "clock_stepped",
            "The clock jumped",
            "The wall clock was set while the controller ran.",
            "Nothing to do: doses do not depend on it. Times in records before the jump may be wrong.",
            stops=False,
        ),
        FaultKind(
            "supply_low",
            "The computer's supply is weak",
            "The Raspberry Pi reports a supply voltage below its limit.",
            "Use a stronger 5 V supply or a shorter cable before the computer fails in the middle of a panel.",
            stops=False,
        ),
        FaultKind(
            "page_gone",
            "Nobody is watching",
            "No page was connected for a while, although lamps burn.",
            "Nothing to do: the exposure ends by its dose. Open the page again to see it.",
            stops=False,
        ),
    )
}


@dataclass
class StandingFault:
    """A latched fault: `since_s` on control's clock, `cause_gone` kept up to date by control."""

    kind: FaultKind
    detail: str
    since_s: float
    cause_gone: bool = False


class FaultDesk:
    """Keeps every fault until it may be cleared."""

    def __init__(self) -> None:
        self._standing: dict[str, StandingFault] = {}

    def report(self, name: str, detail: str, now_s: float) -> bool:
        """Latch a fault; true if it was not standing yet. Raises KeyError for a name not in the table."""
        kind = FAULTS[name]
        standing = self._standing.get(name)
        if standing is None:
            self._standing[name] = StandingFault(kind, detail, now_s)
            return True
        standing.cause_gone = False
        return False

    def note_causes(self, present: Iterable[str]) -> None:
        """Tell which causes are present now; all others are gone."""
        for name, fault in self._standing.items():
            fault.cause_gone = name not in present

    def acknowledge(self) -> list[str]:
        """Clear every fault whose cause is gone; returns their names."""
        cleared = [name for name, fault in self._standing.items() if fault.cause_gone]
        for name in cleared:
            del self._standing[name]
        return cleared

    def standing(self) -> list[StandingFault]:
        """All latched faults, those that keep the lamps dark first, oldest first."""
        if not self._standing:
            return []
        return sorted(self._standing.values(), key=lambda fault: (not fault.kind.stops, fault.since_s))

    def names(self) -> tuple[str, ...]:
        """Names of all latched faults, in the order of their coming."""
        return tuple(self._standing)

    def __contains__(self, name: str) -> bool:
        return name in self._standing

    def __bool__(self) -> bool:
        """Whether any fault stands that keeps the lamps dark."""
        # asked several times a tick, mostly of an empty desk, for which the generator alone would cost most
        if not self._standing:
            return False
        return any(fault.kind.stops for fault in self._standing.values())
