"""From signs to a confirmed cause on a phone, and a photo that arrives small, bare of what a camera wrote, and dim."""

import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from sumlight.store.logbook.logbook import Logbook
from tests.browser.conftest import PHONE, Open
from tests.browser.test_look import assert_accessible, assert_safelight
from tests.store.making import later
from tests.webui.fake_control import FakeControl
from tests.webui.test_panels import record


@pytest.fixture
def keeps(control: FakeControl, data: Path) -> None:
    """The fake control writes findings as the real one does."""
    record(data / "logbook.sqlite")

    def findings(request: dict[str, Any]) -> dict[str, Any]:
        known = {name: value for name, value in request.items() if name in ("held_step", "wanted_step")}
        with Logbook(data / "logbook.sqlite", durable=False) as book:
            book.findings.put_findings(1, request["signs"], known, request["who"], later(1))
        return {"exposure_id": 1}

    def cause(request: dict[str, Any]) -> dict[str, Any]:
        with Logbook(data / "logbook.sqlite", durable=False) as book:
            book.findings.confirm_cause(1, request["cause"], request["confirmed"], request["who"], later(2))
        return {"exposure_id": 1}

    control.answers |= {"findings": findings, "confirm_cause": cause}


@pytest.mark.usefixtures("keeps")
def test_a_spoilt_panel_is_told_and_its_cause_kept(visit: Open) -> None:
    """Two taps to the list, one for each sign, one to be told why, one to keep it."""
    seen = visit(PHONE)
    seen.go("/panels/1")
    seen.page.get_by_role("link", name="Why did it fail?").click()
    seen.page.get_by_label("Resist comes off all over in the developer").check()
    seen.page.get_by_text("Where, and the held step").click()
    seen.page.get_by_label("Last held step of a tablet").fill("6")
    seen.page.get_by_label("Step that should be held").fill("8")
    seen.page.get_by_role("button", name="Save, and tell why").click()
    first = seen.page.get_by_role("listitem").filter(has=seen.page.get_by_role("heading", name="Too little light"))
    expect(first).to_contain_text("Multiply the dose by 2.00")
    assert_accessible(seen.page, "why")
    seen.picture("why-phone")
    first.get_by_role("button", name="This was it").click()
    expect(seen.page.get_by_text("It was: too little light.")).to_be_visible()
    seen.page.get_by_role("button", name="It was not that after all").click()
    expect(seen.page.get_by_role("button", name="This was it").first).to_be_visible()


def white_png(width: int, height: int) -> bytes:
    """The brightest picture there is (PNG as ISO/IEC 15948: length, kind, data, CRC)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = (b"\0" + b"\xff" * 3 * width) * height
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


@pytest.mark.usefixtures("keeps")
def test_a_photo_is_shrunk_in_the_browser_and_shown_dim(browser: Browser, visit: Open, data: Path) -> None:
    """White all over in a file: on the safelight page no pixel of it exposes resist. Chromium still reads it."""
    seen = visit(PHONE)
    seen.go("/panels/1")
    expect(seen.page.get_by_text("No flash beside open resist: it fogs it.")).to_be_visible()
    picture = {"name": "panel.png", "mimeType": "image/png", "buffer": white_png(3200, 1600)}
    seen.page.get_by_label("Photo", exact=True).set_input_files(picture)  # type: ignore[arg-type]
    shown = seen.page.get_by_role("img", name="Photo of panel P12")
    expect(shown).to_be_visible()
    shown.scroll_into_view_if_needed()
    seen.page.wait_for_function("() => document.querySelector('.photo img').complete")
    assert shown.evaluate("image => [image.naturalWidth, image.naturalHeight]") == [1600, 800]
    assert_safelight(browser, seen.picture("photo-phone"))
    raw = (data / "page" / "photos" / "1.jpg").read_bytes()
    assert raw[:2] == b"\xff\xd8"
    assert b"JFIF" not in raw


@pytest.mark.usefixtures("keeps")
def test_what_is_no_picture_is_said(visit: Open) -> None:
    """And nothing is sent."""
    seen = visit(PHONE)
    seen.go("/panels/1")
    seen.page.get_by_label("Photo", exact=True).set_input_files(
        {"name": "panel.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}
    )
    expect(seen.page.get_by_role("alert").filter(has_text="not a picture that the browser can read")).to_be_visible()
