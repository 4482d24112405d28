"""The page Baths: those in use, from a mix that was worked out to the waste container; control keeps them."""

import re
from dataclasses import replace

import pytest
from flask.testing import FlaskClient

from sumlight.craft.baths.contents import Contents
from sumlight.craft.chemistry import hazards
from tests.webui import fake_jobs
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import ORIGIN
from tests.webui.test_baths import IRON, PEROXIDE
from tests.webui.test_jobs import asked, page


def pressed(text: str) -> dict[str, str]:
    """The hidden fields of the form that keeps a mix."""
    form = text[text.index('action="/baths/new"') :]
    return dict(re.findall(r'name="(\w+)" value="([^"]*)"', form[: form.index("</form>")]))


def test_the_page_shows_the_baths_in_use_first(client: FlaskClient) -> None:
    """With the one thing to know of each: does it go on."""
    text = page(client, "/baths/")
    assert "Bath 2 (ferric chloride)" in text
    assert "of its life is over" in text
    assert text.index("Bath 2") < text.index("Mix: Developer")
    assert "In the waste containers" in text


@pytest.mark.parametrize(("bath", "typed"), [("iron", IRON), ("peroxide", PEROXIDE)])
def test_a_mix_is_kept_with_one_press(
    client: FlaskClient, control: FakeControl, bath: str, typed: dict[str, str]
) -> None:
    """Nothing is typed twice: strengths of the bath and of the bottles go along."""
    fields = pressed(page(client, f"/baths/mix/{bath}?" + "&".join(f"{k}={v}" for k, v in typed.items())))
    answer = client.post("/baths/new", data=fields, headers=ORIGIN)
    assert answer.status_code == 303
    told = asked(control, "bath_new")
    wanted = {"kind": bath, "volume_l": 1.0}
    if bath == "iron":
        wanted |= {"wt_percent": 36.0, "bottle_percent": 40.0}
    else:
        wanted |= {"peroxide_wt_percent": 1.8, "acid_wt_percent": 11.0}
        wanted |= {"bottle_percent": 11.9, "acid_bottle_percent": 31.0}
    assert {key: told[key] for key in wanted} == pytest.approx(wanted)
    assert told["who"]


def test_a_bath_says_what_it_has_taken_and_shows_its_cautions_and_label(client: FlaskClient) -> None:
    """What it was mixed of, when and by whom; its label can be copied."""
    text = page(client, "/baths/2")
    for words in ("1.5 L.", "36 wt%", "Mixed from 40 %.", "Ada", "WASTE: ferric chloride, used", "vented cap"):
        assert words in text
    for caution in hazards.CAUTIONS["iron"]:
        assert str(caution) in text
    assert "blue-38 · 3" in text


def test_nobody_is_told_which_container_is_right(client: FlaskClient, control: FakeControl) -> None:
    """What stands there is asked, none is chosen beforehand, and a no of control is shown."""
    text = page(client, "/baths/2")
    form = text[text.index('action="/baths/2/waste"') :]
    assert "checked" not in form[: form.index("</form>")]
    control.answers["bath_waste"] = lambda _request: (_ for _ in ()).throw(RefusalError("refused", "must not meet"))
    answer = client.post("/baths/2/waste", data={"into": "peroxide"}, headers=ORIGIN)
    assert answer.status_code == 409
    assert "Must not meet" in answer.text
    assert asked(control, "bath_waste")["into"] == "peroxide"
    assert client.post("/baths/2/waste", data={}, headers=ORIGIN).status_code == 422


def test_a_bath_that_gasses_says_why_its_cap_is_vented_where_it_goes_to_waste(
    client: FlaskClient, control: FakeControl
) -> None:
    """Beside the question which container it is; of a bath that does not, nothing."""
    assert "Why the cap is vented" not in page(client, "/baths/2")
    mixed = replace(fake_jobs.BATH, contents=Contents("persulfate", 1.0, g_per_l=250.0))
    control.answers["bath"] = lambda _request: fake_jobs.bath(mixed, 0)
    text = page(client, "/baths/2")
    form = text[text.index('action="/baths/2/waste"') :]
    assert "hold back 38 times the pressure of the air" in form[: form.index("</form>")]


def test_a_panel_without_a_card_is_noted(client: FlaskClient, control: FakeControl) -> None:
    """Units as people say them."""
    typed = {"metal": "brass", "open_cm2": "25", "depth_um": "0.075 mm", "took_s": "9:00", "bath_c": "71.6 F"}
    assert client.post("/baths/2/panel", data=typed, headers=ORIGIN).status_code == 303
    told = asked(control, "bath_panel")
    wanted = {"open_cm2": 25, "depth_um": 75, "took_s": 540, "bath_c": 22}
    assert {key: told[key] for key in wanted} == pytest.approx(wanted)
    assert client.post("/baths/2/panel", data={"took_s": "soon"}, headers=ORIGIN).status_code == 422
    assert client.post("/baths/2/take-back", headers=ORIGIN).status_code == 303


