"""The one next act, in words that name what it does. Pure: a snapshot and the offers in, an act out."""

from dataclasses import dataclass, field
from typing import Literal

from sumlight.protocol.snapshot import UNDER_LIGHT, WITHOUT_PANEL, Exposure, Side, Snapshot
from sumlight_web import words
from sumlight_web.bar.offers import Offer, Offers
from sumlight_web.language import N_, _
from sumlight_web.texts import text_of

Look = Literal["ready", "later", "link"]

BOTH = "A+B"
NO_WORD = N_("No word from the box")
ONE_BANK = N_("Needs two lamp banks, this box has one.")


@dataclass(frozen=True)
class Act:
    """`look`: ready (a press does it now), later (not possible, `more` says why) or link (a page to go to first).

    `command` and what it `carries` are what a press sends, also of a start that is not possible yet. `may`: the
    box itself would take the press; a start may still lack a recipe that fits.
    """

    look: Look
    words: str
    more: str = ""
    command: str = ""
    href: str = ""
    carries: dict[str, str] = field(default_factory=dict)
    may: bool = False

    def key(self) -> tuple[object, ...]:
        """All that a page shows of it."""
        return (self.look, self.words, self.more, self.command, self.href, tuple(self.carries.items()), self.may)


def next_act(snapshot: Snapshot | None, lock: str, offers: Offers, *, live: bool, operator: bool) -> Act:
    """What the left place of the bar holds. `lock` is `locked`, `under_way` or nothing."""
    if snapshot is None or not live:
        return Act("later", _("Nothing can be lit"), _(NO_WORD))
    fault = next((fault for fault in snapshot["faults"] if fault.get("stops", True)), None)
    if snapshot["state"] in UNDER_LIGHT:
        return _while_lit(snapshot)
    if fault is not None:
        return Act("link", _("See to the fault"), text_of(fault["title"]), href="/#faults")
    if lock == "under_way":
        return Act("link", _("To the step that is due"), _("Commissioning is under way."), href="/box/commissioning")
    if lock:
        return Act("link", _("Commission the box"), _("Exposures are locked."), href="/box/commissioning")
    if not operator:
        return Act("link", _("Log in to light"), _("You are watching."), href="/access/")
    if snapshot["state"] in ("paused", "turn"):
        return _going_on(snapshot, offers)
    return _starting(snapshot, offers)


def is_draft(exposure: Exposure) -> bool:
    """Whether a panel is lit by time until somebody has found it good."""
    sides = exposure["sides"]
    return exposure.get("kind", "panel") == "panel" and bool(sides) and sides[0].get("lit_for_s") is not None


def start_words(offer: Offer) -> str:
    """What a start of this recipe lights."""
    named = {
        "one": N_("Light {recipe}"),
        "turned": N_("Light {recipe} · side A"),
        "together": N_("Light {recipe} · both sides"),
    }
    return _(named.get(offer.stored.recipe.sides, named["one"]), recipe=offer.name)


def counts_alone(side: str, snapshot: Snapshot | None) -> bool:
    """Whether the lamps of `side` (A, B, A+B) count in the box's own units. Nobody knows before the box was heard."""
    if snapshot is None:
        return False
    lit_by = {bank["name"] for bank in snapshot["banks"] if bank["side"] in side.split("+")}
    return any(block["relative"] for name, block in snapshot["calibration"].items() if name in lit_by)


def in_box_units(offer: Offer, snapshot: Snapshot | None) -> bool:
    """Whether its dose counts in the box's own units now: nothing outside has checked the light that it gets."""
    return counts_alone(offer.side, snapshot)


def start_about(offer: Offer, snapshot: Snapshot | None) -> str:
    """How long it takes as a rule; its dose as long as nobody has seen it lit. A draft is always called one."""
    if offer.stored.recipe.is_draft:
        return words.ending(offer.stored.recipe)
    times = [offer.about_s.get(side) for side in offer.side.split("+")]
    known = [seconds for seconds in times if seconds is not None]
    guard_s = offer.stored.recipe.time_guard_s
    if len(known) == len(times) and max(known) > guard_s:
        times_told = {"time": words.duration(max(known)), "guard": words.duration(guard_s)}
        return _("about {time}, but its time guard ends it after {guard}", **times_told)
    if len(known) == len(times):
        return _("about {time}", time=words.duration(max(known)))
    return words.ending(offer.stored.recipe, box_units=in_box_units(offer, snapshot))


def start_trouble(offer: Offer, snapshot: Snapshot | None) -> str:
    """Why this box can never light the recipe; nothing if it can."""
    if offer.stored.recipe.dose_unknown:
        return _("No dose yet: a test strip finds it.")
    banks = {bank["side"] for bank in snapshot["banks"]} if snapshot else set()
    if snapshot and offer.side == BOTH and len(banks) < 2:
        return _(ONE_BANK)
    return ""


def _while_lit(snapshot: Snapshot) -> Act:
    exposure = snapshot["exposure"]
    turned = exposure is not None and exposure["sides_mode"] == "turned" and exposure["due"] == "A"
    return Act("later", _("Leave the lid shut"), _("then turn the panel for side B") if turned else "")


