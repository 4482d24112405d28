"""The curve of the panel at hand, fetched from control a piece at a time and kept for everyone who looks.

Control answers from its loop, so the page asks it for what is new and never twice for the same.
"""

import threading
from typing import Any

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.series_answers import CURVE_PIECE
from sumlight_web.downsample import downsampled
from sumlight_web.link import ControlLink, Latest, LinkDownError

Point = list[float | str]

KEPT_POINTS, SHOWN_POINTS = 6000, 1500
"""Of each side: above the first every stretch keeps its lowest and highest; a picture gets the second."""

MOST_PIECES = 200
"""More than control keeps; one that always has more to say is not listened to for ever."""

RESTARTED_S = 5.0
"""A box whose clock is this far behind the last point has begun anew: its own time, and the curve with it."""


class CurveKeeper:
    """Points of one exposure. Called from any thread; while one asks control the others wait for its answer."""

    def __init__(self, link: ControlLink) -> None:
        self._link = link
        self._lock = threading.Lock()
        self._exposure_id: int | None = None
        self._heard = -1
        self._last_s = 0.0
        self._sides: dict[str, list[Point]] = {}

    def since(self, since_s: float, latest: Latest) -> list[Point]:
        """Points after `since_s` of control's clock, in the order of time, up to about the snapshot of `latest`.

        Empty without an exposure; what control does not answer is missing.
        """
        snapshot = latest.snapshot
        if snapshot is None or snapshot["exposure"] is None:
            return []
        with self._lock:
            exposure_id = snapshot["exposure"]["exposure_id"]
            if exposure_id != self._exposure_id or snapshot["mono_s"] < self._last_s - RESTARTED_S:
                self._exposure_id, self._last_s, self._heard, self._sides = exposure_id, 0.0, -1, {}
            if latest.heard > self._heard:  # nothing is newer than a snapshot that was fetched for already
                self._heard = latest.heard
                self._fetch()
            newer = [[p for p in points if float(p[0]) > since_s] for points in self._sides.values()]
        thinned = (_thinned(points, SHOWN_POINTS) for points in newer)
        return sorted((p for points in thinned for p in points), key=_at_s)

    def _fetch(self) -> None:
        for _ in range(MOST_PIECES):
            try:
                samples = self._link.ask("trace", since_s=self._last_s).get("samples")
            except (LinkDownError, BadRequestError):
                return
            newer = [p for p in samples if _is_point(p) and p[0] > self._last_s] if isinstance(samples, list) else []
            for point in newer:
                self._sides.setdefault(str(point[1]), []).append(point)
                self._last_s = max(self._last_s, float(point[0]))
            if len(newer) < CURVE_PIECE:
                break
        for name, points in self._sides.items():
            if len(points) > KEPT_POINTS:
                self._sides[name] = _thinned(points, KEPT_POINTS // 2)


def _thinned(points: list[Point], most: int) -> list[Point]:
    return downsampled(points, most, lambda point: float(point[2]))


def _at_s(point: Point) -> float:
    return float(point[0])


def _is_point(value: Any) -> bool:
    return (
        isinstance(value, list)
        and len(value) == 4
        and isinstance(value[1], str)
        and all(isinstance(value[i], int | float) for i in (0, 2, 3))
    )
