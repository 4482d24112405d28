"""The page Artwork: a file in pieces, a process that looks and makes, one at a time and in the dark only."""

import json
import os
import signal
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight_web.artwork import inputs, worktable
from sumlight_web.artwork.worktable import ArtworkDesk, safe_name
from tests.artwork.scans import crooked_scan
from tests.webui import fake_control as fake
from tests.webui.art_folder import FORM, made_by_hand, rested, sent
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import ORIGIN

SLEEPER = "tests.webui.sleeper"


@pytest.mark.long
def test_a_grey_and_crooked_scan_becomes_a_pair_to_print(
    client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """By the forms alone; the films are PNG and PDF by how they begin, and the part's numbers go onto the page."""
    sent(client, crooked_scan(tmp_path / "my plate (2).png"))
    assert (rested(desk), desk.standing().told) == ("asked", ())
    page = client.get("/artwork/").text
    assert "600 dpi" in page
    assert "leans by 2.0" in page
    assert client.get("/artwork/look/scan.png").data.startswith(b"\x89PNG")
    first = client.post("/artwork/make", data=FORM | {"factor": ""}, headers=ORIGIN)
    assert (first.status_code, "Etch a coupon" in first.text, 'name="guess"' in first.text) == (422, True, True)
    for said, words in (("0,5", "do you mean undercut over depth"), ("38", "do you mean"), ("0", "more than 0")):
        asked = client.post("/artwork/make", data=FORM | {"factor": said}, headers=ORIGIN)
        told = asked.text.split('id="f-factor-error">')[1].split("</p>")[0]
        assert (asked.status_code, words in told, f'value="{said}"' in asked.text) == (422, True, True)
    assert client.post("/artwork/make", data=FORM | {"factor": "", "guess": "1"}, headers=ORIGIN).status_code == 303
    assert (rested(desk), desk.standing().told) == ("made", ())
    page = client.get("/artwork/").text
    assert ("fall out" in page, "2, 150 µm wide" in page) == (False, True)  # the frame's line goes all around
    assert "Drawn with a guessed etch factor, as Ada chose." in page
    assert "Test plate" in page
    for name, begins in (("front.pdf", b"%PDF"), ("back.png", b"\x89PNG"), ("part.png", b"\x89PNG")):
        assert client.get(f"/artwork/make/{name}").data.startswith(begins)
    assert client.get("/artwork/make/task.json").status_code == 404
    assert client.get("/artwork/scan/my_plate_2_.png").status_code == 404
    assert client.post("/artwork/forget", headers=ORIGIN).status_code == 303
    assert desk.standing().phase == "empty"


def sleeping(monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, tmp_path: Path) -> int:
    """A process at work that sleeps, and its number."""
    monkeypatch.setattr(worktable, "WORKER", SLEEPER)
    path = tmp_path / "any.png"
    path.write_bytes(b"x" * 10)
    sent(client, path)
    number = tmp_path / "page" / "artwork" / "look" / "pid"
    wait_until(lambda: number.is_file() and number.read_text() != "", 20)
    return int(number.read_text())


def state_of(pid: int) -> str:
    """The kernel's letter for it: T is stopped; empty when it is gone."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return ""


def test_light_holds_the_work_and_darkness_lets_it_go_on(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, control: FakeControl, tmp_path: Path
) -> None:
    """While lamps burn nothing begins either; a second piece of work is refused; *Stop* ends it."""
    pid = sleeping(monkeypatch, client, desk, tmp_path)
    refused = client.post("/artwork/begin?name=b.png&size=9", headers=ORIGIN)
    assert (refused.status_code, "Stop that first" in refused.text) == (409, True)
    control.say(fake.snapshot(state="light", banks=[fake.bank(commanded=True)]))
    wait_until(lambda: state_of(pid) == "T", 20)
    assert "Waiting until the lamps are off." in client.get("/artwork/").text
    refused = client.post("/artwork/begin?name=b.png&size=9", headers=ORIGIN)
    assert "Not while lamps are on" in refused.text
    refused = client.post("/artwork/make", data=FORM, headers=ORIGIN)
    assert (refused.status_code, "Not while lamps are on" in refused.text) == (409, True)
    control.say(fake.snapshot())
    wait_until(lambda: state_of(pid) == "S", 20)
    assert client.get("/artwork/progress.json").get_json()["phase"] == "working"
    client.post("/artwork/stop", headers=ORIGIN)
    assert rested(desk) == "asked"
    assert state_of(pid) == ""
    assert "Stopped. Nothing was made." in client.get("/artwork/").text


def test_a_killed_process_is_an_answer(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """As the kernel kills what takes too much memory: the page says so and takes the next file."""
    os.kill(sleeping(monkeypatch, client, desk, tmp_path), signal.SIGKILL)
    assert rested(desk) == "asked"
    assert "(signal 9)" in client.get("/artwork/").text
    assert client.post("/artwork/begin?name=b.png&size=9", headers=ORIGIN).status_code == 201


def test_it_is_ended_when_it_takes_too_long(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """The limit is of time at work."""
    monkeypatch.setattr(worktable, "TIME_LIMIT_S", 0.3)
    sleeping(monkeypatch, client, desk, tmp_path)
    assert rested(desk) == "asked"
    assert "was ended" in client.get("/artwork/").text


def test_space_size_and_order_are_checked_first(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk
) -> None:
    """513 MB are refused before a byte is sent, and so is what the card has no room for; a piece too far, too."""
    begin = "/artwork/begin?name=a.png&size="
    assert client.post(f"{begin}513000000", headers=ORIGIN).status_code == 413
    assert client.post(f"{begin}-1", headers=ORIGIN).status_code == 413
    monkeypatch.setattr(worktable, "ROOM_BYTES", 10**18)
    full = client.post(f"{begin}9", headers=ORIGIN)
    assert (full.status_code, "Make room" in full.text) == (507, True)
    monkeypatch.setattr(worktable, "ROOM_BYTES", 0)
    assert client.post(f"{begin}9", headers=ORIGIN).status_code == 201
    assert client.post("/artwork/piece?at=3", data=b"abc", headers=ORIGIN).status_code == 409
    assert client.post("/artwork/piece?at=0", data=b"abcdefghij", headers=ORIGIN).status_code == 409
    assert desk.standing().phase == "arriving"


def test_a_missing_library_is_told_before_anything_is_sent(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient
) -> None:
    """As on a plain install."""
    monkeypatch.setattr(worktable, "LIBRARIES", ("no_such_library",))
    page = client.get("/artwork/").text
    assert ("pip install" in page, 'type="file"' in page) == (True, False)
    assert client.post("/artwork/begin?name=a.png&size=9", headers=ORIGIN).status_code == 501


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\scans\\plate 3.png", "plate_3.png"),
        ("..", "artwork"),
        ("", "artwork"),
        ("ä" * 100 + ".png", "_.png"),
        ("-rf.png", "-rf.png"),
    ],
)
def test_names_stay_in_their_folder(name: str, safe: str) -> None:
    """Whatever a browser calls the file."""
    assert safe_name(name) == safe


def test_watchers_see_and_do_nothing(app: Flask) -> None:
    """They get no form, and every route that changes something is shut."""
    watcher = app.test_client()
    assert "There is no artwork here." in watcher.get("/artwork/").text
    for route in (
        "begin?name=a&size=1",
        "piece?at=0",
        "",
        "scale",
        "make",
        "stop",
        "forget",
        "card",
        "keep",
        "take-back",
        "no-back",
    ):
        assert watcher.post(f"/artwork/{route}", headers=ORIGIN).status_code == 401


def test_the_opened_area_goes_onto_a_card_and_what_stands_there_stays(
    client: FlaskClient, control: FakeControl, tmp_path: Path
) -> None:
    """Over all faces; rate and etchant are sent again, for what is left out is forgotten."""
    made_by_hand(tmp_path)
    assert 'name="job_id" value="3"' in client.get("/artwork/").text
    assert "0.17 g" in client.get("/artwork/").text  # 20 mm³ of brass at 8.5 g/cm³
    assert client.post("/artwork/card", data={"job_id": "3"}, headers=ORIGIN).status_code == 303
    (told,) = [one for one in control.commands if one["command"] == "job_numbers"]
    assert (told["job_id"], told["open_cm2"], told["etchant"]) == (3, 1.23, "iron")


def test_the_back_can_have_artwork_of_its_own(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """It comes after the front, goes into the films with how it is drawn, and can be left out again."""
    begin = "/artwork/begin?name=other.png&size=3&with=behind"
    assert client.post(begin, headers=ORIGIN).status_code == 409
    folder = made_by_hand(tmp_path)
    assert client.post(begin, headers=ORIGIN).status_code == 201
    assert client.post("/artwork/piece?at=0", data=b"abc", headers=ORIGIN).get_json() == {"whole": True}
    page = client.get("/artwork/").text
    assert "The back has artwork of its own: other.png." in page
    assert "make them again" in page
    monkeypatch.setattr(worktable, "WORKER", SLEEPER)
    assert client.post("/artwork/make", data=FORM, headers=ORIGIN).status_code == 303
    task = json.loads((folder / "make" / "task.json").read_text())
    assert Path(task["back"]).read_bytes() == b"abc"
    assert task["asked"]["back_mirrored"] is True
    client.post("/artwork/stop", headers=ORIGIN)
    assert rested(desk) == "asked"
    assert client.post("/artwork/no-back", headers=ORIGIN).status_code == 303
    assert "artwork of its own: other" not in client.get("/artwork/").text


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("10 5 10", "four lengths"),
        ("10 5 10 x", "x"),
        ("10 5 10 30 170", "170"),
        ("10 5 10 5", "both ends"),
        ("\n".join(["1 1 2 2"] * 51), "At most 50 fold lines"),
    ],
)
def test_a_fold_line_that_cannot_be_is_told_beside_its_field(typed: str, told: str) -> None:
    """With what to write instead; a decimal comma, a unit and an empty line are fine."""
    form = inputs.typed(FORM | {"folds_front": typed})
    assert told in " ".join(form.errors["folds_front"])


def test_fold_lines_reach_the_process_and_come_back_into_the_form() -> None:
    """In mm, with their side and angle; typed anew from what was made they are the same."""
    form = inputs.typed(FORM | {"folds_front": "10,5 5 10,5 1.2in\n\n", "folds_back": "1 2 3 4 60; 5 6 7 8"})
    assert form.errors == {}
    task = inputs.task_of(form, {}, "Ada")
    one, two, three = task["asked"]["folds"]
    assert one == {
        "towards": "front",
        "x_mm": 10.5,
        "y_mm": 5.0,
        "to_x_mm": 10.5,
        "to_y_mm": pytest.approx(30.48),
        "angle_deg": 90.0,
    }
    assert (two["towards"], two["angle_deg"], three["to_y_mm"]) == ("back", 60.0, 8.0)
    again = inputs.proposed(task)
    assert again.text("folds_back") == "1mm 2mm 3mm 4mm 60\n5mm 6mm 7mm 8mm 90"
    assert inputs.task_of(inputs.typed(FORM | again.values), {}, "Ada")["asked"]["folds"] == task["asked"]["folds"]
