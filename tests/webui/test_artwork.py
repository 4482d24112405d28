"""The page Artwork: a file in pieces, a process that looks and makes, one at a time and in the dark only."""

import json
import os
import signal
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.craft.etching import learning
from sumlight_web.artwork import bench, inputs, worktable
from sumlight_web.artwork.bench import Bench, Kept, kept_of
from sumlight_web.artwork.worktable import ArtworkDesk, safe_name
from sumlight_web.services import AppServices
from tests.artwork.scans import crooked_scan
from tests.webui import fake_answers
from tests.webui import fake_control as fake
from tests.webui.art_folder import compared_by_hand, made_by_hand
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import ORIGIN

FORM = {
    "thickness_um": "150",
    "factor": "2",
    "name": "Test plate",
    "tabs": "2",
    "black": "open",
    "film_black": "open",
    "build": "sheet",
    "metal": "brass",
    "crop": "frame",
    "wanted_at": "waist",
    "over_etch": "1.2",
    "bias_um": "0",
    "printed_x_mm": "100",
    "printed_y_mm": "100",
    "speck_um": "100",
    "border_mm": "10",
    "straighten": "1",
    "control_marks": "1",
}
SLEEPER = "tests.webui.sleeper"


@pytest.fixture
def desk(services: AppServices) -> ArtworkDesk:
    """The desk of the application."""
    return services.artwork


def sent(client: FlaskClient, path: Path) -> None:
    """Send a file as the page's script does."""
    raw = path.read_bytes()
    told = client.post(f"/artwork/begin?name={path.name}&size={len(raw)}", headers=ORIGIN)
    assert told.status_code == 201, told.text
    size = told.get_json()["piece_bytes"]
    for at in range(0, len(raw), size):
        assert client.post(f"/artwork/piece?at={at}", data=raw[at : at + size], headers=ORIGIN).status_code < 300


def rested(desk: ArtworkDesk) -> str:
    """The phase in which it ends."""
    wait_until(lambda: desk.standing().phase not in ("working", "arriving"), 60)
    return desk.standing().phase


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


