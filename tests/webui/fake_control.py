"""A stand-in for control: a real Unix socket that speaks the protocol, says what a test wants, and records commands.

It is strict: an unknown command, an unknown or missing field and a line that is not JSON are refused as control would.
"""

import copy
import json
import socket
import socketserver
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, Self, cast

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import parse_request
from sumlight.protocol.series_answers import CURVE_PIECE
from sumlight.text.message import as_written, packed, say
from sumlight_web.link import SnapshotWatch
from tests.protocol.checking import check_answer
from tests.webui.fake_answers import ANSWERS, calibration

Reply = dict[str, Any]
Said = dict[str, Any] | Callable[[float], dict[str, Any]]
"""What the box says: always the same, or what a function makes of the seconds since it was set."""


STATE_NUMBER = 77_000_000_000_001
RECIPE_SHA256 = "ab" * 32
SEEN_BEFORE_START = {"state_number": f"{STATE_NUMBER}", "seen:blue-38": f"{RECIPE_SHA256} A"}
SEEN_BEFORE_SERIES = {"state_number": f"{STATE_NUMBER}", "seen:blue-38": f"{RECIPE_SHA256} 1"}
SEEN_BEFORE_GO = {
    "state_number": f"{STATE_NUMBER}",
    "seen:panel": "P12",
    "seen:recipe_sha256": RECIPE_SHA256,
    "seen:side": "A",
}
"""What a form carries that was written in sight of this box."""


def bank(name: str = "lower", side: str = "A", **changed: Any) -> dict[str, Any]:
    """A bank with its lamps off and its meter reading darkness."""
    return {
        "name": name,
        "side": side,
        "commanded": False,
        "meter": f"below-{name}",
        "irradiance_mw_cm2": 0.0,
        "reading_age_s": 0.05,
        "meter_ok": True,
        "meter_message": None,
        "lamp_hours": 312.4,
        "strikes": 410,
        "spectrum": None,
        "self_check": {"phase": "idle", "result": None},
    } | changed


def side(name: str = "A", **changed: Any) -> dict[str, Any]:
    """A side under light, half-way to its dose."""
    return {
        "side": name,
        "bank": "lower",
        "state": "lit",
        "target_mj_cm2": 60.0,
        "lit_for_s": None,
        "dose_mj_cm2": 31.2,
        "expanded_uncertainty_mj_cm2": 5.1,
        "expanded_repeat_mj_cm2": 0.6,
        "expanded_absolute_mj_cm2": 5.1,
        "largest_component": "calibration",
        "dof_eff": None,
        "k": 2.0,
        "relative": False,
        "irradiance_at_resist_mw_cm2": 4.1,
        "lit_s": 7.2,
        "left_s": 6.9,
        "pauses": 0,
        "duration_s": 8.1,
    } | changed


def exposure(*sides: dict[str, Any], **changed: Any) -> dict[str, Any]:
    """A running exposure of an invented panel; the first side that is not done is due."""
    sides = sides or (side(),)
    return {
        "exposure_id": 5,
        "panel": "P12",
        "recipe": "blue-38",
        "recipe_sha256": RECIPE_SHA256,
        "due": next((each["side"] for each in sides if each["state"] != "done"), ""),
        "resist": "Invented film 38",
        "kind": "panel",
        "sides_mode": "one",
        "started_utc": "2026-11-25T08:00:00Z",
        "pause_cause": None,
        "doubtful": False,
        "doubtful_why": None,
        "forgiven_left_s": None,
        "hold_s": 900.0,
        "hold_state": None,
        "hold_ends_utc": None,
        "hold_left_s": None,
        "outcome": None,
        "sides": list(sides),
    } | changed


def snapshot(**changed: Any) -> dict[str, Any]:
    """An idle box with its lid shut."""
    return {
        "seq": 1,
        "box": "Demo box",
        "simulated": True,
        "mono_s": 1000.0,
        "utc": "2026-11-25T08:00:00Z",
        "state": "idle",
        "state_number": STATE_NUMBER,
        "sentence": say("choose_and_light"),
        "may": ["start", "dark"],
        "lid": "shut",
        "banks": [bank()],
        "exposure": None,
        "faults": [],
        "logbook": {"ok": True, "message": None, "lag_s": 0.1, "keep_traces_days": None},
        "ticks": {"measured_hz": None, "needed_hz": None, "longest_gap_s": None},
        "calibration": {"lower": calibration()},
        "warnings": [],
        "commissioning": commissioning(),
        "jobs": {"panels": 0, "due": None, "timers": []},
        "air": None,
    } | changed


