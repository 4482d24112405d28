"""The table of faults, and the registry where each stays until its cause is gone and a person has acknowledged it."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from sumlight.protocol.snapshot import ONLY_TOLD, FaultName
from sumlight.text.message import Later, Message, say_named


@dataclass(frozen=True)
class FaultKind:
    """One kind of fault, its words among `text.faults`.

    `seen` is what the box noticed, `remedy` what the person does. A fault that `stops` darkens the lamps and keeps the
    dose; the others are only told.
    """

    fault: FaultName
    stops: bool = True
    title: Message = field(init=False)
    seen: Message = field(init=False)
    remedy: Message = field(init=False)

    def __post_init__(self) -> None:
        for part in ("title", "seen", "remedy"):
            object.__setattr__(self, part, say_named(f"fault_{self.fault}_{part}"))


FAULTS = {fault: FaultKind(fault, stops=fault not in ONLY_TOLD) for fault in FaultName}


@dataclass
class StandingFault:
    """A latched fault: `since_s` on control's clock, `cause_gone` kept up to date by control."""

    kind: FaultKind
    detail: Message
    since_s: float
    cause_gone: bool = False


class FaultRegistry:
    """Keeps every fault until it may be cleared."""

    def __init__(self) -> None:
        self._standing: dict[FaultName, StandingFault] = {}
        self.names: tuple[FaultName, ...] = ()
        """Names of all latched faults, in the order of their coming."""
        self.stops = False
        """Whether any of them keeps the lamps dark. Kept, as the names: both are asked for several times a tick."""

    def report(self, name: FaultName, detail: Message | Later, now_s: float) -> Message | None:
        """Latch a fault; its detail in words, or None if it was standing already.

        Raises KeyError for a name not in the table.
        """
        kind = FAULTS[name]
        standing = self._standing.get(name)
        if standing is None:
            told = detail.said() if isinstance(detail, Later) else detail
            self._standing[name] = StandingFault(kind, told, now_s)
            self._note()
            return told
        standing.cause_gone = False
        return None

    def note_causes(self, present: Iterable[FaultName]) -> None:
        """Tell which causes are present now; all others are gone."""
        for name, fault in self._standing.items():
            fault.cause_gone = name not in present

    def acknowledge(self) -> list[FaultName]:
        """Clear every fault whose cause is gone; returns their names."""
        cleared = [name for name, fault in self._standing.items() if fault.cause_gone]
        for name in cleared:
            del self._standing[name]
        self._note()
        return cleared

    def standing(self) -> list[StandingFault]:
        """All latched faults, those that keep the lamps dark first, oldest first."""
        if not self._standing:
            return []
        return sorted(self._standing.values(), key=lambda fault: (not fault.kind.stops, fault.since_s))

    def _note(self) -> None:
        self.names = tuple(self._standing)
        self.stops = any(fault.kind.stops for fault in self._standing.values())

    def __contains__(self, name: str) -> bool:
        return name in self._standing

    def __bool__(self) -> bool:
        """Whether any fault stands that keeps the lamps dark."""
        return self.stops
