"""The page of recipes that several boxes share: what differs is shown, one is taken over by a press, and as it was
shown."""

import json
import re
import subprocess
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.store.sharing import ADOPTED
from sumlight_web.__main__ import shared_folder
from sumlight_web.app import create_app
from sumlight_web.services import AppServices, PageConfig
from tests.webui.given import BLUE, ORIGIN
from tests.webui.operating import operator_of

STRONGER, OTHER = BLUE.replace("dose_mj_cm2: 60", "dose_mj_cm2: 75"), BLUE.replace("hold_s: 900", "hold_s: 1200")
NAME = "blue-38"


def shown(client: FlaskClient) -> str:
    """The page's text, without its tags."""
    answer = client.get("/recipes/shared")
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.text).split())


def fields(client: FlaskClient, name: str = NAME) -> dict[str, str]:
    """What the form of a recipe holds: the texts that are shown, by their hashes."""
    form = client.get("/recipes/shared").text.split(f'action="/recipes/shared/{name}"', 1)[1].split("</form>", 1)[0]
    return dict(re.findall(r'type="hidden" name="(\w+)" value="(\w*)"', form))


def press(client: FlaskClient, given: dict[str, str], name: str = NAME) -> tuple[int, str]:
    """Take one over; status and text of the answer."""
    answer = client.post(f"/recipes/shared/{name}", data=given, headers=ORIGIN)
    return answer.status_code, " ".join(re.sub(r"<[^>]+>", " ", answer.text).split())


def test_what_is_new_and_what_differs_is_shown_and_taken_over_by_a_press(
    client: FlaskClient, data: Path, common: Path
) -> None:
    """The shelf changes by the press and by nothing before it; which version it is is kept."""
    (common / f"{NAME}.yaml").write_text(BLUE)
    assert "film-25 New there Invented film 38" in shown(client)
    assert "The same in both places: blue-38." in shown(client)
    assert press(client, fields(client, "film-25"), "film-25")[0] == 303
    assert (data / "recipes" / "film-25.yaml").read_text() == BLUE
    assert press(client, {"here": "", "there": ""}, NAME)[0] == 409
    (common / "film-25.yaml").write_text(STRONGER)
    assert "film-25 Changed there" in (text := shown(client))
    assert "Dose at the resist 60 75" in text
    assert (data / "recipes" / "film-25.yaml").read_text() == BLUE
    assert press(client, fields(client, "film-25"), "film-25")[0] == 303
    assert (data / "recipes" / "film-25.yaml").read_text() == STRONGER
    kept = json.loads((data / "recipes" / ADOPTED).read_text())
    assert [entry["sha256"] for entry in kept.values()] == [fields_of(STRONGER)]
    assert "There is nothing in the folder that this box does not have." in shown(client)


def fields_of(text: str) -> str:
    """The hash of a text, by coreutils."""
    return subprocess.run(["sha256sum"], input=text.encode(), capture_output=True, check=True).stdout.decode()[:64]


@pytest.mark.parametrize("where", ["here", "there"])
def test_what_was_changed_after_it_was_shown_is_not_taken_over(
    where: str, client: FlaskClient, data: Path, common: Path
) -> None:
    """In the folder, or on this box."""
    (common / f"{NAME}.yaml").write_text(STRONGER)
    given = fields(client) | {"replace": "yes"}
    (data / "recipes" / f"{NAME}.yaml" if where == "here" else common / f"{NAME}.yaml").write_text(OTHER)
    status, text = press(client, given)
    assert status == 409
    assert "changed meanwhile. Nothing was taken over" in text
    assert (data / "recipes" / f"{NAME}.yaml").read_text() == (OTHER if where == "here" else BLUE)


def test_what_would_be_lost_needs_a_word_more(client: FlaskClient, data: Path, common: Path) -> None:
    """Where both were changed, or nobody knows."""
    (common / f"{NAME}.yaml").write_text(STRONGER)
    assert "Different; nobody knows which is newer" in (text := shown(client))
    assert "What stands on this box may be lost" in text
    status, text = press(client, fields(client))
    assert status == 409
    assert "would be lost. Nothing was changed" in text
    assert (data / "recipes" / f"{NAME}.yaml").read_text() == BLUE
    assert press(client, fields(client) | {"replace": "yes"})[0] == 303
    assert (data / "recipes" / f"{NAME}.yaml").read_text() == STRONGER


