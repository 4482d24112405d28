"""What compared scans told of this bench: kept by a press, learned from, and offered. Nothing is taken by itself.

One file in the page's own folder, which outlives the artwork on the worktable.
"""

import json
import threading
from collections.abc import Callable
from dataclasses import MISSING, asdict, dataclass, fields
from pathlib import Path
from typing import Any

from sumlight.craft.etching import learning
from sumlight.craft.etching.compensation import WANTED_AT
from sumlight.craft.etching.learning import Proposal, Seen
from sumlight.store.files import replace_file
from sumlight.text.message import Message, say

MOST = 500
"""The oldest go: a bench changes."""
FILM, PANEL = "film", "panel"
OF_ANY_METAL = (FILM, PANEL)
"""What film and light do does not ask for the metal below."""
SHOWN = {
    FILM: lambda um: say("art_kept_film", um=um),
    PANEL: lambda um: say("art_kept_panel", um=um),
    "waist": lambda um: say("art_kept_waist", um=um),
    "surface": lambda um: say("art_kept_surface", um=um),
}


@dataclass(frozen=True)
class Kept:
    """One comparison: what was compared, and by how much further openings reached at each edge than drawn.

    `metal` and `thickness_um` are those of a part. `at` names the comparison, so that it is kept once. `job_id` is the
    job whose coupon it was, 0 for none, and `labels` those of its panels, by which a bath knows them.
    """

    what: str
    growth_um: float
    thickness_um: float
    metal: str
    at: int
    job_id: int = 0
    labels: tuple[str, ...] = ()

    @property
    def seen(self) -> Seen:
        """It for `learning`. Raises ValueError for what cannot be."""
        return Seen(self.what, self.growth_um, self.thickness_um if self.what in WANTED_AT else 0.0)

    @property
    def sentence(self) -> Message:
        """What was compared, and what came out."""
        return SHOWN[self.what](self.growth_um)


@dataclass(frozen=True)
class Offer:
    """What was learned with a metal: of how many parts, in words, and what to put into the form.

    `own`: only from the parts of the job, or of the bath, that asked.
    """

    metal: str
    parts: int
    sentences: tuple[Message, ...]
    use: Proposal
    own: bool = False


class Bench:
    """The file with what was kept. Any thread may ask."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()

    def kept(self) -> list[Kept]:
        """All that was kept, the newest last; nothing where the file is missing or is none of ours."""
        try:
            told = json.loads(self._path.read_text(encoding="utf-8"))["kept"]
            found = [_kept(each) for each in told]
            for each in found:
                _ = each.seen  # raises for what nobody can have compared
                _ = each.sentence
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return []
        return found

    def keep(self, one: Kept) -> None:
        """Keep a comparison; the same one is kept once. Raises ValueError as `Seen` does, OSError."""
        _ = one.seen
        with self._lock:
            kept = self.kept()
            if all(one.at != each.at for each in kept):
                self._write([*kept, one][-MOST:])

    def take_back(self) -> None:
        """Forget the comparison that was kept last. Raises OSError."""
        with self._lock:
            self._write(self.kept()[:-1])

    def _write(self, kept: list[Kept]) -> None:
        told = {"kept": [asdict(one) for one in kept]}
        replace_file(self._path, json.dumps(told).encode(), mode=0o600)

    def of_job(self, job_id: int) -> list[Kept]:
        """What was compared of a job, the newest last."""
        return [one for one in self.kept() if one.job_id == job_id]

    def offer(
        self,
        metal: str,
        thickness_um: float,
        wanted_at: str = "waist",
        mine: Callable[[Kept], bool] = lambda _one: False,
    ) -> Offer | None:
        """What films, panels and this metal's parts say; None while nothing of them was kept, or for no such thickness.

        Where some parts are `mine`, those of a job or a bath, no others count.
        """
        of_metal = [one for one in self.kept() if one.what in OF_ANY_METAL or one.metal == metal]
        own = any(one.what not in OF_ANY_METAL and mine(one) for one in of_metal)
        if own:
            of_metal = [one for one in of_metal if one.what in OF_ANY_METAL or mine(one)]
        if not of_metal:
            return None
        try:
            done = learning.learn([one.seen for one in of_metal], thickness_um=thickness_um, wanted_at=wanted_at)
        except ValueError:
            return None
        told = [*learning.sentences(done, thickness_um, wanted_at), learning.next_use(done, thickness_um, wanted_at)]
        parts = sum(one.what not in OF_ANY_METAL for one in of_metal)
        return Offer(metal, parts, tuple(told), learning.proposal(done, thickness_um, wanted_at), own)

    def offers(self, asked: dict[str, Any], metal: str) -> list[Offer]:
        """One for each metal of which parts were compared, or else for that of the form."""
        kept = self.kept()
        parts = [one for one in kept if one.what not in OF_ANY_METAL]
        metals = list(dict.fromkeys(one.metal for one in reversed(parts))) or ([metal] if kept else [])
        found = []
        for each in metals:
            last = next((one.thickness_um for one in reversed(parts) if one.metal == each), 150.0)
            offer = self.offer(each, asked.get("thickness_um") or last, asked.get("wanted_at") or "waist")
            found += [offer] if offer is not None else []
        return found


def _kept(told: dict[str, Any]) -> Kept:
    """One comparison of the file; job and labels came later. Raises KeyError, TypeError for what is none."""
    found = {one.name: told[one.name] for one in fields(Kept) if one.name in told or one.default is MISSING}
    return Kept(**found | {"labels": tuple(str(one) for one in told.get("labels", ()))})


def kept_of(what: str, compared: dict[str, Any], made: dict[str, Any], task: dict[str, Any]) -> Kept | None:
    """What is kept of a comparison of the worktable's; None where `what` does not fit what was compared."""
    with_ = compared.get("with")
    of_part = with_ == "part"
    fitting = WANTED_AT if of_part else (PANEL,) if with_ == PANEL else (FILM,)
    if what not in fitting or "growth_um" not in compared:
        return None
    asked = task.get("asked", {})
    growth = compared["growth_um"]
    if of_part:
        # It was compared with the part that is wanted; openings were drawn smaller than that.
        growth += made["moves_um"]
    elif with_ != PANEL and asked.get("film_black") == "metal":
        growth = -growth  # there ink is metal
    thickness = asked.get("thickness_um", 0.0) if of_part else 0.0
    return Kept(what, growth, thickness, task.get("metal", "") if of_part else "", compared.get("at", 0))
