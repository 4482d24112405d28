"""Whether a press that lights still fits what the box is: it is good for what was seen, and only once."""

from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.state_machine import RefusedError
from sumlight.protocol.commands import Press


def refuse_other_state(press: Press, state_number: int) -> None:
    """Check that a press was made in sight of the present state. Raises RefusedError for one that saw another."""
    if press.state_number != state_number:
        raise moved_on()


def refuse_other_light(press: Press, plan: Plan, side: str) -> None:
    """Check that what would be lit now is what was seen: recipe and side. Raises RefusedError."""
    if press.recipe_sha256 != plan.recipe_sha256:
        raise RefusedError("The recipe has changed since you looked.", "Load the page again and read it, then press.")
    if press.side != side:
        raise moved_on()


def moved_on() -> RefusedError:
    """The refusal of a press that was meant for something else."""
    return RefusedError("The box has moved on since you looked.", "Look again, then press.")