def commissioning(**changed: Any) -> dict[str, Any]:
    """What a twin says of it: nothing is needed."""
    nothing = dict.fromkeys(("passed_utc", "passed_by", "override", "run", "report"))
    return {
        "needed": False,
        "locked": False,
        "overridden": False,
        "not_proved": [],
        "older_walk": [],
        "wiring_sha256": "ab" * 32,
        **nothing,
    } | changed


def lit(**changed: Any) -> dict[str, Any]:
    """A box that exposes."""
    parts = {
        "state": "light",
        "sentence": say("panel_receives_light"),
        "may": ["dark"],
        "banks": [bank(commanded=True, irradiance_mw_cm2=4.93)],
        "exposure": exposure(),
    }
    return snapshot(**(parts | changed))


def rising(seconds: float) -> dict[str, Any]:
    """A box that exposes at 4 mW/cm² at the resist towards 60 mJ/cm², and then is done."""
    dose, mono_s = min(60.0, 4.0 * seconds), 1000.0 + seconds
    if dose >= 60.0:
        done = side(state="done", dose_mj_cm2=dose, irradiance_at_resist_mw_cm2=None, left_s=None)
        held = exposure(done, outcome="completed", hold_left_s=900.0, hold_ends_utc="2026-11-25T08:15:15Z")
        return snapshot(state="done", sentence="Take the panel out.", mono_s=mono_s, exposure=held)
    now = side(dose_mj_cm2=dose, irradiance_at_resist_mw_cm2=4.0, left_s=(60.0 - dose) / 4.0, lit_s=seconds)
    return lit(mono_s=mono_s, exposure=exposure(now), true_dose_mj_cm2={"A": dose * 1.001})


def rising_slowly(seconds: float) -> dict[str, Any]:
    """The same with a minute until it is done, for a browser on a crowded machine."""
    return rising(0.25 * seconds)


def past(until_s: float, began_s: float = 990.0) -> list[list[Any]]:
    """Samples of the running exposure up to `until_s`, twenty a second, its light settling."""
    count = int((until_s - began_s) * 20)
    return [[began_s + n / 20, "A", 4.0 - 2.5 / (1 + n / 10), 0.0] for n in range(count)]


def fault(**changed: Any) -> dict[str, Any]:
    """A latched fault."""
    return {
        "name": "meter_lost",
        "title": as_written("The light meter does not answer"),
        "detail": as_written("No reading for 0.6 s; the limit is 0.5 s."),
        "remedy": as_written("Check the cable of the meter, then clear the fault."),
        "stops": True,
        "since_utc": "2026-11-25T08:00:03Z",
        "cause_gone": True,
    } | changed


