"""What the forms of Artwork ask, and what becomes of it for the process that does the work."""

from dataclasses import asdict
from typing import Any

from sumlight.bounds import Bounds
from sumlight.craft.chemistry import loading
from sumlight.craft.etching import factor, fold, limits
from sumlight.craft.etching.compensation import MOST_OVER_ETCH, OVER_ETCH, SMALLEST_PRINTED_UM, WANTED_AT
from sumlight.craft.etching.fold import TOWARDS, Fold
from sumlight.text.message import say
from sumlight_web.artwork.bench import Offer
from sumlight_web.forms import Form, Input, blank, cut, read
from sumlight_web.language import N_, _
from sumlight_web.texts import text_of

BLACKS = (
    ("open", N_("Openings"), N_("the metal there goes")),
    ("metal", N_("Metal"), N_("it stays")),
)
BUILDS = (
    ("sheet", N_("A sheet, from both sides"), N_("a pair of films")),
    ("masked", N_("A sheet, from one side"), N_("the back is covered")),
    ("foil", N_("Foil on a carrier"), N_("a board")),
)
RESISTS = (
    ("open", N_("It hardens it"), N_("dry film: black becomes openings")),
    ("metal", N_("It makes it soluble"), N_("positive resist: black stays metal")),
)
CROPS = (
    ("frame", N_("To its frame"), N_("with the line; without a frame, to all that is drawn")),
    ("inside", N_("Inside its frame"), N_("the line goes")),
    ("no", N_("Not at all"), ""),
)
OUTLINES = (
    ("waist", N_("Where openings are smallest"), N_("the waist: what light falls through")),
    ("surface", N_("At the surface"), ""),
)
METALS = tuple(loading.METALS)

FOLD_HELP = N_(
    "One in each line: how far its two ends lie from the left and from the top of the part, and the angle if it is no "
    "right one: 10 5 10 30 60. Half-etched from the inside of the bend. A tap on the picture of the part tells places."
)
ONE_END = Input("fold", "", "number", "mm", bounds=Bounds(0, fold.LONGEST_MM))
ANGLE = Input("angle", "", "number", "°", bounds=Bounds(*fold.ANGLES_DEG))

SCALE = (
    Input("known_px", N_("Pixels that it has in the picture"), "number", bounds=Bounds(1, 1e6)),
    Input("known_mm", N_("Length of something on the sheet"), "number", "mm", bounds=Bounds(0, 2000, above=True)),
)
MAKE = (
    Input("thickness_um", N_("Thickness of the metal"), "number", "µm", bounds=Bounds(*factor.SHEET_UM)),
    Input(
        "factor",
        N_("Etch factor of a coupon"),
        "number",
        help=N_("Depth over undercut on each side, measured on this metal, thickness and bath."),
        optional=True,
        bounds=Bounds(0, above=True),  # another meaning of it is asked for: see `typed`
    ),
    Input("name", N_("Name on the films"), optional=True, longest=40),
    Input(
        "tabs",
        N_("Tabs for each piece that falls out"),
        "whole",
        help=N_("Bridges as wide as the metal is thick. They are cut and filed off later."),
        bounds=Bounds(0, limits.MOST_TABS),
    ),
    Input("black", N_("What does black stand for?"), "pick"),
    Input("build", N_("What is etched?"), "pick"),
    Input("metal", N_("Metal"), "pick", help=N_("For the mass that the bath takes up.")),
    Input("film_black", N_("What does light do to the resist?"), "pick"),
    Input("crop", N_("Crop it"), "pick"),
    Input("wanted_at", N_("Where is the outline meant?"), "pick"),
    Input(
        "over_etch",
        N_("Over-etch"),
        "number",
        help=N_("Reach over what just goes through."),
        bounds=Bounds(1, MOST_OVER_ETCH),
    ),
    Input(
        "bias_um",
        N_("How far film and light widen openings at each edge"),
        "number",
        "µm",
        help=N_("Compared films tell it. Below 0, they narrow them."),
        bounds=Bounds(-limits.MOST_BIAS_UM, limits.MOST_BIAS_UM),
    ),
    Input(
        "printed_x_mm",
        N_("What 100 mm across come out as when printed"),
        "number",
        "mm",
        help=N_(
            "Measured on a printed film with a steel rule, as long a length as there is. The films make up for it."
        ),
        bounds=Bounds(100 * limits.PRINTED[0], 100 * limits.PRINTED[1]),
    ),
    Input(
        "printed_y_mm",
        N_("What 100 mm down come out as"),
        "number",
        "mm",
        bounds=Bounds(100 * limits.PRINTED[0], 100 * limits.PRINTED[1]),
    ),
    Input(
        "folds_front",
        N_("Fold lines towards the front"),
        "long",
        help=FOLD_HELP,
        optional=True,
        longest=1500,
    ),
    Input("folds_back", N_("Fold lines towards the back"), "long", help=FOLD_HELP, optional=True, longest=1500),
    Input("speck_um", N_("Smaller is dust"), "number", "µm", bounds=Bounds(0, limits.LARGEST_SPECK_UM)),
    Input(
        "border_mm", N_("Metal around it, to hold and tape"), "number", "mm", bounds=Bounds(0, limits.WIDEST_BORDER_MM)
    ),
)
TICKS = ("straighten", "invert", "mirror", "control_marks")
PICKED = {
    "black": [one[0] for one in BLACKS],
    "build": [one[0] for one in BUILDS],
    "metal": list(METALS),
    "film_black": [one[0] for one in RESISTS],
    "crop": [one[0] for one in CROPS],
    "wanted_at": list(WANTED_AT),
}