def test_a_watcher_sees_and_changes_nothing(client: FlaskClient, control: FakeControl) -> None:
    """Without a log-in there is no form, and a request is refused."""
    client.delete_cookie("sumlight_session")
    text = page(client, "/baths/2")
    assert "<form" not in text[text.index("<main") : text.index("</main>")]
    assert client.post("/baths/2/waste", data={"into": "iron"}, headers=ORIGIN).status_code in (303, 401, 403)
    assert not [request for request in control.commands if request["command"] == "bath_waste"]


def test_a_bath_that_is_waste_offers_nothing_more(client: FlaskClient, control: FakeControl) -> None:
    """It says since when and where it is."""
    control.answers["bath"] = lambda _request: fake_jobs.bath(fake_jobs.WASTED)
    text = page(client, "/baths/1")
    assert "in the container for ferric chloride" in text
    assert "/baths/1/waste" not in text


def test_without_control_the_sums_stay(client: FlaskClient, control: FakeControl) -> None:
    """Only the baths in use are missing."""
    control.answers["baths"] = lambda _request: (_ for _ in ()).throw(RefusalError("refused", "not now"))
    text = page(client, "/baths/")
    assert "Not now" in text
    assert "Mix: Developer" in text
    control.answers["bath"] = lambda _request: (_ for _ in ()).throw(RefusalError("not_found", "no such bath"))
    page(client, "/baths/9", 404)


def test_a_bath_of_any_kind_can_be_told(client: FlaskClient, control: FakeControl) -> None:
    """What nobody knows stays empty."""
    page(client, "/baths/new")
    assert client.post("/baths/new", data={"kind": "cupric", "volume_l": "2"}, headers=ORIGIN).status_code == 303
    told = asked(control, "bath_new")
    assert (told["kind"], told["volume_l"], "wt_percent" in told) == ("cupric", 2.0, False)
    assert client.post("/baths/new", data={"kind": "cupric"}, headers=ORIGIN).status_code == 422


def test_a_card_in_a_bath_asks_for_its_warmth_only_when_it_begins(client: FlaskClient, control: FakeControl) -> None:
    """It may stay empty; a developer has its tap for the break point."""
    card = fake_jobs.card("etch", "begun")
    step = next(each for each in card["steps"] if each["step_id"] == card["step_id"])
    step |= {"in_bath": True, "state": None}
    control.answers["card"] = lambda _request: card
    assert 'name="bath_c"' in page(client, "/jobs/panels/7")
    typed = {"step_id": str(step["step_id"]), "act": "begin", "bath_c": "22"}
    client.post("/jobs/panels/7/step", data=typed, headers=ORIGIN)
    assert asked(control, "job_step")["bath_c"] == 22
    step |= {"kind": "develop", "state": "begun"}
    text = page(client, "/jobs/panels/7")
    assert 'value="clear"' in text
    assert 'name="bath_c"' not in text


def test_of_several_baths_one_is_chosen_for_a_job(client: FlaskClient, control: FakeControl) -> None:
    """By a press; without a choice nothing is shown."""
    job = fake_jobs.JOB_ANSWERS["job"]
    assert "/jobs/3/bath" not in page(client, "/jobs/3")
    name = fake_jobs.bath(replace(fake_jobs.BATH, contents=Contents("iron", 1.0)))["name"]
    one = {"bath_id": 2, "name": name, "chosen": True}
    control.answers["job"] = lambda _request: job | {"baths": [one, one | {"bath_id": 4, "chosen": False}]}
    assert 'value="4"' in page(client, "/jobs/3")
    assert client.post("/jobs/3/bath", data={"bath_id": "4"}, headers=ORIGIN).status_code == 303
    assert asked(control, "job_bath") == {"job_id": 3, "bath_id": 4}


def test_a_waste_container_says_what_is_in_it_and_is_emptied_by_a_press(
    client: FlaskClient, control: FakeControl
) -> None:
    """With where it may go, before the press."""
    text = page(client, "/baths/")
    assert "Container for ferric chloride" in text
    assert "1.5 L in it (baths: 1)." in text
    assert text.index("your waste authority takes it") < text.index("It was taken away")
    assert client.post("/baths/emptied", data={"kind": "iron"}, headers=ORIGIN).status_code == 303
    assert asked(control, "waste_emptied") == {"kind": "iron", "who": "Ada"}
    control.answers["waste_emptied"] = lambda _request: (_ for _ in ()).throw(RefusalError("bad_value", "no such kind"))
    assert client.post("/baths/emptied", data={"kind": "gold"}, headers=ORIGIN).status_code == 409
