"""A step tablet's own certificate in the form of its readings."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.logbook import Logbook
from tests.webui.fake_control import FakeControl
from tests.webui.light_runs import READ, asked, post

OWN = tuple(round(0.06 + 0.148 * step, 3) for step in range(21))
TYPED = "; ".join(str(value).replace(".", ",") for value in OWN)


def test_the_certificate_goes_to_control_as_it_was_typed(
    client: FlaskClient, control: FakeControl, runs: dict[str, int]
) -> None:
    """With commas or points; its doubt counts in what a dose is worth: 2 √(0.04² + 0.03² + (ln 10 × 0.02)²)."""
    form = {**READ, "reference_percent": "3", "densities": TYPED, "density_uncertainty": "0.02"}
    page = post(client, f"/light/tablet/{runs['tablet']}", **form).text
    told = asked(control, "tablet_readings")
    assert told["densities"] == list(OWN)
    assert told["density_uncertainty"] == pytest.approx(0.02)
    assert "13.6 %" in page


def test_a_usual_tablet_tells_control_nothing(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """An uncertainty without densities is that of nothing."""
    post(client, f"/light/tablet/{runs['tablet']}", **READ, density_uncertainty="0.02")
    assert "densities" not in asked(control, "tablet_readings")
    assert "density_uncertainty" not in asked(control, "tablet_readings")


def test_numbers_that_are_no_row_of_steps_are_told_beside_their_field(
    client: FlaskClient, control: FakeControl, runs: dict[str, int]
) -> None:
    """Nothing is asked of control."""
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ, densities="0.05 0.2").text
    assert "21" in page.split('id="f-densities')[1][:600]
    assert not [each for each in control.commands if each["command"] == "tablet_readings"]


def test_the_tablet_that_was_read_last_is_proposed_again(client: FlaskClient, runs: dict[str, int], data: Path) -> None:
    """A bench has one, as a rule."""
    assert "0.06; 0.208" not in client.get(f"/light/tablet/{runs['tablet']}").text
    with Logbook(data / "logbook.sqlite") as book:
        book.calibrations.add_metrology(
            TabletRecord(runs["tablet"], "1", 10.0, "7", "last_held", False, "", "2026-11-25T08:00:00Z", OWN, 0.01)
        )
    page = client.get(f"/light/tablet/{runs['tablet']}").text
    assert "0.06; 0.208" in page
    assert 'value="0.01"' in page
