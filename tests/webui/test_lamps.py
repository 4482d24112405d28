"""The page Lamps: what it says agrees with `light` on the same logbook; the level, watchers, CSV, German."""

import csv
import json
import re
from collections.abc import Callable
from datetime import UTC, datetime
from html import unescape
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.light import lampanswer
from sumlight.light.ageing import LampPoint
from sumlight.light.lampanswer import BankAnswer, BankHistory, UsualRecipe, answer, compare
from sumlight.light.lampuse import Use, present_use, replacement
from sumlight.store import lamp_settings
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.lamps import NewTube, day_of
from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import AS_WRITTEN, as_written, say
from sumlight_web.language import Reader, written_for
from sumlight_web.services import AppServices
from sumlight_web.texts import text_of
from tests.light.test_lampchange import days_of
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import ORIGIN
from tests.webui.lamp_book import HOURS_A_DAY, live, two_banks
from tests.webui.light_runs import beside, post


def judged(data: Path, bank: str = "lower") -> tuple[BankHistory, BankAnswer]:
    """What `light` makes of the logbook."""
    with Logbook.open_reader(data / "logbook.sqlite") as book:
        history = book.lamps.lamp_history(bank)
        return history, answer(history, book.lamps.usual_recipe(), level=lamp_settings.load(data).level)


def drawn(page: str) -> dict[str, Any]:
    """The numbers of the first drawing."""
    values = re.search(r'data-plot="life" data-values="([^"]*)"', page)
    assert values is not None
    found: dict[str, Any] = json.loads(unescape(values[1]))
    return found


def rows(page: str, caption: str) -> list[list[str]]:
    """The body of the table of that caption."""
    body = page.split(f">{caption}</caption>")[1].split("<tbody>")[1].split("</tbody>")[0]
    return [[unescape(c).strip() for c in re.findall(r"<t[hd][^>]*>([^<]*)<", row)] for row in body.split("</tr>")[:-1]]


def test_the_page_says_what_the_answer_says(client: FlaskClient, data: Path) -> None:
    """Sentence by sentence, the date at the present use included."""
    live(data / "logbook.sqlite")
    page = unescape(client.get("/lamps/").text)
    history, found = judged(data)
    assert found.share is not None
    assert len(found.sentences) >= 4
    for sentence in found.sentences:
        assert f">{sentence}</p>" in page
    now = datetime.now(UTC)
    use = present_use(history.points, history.hours, day_of(now))
    assert use is not None
    assert use.hours_per_week == pytest.approx(7 * HOURS_A_DAY, rel=0.03)
    when = replacement(found, use, now.date())
    assert when.day is not None
    assert f">{when.sentence}</p>" in page
    assert f"Bank lower: {100 * found.share[0]:.0f} % of new" in page
    assert f"{use.hours_per_week:.1f} h a week" in page


def test_the_drawing_holds_days_curve_band_level_today_and_end(client: FlaskClient, data: Path) -> None:
    """By the same decay; the first hundred hours stand apart, and the band is the prediction interval of one day."""
    live(data / "logbook.sqlite")
    picture = drawn(client.get("/lamps/").text)
    history, found = judged(data)
    assert found.decay is not None
    assert found.left_h is not None
    assert found.new_mw_cm2 is not None
    assert picture["now_h"] == pytest.approx(history.hours)
    assert picture["run_in_h"] == 100
    assert len(picture["points"]) == 240
    assert [h for h, _ in picture["points"]] == pytest.approx([p.hours for p in history.points], abs=0.01)
    for hours, *band in picture["line"]:
        assert band == pytest.approx(found.decay.reading(hours), abs=3e-4)
        assert hours >= found.decay.first_h - 0.01
    assert picture["level_mw_cm2"] == pytest.approx(0.7 * found.new_mw_cm2, abs=1e-4)
    assert picture["end"] == pytest.approx([history.hours + left for left in found.left_h if left is not None], abs=0.1)
    assert max(h for h, *_ in picture["line"]) > picture["end"][2]
    inside = sum(low <= found.decay.curve(h)[0] <= high for h, _, low, high in picture["line"])
    assert inside == len(picture["line"])


