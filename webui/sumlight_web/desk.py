"""What the pages share: the link to control, the watch on its state, and where recipes and logbook lie."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import cast

from flask import current_app

from sumlight.store.recipes import RecipeShelf, RecipeShelfError, StoredRecipe
from sumlight_web.hosts import LOCAL_HOSTS
from sumlight_web.link import CommandRefusedError, ControlLink, LinkDownError, SnapshotWatch
from sumlight_web.stream import StreamHall

HEAR_ROUNDS = 8

OWN_FOLDER = "page"
"""In the data folder: what the page alone writes. An account of the page's own may write here and in recipes/ only."""


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

    @property
    def own(self) -> Path:
        """The page's own folder."""
        return self.data / OWN_FOLDER


@dataclass(frozen=True)
class Desk:
    """Built once per application."""

    link: ControlLink
    watch: SnapshotWatch
    hall: StreamHall
    shelf: RecipeShelf
    logbook_path: Path

    @property
    def own(self) -> Path:
        """The page's own folder."""
        return self.logbook_path.parent / OWN_FOLDER

    @property
    def reports(self) -> Path:
        """The folder into which control writes the reports of commissioning."""
        return self.logbook_path.parent / "commissioning"

    def close(self) -> None:
        """End the watch and, with it, every live stream."""
        self.watch.close()


def desk() -> Desk:
    """The desk of the application that serves the present request."""
    return cast(Desk, current_app.extensions["sumlight"])


def usable_recipes() -> list[StoredRecipe]:
    """What can be chosen; empty when the folder cannot be read, which the recipes' own page explains."""
    try:
        return [entry for entry in desk().shelf.list() if isinstance(entry, StoredRecipe)]
    except RecipeShelfError:
        return []


def hear_of_it() -> None:
    """Wait until the watch has heard of what was just done, so that the next page does not show the box before it."""
    try:
        asked = desk().link.ask("state")["seq"]
    except (LinkDownError, CommandRefusedError, KeyError):
        return
    for _round in range(HEAR_ROUNDS):
        latest = desk().watch.latest()
        if latest.snapshot is not None and latest.snapshot["seq"] > asked:
            return
        desk().watch.wait_newer(latest.heard, 0.2)