class FakeControl:
    """Listens at `path` between `with` and its end. `says` is the present snapshot; `commands` what was asked.

    `answers[command]` may hold a function from the request to a result, or to raise RefusalError; one that control
    would not give fails the test at its end. `mute` stops every word without closing anything, as a stopped process
    would.
    """

    def __init__(self, path: Path, said: Said | None = None, every_s: float = 0.1) -> None:
        self.path = path
        self.commands: list[dict[str, Any]] = []
        self.answers: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {}
        self.samples: list[list[Any]] = []
        self.wrong: list[str] = []
        self.every_s = every_s
        self.mute = threading.Event()
        self.stopped = threading.Event()
        self._lock = threading.Lock()
        self._seq = 0
        self.say(said or snapshot())
        self._open: set[socket.socket] = set()
        self._server: _Server | None = None

    def __enter__(self) -> Self:
        self.stopped.clear()
        self._server = _Server(str(self.path), _Conversation)
        self._server.fake = self
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), name="fake-control")
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, value: object, trace: TracebackType | None) -> None:
        self.stopped.set()
        server = cast(_Server, self._server)
        server.shutdown()
        with self._lock:
            for connection in self._open:
                connection.shutdown(socket.SHUT_RDWR)
        server.server_close()
        self._thread.join()
        self.path.unlink()
        wrong, self.wrong = self.wrong, []
        assert value is not None or not wrong, f"answers that control would not give: {wrong}"

    def say(self, said: Said) -> None:
        """Change what the box says from now on."""
        with self._lock:
            self._said, self._since_s = said, time.monotonic()

    @property
    def said(self) -> dict[str, Any]:
        """A copy of what the box says, with its number counted up."""
        with self._lock:
            self._seq += 1
            said = self._said(time.monotonic() - self._since_s) if callable(self._said) else self._said
            return copy.deepcopy(said) | {"seq": self._seq}

    def names(self) -> list[str]:
        """The commands that were given, without questions."""
        return [c["command"] for c in self.commands if c["command"] not in ("watch", "state", "trace")]

    def keep(self, connection: socket.socket, *, open_now: bool) -> None:
        """Note an open connection, so that the end can cut it."""
        with self._lock:
            (self._open.add if open_now else self._open.discard)(connection)

    def reply(self, line: bytes) -> Reply:
        """Answer one line as control would."""
        try:
            asked = parse_request(line)
        except BadRequestError as error:
            return _refused(error.number, error.code, error.field, error.message, error.remedy)
        number, command, request = asked.number, asked.command, json.loads(line)
        self.commands.append(request)
        try:
            result = self._result(command, request)
        except RefusalError as refusal:
            return _refused(number, refusal.code, refusal.field, refusal.message, refusal.remedy)
        try:
            check_answer(command, result)
        except (ValueError, AssertionError) as error:
            self.wrong.append(f"{command}: {error}")
        return {"id": number, "ok": True, "result": result}

    def _result(self, command: str, request: dict[str, Any]) -> dict[str, Any]:
        if command in self.answers:
            return self.answers[command](request)
        if command in ANSWERS:
            return copy.deepcopy(ANSWERS[command])
        if command in ("state", "watch"):
            return self.said
        if command.startswith("commission_"):
            return {"commissioning": self.said["commissioning"]}
        if command == "trace":
            later = [s for s in self.samples if s[0] > request["since_s"]]
            return {"samples": later[:CURVE_PIECE]}
        raise KeyError(f"no answer to {command}")


class RefusalError(Exception):
    """What a test wants control to refuse with."""

    def __init__(self, code: str, message: str, field: str | None = None, remedy: str | None = None) -> None:
        super().__init__(message)
        self.code, self.message, self.field, self.remedy = code, message, field, remedy


def _refused(number: Any, code: str, field: str | None, message: str, remedy: str | None = None) -> Reply:
    told = {"message": as_written(message), "remedy": None if remedy is None else as_written(remedy)}
    error = packed({"code": code, "field": field, **told})
    return {"id": number, "ok": False, "error": error}


class _Server(socketserver.ThreadingUnixStreamServer):
    daemon_threads = False
    block_on_close = True
    fake: FakeControl

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A page that hangs up in the middle is ordinary."""


class _Conversation(socketserver.StreamRequestHandler):
    server: _Server

    def handle(self) -> None:
        fake = self.server.fake
        fake.keep(self.connection, open_now=True)
        try:
            while line := self.rfile.readline(64 * 1024):
                while fake.mute.is_set() and not fake.stopped.is_set():
                    fake.stopped.wait(0.02)
                reply = fake.reply(line)
                self._send(reply)
                if reply["ok"] and json.loads(line)["command"] == "watch":
                    self._tell(fake)
        except (OSError, ValueError):
            pass
        finally:
            fake.keep(self.connection, open_now=False)

    def _tell(self, fake: FakeControl) -> None:
        while not fake.stopped.is_set():
            if not fake.mute.is_set():
                self._send({"event": "state", "state": fake.said})
            fake.stopped.wait(fake.every_s)

    def _send(self, message: dict[str, Any]) -> None:
        self.wfile.write(json.dumps(packed(message)).encode() + b"\n")


def state_of(watch: SnapshotWatch) -> str | None:
    """The state that the page knows of."""
    snapshot = watch.latest().snapshot
    return snapshot["state"] if snapshot else None


def hear(watch: SnapshotWatch, control: FakeControl, said: Said) -> None:
    """Let the box say something, and wait until the page has heard it: the first word to come may be an older one."""
    heard = watch.latest().heard
    control.say(said)
    wait_until(lambda: watch.latest().heard > heard + 1)


def wait_until(true: Callable[[], bool], limit_s: float = 60.0) -> None:
    """Wait until `true()` holds; fails loudly when it does not. A long limit costs nothing where all is well."""
    ends_s = time.monotonic() + limit_s
    while not true():
        if time.monotonic() > ends_s:
            raise AssertionError(f"did not become true within {limit_s} s")
        time.sleep(0.01)