def proposed(asked: dict[str, Any], kind: str = "", taken: dict[str, str] | None = None) -> Form:
    """The form as it was sent last, or else what most people need; in a Gerber file dark is metal.

    `taken` goes before both: what a person took over from compared scans.
    """
    given = asked.get("asked") or {}
    first = {
        "black": "metal" if kind == "GERBER" else "open",
        "film_black": "open",
        "build": "sheet",
        "metal": "brass",
        "crop": "frame",
        "wanted_at": "waist",
        "over_etch": f"{OVER_ETCH:g}",
        "speck_um": f"{limits.SPECK_UM:g}",
        "border_mm": f"{limits.BORDER_MM:g}",
        "tabs": "0",
        "bias_um": "0",
        "printed_x_mm": "100",
        "printed_y_mm": "100",
    }
    for axis in ("x", "y"):
        if isinstance(given.get(f"printed_{axis}"), int | float):
            first[f"printed_{axis}_mm"] = f"{100 * given[f'printed_{axis}']:.6g}"
    known = {each.key: _typed(given[each.key]) for each in MAKE if given.get(each.key) is not None}
    known |= _folds_typed(given.get("folds", ()))
    known |= {"metal": asked["metal"]} if asked.get("metal") in METALS else {}
    known |= {"name": asked["name"]} if isinstance(asked.get("name"), str) else {}
    form = blank(MAKE, **(first | known | (taken or {})))
    ticks = {key: bool(given[key]) for key in TICKS if key in given}
    return _with_ticks(form, {"straighten": True, "control_marks": True} | ticks)


def taken(offer: Offer) -> dict[str, str]:
    """What a person takes over from compared scans."""
    use = offer.use
    found = {"bias_um": f"{use.bias_um:g}", "metal": offer.metal}
    # Without a part, factor and over-etch are what trays commonly do: a guess that the form has by itself.
    return found | ({"factor": f"{use.factor:g}", "over_etch": f"{use.over_etch:g}"} if offer.parts else {})


def corrected(compared: dict[str, Any], asked: dict[str, Any]) -> dict[str, str] | None:
    """What a compared film says of its printer, for the form; None for what is no film, or nothing a printer does.

    The film made up for something already: what is left comes on top.
    """
    if compared.get("with") not in ("front", "back") or "scale_x" not in compared:
        return None
    found = {axis: compared[f"scale_{axis}"] * asked.get(f"printed_{axis}", 1.0) for axis in ("x", "y")}
    if not all(limits.PRINTED[0] <= one <= limits.PRINTED[1] for one in found.values()):
        return None
    return {f"printed_{axis}_mm": f"{100 * one:.6g}" for axis, one in found.items()}


