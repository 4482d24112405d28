"""The code on the traveller leads to the panel's record: judged by OpenCV's decoder, which had no part in making it."""

import hashlib
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import cv2
import numpy as np
import pytest
import resvg_py
from flask.testing import FlaskClient

from sumlight.craft.jobs.instructions import cautions
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import recipe_from_text
from sumlight_web.panels.code import code_svg, leads_here_only
from tests.webui import fake_jobs
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import BLUE
from tests.webui.test_panels import record


def read_code(svg: str, *, stained: bool = False) -> str:
    """What OpenCV reads in a drawing on white paper; `stained`: with a drop over one twentieth of it."""
    png = resvg_py.svg_to_bytes(svg_string=svg.replace("<svg", '<svg width="400" height="400"', 1), background="white")
    picture = cv2.imdecode(np.frombuffer(bytes(png), np.uint8), cv2.IMREAD_GRAYSCALE)
    if stained:
        cv2.circle(picture, (210, 210), 50, 128, -1)
    text, _corners, _straight = cv2.QRCodeDetector().detectAndDecode(picture)
    return str(text)


def drawing(page: str) -> str:
    """The code of a page."""
    found = re.search(r'<svg[^>]*class="code".*?</svg>', page, re.DOTALL)
    assert found is not None
    return found[0]


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8765"])
@pytest.mark.parametrize("form", ["", "?as=label"])
def test_the_code_leads_to_the_record_under_the_address_that_the_sheet_was_opened_at(
    client: FlaskClient, data: Path, host: str, form: str
) -> None:
    """Sheet and label alike."""
    number = record(data / "logbook.sqlite")
    page = client.get(f"/panels/{number}/traveller{form}", headers={"Host": host}).text
    address = f"http://{host}/panels/{number}"
    assert read_code(drawing(page)) == address
    assert f"<small>{address}</small>" in page
    assert client.get(f"/panels/{number}").status_code == 200


def test_behind_a_proxy_the_code_is_for_the_address_that_browsers_use(client: FlaskClient, data: Path) -> None:
    """A proxy ends HTTPS and says so."""
    number = record(data / "logbook.sqlite")
    page = client.get(f"/panels/{number}/traveller", headers={"X-Forwarded-Proto": "https"}).text
    assert read_code(drawing(page)) == f"https://localhost/panels/{number}"


def test_a_drop_of_developer_on_it_does_no_harm() -> None:
    """Error correction Q restores a quarter (ISO/IEC 18004)."""
    address = "http://box.local:8765/panels/1234"
    assert read_code(str(code_svg(address, "Panel")), stained=True) == address


def test_a_label_cannot_put_anything_into_the_drawing() -> None:
    """Panels are named by people."""
    assert "<script" not in code_svg("http://box.local/panels/1", "<script>x</script>")


@pytest.mark.parametrize(
    ("address", "here"),
    [
        ("http://127.0.0.1:8765/panels/1", True),
        ("http://localhost/panels/1", True),
        ("http://192.168.1.20:8765/panels/1", False),
        ("http://box.local/panels/1", False),
    ],
)
def test_an_address_that_only_this_machine_understands_is_known(address: str, here: bool) -> None:
    """Loopback addresses and names (RFC 1122, RFC 6761)."""
    assert leads_here_only(address) is here


def test_the_sheet_carries_the_parameters_of_the_recipe_and_the_label_only_itself(
    client: FlaskClient, data: Path
) -> None:
    """Whoever finds the sheet needs no box to read what was done; a recipe that is none any more takes nothing away."""
    number = record(data / "logbook.sqlite")
    page = client.get(f"/panels/{number}/traveller").text
    assert "<dt>Dose at the resist</dt><dd" in page
    assert "60 mJ/cm²</dd>" in page
    assert "only this machine understands" in page
    assert "Dose at the resist" not in client.get(f"/panels/{number}/traveller?as=label").text


