"""People at the simulated box: somebody's hands on lid and parts, and an attendant who does what the box asks for."""

from collections.abc import Mapping
from typing import Any, Protocol

from pydantic import ValidationError

from sumlight.twin.events import EVENTS
from sumlight.twin.scenario import ScenarioMismatchError
from sumlight.twin.world import World

OPEN_AFTER_S = 1.0
TURN_S = 3.0
"""How long the attendant takes to reach for the lid, and to turn a panel."""

NO_HAND = (
    "press",
    "mains_factor",
    "room_c",
    "supply_sags",
    "supply_recovers",
    "field_supply_fails",
    "field_supply_returns",
)
BY_HAND = {name: kind for name, kind in EVENTS.items() if name not in NO_HAND}
"""What hands can do; the extra fields of an event get these values."""

EXTRAS: dict[str, dict[str, Any]] = {
    "daylight_enters": {"level_mw_cm2": 2.0},
    "wire_breaks": {"wire": "shut"},
    "wire_mended": {"wire": "shut"},
    "contact_sticks": {"contact": "shut"},
    "contact_frees": {"contact": "shut"},
    "lamps_swapped": {"lamp_type": "other_fluorescent"},
    "diffuser_fouls": {"transmission": 0.85},
    "sheet_laid": {"transmission": 0.9},
    "tube_taken_out": {"place": 1},
    "tube_put_in": {"place": 1},
    "sensor_moved": {"x_mm": 0.0, "y_mm": 0.0},
}


Hand = tuple[str, dict[str, Any]]


def tube_hands(bank: str, back: int, out: int) -> list[Hand]:
    """What a person does with tubes before the next light, when commissioning asks for it; place 0 is none."""
    moves = (("tube_put_in", back), ("tube_taken_out", out))
    return [(do, {"bank": bank, "place": place}) for do, place in moves if place]


DO: dict[str, list[Hand]] = {
    "lid_shut": [("lid_closes", {})],
    "lid_open": [("lid_opens", {})],
    "shut_contact_held": [("contact_sticks", {"contact": "shut"}), ("lid_opens", {})],
    "open_contact_held": [("contact_sticks", {"contact": "open"}), ("lid_opens", {})],
    "over_temperature": [("overheats", {})],
    "lid_alone": [("lid_opens", {})],
    "stop_alone": [("stop_pressed", {})],
    "cut_out_alone": [("cut_out_opens", {})],
    "lid_under_light": [("lid_opens", {})],
    "emergency_stop": [("stop_pressed", {})],
    "sensor_pulled": [("meter_disappears", {})],
    "light_blocked": [("sheet_laid", {"transmission": 0.001, "blocks_uv": True})],
}
"""What a person does with the parts of the simulated box when a step of commissioning asks for it, by step."""

UNDO: dict[str, list[Hand]] = {
    "lid_open": [("lid_closes", {})],
    "shut_contact_held": [("contact_frees", {"contact": "shut"}), ("lid_closes", {})],
    "open_contact_held": [("contact_frees", {"contact": "open"}), ("lid_closes", {})],
    "over_temperature": [("cools", {})],
    "lid_alone": [("lid_closes", {})],
    "stop_alone": [("stop_released", {})],
    "cut_out_alone": [("cut_out_reset", {})],
    "lid_under_light": [("lid_closes", {})],
    "emergency_stop": [("stop_released", {})],
    "sensor_pulled": [("meter_returns", {})],
    "light_blocked": [("sheet_lifted", {})],
}
"""And how it is put right again."""


class Hands(Protocol):
    """Moves a part by the name of an event, at a bank or a meter; `values` are further fields of the event."""

    def __call__(self, what: str, bank: str | None, meter: str | None, values: Mapping[str, Any] | None = None) -> str:
        """Returns what was done; raises ValueError with what is known."""


def hands(world: World) -> Hands:
    """Something that moves parts of `world` by the event names of a scenario; raises ValueError with what is known."""

    def move(what: str, bank: str | None, meter: str | None, values: Mapping[str, Any] | None = None) -> str:
        kind = BY_HAND.get(what)
        if kind is None:
            raise ValueError(f"'{what}' is not something hands can do; there is {', '.join(BY_HAND)}")
        parts = {"bank": bank, "meter": meter}
        given = {name: value for name, value in parts.items() if value is not None and name in kind.model_fields}
        try:
            fields = {**EXTRAS.get(what, {}), **(values or {}), **given, "at_s": 0.0, "do": what}
            world.happen(kind.model_validate(fields))
        except (ValidationError, ScenarioMismatchError) as error:
            raise ValueError(str(error)) from error
        return what

    return move


class SimulatedAttendant:
    """Somebody who turns the panel when asked to and presses go some seconds after the box is ready for it.

    `go_after_s` None is a box that nobody attends.
    """

    def __init__(self, world: World, go_after_s: float | None) -> None:
        self._move = hands(world)
        self._go_after_s = go_after_s
        self._turning_since_s: float | None = None
        self._opened = False
        self._ready_since_s: float | None = None

    def look(self, state: str, *, may_go: bool, now_s: float) -> bool:
        """Look at the box; true when go is pressed now."""
        if self._go_after_s is None:
            return False
        if state == "turn":
            self._turn(now_s)
        else:
            self._turning_since_s, self._opened = None, False
        if not may_go:
            self._ready_since_s = None
            return False
        if self._ready_since_s is None:
            self._ready_since_s = now_s
        if now_s - self._ready_since_s < self._go_after_s:
            return False
        self._ready_since_s = None
        return True

    def _turn(self, now_s: float) -> None:
        if self._turning_since_s is None:
            self._turning_since_s = now_s
        elapsed_s = now_s - self._turning_since_s
        if not self._opened and elapsed_s >= OPEN_AFTER_S:
            self._move("lid_opens", None, None)
            self._opened = True
        elif self._opened and OPEN_AFTER_S + TURN_S <= elapsed_s < OPEN_AFTER_S + 2 * TURN_S:
            self._move("lid_closes", None, None)
            self._turning_since_s = now_s - OPEN_AFTER_S - 2 * TURN_S
