"""One page process for all tests of a file that only look at it: it takes longer to start than most of them.

What a test lets the box say, answer or keep silent about is taken back after it. Files that a test writes stay.
"""

import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.conftest import fill, until_it_says
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.page_process import PageProcess, page_process


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of the file's tests."""
    folder = tmp_path_factory.mktemp("shared")
    fill(folder)
    return folder


@pytest.fixture(scope="module")
def lasting_control(data: Path) -> Iterator[FakeControl]:
    """A fake control that outlasts a test."""
    with FakeControl(data / "control.sock") as running:
        yield running


@pytest.fixture(scope="module")
def served(lasting_control: FakeControl, data: Path) -> Iterator[PageProcess]:
    """A running page process that has heard of the box."""
    with page_process(lasting_control.path, data) as running:
        until_it_says(running, "Demo box")
        yield running


@pytest.fixture(autouse=True)
def control(lasting_control: FakeControl, served: PageProcess) -> FakeControl:
    """The fake control as if it were new: an idle box, no answers, no curve, nothing asked yet."""
    lasting_control.mute.clear()
    lasting_control.answers.clear()
    lasting_control.samples = []
    # With another panel, so that the page lets go of the curve it has.
    lasting_control.say(fake.snapshot(box="Fresh box", state="done", exposure=fake.exposure(exposure_id=4)))
    until_it_says(served, "Fresh box")
    with urllib.request.urlopen(f"{served.address}state.json"):
        pass
    lasting_control.say(fake.snapshot())
    until_it_says(served, "Demo box")
    lasting_control.commands.clear()
    return lasting_control
