"""Routes of Lamps: each bank's use and the light its exposures told of."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, render_template

from sumlight.store.logbook import Logbook
from sumlight_web import words
from sumlight_web.desk import desk
from sumlight_web.logbook import reader
from sumlight_web.thin import thinned

blueprint = Blueprint("lamps", __name__, url_prefix="/lamps", template_folder="templates")

MOST_POINTS = 400
SHOWN_ROWS = 30


@dataclass(frozen=True)
class BankUse:
    """One bank: `points` are [lamp hours, settled mW/cm²] for the drawing, `rows` the newest of them in words."""

    name: str
    hours: float
    strikes: int
    points: list[list[float]]
    rows: list[tuple[str, str, str]]


@blueprint.get("/")
def page() -> str:
    """Every bank."""
    snapshot = desk().watch.latest().snapshot
    names = [bank["name"] for bank in snapshot["banks"]] if snapshot else []
    with reader() as logbook:
        banks = [] if logbook is None else [_use(logbook, name) for name in names]
    return render_template("lamps/page.html", banks=banks)


def _use(logbook: Logbook, name: str) -> BankUse:
    state, readings = logbook.bank_state(name), logbook.lamp_readings(name)
    points = [[row["lit_s"] / 3600, row["settled_mw_cm2"]] for row in readings]
    newest = [_row(row) for row in reversed(readings[-SHOWN_ROWS:])]
    return BankUse(name, state.lit_s / 3600, state.strikes, thinned(points, MOST_POINTS, lambda p: p[1]), newest)


def _row(reading: dict[str, Any]) -> tuple[str, str, str]:
    return (
        words.local_day_and_time(reading["read_utc"]),
        f"{reading['lit_s'] / 3600:.2f} h",
        f"{reading['settled_mw_cm2']:.2f} mW/cm²",
    )
