"""A simulated box in a thread of its own, and the page upon it: nothing outside it has checked its doses yet."""

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from sumlight.cli.simulated import SimulatedBox
from sumlight.control.daemon import RECIPES, SOCKET
from sumlight.protocol.client import ControlClient
from sumlight.protocol.press import seen
from sumlight.protocol.snapshot import UNDER_LIGHT
from sumlight.store.recipes import RecipeStore
from sumlight.twin.events import EVENTS
from sumlight.twin.scenario import Scenario
from sumlight_web.app import create_app
from sumlight_web.services import PageConfig
from tests.control.bench_box import demo_box, recipe_text
from tests.running import first_in_line
from tests.webui.fake_control import wait_until
from tests.webui.given import ORIGIN
from tests.webui.operating import operator_of

SPEED = 40.0
LIMIT_S = 120.0


class RunningBox:
    """A context manager; `client` is a browser whose owner has logged in."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self._stop, self._up = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run)
        self.attended = threading.Event()
        """Set while somebody at the box opens and shuts the lid between rounds."""
        self.heard: set[str] = set()
        """Every text that a snapshot had while anything was done: what a display and the Bench read out."""
        self.app: Flask
        self.client: FlaskClient
        self.control: ControlClient

    def __enter__(self) -> "RunningBox":
        self._thread.start()
        assert self._up.wait(LIMIT_S)
        for name, text in (
            ("plain", recipe_text(dose_mj_cm2=12)),
            ("both", recipe_text("together", dose_mj_cm2=12)),
            ("turned", recipe_text("turned", dose_mj_cm2=12)),
            ("draft", recipe_text().replace("dose_mj_cm2: 20", "draft_lit_s: 8")),
            ("short", recipe_text(dose_mj_cm2=40, time_guard_s=13)),
        ):
            RecipeStore(self.data / RECIPES).save(name, text)
        self.control = ControlClient(self.data / SOCKET, LIMIT_S)
        common = self.data / "common"
        common.mkdir()
        for name in ("plain", "of-another-box"):
            (common / f"{name}.yaml").write_text(recipe_text(dose_mj_cm2=15), encoding="utf-8")
        self.app = create_app(PageConfig(self.data / SOCKET, self.data, shared=common))
        self.client = operator_of(self.app)
        return self

    def __exit__(self, *_: object) -> None:
        self.app.extensions["sumlight"].close()
        self.control.close()
        self._stop.set()
        self._thread.join(LIMIT_S)

    def _run(self) -> None:
        first_in_line(0)
        scenario = Scenario(attendant_go_after_s=None)
        box = SimulatedBox(demo_box(), scenario, self.data, speed=SPEED, attended=False, threaded=True)
        box.daemon.serve(self.data / SOCKET)
        self._up.set()
        try:
            while not self._stop.is_set():
                box.step()
                if self.attended.is_set() and box.daemon.loop.exposure.state == "turn":
                    _turn(box)
        finally:
            box.daemon.close()

    # What people do

    def state(self) -> dict[str, Any]:
        """The newest snapshot; what it says is kept."""
        told = self.control.ask("state")
        self.heard.update(_texts(told))
        return told

    def until(self, holds: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until it holds of the box; returns the snapshot that shows it."""
        end_s = time.monotonic() + LIMIT_S
        while not holds(snapshot := self.state()):
            assert time.monotonic() < end_s, (snapshot["state"], snapshot["sentence"], snapshot["faults"])
            time.sleep(0.02)
        return snapshot

    def ready(self) -> dict[str, Any]:
        """Take out what lies inside; wait until something may be lit."""
        if "start" not in self.state()["may"]:
            self.open_and_shut()
        return self.until(lambda told: "start" in told["may"] and all(bank["meter_ok"] for bank in told["banks"]))

    def open_and_shut(self) -> None:
        """A hand on the lid."""
        for do, lid in (("lid_opens", "open"), ("lid_closes", "shut")):
            self.control.ask("simulate", do=do)
            self.until(lambda told, lid=lid: told["lid"] == lid)  # type: ignore[misc]

    def light(self, recipe: str, panel: str = "", kind: str = "", **more: Any) -> int:
        """Light a panel, or a series of that kind, to its end; returns the number of its record."""
        sha = RecipeStore(self.data / RECIPES).load(recipe).sha256
        saw = seen(self.ready(), sha, "A" if not kind else "1")
        command = {"command": "series", "kind": kind} if kind else {"command": "start"}
        self.control.ask(**command, recipe=recipe, panel=panel, **(saw | more))
        while (told := self.until(lambda now: now["state"] not in UNDER_LIGHT))["state"] == "turn":
            self.open_and_shut()
            self.control.ask("go", **seen(self.until(lambda now: "go" in now["may"])))
        self.until(lambda now: now["logbook"]["lag_s"] == 0)
        return int(told["exposure"]["exposure_id"])

    # The page

    def get(self, path: str, language: str = "en") -> TestResponse:
        """A page; what it shows of the box is of now."""
        wait_until(lambda: self.app.extensions["sumlight"].watch.latest().live)
        return self.client.get(path, headers={"Accept-Language": language})

    def post(self, path: str, language: str = "en", **fields: Any) -> TestResponse:
        """A press; the page that comes of it."""
        wait_until(lambda: self.app.extensions["sumlight"].watch.latest().live)
        headers = ORIGIN | {"Accept-Language": language}
        return self.client.post(path, data=fields, headers=headers, follow_redirects=True)


def _turn(box: SimulatedBox) -> None:
    """Somebody opens the lid, and shuts it when control has seen it open."""
    do = {"shut": "lid_opens", "open": "lid_closes"}.get(box.daemon.loop.lid)
    if do is not None and "go" not in box.daemon.loop.exposure.may():
        box.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do}))


def _texts(told: Any) -> Iterator[str]:
    """Every text within an answer."""
    if isinstance(told, str):
        yield told
    elif isinstance(told, dict):
        for part in told.values():
            yield from _texts(part)
    elif isinstance(told, list):
        for part in told:
            yield from _texts(part)
