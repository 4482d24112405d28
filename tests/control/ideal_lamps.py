"""An exposure on ideal lamps, fed by hand: for the tests of the state machine alone."""

from sumlight.box.description import Limits
from sumlight.box.lid import LidState
from sumlight.control.exposure.plan import Plan, SidePlan
from sumlight.control.exposure.state_machine import Exposure
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341

LIMITS = Limits(strike_limit_s=6.0, lit_limit_s=600.0, bridge_limit_s=0.5, dark_limit_mw_cm2=0.1, drop_limit=0.1)
TICK_S = 0.005
GLASS_MW_CM2 = 5.0


def plan(mode: str = "one", target_mj_cm2: float = 8.0, guard_s: float = 60.0, forgiven: int = 1) -> Plan:
    """A plan for bank `lower`, and `upper` when both sides are lit together; transmission 0.8."""
    names = {"one": ["A"], "turned": ["A", "B"], "together": ["A", "B"]}[mode]
    banks = {"A": "lower", "B": "upper" if mode == "together" else "lower"}
    return Plan(
        panel="P1",
        note="",
        recipe_name="invented",
        recipe_text="",
        recipe_sha256="",
        resist="Invented film",
        sides_mode=mode,
        sides=tuple(SidePlan(name, banks[name], target_mj_cm2, 0.8, guard_s, 0.01) for name in names),
        forgiven=forgiven,
        longest_gap_s=30.0,
        hold_s=60.0,
        hold_limit_s=None,
    )


class Bench:
    """An exposure with ideal lamps: light of 5 mW/cm² at the glass while wanted, a reading every window."""

    def __init__(self, lid: LidState = "shut", limits: Limits = LIMITS) -> None:
        self.exposure = Exposure(limits, AS7341.window_s)
        self.now_s = 500.0
        self.lid: LidState = lid
        self.daylight_mw_cm2 = 0.0
        self.reads = True
        self.troubles: list[str] = []
        self._next_s = self.now_s + AS7341.window_s
        self._light_s = dict.fromkeys(("lower", "upper"), 0.0)
        self.exposure.lid_is(lid, self.now_s)

    def tick(self) -> None:
        """Five milliseconds."""
        self.now_s += TICK_S
        for bank in self._light_s:
            self._light_s[bank] += TICK_S if bank in self.exposure.wanted() else 0.0
        self.exposure.lid_is(self.lid, self.now_s)
        if self.now_s >= self._next_s:
            for bank, light_s in self._light_s.items():
                mean = GLASS_MW_CM2 * min(1.0, light_s / AS7341.window_s) + self.daylight_mw_cm2
                sample = Sample(self.now_s, self.now_s - AS7341.window_s / 2, (1, 1, 1, 1, 1, 1), 5, 0)
                if self.reads:
                    trouble = self.exposure.reading(bank, sample, mean)
                    self.troubles += [trouble[0]] if trouble else []
                self._light_s[bank] = 0.0
            self._next_s += AS7341.window_s
        self.troubles += [name for name, _ in self.exposure.tick(self.now_s)]

    def run(self, seconds: float) -> "Bench":
        """Some time."""
        for _ in range(round(seconds / TICK_S)):
            self.tick()
        return self

    def until(self, state: str, limit_s: float = 60.0) -> "Bench":
        """Until the exposure is in `state`."""
        end_s = self.now_s + limit_s
        while self.exposure.state != state:
            assert self.now_s < end_s, f"still {self.exposure.state}"
            self.tick()
        return self

    def start(self, mode: str = "one", **more: float) -> "Bench":
        """Start, with the record on disk at once."""
        self.exposure.start(plan(mode, **more), self.now_s)  # type: ignore[arg-type]
        self.exposure.record_ready = True
        return self

    def lit(self, mode: str = "one", **more: float) -> "Bench":
        """Start and wait for light, and half a second more."""
        return self.start(mode, **more).until("light").run(0.5)

    def move_lid(self, lid: LidState) -> "Bench":
        """Open or shut it, and a tick."""
        self.lid = lid
        self.tick()
        return self

    def fault(self, stands: bool = True) -> "Bench":
        """A fault is latched, or acknowledged."""
        self.exposure.faulted_is(stands, self.now_s)
        return self

    def go(self) -> "Bench":
        """Somebody says go."""
        self.exposure.go(self.now_s)
        return self

    def words(self) -> list[str]:
        """The events so far, without those that only tell of a side."""
        return [f"{e.what} {e.side or e.word}".strip() for e in self.exposure.events if e.what != "side"]
