"""The steps from power-on to the first panel, each with whether it is done. Pure."""

from dataclasses import dataclass
from typing import Any

from sumlight_web.language import _
from sumlight_web.link import Latest


@dataclass(frozen=True)
class Known:
    """What there is already on this box."""

    latest: Latest
    operator: bool
    recipe: bool
    panel: bool


@dataclass
class Step:
    """One step. `state` is done, now or later; `href` where it is carried out, behind a button named `action`."""

    title: str
    text: str
    done: bool
    href: str
    action: str
    state: str = "later"


def steps(known: Known) -> list[Step]:
    """All steps in order; the first that is not done is the one to do now."""
    found = [
        _check(known.latest),
        Step(
            _("Say who operates"),
            _(
                "Nobody can light the lamps from this page until there is an operator. Whoever is not logged in only"
                " watches, also on the box's own screen. Everybody can press Lamps off."
            ),
            known.operator,
            "/access/",
            _("Set up an operator"),
        ),
    ]
    commissioning = _commissioning(known.latest)
    if commissioning is not None:
        found.append(commissioning)
    found += [
        Step(
            _("Write the first recipe"),
            _(
                "With a dose from the film's data sheet, or a time that was good with these lamps. If you know"
                " neither, a test strip finds the dose."
            ),
            known.recipe,
            "/recipes/new",
            _("New recipe"),
        ),
        Step(
            _("Expose the first panel"),
            _("Lay it in, shut the lid, press Light … at the bottom left. Its label is filled in."),
            known.panel,
            "/",
            _("To the Bench"),
        ),
        Step(
            _("Find out what the dose is worth"),
            _(
                "Doses repeat from the first day. To be right in mJ/cm² they need a calibration: a radiometer, or a"
                " step tablet on your own resist. It can wait."
            ),
            _calibrated(known.latest),
            "/light/",
            _("To Light"),
        ),
    ]
    due = next((step for step in found if not step.done), None)
    for step in found:
        step.state = "done" if step.done else "now" if step is due else "later"
    return found


def _check(latest: Latest) -> Step:
    snapshot = latest.snapshot
    if snapshot is None or not latest.live:
        return Step(
            _("Look whether the box answers"),
            _("It does not answer yet. Start the controller."),
            False,
            "/",
            _("To the Bench"),
        )
    blind = [bank["meter"] for bank in snapshot["banks"] if not bank["meter_ok"]]
    if any(fault.get("stops", True) for fault in snapshot["faults"]):
        text = _("There is a fault. Its page says what to do.")
    elif blind:
        text = _("The meter {name} does not read. Check its cable.", name=blind[0])
    elif snapshot["lid"] == "disagree":
        text = _("The two contacts of the lid contradict each other. Check them.")
    else:
        text = _("The lid's contacts agree, every meter reads, there is no fault. Open and shut the lid: Box shows it.")
        return Step(_("Look whether the box is sound"), text, True, "/box/", _("To Box"))
    return Step(_("Look whether the box is sound"), text, False, "/box/", _("To Box"))


def _commissioning(latest: Latest) -> Step | None:
    """The commissioning of the box, on boxes whose control tells of it."""
    told: Any = latest.snapshot.get("commissioning") if latest.snapshot else None
    if not isinstance(told, dict) or not (told.get("needed") or told.get("passed_utc")):
        return None
    text = _("Before the first light every safety part is tried once, with a person watching.")
    return Step(_("Commission the box"), text, not told.get("needed"), "/box/commissioning", _("To commissioning"))


def _calibrated(latest: Latest) -> bool:
    """Whether every bank's dose is in mJ/cm² and not only repeatable."""
    told: Any = latest.snapshot.get("calibration") if latest.snapshot else None
    if not isinstance(told, dict) or not told:
        return False
    return not any(bank.get("relative", True) or bank.get("origin") == "box.yaml" for bank in told.values())
