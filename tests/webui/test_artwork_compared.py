"""What the page Artwork compares: scans of films, panels and parts, and what is kept and learned of them."""

import json
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.craft.etching import learning
from sumlight_web.artwork import bench, inputs, worktable
from sumlight_web.artwork.bench import Bench, Kept, kept_of
from sumlight_web.artwork.worktable import ArtworkDesk
from tests.webui import fake_answers
from tests.webui.art_folder import FORM, compared_by_hand, made_by_hand, rested
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN

SLEEPER = "tests.webui.sleeper"


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
