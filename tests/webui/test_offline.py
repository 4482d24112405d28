"""The page as an app: manifest, worker, and what stands in while the box cannot be reached."""

import re
from io import BytesIO

import pytest
from flask.testing import FlaskClient
from PIL import Image, ImageChops

from tests.icon import SIZES, drawn
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl


def test_the_manifest_names_what_a_browser_needs_to_install_the_page(client: FlaskClient) -> None:
    """Members of W3C's Web Application Manifest; black before anything is drawn, for any other ground would shine."""
    link = re.search(r'<link rel="manifest" href="([^"]+)"', client.get("/").text)
    assert link is not None
    answer = client.get(link[1])
    assert answer.mimetype == "application/manifest+json"
    told = answer.get_json(force=True)
    assert told["start_url"] == told["scope"] == told["id"] == "/"
    assert told["display"] == "standalone"
    assert told["background_color"] == told["theme_color"] == "#000000"
    icon, *pixels = told["icons"]
    drawing = client.get(icon["src"])
    assert (drawing.mimetype, icon["sizes"]) == ("image/svg+xml", "any")
    drawing.close()
    for icon, size in zip(pixels, SIZES, strict=True):
        with client.get(icon["src"]) as answer_png, Image.open(BytesIO(answer_png.data)) as picture:
            assert (answer_png.mimetype, icon["type"], icon["sizes"]) == ("image/png", "image/png", f"{size}x{size}")
            shown = picture.convert("RGB")
        assert shown.size == (size, size)
        assert max(high for _low, high in ImageChops.difference(shown, drawn(size)).getextrema()) <= 16
        assert shown.getextrema()[2][1] == 0  # safelight: no blue
    assert "manifest-src 'self'" in answer.headers["Content-Security-Policy"]


def test_the_worker_may_answer_for_every_page(client: FlaskClient) -> None:
    """It stands at the root: the Service Workers standard lets one answer for what lies below its own folder only."""
    where = re.search(r'data-worker="([^"]+)"', client.get("/panels/").text)
    assert where is not None
    assert re.fullmatch(r"/[^/]+", where[1])
    answer = client.get(where[1])
    assert answer.mimetype == "text/javascript"
    answer.close()


@pytest.mark.parametrize("said", [fake.snapshot(), fake.snapshot(state="faulted", faults=[fake.fault()])])
def test_the_offline_page_knows_nothing_of_the_box(
    client: FlaskClient, control: FakeControl, said: dict[str, object]
) -> None:
    """It is kept and shown much later: whatever the box says meanwhile, it reads the same, to watchers as well."""
    before = client.get("/offline").text
    control.say(said)
    assert client.get("/offline").text == before
    assert client.application.test_client().get("/offline").text == before
    assert "Nothing is known of it now: not the lamps, not the lid, not the dose." in before
    assert "without this page" in before
    assert "Demo box" not in before


def test_the_offline_page_is_in_the_language_of_its_address(client: FlaskClient) -> None:
    """A worker keeps it by address; cookies may have changed meanwhile."""
    assert '<html lang="de"' in client.get("/offline?language=de").text
    assert '<html lang="en"' in client.get("/offline?language=en", headers={"Accept-Language": "de"}).text
    assert '<html lang="en"' in client.get("/offline?language=xx").text
