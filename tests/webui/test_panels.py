"""The last exposures and one exposure's record, from a real logbook."""

import csv
import json
import math
import re
from datetime import UTC, datetime, timedelta
from io import StringIO
from itertools import pairwise
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.light.sample import Sample
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.pruning import Pruning
from sumlight.store.logbook.records import FaultRecord, NewExposure, NewSide, Pause, SideState, TraceChunk
from sumlight.text.message import as_written
from sumlight_web.panels.curve import PAUSE_SHOWN, curve_svg, light_points, ticks, without_pauses
from tests.webui.given import BLUE
from tests.webui.light_runs import keep

BEGAN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


def samples(count: int = 200, gain_code: int = 5, begin_s: float = 1000.0) -> tuple[Sample, ...]:
    """Light that settles, twenty samples a second."""
    made = []
    for n in range(count):
        light = round(8000 * (1 - math.exp(-n / 20)))
        end_s = begin_s + n / 20
        made.append(Sample(end_s, end_s - 0.025, (light, 0, 0, 0, light, 0), gain_code, 0))
    return tuple(made)


def record(
    path: Path, label: str = "P12", started_by: str = "Ada", began: datetime = BEGAN, budget: str | None = None
) -> int:
    """Write one finished exposure; returns its number."""
    logbook = Logbook(path, durable=False)
    new = NewExposure(
        panel=label,
        note="first of the day",
        recipe_name="blue-38",
        recipe_text=BLUE,
        recipe_sha256="0" * 64,
        sides=(NewSide("A", "lower", 60.0, 0.82),),
        started_utc=began,
        box_name="Demo box",
        simulated=True,
        started_by=started_by,
    )
    begun = logbook.begin(new)
    side_id = begun.side_ids["A"]
    logbook.add_trace(TraceChunk(side_id, samples()))
    logbook.put_sides([SideState(side_id, "done", 60.02, 0.1, 14.8, 1, 12.0, budget)], BEGAN)
    logbook.add_pause(Pause(begun.exposure_id, "lid", BEGAN, 12.0))
    logbook.note_network_dark("office", BEGAN)
    logbook.add_fault(FaultRecord("meter_lost", as_written("No reading for 0.6 s."), begun.exposure_id, BEGAN))
    logbook.finish(begun.exposure_id, "completed", True, BEGAN + timedelta(seconds=30))
    logbook.close()
    return begun.exposure_id


def test_without_a_logbook_the_list_is_empty(client: FlaskClient) -> None:
    """A new box is no error."""
    assert "No exposure is recorded yet." in client.get("/panels/").text


def test_the_list_shows_dose_target_outcome_and_doubt(client: FlaskClient, data: Path) -> None:
    """One card an exposure."""
    record(data / "logbook.sqlite")
    page = client.get("/panels/").text
    assert "Panel P12" in page
    assert "60.0 of 60 mJ/cm²" in page
    assert "completed" in page
    assert "doubtful" in page


def test_a_record_shows_curve_pauses_faults_and_the_recipe_as_run(client: FlaskClient, data: Path) -> None:
    """Everything that happened to the panel on one page."""
    number = record(data / "logbook.sqlite")
    page = client.get(f"/panels/{number}").text
    for text in (
        '<svg class="record-curve"',
        "the lid was opened",
        "No reading for 0.6 s.",
        "dark over the network, by office",
        "dose_mj_cm2: 60.0",
        "first of the day",
    ):
        assert text in page


@pytest.mark.parametrize(("kind", "name"), [("field", "Light field"), ("tablet", "Panel tablet")])
def test_what_was_lit_without_a_panel_is_not_called_one(client: FlaskClient, data: Path, kind: str, name: str) -> None:
    """In the list and on its record; a tablet lies on a panel."""
    number = keep(data / "logbook.sqlite", kind)
    assert f">{name}</a>" in client.get("/panels/").text
    assert f"<h1>{name}</h1>" in client.get(f"/panels/{number}").text


def test_doses_of_a_box_that_nothing_has_checked_are_in_its_own_units(client: FlaskClient, data: Path) -> None:
    """In the list, on the record, on the curve's scale and in what is read aloud of it."""
    number = record(data / "logbook.sqlite", budget='{"relative": true, "expanded_repeat_mj_cm2": 0.4}')
    assert "60.0 of 60 box units" in " ".join(client.get("/panels/").text.split())
    page = " ".join(client.get(f"/panels/{number}").text.split())
    assert "</b> of 60 box units" in page
    assert "<dd>0.1 box units</dd>" in page
    curve = page.split('<svg class="record-curve"')[1].split("</svg>")[0]
    assert "dose rising to 60.0 box units, target 60 box units" in curve
    assert ">box units</text>" in curve
    assert "mJ/cm²" not in curve


