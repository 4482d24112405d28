"""The forms of Jobs: what they ask for, and what is proposed where nobody says otherwise."""

from collections.abc import Mapping
from typing import Any

from sumlight.bounds import longest_of
from sumlight.craft.jobs import proposals
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.protocol import job_commands as commands
from sumlight.store.recipes import StoredRecipe
from sumlight_web.forms import Input, quantity, text
from sumlight_web.language import N_

NEW = (
    Input("recipe", N_("Recipe"), "pick"),
    Input("plan", N_("What is it?"), "pick"),
    Input("metal", N_("Metal"), "pick"),
    quantity(commands.JobNew, "thickness_um", N_("Thickness of the metal"), "µm", N_("Of a board: of its copper.")),
    quantity(commands.JobNew, "wanted", N_("How many panels")),
    text(commands.JobNew, "artwork", N_("Artwork"), N_("A word to know it by."), optional=True),
)
TIMED = (
    quantity(
        commands.JobNumbers,
        "clear_s",
        N_("Time to clear in the developer"),
        "s",
        N_("Until the last open place of a scrap is clear."),
        optional=True,
    ),
    Input("etchant", N_("Etching bath"), "pick", optional=True),
    quantity(
        commands.JobNumbers,
        "rate_um_min",
        N_("What it eats, in µm a minute"),
        "",
        N_("On each side, as timed on a coupon."),
        optional=True,
    ),
    quantity(
        commands.JobNumbers,
        "open_cm2",
        N_("Opened area, in cm²"),
        "",
        N_("All faces together, as it will be etched."),
        optional=True,
    ),
)
BATH_C = quantity(commands.JobStep, "bath_c", N_("Temperature of the bath"), "°C", optional=True)
WORDS = Input("words", N_("Your own words"), "long", optional=True, longest=longest_of(commands.JobPlan, "words"))
WORD = Input("word", N_("What went wrong?"), optional=True, longest=longest_of(commands.JobStep, "word"))
TIMER = (
    quantity(commands.TimerStart, "seconds", N_("Ring after"), "s", N_("Such as 90 s, 8 min or 1:30.")),
    text(commands.TimerStart, "title", N_("What for"), optional=True),
)


def numbers_told(found: Mapping[str, Any] | None) -> PanelNumbers | None:
    """The numbers of a job, as control tells them; None for none, and for what this page does not understand."""
    try:
        return None if found is None else proposals.numbers_from(found)
    except TypeError:  # another version of control
        return None


def proposed(last: PanelNumbers | None, recipes: list[StoredRecipe], first: str) -> dict[str, str]:
    """What a new job is likely to be; `first` is the recipe that the Bench would light next."""
    names = [stored.name for stored in recipes]
    name = next((each for each in (last.recipe if last else "", first, *names[:1]) if each in names), "")
    stored = next((each for each in recipes if each.name == name), None)
    plan = proposals.usual_plan(len(stored.recipe.side_names()) if stored else 1, last)
    metal, thickness_um = proposals.usual_metal(plan, last)
    return {"recipe": name, "plan": plan, "metal": metal, "thickness_um": f"{thickness_um:g}", "wanted": "1"}
