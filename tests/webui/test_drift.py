"""Drift: three charts, in words, drawn and as numbers; a shift is told on Panels and blocks nothing."""

import json
from datetime import timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.craft.control_chart import RULES
from sumlight.store.logbook.logbook import Logbook
from tests.store.logbook.test_weekly_statistics import MONDAY, expose, read_tablet
from tests.webui.fake_control import SEEN_BEFORE_START
from tests.webui.given import ORIGIN

WEEKS = 20


def fill(path: Path, *, last_warm_up_s: float) -> None:
    """Twenty weeks that wander a little; in the last one the lamps warm up otherwise, on one panel and one tablet."""
    with Logbook(path, durable=False) as book:
        for week in range(WEEKS):
            utc = MONDAY + timedelta(weeks=week)
            warm_up_s = 55.0 + week * 7 % 5 if week < WEEKS - 1 else last_warm_up_s
            expose(book, utc, dose_mj_cm2=60.0 + 0.01 * (week * 3 % 7), warm_up_s=warm_up_s)
            if week % 2:
                read_tablet(book, utc + timedelta(hours=1), (60.0, "7" if week == 3 else "8"))


def drawings(page: str) -> list[dict[str, Any]]:
    """What the charts are drawn from."""
    return [json.loads(unescape(part.split('"')[0])) for part in page.split('data-values="')[1:]]


def test_a_new_box_has_nothing_to_draw(client: FlaskClient) -> None:
    """Said, not drawn."""
    page = client.get("/panels/drift")
    assert page.status_code == 200
    assert "No exposure is recorded yet." in page.text
    assert "<canvas" not in page.text


def test_every_measure_is_told_drawn_and_listed(client: FlaskClient, data: Path) -> None:
    """Limits in numbers; the newest week first in the table; too few tablets for limits yet."""
    fill(data / "logbook.sqlite", last_warm_up_s=57.0)
    page = client.get("/panels/drift").text
    steps, dose, warm_up = drawings(page)
    assert "10 weeks so far; limits need 12." in page
    assert page.count("Steady: the newest week breaks no rule.") == 2
    assert "Recipe film, worked out for 60 mJ/cm²." in page
    assert len(steps["points"]) == 10
    assert "low" not in steps
    assert dose["low"] < 100 < dose["high"]
    assert warm_up["points"][0] == [0, 55.0, False, "2026-W48"]
    assert [point[0] for point in warm_up["points"]] == list(range(WEEKS))
    assert page.index("2027‑W14</th>") < page.index("2026‑W48</th>")
    assert all(rule in page for rule in RULES.values())
    assert "once in 92 weeks" in page
    assert "once in 50" in page
    assert "work may always go on" in page


def test_a_shift_is_marked_told_on_panels_and_blocks_nothing(client: FlaskClient, data: Path) -> None:
    """The ring in the drawing, the rule in the table, a notice with a way there; starting is as it was."""
    path = data / "logbook.sqlite"
    fill(path, last_warm_up_s=57.0)
    assert "left its usual range" not in client.get("/panels/").text
    with Logbook(path, durable=False) as book:
        expose(book, MONDAY + timedelta(weeks=WEEKS), warm_up_s=95.0)
    page = client.get("/panels/drift").text
    assert [point[2] for point in drawings(page)[2]["points"]] == [False] * WEEKS + [True]
    assert "Shifted: one point beyond three standard deviations, above the mean." in page
    assert "<td>rule 1, above</td>" in page
    assert "Drift: Warm-up left its usual range in the newest week." in client.get("/panels/").text
    response = client.post(
        "/bench/start", data={"recipe": "blue-38", "panel": "P1"} | SEEN_BEFORE_START, headers=ORIGIN
    )
    assert response.status_code in (200, 303)


def test_it_speaks_german(client: FlaskClient, data: Path) -> None:
    """The rules of the chart, too."""
    fill(data / "logbook.sqlite", last_warm_up_s=95.0)
    page = client.get("/panels/drift", headers={"Accept-Language": "de"}).text
    assert "Verschoben: ein Punkt außerhalb von drei Standardabweichungen, über dem Mittelwert" in page
    for rule in RULES.values():
        assert rule not in page


@pytest.mark.parametrize("panels", [1])
def test_one_week_is_drawn_without_limits(client: FlaskClient, data: Path, panels: int) -> None:
    """And counted as one."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        expose(book, MONDAY)
    page = client.get("/panels/drift").text
    assert "1 week so far" in page
    assert len(drawings(page)) == panels
