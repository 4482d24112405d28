"""A fixed list of cautions, each in sight on its page: never folded, never hidden.

The words stand here a second time on purpose: who changes a caution, or drops one, changes this list too.
"""

from html.parser import HTMLParser

import pytest
from flask.testing import FlaskClient

SCREEN = "Not beside open resist: they shine blue."
CAUTIONS: dict[str, tuple[str, ...]] = {
    "/": (SCREEN,),
    "/light/": (SCREEN,),
    "/baths/mix/developer": (SCREEN, "Gloves and goggles: soda at this strength burns eyes."),
    "/baths/mix/stripper": (SCREEN, "Gloves and goggles: lye burns do not hurt at first."),
    "/baths/mix/iron": (SCREEN, "Gloves, goggles, and no metal tools."),
    "/baths/mix/persulfate": (SCREEN, "It gasses while it stands: vented cap, never a tight lid."),
    "/baths/mix/peroxide": (SCREEN, "Gloves, goggles, apron, open air, no metal tools."),
    "/baths/etch-time?metal=copper&bath=iron&thickness_um=100&sides=2&rate_um_min=10&load=0&open_cm2=100&volume_l=1": (
        SCREEN,
        "Gloves, goggles, and no metal tools.",
    ),
    "/jobs/panels/7": (SCREEN, "Gloves, goggles, and no metal tools."),
}
"""By page what has to be in sight there."""

NEVER_CLOSED = {"input", "meta", "link", "br", "path", "img", "circle", "rect"}


class InSight(HTMLParser):
    """Gathers the text that is neither within a fold, its summary included, nor hidden."""

    def __init__(self) -> None:
        super().__init__()
        self.text = ""
        self._open: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Go in."""
        given = dict(attrs)
        folded = tag == "details" and "open" not in given
        hidden = (
            "hidden" in given or given.get("aria-hidden") == "true" or "quiet" in (given.get("class") or "").split()
        )
        if tag not in NEVER_CLOSED:
            self._open.append((tag, folded or hidden))

    def handle_endtag(self, tag: str) -> None:
        """Come out."""
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        """Text that is read."""
        if not any(away for _tag, away in self._open):
            self.text += data


def in_sight(page: str) -> str:
    """What is read on a page without a tap."""
    reader = InSight()
    reader.feed(page)
    return " ".join(reader.text.split())


@pytest.mark.parametrize("path", CAUTIONS)
def test_every_caution_is_in_sight_on_its_page(client: FlaskClient, path: str) -> None:
    """Before anything was entered or pressed."""
    seen = in_sight(client.get(path).text)
    assert [caution for caution in CAUTIONS[path] if caution not in seen] == []


def test_what_is_folded_or_hidden_is_not_in_sight() -> None:
    """So the test above can fail."""
    page = (
        "<p>shown</p><details><summary>fold</summary><p>away</p></details><p hidden>gone</p><p class='quiet'>said</p>"
    )
    assert in_sight(page) == "shown"
    assert in_sight(page.replace("<details>", "<details open>")) == "shownfoldaway"