def test_a_dose_of_unknown_light_warns_before_it_is_taken_over(client: FlaskClient) -> None:
    """Lamps and calibration are judged by tests/cli/test_sharing.py, by the same lines."""
    assert "Nothing says under which lamps this dose was found. Light a test strip" in shown(client)


def test_a_file_with_mistakes_is_named_and_cannot_be_taken_over(client: FlaskClient, data: Path, common: Path) -> None:
    """With line and field; a press that comes all the same changes nothing."""
    (common / f"{NAME}.yaml").write_text(BLUE.replace("dose_mj_cm2: 60.0", "dose_mj_cm2: -6"))
    assert "blue-38 Cannot be used Line 4, dose_mj_cm2 : input should be greater than or equal to 1" in shown(client)
    assert f'action="/recipes/shared/{NAME}"' not in client.get("/recipes/shared").text
    status, text = press(client, {"here": "", "there": "", "replace": "yes"})
    assert status == 422
    assert "dose_mj_cm2" in text
    for name, wanted in (("nothing", 404), ("..%2fa", 404), ("Über", 404)):
        assert press(client, {}, name)[0] == wanted
    assert (data / "recipes" / f"{NAME}.yaml").read_text() == BLUE


def test_a_full_disk_is_said(client: FlaskClient, data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """For the recipe, and for the note of its version."""

    def full(*_: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    given = fields(client, "film-25")
    monkeypatch.setattr("sumlight.store.recipes.replace_file", full)
    status, text = press(client, given, "film-25")
    assert (status, "No space left" in text) == (503, True)
    assert not (data / "recipes" / "film-25.yaml").exists()
    monkeypatch.undo()
    monkeypatch.setattr("sumlight.store.sharing.replace_file", full)
    status, text = press(client, given, "film-25")
    assert (status, "could not be kept" in text) == (503, True)
    assert (data / "recipes" / "film-25.yaml").read_text() == BLUE


def test_a_watcher_sees_and_takes_nothing(client: FlaskClient, data: Path) -> None:
    """Whoever has not logged in."""
    given, stranger = fields(client, "film-25"), client.application.test_client()
    assert 'action="/recipes/shared' not in stranger.get("/recipes/shared").text
    assert stranger.post("/recipes/shared/film-25", data=given, headers=ORIGIN).status_code == 401
    assert not (data / "recipes" / "film-25.yaml").exists()


def test_a_folder_that_is_gone_is_said_without_its_path(client: FlaskClient, common: Path) -> None:
    """A drive that is not there looks like one without recipes otherwise."""
    common.rename(common.with_name("elsewhere"))
    answer = client.get("/recipes/shared")
    assert answer.status_code == 503
    assert "The shared folder is not there" in answer.text
    assert str(common) not in answer.text


def test_where_no_folder_is_set_nothing_is_seen_of_it(services: AppServices, client: FlaskClient, data: Path) -> None:
    """Neither page nor button."""
    assert "/recipes/shared" in client.get("/recipes/").text
    app = create_app(PageConfig(data / "control.sock", data))
    try:
        other = operator_of(app)
        assert "/recipes/shared" not in other.get("/recipes/").text
        assert other.get("/recipes/shared").status_code == 404
    finally:
        app.extensions["sumlight"].close()
    assert services.shared is not None


def test_the_folder_is_named_by_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty name is none."""
    monkeypatch.setenv("SUMLIGHT_SHARED", "/srv/recipes")
    assert shared_folder() == Path("/srv/recipes")
    for name in ("", None):
        if name is None:
            monkeypatch.delenv("SUMLIGHT_SHARED")
        else:
            monkeypatch.setenv("SUMLIGHT_SHARED", name)
        assert shared_folder() is None
