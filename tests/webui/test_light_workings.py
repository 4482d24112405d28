"""The pages of Light that need no light: contact, and weak against strong light."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.logbook import Logbook
from tests.webui.fake_control import FakeControl
from tests.webui.light_runs import BEGAN, beside, keep, post

CONTACT = {
    "half_width_mm": "100",
    "distance_mm": "173.2",
    "gap_um": "50",
    "image": "down",
    "base_um": "100",
    "cover_um": "0",
    "resist_um": "0",
}
"""100 mm over 173.2 mm are 30° (tan 30° = 0.57735)."""
TWO = {"mw_cm2_1": "1", "dose_1": "80", "percent_1": "1", "mw_cm2_2": "2", "dose_2": "60", "percent_2": "1"}


def test_a_gap_is_told_with_what_to_do(client: FlaskClient, control: FakeControl) -> None:
    """50 µm of air at 30°: 50 tan 30° = 28.9 µm at each edge, twice that for a line (similar triangles)."""
    page = post(client, "/light/contact", **CONTACT).text
    assert "28.9 µm at each edge" in page
    assert "58 µm" in page
    assert "draw the vacuum longer" in page
    assert control.names() == []


def test_an_image_that_faces_the_lamps_is_told_to_be_turned(client: FlaskClient) -> None:
    """100 µm of polyester at 30° in air: 100 tan(asin(sin 30° / 1.6)) = 32.9 µm (Snell)."""
    page = post(client, "/light/contact", **CONTACT | {"image": "up", "gap_um": "0"}).text
    assert "32.9 µm at each edge" in page
    assert "turn the artwork so that its image side lies on the resist" in page
    assert "Air gap" not in page


@pytest.mark.parametrize("key", ["half_width_mm", "distance_mm", "gap_um", "base_um", "cover_um", "resist_um", "image"])
def test_a_mistake_of_contact_stands_beside_its_field(client: FlaskClient, key: str) -> None:
    """Empty, below zero, no number."""
    for typed in ("", *(() if key == "image" else ("-1", "wide", "1e5", "9" * 9))):
        page = post(client, "/light/contact", **CONTACT | {key: typed})
        assert page.status_code == 422
        assert beside(page.text, "f-" + key.replace("_", "-"))


def test_two_doses_tell_an_exponent(client: FlaskClient, control: FakeControl) -> None:
    """p = 1/(1 + ln(80/60)/ln 2) = 0.707 (Schwarzschild's form)."""
    page = post(client, "/light/reciprocity", **TWO).text
    assert "Weak light does less than its dose says: its exponent is 0.71" in page
    assert 'value="80"' in page
    assert control.names() == []


def test_a_row_is_whole_or_empty(client: FlaskClient) -> None:
    """Each hole is named; nothing is worked out from the rest."""
    page = post(client, "/light/reciprocity", **TWO | {"mw_cm2_3": "3", "dose_2": ""})
    assert page.status_code == 422
    for html_id in ("f-dose-2", "f-dose-3", "f-percent-3"):
        assert "Fill this in." in beside(page.text, html_id)
    assert "p = " not in page.text


def test_lights_too_much_alike_are_refused_in_words(client: FlaskClient) -> None:
    """On top of the form."""
    page = post(client, "/light/reciprocity", **TWO | {"mw_cm2_2": "1.1"})
    assert page.status_code == 422
    assert "change the light more" in page.text


def test_tablet_runs_fill_the_form(client: FlaskClient, data: Path) -> None:
    """Those that are ticked, with what each dose is worth; a number that is none changes nothing."""
    path = data / "logbook.sqlite"
    first, second = keep(path, "tablet"), keep(path, "tablet")
    with Logbook(path) as book:
        for run, step in ((first, "6"), (second, "4")):
            record = TabletRecord(run, "1", 10.0, step, "last_held", False, "L7", f"{BEGAN:%Y-%m-%dT%H:%M:%S.000000Z}")
            book.calibrations.add_metrology(record)
    page = client.get("/light/reciprocity").text
    assert f"Run {first}" in page
    assert 'value="8.3330"' not in page
    page = client.get(f"/light/reciprocity?run={second}&run=x&run=99999999999999999999").text
    assert page.count('value="8.3330"') == 1  # 60 mJ/cm² in 7.2 s (division)
    page = client.get(f"/light/reciprocity?run={second}&run={first}").text
    assert page.count('value="8.3330"') == 2