def test_the_numbers_of_the_drawing_stand_in_tables(client: FlaskClient, data: Path) -> None:
    """Newest day first, and the curve with its interval."""
    live(data / "logbook.sqlite")
    page = client.get("/lamps/").text
    history, found = judged(data)
    assert found.new_mw_cm2 is not None
    newest = rows(page, "The newest days with readings of bank lower")
    assert len(newest) == 30
    last = history.points[-1]
    assert found.decay is not None
    share = last.mw_cm2 / found.decay.season(last.day) / found.new_mw_cm2
    assert newest[0][1:] == [f"{last.hours:.1f}", f"{last.mw_cm2:.3f}", f"{100 * share:.1f} %"]
    curve = rows(page, "The curve of bank lower")
    assert [row[0] for row in curve] == [f"{row[0]:.0f}" for row in drawn(page)["line"][::5]]


def test_nothing_is_drawn_or_dated_beyond_the_rules_limit(client: FlaskClient, data: Path) -> None:
    """Steady lamps, watched for 150 h: the curve ends at six times that at the latest, and no date is told."""
    live(data / "logbook.sqlite", days=75, per_h=1e-5)
    page = client.get("/lamps/").text
    _, found = judged(data)
    assert found.life is not None
    picture = drawn(page)
    assert picture["end"][2] is None
    assert max(h for h, *_ in picture["line"]) <= found.life.cap_h
    assert "six times the observed time" in page
    assert "is reached about" not in page


def test_young_lamps_are_shown_without_a_curve(client: FlaskClient, data: Path) -> None:
    """Days there are, but nothing is foretold."""
    live(data / "logbook.sqlite", days=20)
    page = client.get("/lamps/").text
    assert "still running in" in page
    picture = drawn(page)
    assert (len(picture["points"]), picture["line"], picture["level_mw_cm2"]) == (20, [], None)


def test_signs_of_wear_are_named_and_shown(client: FlaskClient, data: Path) -> None:
    """Slow strike and flicker stand out; warming up does not."""
    live(data / "logbook.sqlite", worn=True)
    page = client.get("/lamps/").text
    _, found = judged(data)
    assert len(found.signs) == 2
    verdicts = {row[0]: row[3] for row in rows(page, "Signs of wear of bank lower")}
    expected = {"Time to strike": "clearly more", "Time to warm up": "as usual", "Slow flicker": "clearly more"}
    assert verdicts == expected


def test_the_weak_bank_is_named_and_a_worn_one_is_to_be_changed(
    client: FlaskClient, data: Path, control: FakeControl, services: AppServices
) -> None:
    """With the words of `compare`."""
    two_banks(control, services)
    live(data / "logbook.sqlite")
    live(data / "logbook.sqlite", bank="upper", strength_mw_cm2=4.0, per_h=1.2e-3)
    page = unescape(client.get("/lamps/").text)
    sentences = compare([judged(data, "lower")[1], judged(data, "upper")[1]])
    assert len(sentences) == 2
    for sentence in sentences:
        assert sentence in page
    assert '<p class="cause">The replacement level of 70% is reached: change these lamps.</p>' in page


def test_the_register_shows_each_tube_and_those_taken_out(client: FlaskClient, data: Path) -> None:
    """Hours of expected life, starts, day of fitting; a removed tube keeps its own."""
    live(data / "logbook.sqlite", days=100)
    with Logbook(data / "logbook.sqlite") as book:
        book.lamps.fit_tubes(
            "lower", [NewTube(2, "T8 18 W (invented)", "UV-A 352 nm", "spare")], datetime.now(UTC), whole=False
        )
    page = client.get("/lamps/").text
    tubes = rows(page, "Tubes of bank lower")
    assert [row[0] for row in tubes] == ["1", "2", "3", "4", "5", "6"]
    assert tubes[0][1:6] == ["T8 15 W (invented)", "UV-A 368 nm", "No 1", "200 of 2000", "900"]
    assert tubes[1][1:6] == ["T8 18 W (invented)", "UV-A 352 nm", "spare", "0", "0"]
    (removed,) = rows(page, "Tubes taken out of bank lower")
    assert removed[3:6] == ["No 2", "200 of 2000", "900"]


def keeping(data: Path) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """What control does with a level."""

    def keep(request: dict[str, Any]) -> dict[str, Any]:
        settings = LampSettings(replace_at_percent=request["percent"])
        (data / lamp_settings.FILE).write_text(lamp_settings.as_text(settings), encoding="utf-8")
        return {"percent": request["percent"]}

    return keep


def test_the_level_is_set_on_the_page_and_holds_for_the_answers(
    client: FlaskClient, control: FakeControl, data: Path
) -> None:
    """Control keeps it in the data folder, where the command line reads it too."""
    control.answers["replacement_level"] = keeping(data)
    live(data / "logbook.sqlite")
    before = judged(data)[1]
    answered = post(client, "/lamps/level", percent="60")
    assert (answered.status_code, answered.location) == (303, "/lamps/?saved=1")
    assert lamp_settings.load(data).replace_at_percent == 60
    after = judged(data)[1]
    assert before.left_h is not None
    assert after.left_h is not None
    assert (after.left_h[0] or 1e9) > (before.left_h[0] or 0)
    page = client.get("/lamps/?saved=1").text
    assert "Replacement level of 60% in" in page
    assert "The replacement level is saved." in page


