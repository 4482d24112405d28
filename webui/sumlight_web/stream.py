"""The live state of the box: its frames, and the events of its streams. `live` has the routes to them.

Each stream holds one thread of the server, so their number and their life are bounded; a browser comes back by itself
and names the last point it has, and the gap in its curve is filled.
"""

import json
import math
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from jinja2 import Environment

from sumlight_web.bar.offers import OfferKeeper, Offers
from sumlight_web.bench.view import BenchView, bench_view, live_points, offers_after
from sumlight_web.curvekeeper import CurveKeeper, Point
from sumlight_web.language import Reader, written_for
from sumlight_web.light.places import PlacesKeeper
from sumlight_web.link import ControlLink, Latest, SnapshotWatch

PARTS = ("lamps", "step", "sides", "faults", "actions", "warnings", "picks", "asked", "bar", "rings")
"""Pieces of the Bench page that are drawn anew by the server when their key changes."""

BAR_PARTS = ("bar", "rings")
"""Those that stand on every page."""

SHORTEST_GAP_S = 0.09


@dataclass(frozen=True)
class Viewer:
    """For whom a frame is: what they read, and whether they may operate."""

    reader: Reader
    operator: bool


@dataclass
class Frame:
    """One moment as viewers of one kind see it: computed once, shared by all their streams."""

    latest: Latest
    view: BenchView
    viewer: Viewer
    templates: Environment
    offers: Offers = field(default_factory=Offers)
    html: dict[str, str] = field(default_factory=dict)

    def part(self, name: str) -> str:
        """The markup of a part of the Bench or of the bar. A stream outlives its request: nothing of that is used."""
        if name not in self.html:
            template = self.templates.get_template(f"{'bar' if name in BAR_PARTS else 'bench'}/_{name}.html")
            with written_for(self.viewer.reader):
                self.html[name] = template.render(
                    view=self.view, snapshot=self.latest.snapshot, operator=self.viewer.operator, offers=self.offers
                )
        return self.html[name]


class Frames:
    """The present frame, made anew only when something has changed."""

    def __init__(self, watch: SnapshotWatch, templates: Environment, offers: OfferKeeper, places: PlacesKeeper) -> None:
        self._watch = watch
        self._templates = templates
        self._offers = offers
        self._places = places
        self._lock = threading.Lock()
        self._key: tuple[int, bool, int, int] | None = None
        self._frames: dict[Viewer, Frame] = {}

    def current(self, viewer: Viewer) -> Frame:
        """The newest frame for this kind of viewer; the same object while nothing has changed."""
        latest = self._watch.latest()
        offers = self._offered(latest)
        key = (latest.heard, latest.live, 0 if latest.live else int(latest.age_s), offers.look)
        places = self._places.of(latest.snapshot)
        with self._lock:
            if key != self._key:
                self._key, self._frames = key, {}
            if viewer not in self._frames:
                with written_for(viewer.reader):
                    view = bench_view(latest, operator=viewer.operator, offers=offers, places=places)
                self._frames[viewer] = Frame(latest, view, viewer, self._templates, offers)
            return self._frames[viewer]

    def chosen(self, viewer: Viewer, name: str) -> Frame:
        """The newest frame for a page now being written, with that recipe chosen; its shelf is looked through anew."""
        latest = self._watch.latest()
        offers = self._offered(latest, anew=True).choose(name)
        places = self._places.of(latest.snapshot)
        with written_for(viewer.reader):
            view = bench_view(latest, operator=viewer.operator, offers=offers, places=places)
        return Frame(latest, view, viewer, self._templates, offers)

    def _offered(self, latest: Latest, *, anew: bool = False) -> Offers:
        state = latest.snapshot["state_number"] if latest.snapshot else None
        return offers_after(self._offers.now(state, anew=anew), latest.snapshot)


