"""The bench of the checks: the daemon as a process of its own, the lid in our hands, the sensor behind the bus."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.errors import BadRequestError
from tests.guest.inside.lines import (
    ENABLE,
    HEAT_CONTACT,
    LIGHTS,
    OPEN_CONTACT,
    RELAY,
    RESTS,
    SHUT_CONTACT,
    STOP_CONTACT,
    Lines,
)
from tests.pressing import press


def _box_of_this_round() -> Path:
    """box.yaml beside this file, with the polarity of this round."""
    text = Path(__file__).with_name("box.yaml").read_text()
    found = Path("/run/box.yaml")
    found.write_text(text.replace("lights_when: low", f"lights_when: {'high' if LIGHTS else 'low'}"))
    return found


BOX = _box_of_this_round()

DATA = Path("/run/sumlight")
RECIPE = """\
# Invented for the checks.
resist: Invented film
thickness_um: 38
sides: one
dose_mj_cm2: {dose_mj_cm2}
transmission: {{a: 0.8}}
time_guard_s: 1800
hold_s: 1
interruptions: {{forgiven: 100, longest_gap_s: 3600}}
"""
SHORT_MJ_CM2, LONG_MJ_CM2 = 12.0, 2000.0
"""Three seconds of light behind this stack, and more than any check takes."""

START_LIMIT_S = 10_000.0
LIMIT_S = 15.0
LOOK_S = 0.02
ANSWER_MS = Path("/sys/module/user_i2c/parameters/answer_ms")
KEEP_RELEASED = Path("/sys/module/gpio_sim_whole/parameters/keep_released")


def control_command(box: Path = BOX) -> list[str]:
    """How the daemon is started, as systemd would do it."""
    return [sys.executable, "-m", "sumlight.cli", "box", "control", "--box", str(box), "--data", str(DATA)]


def until(condition: Callable[[], Any], what: str, limit_s: float = LIMIT_S, look_s: float = LOOK_S) -> float:
    """Wait; returns the seconds it took. Raises AssertionError after `limit_s`, naming `what` was waited for."""
    began_s = time.monotonic()
    while not condition():
        waited_s = time.monotonic() - began_s
        if waited_s > limit_s:
            raise AssertionError(f"{what}: not within {limit_s:g} s")
        time.sleep(look_s)
    return time.monotonic() - began_s


class Sensor:
    """The sensor program."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.guest.inside.sensor"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.lit_s()

    def become(self, word: str) -> None:
        """present, absent or hung."""
        if self._process.stdin is None:
            raise RuntimeError("no pipe")
        self._process.stdin.write(word + "\n")
        self._process.stdin.flush()

    def lit_s(self) -> float:
        """Seconds of full light so far."""
        self.become("tell")
        if self._process.stdout is None:
            raise RuntimeError("no pipe")
        return float(self._process.stdout.readline())

    def close(self) -> None:
        """End it."""
        self._process.communicate("", 10)


