"""What the pages share: the link to control, the watch on its state, and where recipes and logbook lie."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

from flask import current_app

from sumlight.store.recipes import RecipeShelf
from sumlight_web.hosts import LOCAL_HOSTS
from sumlight_web.link import ControlLink, SnapshotWatch

if TYPE_CHECKING:
    from sumlight_web.stream import StreamHall


@dataclass(frozen=True)
class PageConfig:
    """`socket` is control's Unix socket; `data` the folder with `recipes/` and `logbook.sqlite`.

    `stream_life_s` and `stream_limit` bound the live streams.
    """

    socket: Path
    data: Path
    trusted_hosts: tuple[str, ...] = LOCAL_HOSTS
    stream_life_s: float = 30.0
    stream_limit: int = 6


@dataclass(frozen=True)
class Desk:
    """Built once per application."""

    link: ControlLink
    watch: SnapshotWatch
    hall: StreamHall
    shelf: RecipeShelf
    logbook_path: Path

    def close(self) -> None:
        """End the watch and, with it, every live stream."""
        self.watch.close()


def desk() -> Desk:
    """The desk of the application that serves the present request."""
    return cast(Desk, current_app.extensions["sumlight"])
