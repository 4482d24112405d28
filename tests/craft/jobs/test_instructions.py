"""What each step says: one sentence with the panel's own numbers, and the cautions of the baths, from one source."""

import re

import pytest

from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry import hazards
from sumlight.craft.jobs import instructions, plans, timers
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.text.message import Message


def numbers(**changed: object) -> PanelNumbers:
    """An invented brass sheet of 150 µm with everything timed."""
    known: dict[str, object] = {
        "plan": "sheet_two",
        "metal": "brass",
        "thickness_um": 150.0,
        "recipe": "blue-38",
        "dose_mj_cm2": 60.0,
        "hold_s": 900.0,
        "hold_limit_s": 28_800.0,
        "clear_s": 30.0,
        "etchant": "iron",
        "rate_um_min": 10.0,
    }
    return PanelNumbers(**known | changed)  # type: ignore[arg-type]


def step(kind: str, plan: str = "sheet_two") -> Step:
    """The first step of a kind."""
    return next(each for each in plans.steps_of(plan) if each.kind == kind)


@pytest.mark.parametrize("plan", plans.PLANS)
@pytest.mark.parametrize("known", [True, False], ids=["timed", "nothing timed"])
def test_every_step_of_every_plan_says_one_thing_to_do(plan: str, known: bool) -> None:
    """As a message, with or without numbers of the baths."""
    panel = numbers(plan=plan) if known else numbers(plan=plan, clear_s=None, etchant=None, rate_um_min=None)
    for each in plans.steps_of(plan):
        told = instructions.sentence(each, panel)
        assert isinstance(told, Message)
        assert len(told) < 170, told


def test_the_recipes_dose_and_hold_stand_in_the_sentence() -> None:
    """900 s are 15 min, 28 800 s are 8 h."""
    assert "blue-38, 60 mJ/cm²" in instructions.sentence(step("expose"), numbers())
    assert instructions.sentence(step("expose"), numbers(dose_mj_cm2=None)).endswith("to the resist: blue-38.")
    assert instructions.sentence(step("hold"), numbers()) == "Let it rest in the dark for 15 min, 8 h at most."
    assert instructions.sentence(step("hold"), numbers(hold_limit_s=None)).endswith("for 15 min.")


def test_the_dwell_is_worked_out_from_the_time_to_clear() -> None:
    """30 s at a break point of 60 % are 50 s in all, 46 to 60 s for 65 and 50 % (data sheet, trade notes E1)."""
    told = instructions.sentence(step("develop"), numbers())
    assert "about 30 s" in told
    assert "50 s in all: 46 to 60 s" in told
    assert "divided by 0.6" in instructions.sentence(step("develop"), numbers(clear_s=None))


def test_the_first_look_is_at_the_lower_end_of_the_expected_time() -> None:
    """150 µm from two sides at 10 µm/min: 7.5 min; a fifth less is 6.0, a tenth of that 0.6 (by hand)."""
    told = instructions.sentence(step("etch"), numbers())
    assert "first look after 6.0 min, then every 0.6 min" in told
    board = numbers(plan="board_two", metal="copper", thickness_um=35.0)
    assert "after 2.8 min" in instructions.sentence(step("etch"), board), "35 µm from one side: 3.5 min, a fifth less"


@pytest.mark.parametrize("plan", plans.PLANS)
def test_no_etch_is_ever_told_to_be_taken_out_at_a_time(plan: str) -> None:
    """Through is seen, not timed: neither the step nor its timer names an end."""
    for panel in (numbers(plan=plan), numbers(plan=plan, rate_um_min=None)):
        told = [instructions.sentence(step("etch"), panel), *instructions.more(step("etch"), panel)]
        assert not re.search(r"take (it|the panel) out|remove|stop (at|after)", " ".join(told), re.IGNORECASE)
        assert "seen, not timed" in " ".join(told)
        schedule = timers.schedule_of(step("etch"), panel)
        if schedule is not None:
            assert {schedule.ring(n).what for n in range(40)} == {"half", "look_etch"}  # type: ignore[union-attr]


def test_half_etched_metal_is_told_what_it_loses() -> None:
    """From one side k·T/2 = 1.2 · 100 µm goes while 200 µm are etched through (craft.etching.times)."""
    told = " ".join(instructions.more(step("etch"), numbers(plan="half_etched", thickness_um=200.0)))
    assert "loses 120 of 200 µm" in told


def test_cautions_are_those_of_the_page_baths() -> None:
    """Where the danger is, and from one source."""
    assert instructions.cautions(step("develop"), numbers()) == hazards.CAUTIONS["developer"]
    assert instructions.cautions(step("strip"), numbers()) == hazards.CAUTIONS["stripper"]
    for bath in ("iron", "persulfate", "peroxide", "cupric"):
        assert instructions.cautions(step("etch"), numbers(etchant=bath)) == hazards.CAUTIONS[bath]
    unknown = instructions.cautions(step("etch"), numbers(etchant=None))
    assert "Gloves" in " ".join(unknown)
    assert "drain" in " ".join(unknown)
    assert all(instructions.cautions(step(kind), numbers()) for kind in ("cut", "laminate", "expose", "part"))


def test_a_metal_that_must_not_go_into_the_bath_is_refused() -> None:
    """Aluminium boils over in peroxide (craft.chemistry.hazards)."""
    with pytest.raises(RefusedError, match="aluminium does not go into peroxide bath"):
        instructions.etch_plan(numbers(metal="aluminium", etchant="peroxide"))


def test_a_persons_own_words_come_first() -> None:
    """They know their bench."""
    own = plans.edited(plans.steps_of("board_one"), 2, "Wipe it with the green rag.")[1]
    assert instructions.sentence(own, numbers()) == "Wipe it with the green rag."