def test_the_sheet_of_a_recipe_says_all_of_it_and_its_code_leads_back(client: FlaskClient) -> None:
    """Read by OpenCV; every key that the recipe's file gives a number or a word stands there with its unit."""
    page = client.get("/recipes/blue-38/sheet", headers={"Host": "localhost"}).text
    address = read_code(drawing(page))
    assert address == "http://localhost/recipes/blue-38"
    assert client.get(address).status_code == 200
    recipe = recipe_from_text(BLUE, "blue-38").recipe
    assert f"{recipe.resist}</dd>" in page
    for label, told in (
        ("Dose at the resist", f"{recipe.dose_mj_cm2:g} mJ/cm²"),
        ("Rest before developing", f"{recipe.hold_s:g} s"),
        ("Longest pause it forgives", f"{recipe.interruptions.longest_gap_s:g} s"),
    ):
        assert f'<dt>{label}</dt><dd class="long">{told}</dd>' in page
    assert hashlib.sha256(BLUE.encode()).hexdigest() in page
    assert client.get("/recipes/nowhere/sheet").status_code == 404


def test_the_sheet_of_a_card_leads_back_to_it(client: FlaskClient) -> None:
    """Read by OpenCV, with a drop on it, too; whoever scans it stands before the card of this panel."""
    page = client.get("/jobs/panels/7/sheet", headers={"Host": "localhost"}).text
    address = "http://localhost/jobs/panels/7"
    assert read_code(drawing(page)) == read_code(drawing(page), stained=True) == address
    assert f"<small>{address}</small>" in page
    assert "<h1>blue-38 · 4</h1>" in client.get(address).text
    assert 'href="/jobs/panels/7/sheet"' in client.get(address).text


def test_the_sheet_of_a_card_has_every_step_its_cautions_and_room_to_write(client: FlaskClient) -> None:
    """Whoever holds the paper may have no phone: the danger of each station stands there, and what was noted."""
    page = re.sub(r"\s+", " ", unescape(client.get("/jobs/panels/7/sheet").text))
    steps = page[page.index('<ol class="todo">') : page.index("</ol>")].split('<li class="paper-step">')[1:]
    assert len(steps) == len(fake_jobs.STEPS)
    for step, told in zip(fake_jobs.STEPS, steps, strict=True):
        for caution in cautions(step, fake_jobs.NUMBERS):
            assert f"<strong>{caution}</strong>" in told, step.kind
        assert ("Time, result, name" in told) != bool(re.search("<small>(done|begun)", told)), step.kind
    assert sum("<strong>" in told for told in steps) >= 8
    assert "first look after 6.0 min" in page


def test_the_code_of_a_card_that_is_over_leads_to_its_exposures(
    client: FlaskClient, control: FakeControl, data: Path
) -> None:
    """The sheet lies beside the part for years; a number that no panel ever had is still not found."""

    def none(_request: object) -> dict[str, object]:
        raise RefusalError("not_found", "there is no panel 7 in an open job", "panel_id")

    control.answers["card"] = none
    assert client.get("/jobs/panels/7").status_code == 404
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        book.jobs.put_job(replace(fake_jobs.JOB, ended_utc=fake_jobs.MADE))
        book.jobs.put_panel(replace(fake_jobs.PANELS[0], ended_utc=fake_jobs.MADE, outcome="finished"))
    answer = client.get("/jobs/panels/7")
    assert (answer.status_code, answer.location) == (303, "/panels/?panel=blue-38+%C2%B7+4")
    assert client.get("/jobs/panels/8").status_code == 404


def test_a_record_has_its_code_and_parameters_for_paper(client: FlaskClient, data: Path) -> None:
    """Printed as it is, without a way through the traveller."""
    number = record(data / "logbook.sqlite")
    page = client.get(f"/panels/{number}", headers={"Host": "localhost"}).text
    assert read_code(drawing(page)) == f"http://localhost/panels/{number}"
    assert "<dt>Dose at the resist</dt><dd" in page