class Bench:
    """Everything the checks move and look at. `lit` brings it from any state to an exposure under light."""

    light_limit_s, light_look_s = LIMIT_S, LOOK_S

    def __init__(self, data: Path = DATA) -> None:
        self.data = data
        self.lines = Lines()
        # What the relay board does to a line that nobody drives, and the pump's input to the enable line.
        self.lines.pull(RELAY, high=RESTS)
        self.lines.pull(ENABLE, high=False)
        self.sensor = Sensor()
        self.process: subprocess.Popen[bytes] | None = None
        self.client: ControlClient | None = None
        self._said = Path("/run/control.err")
        recipes = data / "recipes"
        recipes.mkdir(parents=True, exist_ok=True)
        (recipes / "short.yaml").write_text(RECIPE.format(dose_mj_cm2=SHORT_MJ_CM2))
        (recipes / "long.yaml").write_text(RECIPE.format(dose_mj_cm2=LONG_MJ_CM2))

    # The daemon

    def spawn(self) -> None:
        """Start the daemon; does not wait for it."""
        with self._said.open("wb") as said:
            self.process = subprocess.Popen(control_command(), stderr=said, cwd="/run")

    def start(self) -> None:
        """Start the daemon, with the lid shut, and wait until it answers."""
        self.spawn()
        self.meet()

    def meet(self) -> None:
        """Wait until a daemon that was started answers, with nothing wrong around it, and unlock its box."""
        until(self._answers, "an answer at the daemon's socket", START_LIMIT_S)
        # The pin library pulls the contacts up when it claims them, as if every wire were broken.
        self.all_well()
        self.shut_lid()
        self._clear()
        if self.state()["commissioning"]["locked"]:
            self.ask("commission_override", who="check", reason="a guest without lamps cannot be commissioned")

    def runs(self) -> bool:
        """Whether the daemon was started and not ended."""
        return self.process is not None

    def _check_alive(self) -> None:
        if self.process is None or self.process.poll() is not None:
            raise AssertionError(f"the daemon ended by itself: {self.said()}")

    def _answers(self) -> bool:
        self._check_alive()
        with contextlib.suppress(ControlGoneError):
            self.client = ControlClient(self.data / "control.sock", timeout_s=5)
        return self.client is not None

    def running(self) -> subprocess.Popen[bytes]:
        """The daemon's process. Raises AssertionError if there is none."""
        if self.process is None:
            raise AssertionError("the daemon does not run")
        return self.process

    def send(self, number: signal.Signals) -> None:
        """Send the daemon a signal."""
        self.running().send_signal(number)

    def ended(self, limit_s: float = LIMIT_S) -> int:
        """Wait for the daemon's end; returns its exit status."""
        status = self.running().wait(limit_s)
        self.process = None
        if self.client is not None:
            self.client.close()
            self.client = None
        return status

    def bury(self) -> None:
        """Forget a daemon that an earlier check left dead."""
        if self.process is not None and self.process.poll() is not None:
            self.ended()

    def stop(self) -> None:
        """End the daemon if it runs."""
        if self.process is not None:
            self.send(signal.SIGTERM)
            self.ended()

    def said(self) -> str:
        """What the daemon wrote to its standard error."""
        return self._said.read_text(errors="replace")

    # Its socket

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command; returns its result."""
        if self.client is None:
            raise AssertionError("the daemon does not run")
        if command in ("start", "go"):
            return press(self.client, command, **values)
        return self.client.ask(command, **values)

    def state(self) -> dict[str, Any]:
        """The daemon's picture of the box."""
        return self.ask("state")

    def faults(self) -> list[str]:
        """Names of the standing faults."""
        return [fault["name"] for fault in self.state()["faults"]]

    def until_may(self, command: str, limit_s: float = LIMIT_S) -> None:
        """Wait until a command is possible and the light is being measured."""

        def possible() -> bool:
            state = self.state()
            return command in state["may"] and all(bank["meter_ok"] for bank in state["banks"])

        until(possible, f"{command} to be possible", limit_s)

    # Lid, signals and light

    def all_well(self) -> None:
        """The emergency stop is not pressed and the box is cool."""
        for contact in (STOP_CONTACT, HEAT_CONTACT):
            self.lines.pull(contact, high=False)

    def shut_lid(self) -> None:
        """Both contacts say shut."""
        self.lines.pull(OPEN_CONTACT, high=True)
        self.lines.pull(SHUT_CONTACT, high=False)

    def open_lid(self) -> float:
        """Both contacts say open, one after the other; returns the time just before the first moved."""
        began_s = time.monotonic()
        self.lines.pull(SHUT_CONTACT, high=True)
        self.lines.pull(OPEN_CONTACT, high=False)
        return began_s

    def change_panel(self) -> None:
        """Open the lid, take out what was lit last, shut the lid."""
        self.open_lid()
        until(lambda: self.state()["lid"] == "open", "an open lid", look_s=0.05)
        self.shut_lid()
        until(lambda: self.state()["lid"] == "shut", "a shut lid", look_s=0.05)

    def lights(self) -> bool:
        """Whether the relay line is at the level that lights."""
        return self.lines.level(RELAY) == LIGHTS

    def lit(self) -> None:
        """From any state to an exposure under light, started anew or continued."""
        if not self.runs():
            self.start()
        self.all_well()
        self.shut_lid()
        self.sensor.become("present")
        until(self._brought_to_light, "the relay line at the level that lights", self.light_limit_s, self.light_look_s)

    def shining(self) -> None:
        """Under light that the daemon has measured."""
        self.lit()
        until(self._measures_light, "measured light", self.light_limit_s, max(0.05, self.light_look_s))

    def held_up(self) -> bool:
        """Whether the daemon went dark because a busy host kept it, or the sensor program, waiting for too long."""
        faults = set(self.faults())
        return bool(faults) and faults <= {"loop_late", "meter_lost", "too_slow"}

    def _brought_to_light(self) -> bool:
        """One step of what a person does, whatever has happened meanwhile; true once the relay line lights."""
        if self.lights():
            return True
        state = self.state()
        if state["state"] == "faulted":
            self.ask("acknowledge", who="check")
        elif all(bank["meter_ok"] for bank in state["banks"]):
            if "go" in state["may"]:
                self.ask("go")
            elif "start" in state["may"]:
                self.ask("start", recipe="long", panel="P1")
            elif state["state"] in ("idle", "done"):
                self.change_panel()
        return self.lights()

    def _measures_light(self) -> bool:
        return self._brought_to_light() and (self.state()["banks"][0]["irradiance_mw_cm2"] or 0) > 4

    def _clear(self) -> None:
        """Wait until no fault stands. Raises AssertionError with those that do."""
        try:
            until(self._acknowledged, "faults to clear", self.light_limit_s, self.light_look_s)
        except AssertionError as error:
            raise AssertionError(f"{error}: {self.state()['faults']}") from error

    def _acknowledged(self) -> bool:
        self.ask("acknowledge", who="check")
        return not self.faults()

    def idle(self) -> None:
        """A running daemon with no exposure under way and none left over."""
        if not self.runs():
            self.start()
        self.shut_lid()
        self.sensor.become("present")
        self._clear()
        with contextlib.suppress(BadRequestError):
            self.ask("abandon")
        self.change_panel()
        self.until_may("start")
        # A conversion that began before the lamps went out still tells of light.
        until(lambda: (self.state()["banks"][0]["irradiance_mw_cm2"] or 0) < 0.01, "darkness", look_s=0.06)

    def dark_after(self, since_s: float, limit_s: float = 2.0) -> float:
        """Wait until the relay line is at rest; returns the seconds from `since_s` to the moment it was set so."""
        until(lambda: not self.lights(), "the relay line at rest", limit_s, look_s=0.001)
        found = [at_s for at_s, level in self.lines.set_levels(RELAY) if level == RESTS]
        if not found:
            raise AssertionError("no program set the relay line to rest, or it did before the record began")
        return found[0] - since_s

    def under_record(self) -> float:
        """Begin a new record, let it take in some beats of the enable line, and return the time."""
        self.lines.forget()
        time.sleep(0.1)
        return time.monotonic()

    def last_beat_after(self, since_s: float, watched_s: float = 0.3) -> float:
        """Seconds from `since_s` to the last move of the enable line, known after none came for `watched_s`.

        Negative if it was before. Raises AssertionError if there are no beats on record, or no end to them.
        """
        before = 0
        began_s = time.monotonic()
        while time.monotonic() - began_s < LIMIT_S:
            time.sleep(watched_s)
            beats = self.lines.moves(ENABLE)
            if not beats:
                raise AssertionError("the enable line did not move at all")
            if len(beats) == before:
                return beats[-1][0] - since_s
            before = len(beats)
        raise AssertionError(f"the enable line still moves after {LIMIT_S:g} s")

    def close(self) -> None:
        """End every program that was started."""
        try:
            if self.process is not None:
                self.process.kill()
                self.ended()
        finally:
            self.sensor.close()
            for parameter, value in ((ANSWER_MS, "400"), (KEEP_RELEASED, "0")):
                parameter.write_text(value)


def mask_file(path: str, command: list[str]) -> list[str]:
    """`command`, run where `path` is a file that is no device, for this process alone."""
    return ["unshare", "--mount", "sh", "-c", f'mount --bind /dev/null {path} && exec "$@"', "sh", *command]


def environment(**changes: str) -> dict[str, str]:
    """This process's environment with changes."""
    return {**os.environ, **changes}
