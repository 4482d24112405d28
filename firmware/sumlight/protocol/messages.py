"""The words that control and its clients exchange: one JSON object a line, at most `LINE_LIMIT` bytes. Pure."""

import json
import re
from dataclasses import dataclass, field
from typing import Any

from sumlight.bounds import bounds_of

LINE_LIMIT = 4 * 1024
"""Longest request, in bytes; a longer one is not read to its end and ends the connection."""

LONGEST_NOTE = 1500
"""Characters of a note or a result: both together fit into a line in any European language, breaks included."""

SEEN = ("state_number", "recipe_sha256", "side")
"""What a press that lights carries besides the panel: it is refused when the box no longer stands so.

`state_number` is the snapshot's; `side` names what is lit first, as `due` of the snapshot's exposure does."""

COMMANDS = {
    "state": (),
    "watch": (),
    "trace": ("since_s",),
    "start": ("recipe", "panel", "note", "who", *SEEN),
    "series": ("kind", "recipe", "panel", "note", "doses_mj_cm2", "seconds", "legs", "parameters", "who", *SEEN),
    "go": ("panel", *SEEN),
    "dark": (),
    "abandon": (),
    "acknowledge": ("who",),
    "lamps": (),
    "tubes_fitted": (
        "bank",
        "positions",
        "tubes",
        "lamp_type",
        "wavelength_class",
        "label",
        "hours",
        "strikes",
        "expected_life_h",
    ),
    "replacement_level": ("percent",),
    "note": ("exposure_id", "note", "result", "who"),
    "commission_begin": ("who",),
    "commission_next": ("at", "leak_mw_cm2", "answer", "at_the_box"),
    "commission_abort": (),
    "commission_override": ("who", "reason"),
    "simulate": ("do", "bank", "meter"),
    "calibration": ("tolerance",),
    "radiometer": ("bank", "mw_cm2", "relative_uncertainty"),
    "tablet_plan": ("recipe", "zones", "target_step", "reference_mj_cm2"),
    "tablet_readings": (
        "exposure_id",
        "convention",
        "readings",
        "lot",
        "reference_mj_cm2",
        "reference_uncertainty",
        "target_step",
        "apply",
        "sure",
    ),
    "teach": ("exposure_id",),
    "self_check": ("bank", "apply"),
    "new_lamps": ("bank", "lamp_type"),
    "learn_gains": ("bank",),
    "transmission": ("exposure_id", "covered"),
    "field": ("exposure_id", "places", "sensor", "panel"),
    "strip_plan": ("first_mj_cm2", "factor", "zones"),
    "strip": ("exposure_id", "first_held_zone"),
    "dose_window": (
        "clear",
        "clear_standard",
        "opaque",
        "opaque_standard",
        "dose_mj_cm2",
        "held_step",
        "clean_step",
        "target_step",
    ),
}
"""Every command and the fields it takes. `simulate` moves the twin's lid and parts; a real box refuses it. Its
`do` as_asked does there what the step of commissioning at hand asks of a person. `at` of
`commission_next` is the moment a press is meant for, as the run's picture names it; one that is over is refused.
`at_the_box` says that the person stands there: only then K1 is held for a step.

`parameters` of a series are those of `protocol.run_parameters`.

`calibration` and what follows it are explained in `control.server.calibration_commands`."""