@pytest.mark.parametrize(
    ("started_by", "shown"),
    [("Ada", ", by Ada</dd>"), ("terminal", ", by terminal</dd>"), ("", None)],
)
def test_a_record_says_who_gave_the_word(client: FlaskClient, data: Path, started_by: str, shown: str | None) -> None:
    """An operator, or the command line; records from before it was kept say nothing."""
    page = client.get(f"/panels/{record(data / 'logbook.sqlite', started_by=started_by)}").text
    started = re.sub(r"\s+", " ", page.split("<dt>Started</dt><dd>")[1].split("</div>")[0])
    assert (", by" in started) is (shown is not None)
    assert shown is None or shown in started


def test_a_record_says_what_a_series_was_run_for(client: FlaskClient, data: Path) -> None:
    """Target step, known dose, places; in the exports too, where the note told it before."""
    tablet, field = (keep(data / "logbook.sqlite", kind) for kind in ("tablet", "field"))
    page = client.get(f"/panels/{tablet}").text
    assert "<dt>Step that must just be held</dt><dd>9</dd>" in page
    assert "<dt>Dose that is known to just hold it</dt><dd>55 mJ/cm²</dd>" in page
    assert "0, 0; -60, -40; 0, 0</dd>" in client.get(f"/panels/{field}").text
    assert client.get(f"/panels/{tablet}/record.json").get_json()["parameters"]["target_step"] == 9
    rows = list(csv.DictReader(StringIO(client.get("/panels/export.csv").text)))
    told = {row["kind"]: row["parameters"] for row in rows}
    assert json.loads(told["tablet"]) == {"target_step": 9, "reference_mj_cm2": 55}


def test_an_uncertain_clock_is_marked_wherever_the_time_stands(client: FlaskClient, data: Path) -> None:
    """List, record, traveller; a sure time is not."""
    number = record(data / "logbook.sqlite")
    addresses = ("/panels/", f"/panels/{number}", f"/panels/{number}/traveller")
    for address in addresses:
        assert "time uncertain" not in client.get(address).text
    with Logbook(data / "logbook.sqlite") as book:
        book._before_id = 0
        book.note_clock_set(as_written("+3600 s"), BEGAN)
    for address in addresses:
        assert "(time uncertain)" in client.get(address).text
    assert "the order of the numbers is right" in client.get(f"/panels/{number}").text


def test_a_record_says_when_its_samples_are_not_kept_any_more(client: FlaskClient, data: Path) -> None:
    """Its dose is."""
    number = record(data / "logbook.sqlite")
    with Logbook(data / "logbook.sqlite") as book:
        book.care.remove_old_traces(Pruning(BEGAN + timedelta(days=1)), BEGAN)
    page = client.get(f"/panels/{number}").text
    assert "The samples of this light are not kept any more" in page
    assert "60.0" in page


def test_long_lists_come_in_pages(client: FlaskClient, data: Path) -> None:
    """Ten at a time, newest first."""
    for n in range(13):
        record(data / "logbook.sqlite", f"L{n}")
    first = client.get("/panels/").text
    assert "Panel L12" in first
    assert "Panel L2<" not in first
    older = re.search(r'href="(/panels/\?before=\d+)"', first)
    assert older is not None
    second = client.get(older[1]).text
    assert "Panel L2<" in second
    assert "Panel L3<" not in second
    assert "Older" not in second


@pytest.mark.parametrize("before", ["0", "-1", "x", "9" * 40, "1.5", "٣"])
def test_an_odd_page_number_shows_the_newest(client: FlaskClient, data: Path, before: str) -> None:
    """Nothing that can be typed into the address fails."""
    record(data / "logbook.sqlite")
    response = client.get("/panels/", query_string={"before": before})
    assert response.status_code == 200


@pytest.mark.parametrize("number", ["99", "0", "9" * 15, "9" * 40, "-1", "x"])
def test_an_unknown_record_is_not_found(client: FlaskClient, data: Path, number: str) -> None:
    """Numbers beyond SQLite's included."""
    record(data / "logbook.sqlite")
    assert client.get(f"/panels/{number}").status_code == 404


