"""What the pages share: the link to control, the watch on its state, and where recipes and logbook lie."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from flask import current_app

from sumlight.protocol.errors import BadRequestError
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe
from sumlight_web.artwork.worktable import ArtworkDesk
from sumlight_web.hosts import LOCAL_HOSTS
from sumlight_web.link import ControlLink, LinkDownError, SnapshotWatch
from sumlight_web.stream import StreamHall

HEAR_ROUNDS = 8
WRITTEN_S, LOOK_EVERY_S = 1.5, 0.03
"""Longest wait for what control writes a moment after it has answered, and how often somebody looks for it."""

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
    shared: Path | None = None
    """A folder of recipes that several boxes share."""

    @property
    def own(self) -> Path:
        """The page's own folder."""
        return self.data / OWN_FOLDER


@dataclass(frozen=True)
class AppServices:
    """Built once per application."""

    link: ControlLink
    watch: SnapshotWatch
    hall: StreamHall
    shelf: RecipeStore
    logbook_path: Path
    artwork: ArtworkDesk
    shared: Path | None = None
    """The folder of recipes that several boxes share, where one is set."""

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


def services() -> AppServices:
    """The desk of the application that serves the present request."""
    return cast(AppServices, current_app.extensions["sumlight"])


def usable_recipes() -> list[StoredRecipe]:
    """What can be chosen; empty when the folder cannot be read, which the recipes' own page explains."""
    try:
        return [entry for entry in services().shelf.list() if isinstance(entry, StoredRecipe)]
    except RecipeStoreError:
        return []


def hear_of_it() -> None:
    """Wait until the watch has heard of what was just done, so that the next page does not show the box before it."""
    try:
        asked = services().link.ask("state")["seq"]
    except (LinkDownError, BadRequestError, KeyError):
        return
    for _round in range(HEAR_ROUNDS):
        latest = services().watch.latest()
        if latest.snapshot is not None and latest.snapshot["seq"] > asked:
            return
        services().watch.wait_newer(latest.heard, 0.2)


def wait_until(written: Callable[[], bool]) -> bool:
    """Control writes a moment later than it answers: wait for that moment, so that the next page shows it; not long."""
    ends_s = time.monotonic() + WRITTEN_S
    while not written():
        if time.monotonic() > ends_s:
            return False
        time.sleep(LOOK_EVERY_S)
    return True
