"""What a form that lights carries besides what was typed: the state, recipe and side that the person saw."""

from flask import request

from sumlight_web.services import services


def carried(recipe: str) -> dict[str, object]:
    """What the form at hand says was seen of the box and of `recipe`; what it does not say, control asks for."""
    sha256, _, side = request.form.get(f"seen:{recipe}", "").partition(" ")
    return {**_state_number(), **({"recipe_sha256": sha256, "side": side} if sha256 else {})}


def carried_on() -> dict[str, object]:
    """The same of a form that goes on with the panel at hand."""
    seen = {name: request.form.get(f"seen:{name}") for name in ("panel", "recipe_sha256", "side")}
    return {**_state_number(), **{name: text for name, text in seen.items() if text is not None}}


def state_number() -> str:
    """The number of the state that a page now being written shows; empty while it is not known."""
    latest = services().watch.latest()
    return str(latest.snapshot["state_number"]) if latest.live and latest.snapshot else ""


def _state_number() -> dict[str, object]:
    text = request.form.get("state_number", "")
    return {"state_number": int(text)} if text.isascii() and text.isdigit() and len(text) <= 16 else {}