def test_a_damaged_logbook_gives_a_clear_page(client: FlaskClient, data: Path) -> None:
    """What failed and what to do, and dark is still there."""
    (data / "logbook.sqlite").write_bytes(b"this is no database, " * 100)
    response = client.get("/panels/")
    assert response.status_code == 503
    assert "The logbook cannot be read just now." in response.text
    assert 'action="/bench/dark"' in response.text


def test_the_page_never_writes_to_the_logbook(client: FlaskClient, data: Path) -> None:
    """The file is the same before and after."""
    path = data / "logbook.sqlite"
    number = record(path)
    before = path.read_bytes()
    client.get("/panels/")
    client.get(f"/panels/{number}")
    assert path.read_bytes() == before


def test_the_dose_curve_ends_at_the_recorded_dose() -> None:
    """The light's shape, scaled: for constant light the middle holds half (outside check: area of a rectangle)."""
    steady = [Sample(n / 20, n / 20, (4000, 0, 0, 0, 0, 0), 5, 0) for n in range(201)]
    points = light_points(steady, 50.0)
    assert points[-1].dose_mj_cm2 == pytest.approx(50.0)
    assert points[100].dose_mj_cm2 == pytest.approx(25.0)
    assert {round(point.light_mw_cm2, 9) for point in points} == {5.0}  # 50 mJ in 10 s


def test_a_change_of_gain_makes_no_step_in_the_light() -> None:
    """The next gain doubles the counts (AS7341 data sheet DS000504: gain codes are powers of two)."""
    low = [Sample(n / 20, n / 20, (2000, 0, 0, 0, 0, 0), 4, 0) for n in range(10)]
    high = [Sample(n / 20, n / 20, (4000, 0, 0, 0, 0, 0), 5, 0) for n in range(10, 20)]
    assert len({round(point.light_mw_cm2, 9) for point in light_points(low + high, 1.0)}) == 1


def test_darkness_between_samples_breaks_the_curve_and_adds_no_dose() -> None:
    """A pause of a minute is no minute of light."""
    early, late = samples(60), samples(60, begin_s=1060.0)
    points = light_points([*early, *late], 40.0)
    assert [p.break_before for p in points].count(True) == 1
    assert points[59].dose_mj_cm2 == pytest.approx(points[60].dose_mj_cm2)
    assert curve_svg([*early, *late], "A", 60.0, 40.0).split('class="light-line" d="')[1].split('"')[0].count("M") == 2


def test_a_pause_is_cut_from_the_axis() -> None:
    """Three seconds of light, an hour of darkness, three more: the light keeps nearly all of the axis."""
    points, cuts_s = without_pauses(light_points([*samples(60), *samples(60, begin_s=4600.0)], 40.0))
    assert points[-1].at_s == pytest.approx(2 * 2.95 * (1 + PAUSE_SHOWN / 2), abs=0.1)
    assert len(cuts_s) == 1
    assert points[59].at_s < cuts_s[0] < points[60].at_s
    assert [b.at_s - a.at_s for a, b in pairwise(points[:60])] == pytest.approx([0.05] * 59)
    drawn = curve_svg([*samples(60), *samples(60, begin_s=4600.0)], "A", 60.0, 40.0)
    assert drawn.count('class="cut"') == 1


@pytest.mark.parametrize("flags", [1, 2])
def test_samples_that_measure_nothing_are_left_out(flags: int) -> None:
    """Saturated or unsettled counts are no light."""
    bad = Sample(1.0, 1.0, (65535, 0, 0, 0, 0, 0), 5, flags)
    assert light_points([bad], 1.0) == []
    assert curve_svg([bad], "A", 60.0, 0.0) == ""
    assert curve_svg([], "A", 60.0, 0.0) == ""


@pytest.mark.long
def test_a_long_record_stays_small_to_send() -> None:
    """Ten hours of samples make a drawing of some tens of kilobytes."""
    long = [Sample(n / 20, n / 20, (4000 + n % 7, 0, 0, 0, 0, 0), 5, 0) for n in range(50_000)]
    assert len(curve_svg(long, "A", 60.0, 60.0)) < 30_000


@pytest.mark.parametrize("top", [1e-3, 0.7, 1.0, 66.0, 5000.0, 36_000.0])
def test_ticks_are_round_and_few(top: float) -> None:
    """From zero, never above the top."""
    found = ticks(top)
    assert found[0] == 0
    assert 2 <= len(found) <= 11
    assert found[-1] <= top * (1 + 1e-9)
