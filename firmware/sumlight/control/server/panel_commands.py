"""What the front panel asks of control, and which commands from elsewhere wait for a press there."""

from contextlib import closing
from typing import Any

from sumlight.control.commissioning.session import CommissioningSession
from sumlight.control.frontpanel.operation import AT_THE_BOX, PanelOperation
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import recipe_asked_for
from sumlight.control.server.calibration_commands import OpenBook
from sumlight.control.server.seen import refuse_other_state
from sumlight.protocol import commands
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.protocol.press import seen
from sumlight.protocol.snapshot import UNDER_LIGHT
from sumlight.store.logbook.database import LogbookError
from sumlight.store.recipes import RecipeStore
from sumlight.text.message import say


def kept_for_press(
    panel: PanelOperation | None, request: Request, loop: ControlLoop, commissioning: CommissioningSession
) -> dict[str, Any] | None:
    """Keep a command that would light, or hold K1, until somebody presses go at the box; returns its answer.

    None: it need not wait, or it is refused anyway. Raises RefusedError for a press in sight of another state.
    """
    asked = request.asked
    if panel is None or not panel.press_to_light:
        return None
    if isinstance(asked, commands.CommissionNext):
        run = commissioning.picture()["run"]
        if run is None or run["phase"] != "prepare" or run["at"] != asked.at:
            return None
        panel.keep(request)
        return {"commissioning": commissioning.picture()}
    if not isinstance(asked, commands.Press):
        return None
    commissioning.refuse_if_locked(request.command)
    refuse_other_state(asked, loop.state_number())
    if loop.desk or loop.lid != "shut" or loop.exposure.base_state in UNDER_LIGHT:
        return None  # refused at once, and in its own words
    panel.keep(request)
    return {"state": loop.exposure.state}


def start_request(recipe: str, snapshot: dict[str, Any], shelf: RecipeStore, open_book: OpenBook) -> Request:
    """Begin `recipe`, which box.yaml names for the button, with the next label. Raises BadRequestError."""
    stored = recipe_asked_for(shelf, recipe, say("mend_recipe_then_start"), "front_panel.go_recipe")
    try:
        with closing(open_book()) as book:
            (label,) = book.labels.next(stored.name, 1, ())
    except LogbookError as error:
        raise BadRequestError("refused", error.told) from error
    saw = seen(snapshot, stored.sha256, stored.recipe.first_lit())
    return Request(0, "start", {**saw, "recipe": stored.name, "panel": label, "who": AT_THE_BOX})


def go_request(snapshot: dict[str, Any]) -> Request:
    """Go on with what waits, in sight of the box as it stands."""
    return Request(0, "go", seen(snapshot))
