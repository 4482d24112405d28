"""Which step is due, and whose turn is first. By hand."""

from sumlight.craft.jobs import card, plans
from sumlight.craft.jobs.card import Mark, Turn

STEPS = plans.steps_of("board_one")


def due(marks: dict[int, Mark]) -> int | None:
    """Its number."""
    step = card.current(STEPS, marks)
    return None if step is None else step.step_id


def test_a_card_without_an_entry_begins_with_its_first_step() -> None:
    """And costs nothing."""
    assert due({}) == 1
    assert card.gone(STEPS, {}) == 0


def test_what_was_passed_without_a_note_counts_as_passed() -> None:
    """Exposing notes itself: what lies before needs no entry."""
    lit = next(step for step in STEPS if step.kind == "expose")
    assert due({lit.step_id: Mark("done")}) == lit.step_id + 1
    assert card.gone(STEPS, {lit.step_id: Mark("done")}) == STEPS.index(lit) + 1


def test_what_is_at_hand_or_went_wrong_stays_due() -> None:
    """Until somebody says done or skip."""
    assert due({1: Mark("done"), 2: Mark("begun")}) == 2
    assert due({1: Mark("done"), 2: Mark("wrong")}) == 2
    assert due({1: Mark("skipped")}) == 2


def test_a_step_may_be_skipped_before_its_turn() -> None:
    """It is passed over when it comes, and nothing before it is lost."""
    assert due({3: Mark("skipped")}) == 1
    assert due({2: Mark("done"), 3: Mark("skipped"), 9: Mark("skipped")}) == 4


def test_whoever_goes_on_has_left_what_lay_before() -> None:
    """A rest that nobody said was over is over when the panel is being developed."""
    assert due({8: Mark("begun"), 10: Mark("begun")}) == 10
    assert due({8: Mark("begun"), 9: Mark("done")}) == 10


def test_a_card_can_be_full() -> None:
    """Then nothing is due."""
    assert due({STEPS[-1].step_id: Mark("done")}) is None
    assert card.gone(STEPS, {STEPS[-1].step_id: Mark("done")}) == len(STEPS)


def test_a_note_on_a_step_that_was_left_out_since_changes_nothing() -> None:
    """The plan may have been edited."""
    assert due({999: Mark("begun")}) == 1


def test_what_rings_comes_first_then_hands_then_what_rings_soonest() -> None:
    """Of all panels in flight."""
    resting, ringing = Turn(1, 300.0, False, 8), Turn(2, 0.0, True, 3)
    waiting, further = Turn(3, 0.0, False, 4), Turn(4, 0.0, False, 9)
    everyone = [resting, waiting, further, ringing]
    order = []
    while everyone:
        first = card.first_due(everyone)
        assert first is not None
        order.append(first.panel_id)
        everyone.remove(first)
    assert order == [2, 4, 3, 1]
    assert card.first_due([]) is None