@pytest.mark.parametrize("typed", ["", "29.9", "95.1", "seventy", "70 mm", "1e2", "-70", "nan", "70" * 30, "<b>"])
def test_an_odd_level_is_refused_beside_its_field(client: FlaskClient, data: Path, typed: str) -> None:
    """With what is allowed; nothing is changed, what was typed stays."""
    answered = post(client, "/lamps/level", percent=typed)
    assert answered.status_code == 422
    told = beside(answered.text, "f-percent")
    assert told.endswith("Nothing was changed.")
    assert typed not in ("29.9", "95.1", "-70") or "from 30 to 95 %" in told
    assert not (data / lamp_settings.FILE).exists()


def test_a_broken_settings_file_is_told_and_does_not_take_the_page_down(
    client: FlaskClient, control: FakeControl, data: Path
) -> None:
    """The usual level holds; saving one mends the file."""
    control.answers["replacement_level"] = keeping(data)
    live(data / "logbook.sqlite")
    (data / lamp_settings.FILE).write_text("replace_at_percent: 7\n", encoding="utf-8")
    page = client.get("/lamps/")
    assert page.status_code == 200
    assert "line 1: replace_at_percent" in page.text
    assert "Replacement level of 70% in" in page.text
    assert post(client, "/lamps/level", percent="75").status_code == 303
    assert lamp_settings.load(data) == LampSettings(replace_at_percent=75)


def test_a_level_that_control_cannot_save_is_said_beside_its_field(client: FlaskClient, control: FakeControl) -> None:
    """A full card."""

    def full(_request: dict[str, Any]) -> dict[str, Any]:
        why = say("logbook_cannot_be_written", why=as_written("the disk is full"))
        raise RefusalError("refused", why, remedy=say("make_room"))

    control.answers["replacement_level"] = full
    answered = post(client, "/lamps/level", percent="60")
    assert answered.status_code == 409
    assert "the disk is full" in beside(answered.text, "f-percent")


def test_a_level_is_not_saved_while_control_is_away(app: Flask, client: FlaskClient, control: FakeControl) -> None:
    """Only control writes in the data folder; the page says so instead of pretending."""
    control.mute.set()
    answered = post(client, "/lamps/level", percent="60")
    control.mute.clear()
    assert answered.status_code == 503
    assert "could not be saved" in answered.text


def test_csv_holds_every_reading_and_every_tube(client: FlaskClient, data: Path) -> None:
    """And no cell that a spreadsheet would run; there is no other file; without a logbook it is empty."""
    assert client.get("/lamps/tubes.csv").text == ""
    live(data / "logbook.sqlite", days=30)
    with Logbook(data / "logbook.sqlite") as book:
        book.lamps.fit_tubes("lower", [NewTube(2, "=1+1", "UV-A", "")], datetime.now(UTC), whole=False)
    readings = list(csv.DictReader(StringIO(client.get("/lamps/readings.csv").text)))
    tubes = list(csv.DictReader(StringIO(client.get("/lamps/tubes.csv").text)))
    assert (len(readings), len(tubes)) == (30, 7)
    assert float(readings[-1]["lamp_hours"]) == 60
    assert float(readings[-1]["flicker"]) == pytest.approx(0.004, rel=0.3)
    assert tubes[-1]["lamp_type"] == "'=1+1"
    assert client.get("/lamps/sides.csv").status_code == 404


def test_a_silent_box_still_shows_the_lamps_of_the_logbook(
    client: FlaskClient, data: Path, control: FakeControl
) -> None:
    """Known from before, or from the logbook alone."""
    live(data / "logbook.sqlite", days=30)
    control.mute.set()
    assert "Bank lower" in client.get("/lamps/").text


