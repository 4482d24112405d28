"""What was seen and made, as the page shows it: numbered places on a picture, facts, bars of grey. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from sumlight.craft.chemistry import loading
from sumlight.text.message import Message
from sumlight_web import words
from sumlight_web.artwork import shiftmap
from sumlight_web.artwork.worktable import FILMS as FILM_SIDES
from sumlight_web.artwork.worktable import Standing
from sumlight_web.language import N_, _, reader

FILMS = ("front.pdf", "back.pdf", "front.png", "back.png", "front.svg", "back.svg")
KINDS = {".png": "image/png", ".pdf": "application/pdf", ".svg": "image/svg+xml"}
SHOWN = 5
"""Places of a finding that get a number on the picture; the first are the worst."""
BAR_COUNT = 32
STAGE_WORDS = {
    "": N_("It begins."),
    "reading": N_("Reading it."),
    "straightening": N_("Straightening it."),
    "cleaning": N_("Cleaning and checking it."),
    "drawing": N_("Drawing the openings smaller."),
    "etching": N_("Working out how it etches."),
    "writing": N_("Writing the films."),
}


@dataclass(frozen=True)
class Mark:
    """A numbered place on the picture."""

    number: int
    x_mm: float
    y_mm: float
    radius_mm: float


@dataclass(frozen=True)
class Told:
    """A finding with the numbers of its places on the picture; `more` are those without one."""

    words: Message
    remedy: Message
    numbers: tuple[int, ...]
    more: int


@dataclass(frozen=True)
class MadeView:
    """The result: findings with their marks, size of the picture in mm, and facts as label and value."""

    findings: tuple[Told, ...]
    marks: tuple[Mark, ...]
    wide_mm: float
    high_mm: float
    facts: tuple[tuple[str, str], ...]
    two_films: bool
    open_cm2: float
    guess_by: str
    folded: tuple[Message, ...]


def line(standing: Standing) -> str:
    """What is being done, in a sentence."""
    if standing.phase == "arriving":
        return _("The file arrives: {share} %.", share=round(100 * standing.arrived_share))
    if standing.phase != "working":
        return ""
    if standing.waits:
        return _("Waiting until the lamps are off.")
    if standing.kind == "compare":
        return _("Comparing them.")
    return _("Looking at it.") if standing.kind == "look" else _(STAGE_WORDS.get(standing.stage, STAGE_WORDS[""]))


def bars(seen: dict[str, Any]) -> list[tuple[float, bool]]:
    """Heights from 0 to 1 for a picture of the tones, by their square root, and whether each counts as black."""
    counts = seen.get("tones") or []
    if not counts:
        return []
    step = len(counts) // BAR_COUNT
    sums = [sum(counts[first : first + step]) for first in range(0, len(counts), step)]
    most = max(sums) or 1
    return [((one / most) ** 0.5, (number + 0.5) * step < seen["threshold"]) for number, one in enumerate(sums)]


def made_view(standing: Standing) -> MadeView:
    """The result of a piece of work."""
    made = standing.made
    wide, high = made["seen_mm"]
    marks, told = _numbered((*made["findings"], *made["part"]["findings"]), wide, high)
    asked = standing.asked.get("asked", {})
    return MadeView(
        tuple(told),
        tuple(marks),
        wide,
        high,
        tuple(_facts(made, asked, standing.asked.get("metal", ""))),
        asked.get("build") == "sheet",
        made["open_cm2"],
        standing.asked.get("guess_by", ""),
        tuple(made.get("folded", ())),
    )


@dataclass(frozen=True)
class ShownMap:
    """A map of where places lie off: drawn, and its numbers for a table."""

    svg: Markup
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class MetView:
    """How a scan met what was made."""

    sentences: tuple[Message, ...]
    findings: tuple[Told, ...]
    marks: tuple[Mark, ...]
    wide_mm: float
    high_mm: float
    map: ShownMap | None
    back_on_front: ShownMap | None
    does: str


def met_view(standing: Standing) -> MetView:
    """The result of a comparison; with both films compared, also how the back lies on the front."""
    compared = standing.compared
    wide, high = compared["size_mm"]
    marks, told = _numbered(compared["findings"], wide, high)
    both = shiftmap.back_on_front(*(standing.sides.get(side, {}) for side in FILM_SIDES))
    done = shiftmap.what_it_does(both, standing.made, standing.asked.get("asked", {}))
    does = ""
    if done is not None:
        does = _(
            "At the worst place the walls of the part get a step of {step} µm, and openings come out {narrower} µm "
            "narrower across it.",
            step=words.number(done.step_um, 0),
            narrower=words.number(done.narrower_um, 0),
        )
    return MetView(
        tuple(compared["told"]),
        tuple(told),
        tuple(marks),
        wide,
        high,
        _map(shiftmap.places_of(compared), _("How far places of the scan lie off")),
        _map(both, _("How far the back lies off the front, seen from the front")),
        does,
    )


def _map(places: Sequence[shiftmap.Place], label: str) -> ShownMap | None:
    if not places:
        return None
    rows = [
        (
            words.length(round(one.x_mm, 1)),
            words.length(round(one.y_mm, 1)),
            *(words.number(um, 0) for um in (one.right_um, one.down_um, one.off_um)),
        )
        for one in places
    ]
    return ShownMap(shiftmap.map_svg(places, label), tuple(rows))


def _numbered(findings: Iterable[dict[str, Any]], wide: float, high: float) -> tuple[list[Mark], list[Told]]:
    """Findings with their first places numbered through."""
    marks: list[Mark] = []
    told: list[Told] = []
    for one in findings:
        numbers = []
        for place in one["places"][:SHOWN]:
            numbers.append(len(marks) + 1)
            radius = min(max(place["size_um"] / 2000, max(wide, high) / 60), max(wide, high) / 6)
            marks.append(Mark(len(marks) + 1, place["x_mm"], place["y_mm"], radius))
        told.append(Told(one["words"], one["remedy"], tuple(numbers), max(0, one["count"] - len(numbers))))
    return marks, told


def _facts(made: dict[str, Any], asked: dict[str, Any], metal: str) -> list[tuple[str, str]]:
    facts = [(_("Artwork"), _size(made["seen_mm"]))]
    if made["tilt_degrees"]:
        facts.append((_("Straightened by"), f"{words.number(abs(made['tilt_degrees']), 2)}°"))
    facts.append((_("Cleaned"), _("{n} specks and pinholes", n=made["specks"] + made["pinholes"])))
    facts.append((_("Openings drawn smaller by"), _("{um} µm at each edge", um=words.number(made["moves_um"], 0))))
    if made["factors"]["guessed"]:
        inward, outward = (words.number(one, 0) for one in made["guess_um"])
        off = _("{inward} µm further in to {outward} µm further out", inward=inward, outward=outward)
        facts.append((_("An edge may be off by this, as the factor is a guess"), off))
    facts.append(
        (_("Etch until the bath has reached"), _("{um} µm on each side", um=words.number(made["reach_um"], 0)))
    )
    if made["tabs"]:
        width = words.number(made["tab_um"], 0)
        facts.append((_("Tabs"), _("{n}, {um} µm wide at the narrowest", n=made["tabs"], um=width)))
    facts.append((_("Opened area, all faces together"), _area(made["open_cm2"])))
    density = loading.METALS.get(metal)
    if density is not None:
        grams = made["metal_mm3"] / 1000 * density.density_g_cm3
        facts.append((_("Metal that the bath takes up"), f"{words.number(grams, 2)} g"))
    facts.append((_("Cut the metal to"), _size(made["metal_mm"])))
    facts.append((_("Size of the films"), _size(made["film_mm"])))
    return facts


def _size(pair: Any) -> str:
    return f"{words.length(round(pair[0], 1))} × {words.length(round(pair[1], 1))}"


def _area(cm2: float) -> str:
    """A part's openings are often a few cm²: one decimal more than a panel's area has."""
    return words.area(cm2) if reader().units == "inch" else f"{words.number(cm2, 1)} cm²"