@dataclass(frozen=True)
class Request:
    """A command as it came in; `number` is the caller's own and comes back in the reply.

    One with a field that its command does not take cannot be made, wherever it comes from. Raises BadRequestError.
    """

    number: int
    command: str
    values: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.command not in COMMANDS:
            known = ", ".join(COMMANDS)
            raise BadRequestError("unknown_command", f"no such command; there is {known}", field="command")
        unknown = sorted(set(self.values) - set(COMMANDS[self.command]))
        if unknown:
            allowed = ", ".join(COMMANDS[self.command]) or "no fields"
            raise BadRequestError("bad_request", f"'{self.command}' takes {allowed}", field=str(unknown[0])[:40])

    def text(self, name: str, *, default: str | None = None, longest: int = 200) -> str:
        """A text field. Raises BadRequestError when it is missing, not text or too long."""
        value = self.values.get(name, default)
        if not isinstance(value, str):
            raise BadRequestError("bad_value", f"'{name}' must be text", field=name)
        if any("\ud800" <= letter <= "\udfff" for letter in value):  # JSON allows half of a pair; no file does
            raise BadRequestError("bad_value", f"'{name}' holds half of a character", field=name)
        if len(value) > longest:
            raise BadRequestError("bad_value", f"'{name}' has {len(value)} characters; at most {longest}", field=name)
        return value.strip()

    def numbers_of(self, name: str) -> list[float]:
        """A list of finite numbers, empty if the field is missing. Raises BadRequestError for anything else."""
        values = self.values.get(name, [])
        if not isinstance(values, list) or len(values) > 200:
            raise BadRequestError("bad_value", f"'{name}' must be a list of at most 200 numbers", field=name)
        return [_Part(self.number, self.command, {name: value}).number_of(name, 0.0) for value in values]

    def number_of(self, name: str, default: float) -> float:
        """A finite number. Raises BadRequestError for anything else."""
        value = self.values.get(name, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e12 or value != value:
            raise BadRequestError("bad_value", f"'{name}' must be a number", field=name)
        return float(value)

    def given(self, name: str) -> float | None:
        """A number that may be left out. Raises BadRequestError for anything else."""
        return None if self.values.get(name) is None else self.number_of(name, 0.0)

    def number_between(self, name: str, low: float, high: float, default: float | None = None) -> float:
        """A number within limits; one without default must be there. Raises BadRequestError."""
        value = self.given(name)
        value = default if value is None else value
        if value is None or not low <= value <= high:
            told = "is missing" if value is None else f"is {value:g}"
            raise BadRequestError("bad_value", f"'{name}' {told}; it must lie between {low:g} and {high:g}", field=name)
        return value

    def amount(self, model: Any, name: str, default: float | None = None) -> float:
        """A number within the bounds that `model` states, its default if left out. Raises BadRequestError."""
        bounds, field = bounds_of(model, name), model.model_fields[name]
        usual = default if default is not None or field.is_required() else field.default
        return self.number_between(name, bounds.low or 0.0, bounds.high or 0.0, usual)

    def count(self, model: Any, name: str) -> int:
        """The same, whole. Raises BadRequestError."""
        bounds, field = bounds_of(model, name), model.model_fields[name]
        usual = None if field.is_required() else field.default
        return self.whole(name, int(bounds.low or 0), int(bounds.high or 0), usual)

    def whole(self, name: str, low: int, high: int, default: int | None = None) -> int:
        """A whole number within limits. Raises BadRequestError."""
        value = self.number_between(name, low, high, default)
        if value != int(value):
            raise BadRequestError("bad_value", f"'{name}' must be a whole number, not {value:g}", field=name)
        return int(value)

    def flag(self, name: str) -> bool:
        """True or false, false if left out. Raises BadRequestError for anything else."""
        value = self.values.get(name, False)
        if not isinstance(value, bool):
            raise BadRequestError("bad_value", f"'{name}' must be true or false", field=name)
        return value

    def objects_of(self, name: str, keys: tuple[str, ...]) -> list["Request"]:
        """A list of objects that hold some of `keys`, each to be read as a request is. Raises BadRequestError."""
        values = self.values.get(name)
        if not isinstance(values, list) or not 1 <= len(values) <= 100:
            raise BadRequestError("bad_value", f"'{name}' must be a list of 1 to 100 objects", field=name)
        for value in values:
            if not isinstance(value, dict) or set(value) - set(keys):
                raise BadRequestError("bad_value", f"each of '{name}' takes {', '.join(keys)}", field=name)
        return [_Part(self.number, self.command, value) for value in values]

    def places_of(self, name: str) -> list[tuple[float, float]]:
        """A list of [x, y]. Raises BadRequestError for anything else."""
        values = self.values.get(name)
        if not isinstance(values, list) or not 1 <= len(values) <= 200:
            raise BadRequestError("bad_value", f"'{name}' must be a list of 1 to 200 places [x, y]", field=name)
        places = [_Part(self.number, self.command, {name: value}).numbers_of(name) for value in values]
        if any(len(place) != 2 for place in places):
            raise BadRequestError("bad_value", f"each place of '{name}' must be [x, y] in mm", field=name)
        return [(place[0], place[1]) for place in places]


class _Part(Request):
    """An object within a request; whoever reads it has said which keys it takes."""

    def __post_init__(self) -> None:
        pass


class BadRequestError(ValueError):
    """What is wrong with a request; becomes the error of its reply.

    `code` is one of bad_request, unknown_command, refused, not_found, bad_value, internal.
    """

    def __init__(self, code: str, message: str, *, field: str | None = None, remedy: str | None = None) -> None:
        self.code, self.message, self.field, self.remedy = code, message, field, remedy
        super().__init__(message)


_DARK = re.compile(rb'"command"\s*:\s*"dark"')
_DARK_WORD = re.compile(rb"\bdark\b", re.IGNORECASE)


def says_dark(line: bytes) -> bool:
    """Whether a line asks for *dark*, whatever else is right or wrong with it.

    Text that somebody typed into a note cannot look so: JSON writes its quotes as \\". A line that is no request at
    all, such as one typed by hand, asks for dark if it holds the word: at worst it is dark without need.
    """
    if _DARK.search(line):
        return True
    try:
        data = json.loads(line)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        return _DARK_WORD.search(line) is not None
    command = data.get("command")
    return isinstance(command, str) and command.strip().lower() == "dark"


def parse_request(line: bytes) -> Request:
    """Read one line. Raises BadRequestError; nothing of the line is believed before it is checked."""
    try:
        data = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise BadRequestError("bad_request", "the line is not JSON", remedy="send one JSON object a line") from error
    if not isinstance(data, dict):
        raise BadRequestError("bad_request", "the line is not a JSON object")
    number, command = data.get("id"), data.get("command")
    if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < 2**53:
        raise BadRequestError("bad_request", "'id' must be a whole number from 0", field="id")
    if not isinstance(command, str):
        raise BadRequestError("unknown_command", "'command' must be text", field="command")
    values = {key: value for key, value in data.items() if key not in ("id", "command")}
    return Request(number, command, values)


def request_line(number: int, command: str, **values: Any) -> bytes:
    """One request ready to send. Half a pair of characters, which no request may hold, is sent escaped."""
    text = json.dumps({"id": number, "command": command, **values}, ensure_ascii=False, separators=(",", ":"))
    try:
        return text.encode() + b"\n"
    except UnicodeEncodeError:
        return json.dumps({"id": number, "command": command, **values}).encode() + b"\n"


def reply_line(number: int | None, result: dict[str, Any]) -> bytes:
    """The reply to a request that was carried out."""
    return json.dumps({"id": number, "ok": True, "result": result}).encode() + b"\n"


def error_line(number: int | None, error: BadRequestError) -> bytes:
    """The reply to a request that was not."""
    body = {"code": error.code, "field": error.field, "message": error.message, "remedy": error.remedy}
    return json.dumps({"id": number, "ok": False, "error": body}).encode() + b"\n"


def state_line(snapshot: dict[str, Any]) -> bytes:
    """A snapshot pushed to a watching client."""
    return json.dumps({"event": "state", "state": snapshot}).encode() + b"\n"