HISTORIES = (
    BankHistory("lower", 60, [LampPoint(2.0 * (n + 1), 5.0, n) for n in range(20)]),
    BankHistory("lower", 120, days_of(5)),
    BankHistory("lower", 397, days_of(100), strikes_s=[0.9] * 30 + [1.9] * 9, warm_ups_s=[60.0] * 30 + [120.0] * 9),
    BankHistory("lower", 397, days_of(100), flickers=[0.004] * 30 + [0.05] * 9),
    BankHistory("lower", 397, days_of(100, at=50, factor=5 / 6), tube_count=6),
    BankHistory("lower", 397, days_of(100, at=50, factor=4 / 6), tube_count=6),
    BankHistory("lower", 397, days_of(100, at=50, factor=0.92), tube_count=6),
    BankHistory("lower", 397, days_of(100, at=50, factor=1.2), tube_count=6),
    BankHistory("lower", 1900, days_of(600)),
    BankHistory("lower", 720, [LampPoint(p.hours + 500, p.mw_cm2, p.day) for p in days_of(40)]),
    BankHistory("lower", 217, [LampPoint(p.hours, 5.0 + 0.01 * (p.day % 3), p.day) for p in days_of(40)]),
)


@pytest.mark.parametrize(
    ("air", "words"),
    [
        (None, "This box has no thermometer, so a cold room shows as a little less light."),
        ({"air_c": 18.44, "trouble": None}, "Air at the tubes: 18.4 °C."),
        (
            {"air_c": None, "trouble": say("thermometer_jumped", air_c=100.0, before_c=20.0)},
            "The thermometer lies: it says 100 °C and said 20 °C before.",
        ),
    ],
)
def test_the_air_at_the_tubes_is_told_and_a_thermometer_that_lies(
    client: FlaskClient, control: FakeControl, services: AppServices, air: dict[str, Any] | None, words: str
) -> None:
    """Where there is none the page says what that costs."""
    fake.hear(services.watch, control, fake.snapshot(air=air))
    assert words in " ".join(unescape(client.get("/lamps/").text).split())


def test_every_sentence_about_lamps_is_known_in_german() -> None:
    """Whatever happened to them; taken from the answers themselves, so that a changed sentence is missed here."""
    usual = UsualRecipe("blue-38", 60.0, 0.82)
    answers = [answer(history, usual) for history in HISTORIES]
    told = {sentence for found in answers for sentence in found.sentences}
    told |= set(compare([answers[2], answers[4]])) | set(compare([answers[4], answers[5]]))
    for factor in (0.8, 1.25):
        days = days_of(100, at=50, factor=factor, check_factor=factor)
        told |= set(answer(BankHistory("lower", 397, days)).sentences)
    moved = BankHistory("lower", 397, days_of(100, at=50, factor=0.9), calibration_hours=[249.5])
    told |= set(answer(moved).sentences)
    told |= set(answer(BankHistory("lower", 397, days_of(100), swap_hours=[300.0])).sentences)
    base = BankAnswer("lower", 500.0, (), 0.7, share=(0.8, 0.79, 0.81), cap_left_h=3000.0)
    for left_h in ((280.0, 140.0, 420.0), (None, None, None), (900.0, 140.0, None)):
        for use in (None, Use(0.0, 56), Use(0.001, 56), Use(14.0, 56)):
            found = BankAnswer(**{**vars(base), "left_h": left_h})
            told.add(replacement(found, use, datetime.now(UTC).date()).sentence)
    assert len(told) > 35
    assert [sentence for sentence in told if sentence and sentence.code == AS_WRITTEN] == []
    with written_for(Reader("de")):
        left = [sentence for sentence in told if re.search(r"\b(the|is|of|are|takes|lamp hours)\b", text_of(sentence))]
    assert left == []


def test_the_level_of_the_answer_and_of_the_settings_have_the_same_bounds() -> None:
    """So that what the page saves is never refused by the answer."""
    history = HISTORIES[2]
    for percent in (lamp_settings.LOWEST_PERCENT, lamp_settings.HIGHEST_PERCENT):
        assert lampanswer.answer(history, level=percent / 100).level == percent / 100
    with pytest.raises(ValueError, match="replacement level"):
        lampanswer.answer(history, level=0.29)


def test_the_filled_page_is_german_for_a_german(client: FlaskClient, data: Path) -> None:
    """Sentences, tables and buttons."""
    live(data / "logbook.sqlite", worn=True)
    page = client.get("/lamps/", headers={"Accept-Language": "de"}).text
    assert "Wechselgrenze von 70\N{NO-BREAK SPACE}% in" in page
    assert "Beim jetzigen Gebrauch von" in page
    assert "Das Licht flackert um" in page
    assert "Neue Röhren in Bank lower eintragen" in page
    answered = client.post("/lamps/level", data={"percent": "5"}, headers=ORIGIN | {"Accept-Language": "de"})
    assert "5 ist hier nicht möglich: von 30 bis 95 %. Es wurde nichts geändert." in answered.text
