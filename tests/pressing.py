"""A press as somebody makes it who looks at the box and presses at once."""

from typing import Any

from sumlight.protocol.client import ControlClient
from sumlight.protocol.press import FIRST_LEG, seen
from sumlight.store.recipes import RecipeStore


def press(client: ControlClient, command: str, **values: Any) -> dict[str, Any]:
    """Press `start`, `series` or `go` in sight of the box as it stands; the data folder is the socket's."""
    snapshot = client.ask("state")
    if command == "go":
        return client.ask(command, **seen(snapshot))
    stored = RecipeStore(client._path.parent / "recipes").load(values["recipe"])
    saw = seen(snapshot, stored.sha256, FIRST_LEG if command == "series" else stored.recipe.first_lit())
    return client.ask(command, **{"panel": "", **saw, **values})
