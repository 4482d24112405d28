"""The built-in plans, and what people make of them. The order of the stations is that of the trade (common
practice, no source): resist goes on bare dry metal, is lit through its outer film, uncovered, developed, etched."""

import pytest

from sumlight.craft.jobs import plans
from sumlight.craft.jobs.plans import Step

ORDER = (
    *("cut", "degrease", "water_break", "dry_bare", "laminate", "settle", "expose", "hold", "outer_film"),
    *("develop", "rinse", "dry", "touch_up", "cover", "etch", "rinse", "look", "strip", "rinse", "dry", "part"),
)
SAME = {"outer_films": "outer_film", "seal_edges": "cover", "mask_back": "cover"}


def kinds(steps: tuple[Step, ...]) -> list[str]:
    """Stations one after the other, both sides as one."""
    found: list[str] = []
    for step in steps:
        kind = SAME.get(step.kind, step.kind)
        if not found or found[-1] != kind:
            found.append(kind)
    return found


@pytest.mark.parametrize("plan", plans.PLANS)
def test_every_plan_has_the_stations_in_their_order(plan: str) -> None:
    """None is missing, none stands before another that it rests on."""
    assert kinds(plans.steps_of(plan)) == list(ORDER)


@pytest.mark.parametrize("plan", plans.PLANS)
def test_each_side_that_is_lit_is_laminated_and_uncovered(plan: str) -> None:
    """A cover left on side B is the commonest way to spoil a second side."""
    steps = plans.steps_of(plan)
    lit = [step.side for step in steps if step.kind == "expose"]
    assert [step.side for step in steps if step.kind == "laminate"] == lit
    assert lit == (["A"] if plan == "board_one" else ["A", "B"])
    off = [step.kind for step in steps if step.kind.startswith("outer")]
    assert off == (["outer_film"] if plan == "board_one" else ["outer_films"])


def test_two_banks_light_both_sides_in_one_step() -> None:
    """The recipe says so; both sides are laminated all the same."""
    steps = plans.steps_of("sheet_two", together=True)
    assert [step.side for step in steps if step.kind == "expose"] == ["A+B"]
    assert len(steps) == len(plans.steps_of("sheet_two")) - 1


def test_a_step_keeps_its_number_when_others_move() -> None:
    """By hand: what was noted of a step stays with it."""
    steps = plans.steps_of("board_one")
    after = plans.moved(steps, 3, -2)
    assert [step.step_id for step in after[:4]] == [3, 1, 2, 4]
    assert sorted(after, key=lambda step: step.step_id) == list(steps)
    assert plans.moved(steps, 1, -1) == steps
    assert plans.moved(steps, 1, 99)[-1].step_id == 1


def test_a_step_is_left_out_worded_anew_and_put_in() -> None:
    """And ours comes back when the words go."""
    steps = plans.steps_of("board_one")
    assert [step.step_id for step in plans.left_out(steps, 2)][:2] == [1, 3]
    own = plans.edited(steps, 2, "Wipe it.")
    assert (own[1].own, own[1].kind) == ("Wipe it.", "degrease")
    assert plans.edited(own, 2, "") == steps
    more = plans.added(steps, 2, "Etch a number into the edge.", 99)
    assert [step.step_id for step in more[:4]] == [1, 2, 99, 3]
    assert plans.title(more[2]) == "Etch a number into the edge."


def test_what_is_not_there_cannot_be_changed() -> None:
    """Clear words instead of another step."""
    steps = plans.steps_of("board_one")
    with pytest.raises(ValueError, match="the plan has no step 77"):
        plans.moved(steps, 77, 1)
    with pytest.raises(ValueError, match="plan must be one of board_one"):
        plans.steps_of("gold")


def test_every_step_has_a_name_of_its_own_side() -> None:
    """In words."""
    titles = [plans.title(step) for step in plans.steps_of("sheet_two")]
    assert titles[4:6] == ["Laminate side A", "Laminate side B"]
    assert "Outer film off both sides" in titles
    assert all(titles)


@pytest.mark.parametrize("plan", plans.PLANS)
@pytest.mark.parametrize("together", [False, True])
def test_a_plan_that_was_written_down_reads_as_the_same(plan: str, together: bool) -> None:
    """Order, sides and a person's words."""
    steps = plans.steps_of(plan, together=together)
    steps = plans.edited(plans.moved(steps, 4, 2), 7, "two passes (slow)")
    steps = plans.added(steps, 2, "a photo", 90)
    texts = [plans.written(step) for step in steps]
    again = plans.from_written(plan, texts, together=together)
    assert [(s.kind, s.side, s.own) for s in again] == [(s.kind, s.side, s.own) for s in steps]
    assert [s.step_id for s in again] == list(range(1, len(steps) + 1))


@pytest.mark.parametrize(
    "texts",
    [
        ["expose"],
        ["expose C"],
        ["expose A", "expose A"],
        ["own"],
        ["own A (x)"],
        ["cut ()"],
        [""],
        ["light it"],
        ["cut\n"],
    ],
)
def test_what_is_no_step_of_the_plan_is_refused_by_number(texts: list[str]) -> None:
    """Also one that it has, once too often."""
    with pytest.raises(ValueError, match=rf"Step {len(texts)} is "):
        plans.from_written("board_one", texts)
