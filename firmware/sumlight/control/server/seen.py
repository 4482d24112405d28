"""Whether a press that lights still fits what the box is: it is good for what was seen, and only once."""

from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.state_machine import RefusedError
from sumlight.protocol.messages import SEEN, Request
from sumlight.protocol.press import unseen


def refuse_other_state(request: Request, state_number: int) -> None:
    """Check that a press was made in sight of the present state.

    Raises BadRequestError for one that does not say what was seen, RefusedError for one that saw another state.
    """
    missing = [name for name in (*SEEN, "panel") if name not in request.values]
    if missing:
        raise unseen(missing[0])
    number = request.values["state_number"]
    if type(number) is not int or number != state_number:
        raise moved_on()


def refuse_other_light(request: Request, plan: Plan, side: str) -> None:
    """Check that what would be lit now is what was seen: recipe and side. Raises RefusedError."""
    if request.text("recipe_sha256") != plan.recipe_sha256:
        raise RefusedError("The recipe has changed since you looked.", "Load the page again and read it, then press.")
    if request.text("side", longest=20) != side:
        raise moved_on()


def moved_on() -> RefusedError:
    """The refusal of a press that was meant for something else."""
    return RefusedError("The box has moved on since you looked.", "Look again, then press.")