class StreamHall:
    """Counts the open streams and produces their events."""

    def __init__(
        self,
        watch: SnapshotWatch,
        link: ControlLink,
        templates: Environment,
        offers: OfferKeeper,
        places: PlacesKeeper,
        limit: int,
        life_s: float,
    ) -> None:
        self.offers = offers
        self.frames = Frames(watch, templates, offers, places)
        self._watch = watch
        self._curve = CurveKeeper(link)
        self._life_s = life_s
        self._places = threading.BoundedSemaphore(limit)

    def enter(self) -> Callable[[], None] | None:
        """Take a place; returns what gives it back (once, however often it is called), or None when all are taken."""
        if not self._places.acquire(blocking=False):
            return None
        left = threading.Lock()

        def leave() -> None:
            if left.acquire(blocking=False):
                self._places.release()

        return leave

    def events(self, viewer: Viewer, after: str, gone: Callable[[], bool]) -> Iterator[str]:
        """Events of one stream until its life is over, the browser has `gone`, or the server closes."""
        ends_s = time.monotonic() + self._life_s
        before: Frame | None = None
        points = self.backfill(after)
        yield "retry: 500\n\n"
        while time.monotonic() < ends_s and not self._watch.closing and not gone():
            frame = self.frames.current(viewer)
            if frame is not before:
                points += fresh(live_points(frame.latest), points)
                yield _event(frame, before, points)
                before, points = frame, []
                self._watch.rest(SHORTEST_GAP_S)
            self._watch.wait_newer(frame.latest.heard, 0.2)

    def backfill(self, after: str) -> list[Point]:
        """The curve of the running exposure since the point that `after` (`exposure:mono_s`) names, or all of it."""
        latest = self._watch.latest()
        if latest.snapshot is None or latest.snapshot["exposure"] is None:
            return []
        return self._curve.since(_since(after, latest.snapshot["exposure"]["exposure_id"]), latest)


def _since(after: str, exposure_id: int | None) -> float:
    number, _, mono_s = after.partition(":")
    try:
        since_s = float(mono_s)
    except ValueError:
        return 0.0
    return since_s if number == str(exposure_id) and math.isfinite(since_s) else 0.0


def fresh(live: list[Point], known: list[Point]) -> list[Point]:
    """The live points that a back-fill has not brought already."""
    last_s = max((float(p[0]) for p in known), default=-math.inf)
    return [p for p in live if float(p[0]) > last_s]


def state_object(frame: Frame, before: Frame | None, points: list[Point]) -> dict[str, Any]:
    """What a page needs to show `frame` when it shows `before` already."""
    view = frame.view
    old = before.view if before else BenchView(False)
    stale_parts = [name for name in PARTS if before is None or view.keys.get(name) != old.keys.get(name)]
    return {
        "live": view.live,
        "texts": _changed(view.texts, old.texts),
        "marks": _changed(view.marks, old.marks),
        "shows": _changed(view.shows, old.shows),
        "values": _changed(view.values, old.values),
        "parts": {name: {"key": view.keys.get(name, ""), "html": frame.part(name)} for name in stale_parts},
        "plan": view.plan,
        "points": points,
        "id": _event_id(frame, points),
    }


def bar_object(frame: Frame) -> dict[str, Any]:
    """What a page other than Bench needs for its bar."""
    view = frame.view
    return {
        "live": view.live,
        "texts": {key: text for key, text in view.texts.items() if key.startswith("bar.")},
        "marks": {"bar": view.marks["bar"]},
        "parts": {name: {"key": view.keys[name], "html": frame.part(name)} for name in BAR_PARTS},
    }


def _changed(new: dict[str, Any], old: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in new.items() if key not in old or old[key] != value}


def _event_id(frame: Frame, points: list[Point]) -> str | None:
    if not frame.view.plan or not points:
        return None
    return f"{frame.view.plan['exposure_id']}:{points[-1][0]}"


def _event(frame: Frame, before: Frame | None, points: list[Point]) -> str:
    state = state_object(frame, before, points)
    head = f"id: {state['id']}\n" if state["id"] else ""
    return f"{head}event: state\ndata: {json.dumps(state, separators=(',', ':'))}\n\n"