def test_a_scan_of_what_came_out_is_compared_with_what_was_made(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """It takes the place of no file; what is not there cannot be compared with; the answer stands under the part."""
    folder = made_by_hand(tmp_path)
    assert client.post("/artwork/begin?name=a.png&size=9&with=front", headers=ORIGIN).status_code == 409
    (folder / "make" / "front.png").write_bytes(b"x")
    monkeypatch.setattr(worktable, "WORKER", SLEEPER)
    assert client.post("/artwork/begin?name=a.png&size=9&with=front", headers=ORIGIN).status_code == 201
    assert client.post("/artwork/piece?at=0", data=b"123456789", headers=ORIGIN).status_code == 201
    assert "Comparing them." in client.get("/artwork/").text
    client.post("/artwork/stop", headers=ORIGIN)
    assert rested(desk) == "made"
    compared_by_hand(folder)
    page = client.get("/artwork/").text
    assert "Your scan against the front film" in page
    assert "Openings reach +3.0 µm further" in page
    assert client.get("/artwork/compare/compared.png").status_code == 200


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


def test_a_comparison_is_kept_once_and_what_follows_is_offered_in_three_places(
    client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """On the next form, on the job and at the bath; the form takes it over on a press, and nothing else does."""
    folder = made_by_hand(tmp_path)
    compared_by_hand(folder, "part", 20.0)
    assert "compared scans say" not in client.get("/artwork/").text
    assert client.post("/artwork/keep", data={"what": "film"}, headers=ORIGIN).status_code == 409
    for _ in range(2):
        assert client.post("/artwork/keep", data={"what": "waist"}, headers=ORIGIN).status_code == 303
    (kept,) = desk.bench.kept()
    # The scan was 20 µm larger than the part wanted, and openings were drawn 35.2 µm smaller than that.
    assert (kept.what, kept.growth_um, kept.thickness_um, kept.metal) == ("waist", pytest.approx(55.2), 150.0, "brass")
    done = learning.learn([learning.Seen("waist", 55.2, 150.0)], thickness_um=150.0)
    page = client.get("/artwork/").text
    assert f"draw openings {done.draw_um.middle:.1f} µm smaller" in page
    use = learning.proposal(done, 150.0, "waist")
    assert f'value="{use.factor:g}"' not in page
    taken = client.get("/artwork/?take=brass").text
    for value in (use.factor, use.over_etch, use.bias_um):
        assert f'value="{value:g}"' in taken
    assert desk.standing().asked["asked"].get("factor") is None
    assert f"draw openings {done.draw_um.middle:.1f} µm smaller" in client.get("/jobs/3").text
    assert "After 1 comparisons" in client.get("/baths/7").text
    assert client.post("/artwork/take-back", headers=ORIGIN).status_code == 303
    assert desk.bench.kept() == []
    assert "compared scans say" not in client.get("/artwork/").text


@pytest.mark.parametrize(
    ("what", "compared", "task", "growth_um"),
    [
        ("film", {"with": "front"}, {"asked": {"film_black": "open"}}, 4.0),
        ("film", {"with": "back"}, {"asked": {"film_black": "metal"}}, -4.0),
        ("surface", {"with": "part"}, {"asked": {"thickness_um": 100.0}, "metal": "copper"}, 14.0),
        ("surface", {"with": "front"}, {"asked": {}}, None),
        ("panel", {"with": "panel"}, {"asked": {"film_black": "metal"}}, 4.0),
        ("film", {"with": "panel"}, {"asked": {"film_black": "open"}}, None),
        ("film", {"with": "part"}, {"asked": {"thickness_um": 100.0}}, None),
    ],
)
def test_growth_is_that_of_openings_against_what_was_drawn(
    what: str, compared: dict[str, object], task: dict[str, object], growth_um: float | None
) -> None:
    """Ink is openings or metal by the resist; a part was compared with what is wanted, 10 µm larger than drawn."""
    found = kept_of(what, compared | {"growth_um": 4.0, "at": 1}, {"moves_um": 10.0}, task)
    assert (None if found is None else found.growth_um) == growth_um


def test_what_was_kept_outlives_a_damaged_file_and_films_alone_leave_the_factor_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that is none of ours is nothing kept; the etch factor is of a metal, a film's edges are of all."""
    book = Bench(tmp_path / "compared.json")
    for told in ("", "{", '{"kept": [{"what": "film"}]}', '{"kept": 3}'):
        (tmp_path / "compared.json").write_text(told)
        assert book.kept() == []
    book.keep(Kept("film", 12.0, 0.0, "", 1))
    with pytest.raises(ValueError, match="thickness_um"):
        book.keep(Kept("waist", 12.0, 0.0, "brass", 2))
    book.keep(Kept("waist", 60.0, 150.0, "brass", 3))
    brass, copper = book.offer("brass", 150.0), book.offer("copper", 150.0)
    assert brass is not None
    assert copper is not None
    assert (brass.parts, copper.parts) == (1, 0)
    assert brass.use.factor < copper.use.factor
    assert set(inputs.taken(copper)) == {"bias_um", "metal"}
    assert [one.metal for one in book.offers({}, "copper")] == ["brass"]
    monkeypatch.setattr(bench, "MOST", 3)
    for number in (10, 11):
        book.keep(Kept("film", 1.0, 0.0, "", number))
    assert [one.at for one in book.kept()] == [3, 10, 11]


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
    ("compared", "into"),
    [
        ({"with": "front", "scale_x": 1.0012, "scale_y": 0.999}, ("100.12", "99.9")),
        # The film that was scanned made up for 1 % already.
        ({"with": "back", "scale_x": 1.001, "scale_y": 1.0, "before": 1.01}, ("101.101", "100")),
        ({"with": "part", "scale_x": 1.0012, "scale_y": 0.999}, None),
        ({"with": "front", "scale_x": 1.05, "scale_y": 0.999}, None),
        ({"with": "front"}, None),
    ],
)
def test_what_a_film_says_of_its_printer_goes_into_the_form(
    compared: dict[str, object], into: tuple[str, str] | None
) -> None:
    """Lengths that 100 mm come out as; a print that is 5 % off was not printed at true size."""
    asked = {"printed_x": compared.pop("before")} if "before" in compared else {}
    found = inputs.corrected(compared, asked)
    assert (None if found is None else (found["printed_x_mm"], found["printed_y_mm"])) == into


def test_the_printers_lengths_stand_in_the_form_after_a_press(client: FlaskClient, tmp_path: Path) -> None:
    """And reach the process as ratios."""
    compared_by_hand(made_by_hand(tmp_path), "front", 3.0)
    assert "100 mm print as 100.100 mm across and 99.900 mm down" in client.get("/artwork/").text
    assert 'value="100.1"' not in client.get("/artwork/").text
    page = client.get("/artwork/?printer=1").text
    assert 'value="100.1"' in page
    assert 'value="99.9"' in page
    form = inputs.typed(FORM | {"printed_x_mm": "100.1", "printed_y_mm": "99.9"})
    task = inputs.task_of(form, {}, "Ada")
    assert (task["asked"]["printed_x"], task["asked"]["printed_y"]) == pytest.approx((1.001, 0.999))


def test_both_films_compared_give_a_map_of_the_back_on_the_front(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, desk: ArtworkDesk, tmp_path: Path
) -> None:
    """The first film's map outlives the second's comparison, and goes when films are made anew."""
    folder = made_by_hand(tmp_path)
    compared_by_hand(folder, "front")
    page = client.get("/artwork/").text
    assert 'class="heat-map"' in page
    assert "Compare the other film, too" in page
    (folder / "make" / "back.png").write_bytes(b"x")
    monkeypatch.setattr(worktable, "WORKER", SLEEPER)
    assert client.post("/artwork/begin?name=a.png&size=3&with=back", headers=ORIGIN).status_code == 201
    assert client.post("/artwork/piece?at=0", data=b"123", headers=ORIGIN).status_code == 201
    client.post("/artwork/stop", headers=ORIGIN)
    assert rested(desk) == "made"
    compared_by_hand(folder, "back")
    page = client.get("/artwork/").text
    # Both are stretched alike, but the front's film is mirrored: what is right on it is left on the part, and so the
    # maps agree and only turn out to be 0 where stretching is symmetric.
    assert "The back on the front" in page
    assert "get a step of 0 µm" in page
    assert set(desk.standing().sides) == {"front", "back"}
    assert client.post("/artwork/make", data=FORM, headers=ORIGIN).status_code == 303
    client.post("/artwork/stop", headers=ORIGIN)
    assert rested(desk) == "asked"
    assert not (folder / "met").exists()


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


def test_what_a_jobs_coupon_told_stands_on_that_job_and_at_its_bath(
    client: FlaskClient, desk: ArtworkDesk, control: FakeControl, tmp_path: Path
) -> None:
    """Of its own parts alone once there are some, with what the next films would use; another job shows the metal's."""
    desk.bench.keep(Kept("waist", 20.0, 150.0, "brass", 1))
    desk.bench.keep(Kept("panel", 4.0, 0.0, "", 2, 3))
    folder = made_by_hand(tmp_path)
    compared_by_hand(folder, "part", 20.0)
    job = fake_answers.ANSWERS["job"]
    panels = [*job["panels"], job["panels"][0] | {"label": "blue-38 · 3"}]
    control.answers["job"] = lambda _request: job | {"panels": panels}
    assert "Which job is it of?" in client.get("/artwork/").text
    before = desk.bench.offer("brass", 150.0)
    assert before is not None
    assert "this bath etched" not in client.get("/baths/2").text
    told = client.post("/artwork/keep", data={"what": "waist", "job_id": "3"}, headers=ORIGIN)
    assert told.status_code == 303
    kept = desk.bench.kept()[-1]
    assert (kept.job_id, kept.labels[-1]) == (3, "blue-38 · 3")
    own = learning.learn([learning.Seen("waist", 55.2, 150.0), learning.Seen("panel", 4.0)], thickness_um=150.0)
    page = client.get("/jobs/3").text
    assert "Part compared, lit through: openings reach +55.2 µm further" in page
    assert "Developed panel compared: openings reach +4.0 µm further" in page
    assert f"draw openings {own.draw_um.middle:.1f} µm smaller" in page
    assert "From this job&#39;s own parts:" in page
    use = learning.proposal(own, 150.0, "waist")
    assert f"The next films would use etch factor {use.factor:.3g}, over-etch k {use.over_etch:.3g}" in page
    assert "this bath etched" in client.get("/baths/2").text
    other = desk.bench.offer("brass", 150.0, mine=lambda one: one.job_id == 4)
    assert other is not None
    assert (other.own, other.parts) == (False, 2)
    assert desk.standing().asked["asked"].get("factor") is None  # nothing is taken by itself


def given(answer: dict[str, Any], _request: dict[str, Any]) -> dict[str, Any]:
    """An answer of control's, whatever is asked."""
    return answer


def test_a_job_of_another_metal_is_refused_as_that_of_a_coupon(
    client: FlaskClient, desk: ArtworkDesk, control: FakeControl, tmp_path: Path
) -> None:
    """So is one that control does not know; a developed panel says nothing of the metal."""
    folder = made_by_hand(tmp_path)
    compared_by_hand(folder, "part", 20.0)
    job = fake_answers.ANSWERS["job"]
    for name, other in (("metal", "copper"), ("thickness_um", 100.0)):
        control.answers["job"] = partial(given, job | {"numbers": job["numbers"] | {name: other}})
        told = client.post("/artwork/keep", data={"what": "waist", "job_id": "3"}, headers=ORIGIN)
        assert (told.status_code, "of another metal or thickness" in told.text) == (409, True)
    assert desk.bench.kept() == []
    (folder / "compare" / "compared.png").unlink()
    (folder / "compare" / "compared-daylight.png").unlink()
    compared_by_hand(folder, "panel", 5.0)
    page = client.get("/artwork/").text
    assert "Your scan against the openings as drawn" in page
    assert client.post("/artwork/keep", data={"what": "panel", "job_id": "3"}, headers=ORIGIN).status_code == 303
    assert [(one.what, one.job_id) for one in desk.bench.kept()] == [("panel", 3)]


def test_what_an_older_version_kept_is_read(tmp_path: Path) -> None:
    """Before there were jobs in it."""
    path = tmp_path / "compared.json"
    old = {"what": "waist", "growth_um": 60.0, "thickness_um": 150.0, "metal": "brass", "at": 3}
    path.write_text(json.dumps({"kept": [old]}))
    assert Bench(path).kept() == [Kept("waist", 60.0, 150.0, "brass", 3)]
