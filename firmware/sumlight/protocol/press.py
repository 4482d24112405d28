"""What a press that lights carries, as its sender puts it together. Pure."""

from collections.abc import Mapping
from typing import Any

FIRST_LEG = "1"
"""What a series lights first."""


def seen(snapshot: Mapping[str, Any], recipe_sha256: str | None = None, side: str = FIRST_LEG) -> dict[str, Any]:
    """What was seen by somebody who starts a recipe, `side` first; by one who goes on if no recipe is given.

    `snapshot` is the one that the person had before them.
    """
    if recipe_sha256 is not None:
        found = {"recipe_sha256": recipe_sha256, "side": side}
    else:
        exposure = snapshot["exposure"] or {"panel": "", "recipe_sha256": "", "due": ""}
        found = {"panel": exposure["panel"], "recipe_sha256": exposure["recipe_sha256"], "side": exposure["due"]}
    return {"state_number": snapshot["state_number"], **found}
