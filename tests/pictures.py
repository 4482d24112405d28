"""The README's pictures, taken from the real page on the twin: `python -m tests.pictures`.

`--all DIR` writes every page and every state of Bench and commissioning at four sizes into a folder instead.
"""

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, expect, sync_playwright

from sumlight.protocol.client import ControlClient
from tests.browser.conftest import FLAGS
from tests.browser.gallery import hang
from tests.pressing import press
from tests.running import RunningTwin
from tests.webui.operating import become_operator

FOLDER = Path(__file__).parents[1] / "webui" / "pictures"
SIZES = {"phone": {"width": 360, "height": 740}, "desk": {"width": 1280, "height": 800}}
SPEED = 1.5
CURVE_DRAWN = """() => {
  const canvas = document.getElementById('curve');
  const inked = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
  return document.getElementById('bench').dataset.fed === '' && inked.some((part) => part > 0);
}"""
"""The page writes its numbers at once and draws a moment later."""


def main() -> int:
    """Take the README's pictures, or all there are."""
    parser = argparse.ArgumentParser(prog="python -m tests.pictures", description=main.__doc__)
    parser.add_argument("--all", type=Path, metavar="DIR", help="write every page and state at four sizes there")
    asked = parser.parse_args()
    chromium = shutil.which("chromium")
    if chromium is None:
        print("Debian's chromium is missing: apt-get install chromium", file=sys.stderr)
        return 2
    if asked.all is not None:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
            print(f"{hang(browser, asked.all)} pictures in {asked.all}")
            browser.close()
        return 0
    take_readme(chromium)
    return 0


def take_readme(chromium: str) -> None:
    """Expose a panel on the twin and take pictures in the middle of the light."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, RunningTwin(Path(folder), speed=SPEED) as twin:
        with ControlClient(twin.socket) as client:
            twin.wait_until_ready(client)
            press(client, "start", recipe="turned-50", panel="P12")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
            for name, size in SIZES.items():
                take(browser, twin, size, FOLDER / f"bench-{name}.png")
            browser.close()


def take(browser: Browser, twin: RunningTwin, size: dict[str, int], path: Path) -> None:
    """One picture of the Bench under light."""
    page = browser.new_page(viewport={"width": size["width"], "height": size["height"]})
    become_operator(page, twin.url, twin.data)
    page.goto(twin.url)
    expect(page.get_by_role("heading", level=1)).to_have_text("Exposing", timeout=20_000)
    page.wait_for_function("() => Number(document.querySelector('.dose b').innerText) > 30", timeout=30_000)
    page.wait_for_function(CURVE_DRAWN, timeout=30_000)
    page.screenshot(path=path)
    page.close()


if __name__ == "__main__":
    sys.exit(main())