def _typed(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _with_ticks(form: Form, ticks: dict[str, bool]) -> Form:
    form.values |= {key: "1" for key, on in ticks.items() if on}
    return form


def typed(sent: dict[str, str]) -> Form:
    """What was sent, checked."""
    form = read(MAKE, sent)
    for key, offered in PICKED.items():
        if form.text(key) and form.text(key) not in offered:
            form.add(key, _("Choose one."))
    _folds(form)
    told = form.number("factor")
    try:
        if told is not None:
            factor.etch_factor(told)
    except ValueError as error:
        form.add("factor", text_of(error.args[0]))
    return _with_ticks(form, {key: key in sent for key in TICKS})


def task_of(form: Form, known: dict[str, Any], operator: str) -> dict[str, Any]:
    """The task for the process, and beside it what only the page wants to know again."""
    guessed = form.number("factor") is None
    asked: dict[str, Any] = {key: form.text(key) for key in ("black", "film_black", "build", "crop", "wanted_at")}
    asked |= {
        key: form.required_number(key) for key in ("thickness_um", "over_etch", "bias_um", "speck_um", "border_mm")
    }
    asked |= {key: bool(form.text(key)) for key in TICKS} | {"tabs": form.required_whole("tabs")}
    asked |= {f"printed_{axis}": form.required_number(f"printed_{axis}_mm") / 100 for axis in ("x", "y")}
    asked |= {"folds": [asdict(one) for one in _folds(form)]}
    asked |= {"factor": form.number("factor"), "smallest_printed_um": SMALLEST_PRINTED_UM, "name": _on_film(form)}
    asked |= {"front_word": _("FRONT"), "back_word": _("BACK")}
    who = {"guess_by": operator} if guessed else {}
    return {"asked": asked, "known": known or None, "metal": form.text("metal"), "name": form.text("name")} | who


def _folds(form: Form) -> list[Fold]:
    """The fold lines that were typed; what is wrong with one stands beside its field."""
    found = []
    for towards in TOWARDS:
        key = f"folds_{towards}"
        for line in filter(None, map(str.strip, form.text(key).replace(";", "\n").split("\n"))):
            parts = line.split()
            try:
                if len(parts) not in (4, 5):
                    raise ValueError(say("art_fold_typed", typed=cut(line)))
                places = [ONE_END.number(one) for one in parts[:4]]
                found.append(Fold(towards, *places, *map(ANGLE.number, parts[4:])))
            except ValueError as error:
                form.add(key, text_of(error.args[0]))
    if len(found) > fold.MOST_FOLDS:
        form.add("folds_front", _("At most {n} fold lines; these are {m}.", n=fold.MOST_FOLDS, m=len(found)))
    return found


def _folds_typed(given: Any) -> dict[str, str]:
    """Fold lines as they could be typed, with their units."""
    lines: dict[str, list[str]] = {}
    for one in given:
        ends = " ".join(f"{one[key]:.6g}mm" for key in ("x_mm", "y_mm", "to_x_mm", "to_y_mm"))
        lines.setdefault(f"folds_{one['towards']}", []).append(f"{ends} {one['angle_deg']:g}")
    return {key: "\n".join(each) for key, each in lines.items()}


def _on_film(form: Form) -> str:
    """What stands on the films: name, thickness, and by what they were drawn."""
    by = form.number("factor")
    thickness = form.required_number("thickness_um")
    etched = say("art_film_guess") if by is None else say("art_film_factor", factor=by)
    words = say("art_film", thickness_mm=thickness / 1000, etched=etched, k=form.required_number("over_etch"))
    return "  ".join(part for part in (form.text("name"), text_of(words)) if part)
