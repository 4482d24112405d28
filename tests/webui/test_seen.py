"""What a press carries is what its form showed: state number, recipe, side and panel."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.datastructures import MultiDict

from sumlight.store.recipes import RecipeStore
from sumlight_web.services import AppServices
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, hear, wait_until
from tests.webui.given import ORIGIN


class Hidden(HTMLParser):
    """Gathers the hidden inputs of the one form that posts to `action`."""

    def __init__(self, action: str) -> None:
        super().__init__()
        self._action, self._inside = action, False
        self.found: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an input of the form."""
        told = dict(attrs)
        if tag == "form":
            self._inside = told.get("action") == self._action
        elif tag == "input" and self._inside and told.get("type") == "hidden":
            self.found[str(told["name"])] = str(told.get("value"))


def hidden(page: str, action: str) -> dict[str, str]:
    """What the form carries."""
    parser = Hidden(action)
    parser.feed(page)
    return parser.found


def test_a_start_carries_state_recipe_and_side_as_the_page_showed_them(
    client: FlaskClient, services: AppServices, control: FakeControl, data: Path
) -> None:
    """Even if state and recipe have changed meanwhile: that is for control to notice."""
    hear(services.watch, control, fake.snapshot(state_number=41))
    shown = hidden(client.get("/").text, "/bench/start")
    stored = RecipeStore(data / "recipes").load("blue-38")
    assert shown["state_number"] == "41"
    hear(services.watch, control, fake.snapshot(state_number=42))
    path = data / "recipes" / "blue-38.yaml"
    path.write_text(path.read_text() + "# another day\n")
    assert (
        client.post("/bench/start", data=shown | {"recipe": "blue-38", "panel": "P1"}, headers=ORIGIN).status_code
        == 303
    )
    told = control.commands[-1]
    assert (told["state_number"], told["recipe_sha256"], told["side"]) == (41, stored.sha256, stored.recipe.first_lit())
    assert RecipeStore(data / "recipes").load("blue-38").sha256 != stored.sha256


def test_continue_carries_the_panel_and_side_it_named(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """The words on the button and what the press carries come from one snapshot."""
    waits = fake.exposure(fake.side("A", state="done"), fake.side("B", state="waiting"), panel="P7", due="B")
    hear(services.watch, control, fake.snapshot(state="turn", may=["go", "abandon"], exposure=waits, state_number=8))
    page = client.get("/").text
    assert "Light side B" in page
    assert hidden(page, "/bench/go") == {
        "state_number": "8",
        "seen:panel": "P7",
        "seen:recipe_sha256": fake.RECIPE_SHA256,
        "seen:side": "B",
    }


def test_continue_is_meant_for_its_own_panel_whatever_label_the_next_one_has(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """The label of the next panel is a field of the same form, and stands before what the press carries."""
    waits = fake.lit(state="paused", may=["go"], state_number=fake.STATE_NUMBER)
    hear(services.watch, control, waits)
    page = client.get("/").text
    label = re.search(r'<input id="panel" name="panel" form="act"[^>]*', page)
    assert label is not None
    sent = MultiDict([("panel", "blue · 2"), ("note", ""), *hidden(page, "/bench/go").items()])
    client.post("/bench/go", data=sent, headers=ORIGIN)
    assert control.commands[-1]["panel"] == waits["exposure"]["panel"]


def test_the_button_is_drawn_anew_with_every_state(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """Or what it carries would stay behind what is shown."""
    keys = set()
    for number in (5, 6):
        hear(services.watch, control, fake.lit(state="paused", may=["go"], state_number=number))
        keys.add(client.get("/state.json").json["parts"]["bar"]["key"])  # type: ignore[index]
    assert len(keys) == 2


@pytest.mark.parametrize(
    "path", ["/light/tablet", "/light/strip", "/light/teach", "/light/radiometer", "/light/sheets"]
)
def test_forms_that_light_for_a_measurement_carry_it_too(client: FlaskClient, path: str) -> None:
    """Of every recipe that can be chosen; a plan keeps it for the press that follows."""
    page = _main(client.get(path).text)
    if "seen:blue-38" not in page:
        values = {"recipe": "blue-38", "target_step": "8", "zones": "4", "first_mj_cm2": "10", "factor": "1.3"}
        page = _main(client.post(f"{path}/plan", data=values, headers=ORIGIN).text)
    assert 'name="state_number" value="77000000000001"' in page
    assert re.search(r'name="seen:blue-38" value="[0-9a-f]{64} 1"', page)


def _main(page: str) -> str:
    """The page without its bar, which carries a press of its own."""
    return page.partition("<main")[2].partition("</main>")[0]


@pytest.mark.parametrize("number", ["", "-1", "1.5", "ten", "9" * 17, "٣"])
def test_a_state_number_that_is_none_is_not_passed_on(client: FlaskClient, control: FakeControl, number: str) -> None:
    """Control then says that the press does not tell what was seen."""
    client.post("/bench/go", data=fake.SEEN_BEFORE_GO | {"state_number": number}, headers=ORIGIN)
    assert control.names() == []  # the fake insists on it, as control does


def test_nothing_is_carried_of_a_box_that_does_not_answer(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """An old state is no state that was seen."""
    control.__exit__(None, None, None)
    try:
        wait_until(lambda: not services.watch.latest().live)
        assert hidden(client.get("/").text, "/bench/start") == {}
        assert f'value="{fake.STATE_NUMBER}"' not in client.get("/light/teach").text
    finally:
        control.__enter__()
