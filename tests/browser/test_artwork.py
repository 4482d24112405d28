"""A newcomer in Chromium: drops a grey, crooked scan and leaves with a compensated pair to print and a picture."""

import re
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from tests.artwork.scans import crooked_scan
from tests.browser import shared
from tests.browser.conftest import PHONE, Open

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served

DROP = """async ([bytes, name]) => {
  const given = new DataTransfer();
  given.items.add(new File([new Uint8Array(bytes)], name));
  const event = new DragEvent("drop", { dataTransfer: given, cancelable: true });
  document.querySelector("form[data-file]").dispatchEvent(event);
}"""


def compare(page: Page, what: str, scan: Path) -> None:
    """Send a scan of what came out."""
    page.get_by_text("Compare a scan of what came out").click()
    page.get_by_label(what).check()
    page.get_by_label("Scan", exact=True).set_input_files(scan)


def test_a_newcomer_leaves_with_a_pair_to_print(visit: Open, tmp_path: Path) -> None:
    """On a phone of 360 px, with the real process behind the page; what is downloaded has its true size."""
    seen = visit(PHONE)
    page = seen.page
    seen.go("/jobs/")
    page.get_by_role("link", name="Artwork").click()
    scan = crooked_scan(tmp_path / "plate.png", degrees=2.5)
    page.evaluate(DROP, [list(scan.read_bytes()), scan.name])
    expect(page.get_by_text("leans by 2.50°")).to_be_visible()
    page.get_by_label("Thickness of the metal").fill("0.15 mm")
    page.get_by_label("Name on the films").fill("Invented plate")
    page.get_by_text("More, which most people leave as it is").click()
    page.get_by_label("Fold lines towards the front").fill("3 8 23 8")
    page.get_by_role("button", name="Make the films").click()
    expect(page.get_by_role("button", name="Take the guess")).to_be_visible()
    page.get_by_role("button", name="Take the guess").click()
    expect(page.get_by_role("heading", name="The part as it will be")).to_be_visible()
    expect(page.get_by_text("1 pieces fall out")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    expect(page.get_by_text("1 fold lines towards the front, bent by 90°")).to_be_visible()
    page.get_by_role("img", name="The part as it will be").click()
    # The middle of what a frame of 26 × 18 mm encloses.
    expect(page.get_by_text(re.compile(r"^13\.\d mm from the left, 9\.\d mm from the top$"))).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Front PDF").click()
    with pypdfium2.PdfDocument(download.value.path()) as document:
        wide_mm, high_mm = (points / 72 * 25.4 for points in document[0].get_size())
    assert (wide_mm, high_mm) == pytest.approx((70.1, 62.1), abs=0.15)  # 24 × 16 mm, margins of 1, 10 and 12 mm
    with page.expect_download() as download:
        page.get_by_role("link", name="Back PNG").click()
    with Image.open(download.value.path()) as film:
        assert film.size[0] / film.info["dpi"][0] * 25.4 == pytest.approx(wide_mm, abs=0.05)
        back = film.convert("L").rotate(-1.5, fillcolor=255)
        back.save(tmp_path / "printed.png", dpi=film.info["dpi"])
    compare(page, "The back film", tmp_path / "printed.png")
    expect(page.get_by_role("heading", name="Your scan against the back film")).to_be_visible()
    expect(page.get_by_text("The scan is turned by 1.5")).to_be_visible()
    expect(page.get_by_role("img", name="How far places of the scan lie off")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Front PNG").click()
    with Image.open(download.value.path()) as film:
        film.convert("L").rotate(1.0, fillcolor=255).save(tmp_path / "ahead.png", dpi=film.info["dpi"])
    compare(page, "The front film", tmp_path / "ahead.png")
    expect(page.get_by_role("heading", name="The back on the front")).to_be_visible()
    expect(page.get_by_role("img", name="How far the back lies off the front, seen from the front")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.screenshot(path=tmp_path / "made.png", full_page=True)