def _lid_reason(snapshot: Snapshot) -> str:
    if snapshot["lid"] == "disagree":
        return _("The lid's contacts disagree.")
    return "" if snapshot["lid"] == "shut" else _("Shut the lid first.")


def _going_on(snapshot: Snapshot, offers: Offers) -> Act:
    """Continue a panel, or light its next side or leg."""
    exposure = snapshot["exposure"]
    if exposure is None:
        return Act("later", _("Nothing can be lit"))
    ready = "go" in snapshot["may"]
    carries = {
        "state_number": str(snapshot["state_number"]),
        # not `panel` alone: the label typed for the next panel belongs to the same form
        "seen:panel": exposure["panel"],
        "seen:recipe_sha256": exposure["recipe_sha256"],
        "seen:side": exposure["due"],
    }
    more = _still_to_go(exposure, offers) if ready else _lid_reason(snapshot) or _not_yet(exposure)
    if ready and is_draft(exposure):
        more = _("draft, {time}", time=more) if more else _("draft")
    return Act("ready" if ready else "later", _go_words(snapshot, exposure), more, "go", "", carries, ready)


def _go_words(snapshot: Snapshot, exposure: Exposure) -> str:
    due, series = exposure["due"], exposure["sides_mode"] == "series"
    if snapshot["state"] == "turn":
        return _("Light round {n}", n=due) if series else _("Light side {side}", side=due)
    if series:
        return _("Continue round {n}", n=due)
    named = _("Continue {recipe}", recipe=exposure["recipe"])
    return named if exposure["sides_mode"] == "one" else f"{named} · {side_words(due)}"


def side_words(due: str) -> str:
    """One side or both, in words."""
    return _("both sides") if due == BOTH else _("side {side}", side=due)


def _not_yet(exposure: Exposure) -> str:
    """Why a panel that waits with the lid shut cannot be lit."""
    if exposure["sides_mode"] == "series":
        return _("Open the lid first.")
    return _("Open the lid, turn the panel, shut the lid.")


def _still_to_go(exposure: Exposure, offers: Offers) -> str:
    """About how long the light that is due takes; nothing when that cannot be told."""
    due = [side for side in exposure["sides"] if side["side"] in exposure["due"].split("+")]
    left = [_left_s(side) for side in due]
    known = [seconds for seconds in left if seconds is not None]
    if not due or len(known) < len(left):
        offer = offers.of(exposure["recipe"])
        fresh = all(side["dose_mj_cm2"] <= 0 for side in due)
        usual = [offer.about_s.get(side["side"]) for side in due] if offer and fresh else []
        known = [seconds for seconds in usual if seconds is not None]
        if not known or len(known) < len(usual):
            return ""
    return _("about {time}", time=words.duration(max(known)))


def _left_s(side: Side) -> float | None:
    """What a begun side still needs at the light that it had: the rest of its dose over its mean light so far."""
    wanted, dose, lit_s = side["target_mj_cm2"], side["dose_mj_cm2"], side["lit_s"]
    wanted_s = side.get("lit_for_s")
    if wanted is None:
        return None if wanted_s is None else max(0.0, wanted_s - lit_s)
    if dose <= 0 or lit_s <= 0:
        return None
    return max(0.0, (wanted - dose) * lit_s / dose)


def _starting(snapshot: Snapshot, offers: Offers) -> Act:
    """Light a fresh panel, once the last one is out."""
    may = "start" in snapshot["may"]
    if not may and (snapshot["state"] == "done" or snapshot["lid"] == "shut"):
        return _taking_out(snapshot)
    if not offers.known:
        return Act("link", _("Write the first recipe"), offers.trouble, href="/recipes/new")
    offer, number, lid = offers.next(), str(snapshot["state_number"]), _lid_reason(snapshot)
    if offer is None:
        carries = {"state_number": number, "recipe": "", "seen:": ""}
        return Act("later", _("Choose a recipe"), lid or _("on the Bench"), "start", "", carries, may)
    carries = {
        "state_number": number,
        "recipe": offer.name,
        f"seen:{offer.name}": f"{offer.stored.sha256} {offer.side}",
        "panel": offer.panel,
        "note": "",
    }
    trouble = lid or start_trouble(offer, snapshot)
    ready = may and not trouble
    more = start_about(offer, snapshot) if ready else trouble
    return Act("ready" if ready else "later", start_words(offer), more, "start", "", carries, may)


def _taking_out(snapshot: Snapshot) -> Act:
    exposure, shut = snapshot["exposure"], snapshot["lid"] == "shut"
    if exposure is not None and exposure.get("kind") in WITHOUT_PANEL:
        return Act("later", _("Open the lid"), _("then shut it again")) if shut else Act("later", _("Shut the lid"))
    if not shut:
        return Act("later", _("Take the panel out"), _("Lay the next one in, shut the lid."))
    return Act("later", _("Take the panel out"), _("Open and shut the lid."))
