"""Where one is: the place in the bar of pages that is marked."""

import re

import pytest
from flask.testing import FlaskClient

from tests.webui.test_language import PATHS

OF_JOBS = ("baths", "stock", "artwork")
WITHOUT = ("access", "help", "offline")
"""Pages that the bar does not name."""


@pytest.mark.parametrize("path", PATHS)
def test_the_place_that_a_page_belongs_to_is_marked(client: FlaskClient, path: str) -> None:
    """By the first part of its address, whichever part of the program writes it."""
    first = path.split("/")[1]
    place = "jobs" if first in OF_JOBS else first
    nav = client.get(path).text.partition("</nav>")[0]
    marked = re.findall(r'href="/([^"]*?)/?"[^>]* aria-current="page"', nav)
    assert marked == ([] if first in WITHOUT else [place])
