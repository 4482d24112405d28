"""Whether a press that lights still fits what the box is: it is good for what was seen, and only once."""

from sumlight.control.exposure.plan import Plan
from sumlight.control.refused import RefusedError
from sumlight.protocol.commands import Press
from sumlight.text.message import say


def refuse_other_state(press: Press, state_number: int) -> None:
    """Check that a press was made in sight of the present state. Raises RefusedError for one that saw another."""
    if press.state_number != state_number:
        raise moved_on()


def refuse_other_light(press: Press, plan: Plan, side: str) -> None:
    """Check that what would be lit now is what was seen: recipe and side. Raises RefusedError."""
    if press.recipe_sha256 != plan.recipe_sha256:
        raise RefusedError(
            say("recipe_has_changed"),
            say("reload_and_read"),
        )
    if press.side != side:
        raise moved_on()


def moved_on() -> RefusedError:
    """The refusal of a press that was meant for something else."""
    return RefusedError(say("box_has_moved_on"), say("look_again_then_press"))
