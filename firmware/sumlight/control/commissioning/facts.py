"""What commissioning sees in a tick, what it measures, and how a step ended. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sumlight.box.lid import LidState
from sumlight.protocol import snapshot
from sumlight.text.message import Message


@dataclass(frozen=True, slots=True)
class BankFacts:
    """Of one bank: whether light has come, and what its meter reads now; None without a reading."""

    lit: bool
    glass_mw_cm2: float | None


@dataclass(frozen=True, slots=True)
class Facts:
    """What control sees in one tick. `dimmest` and `brightest` are mW/cm² over the banks; None without a reading.

    `k1_held` tells whether the enable line moves, `light` whether any meter sees more than darkness; `banks` by name.
    """

    now_s: float
    state: str
    lid: LidState
    commanded: bool
    lit: bool
    dimmest: float | None
    brightest: float | None
    silent_s: float
    k1_dropped: bool | None
    stop_released: bool | None
    faults: tuple[str, ...]
    k1_held: bool = False
    light: bool = True
    banks: Mapping[str, BankFacts] = field(default_factory=dict)


@dataclass(frozen=True)
class Measure:
    """A measured value, its unit, and the limit it must keep."""

    what: Message
    value: float
    unit: str
    limit: float

    @property
    def kept(self) -> bool:
        """Whether the limit is kept."""
        return self.value <= self.limit

    def as_told(self) -> snapshot.Measure:
        """For the record, the page and the report."""
        return {"what": self.what, "value": self.value, "unit": self.unit, "limit": self.limit, "kept": self.kept}


@dataclass
class Result:
    """How a step ended: `found` in words, and what was measured.

    `proved` is false for a step that could not be carried out here and is left to the electrician. `unseen` are the
    tubes that were shown not to be seen by the sensor.
    """

    step: str
    title: Message
    passed: bool
    found: Message
    measures: list[snapshot.Measure] = field(default_factory=list)
    proved: bool = True
    unseen: Sequence[int] = ()

    def as_told(self) -> snapshot.StepResult:
        """For the record, the page and the report."""
        told = snapshot.StepResult(
            step=self.step,
            title=self.title,
            passed=self.passed,
            found=self.found,
            measures=self.measures,
            proved=self.proved,
        )
        if self.unseen:
            told["unseen"] = list(self.unseen)
        return told
