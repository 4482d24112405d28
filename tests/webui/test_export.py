"""Finding panels again, noting what came of them, and taking the records elsewhere."""

import csv
import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.store.logbook import export as store_export
from sumlight.store.logbook.export import harmless
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import SideState
from sumlight_web.panels import export
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import ORIGIN
from tests.webui.test_panels import BEGAN, record


@pytest.fixture
def three(data: Path) -> list[int]:
    """Three panels, the second with a result."""
    numbers = [record(data / "logbook.sqlite", label) for label in ("P1", "P2", "X_3")]
    with Logbook(data / "logbook.sqlite", durable=False) as logbook:
        logbook.put_note(numbers[1], "second of the day", "lines 5 % wide", "Ada")
    return numbers


@pytest.mark.usefixtures("three")
@pytest.mark.parametrize(
    ("query", "labels"),
    [
        ("panel=P", {"P1", "P2"}),
        ("panel=_", {"X_3"}),
        ("panel=%25", set()),
        ("text=5+%25", {"P2"}),
        ("recipe=BLUE&doubtful=yes", {"P1", "P2", "X_3"}),
        ("doubtful=no", set()),
        ("outcome=unfinished", set()),
        ("outcome=completed&kind=panel", {"P1", "P2", "X_3"}),
        ("kind=series", set()),
        ("from=2026-11-24&until=2026-11-26", {"P1", "P2", "X_3"}),
        ("until=2026-11-20", set()),
        ("from=24.+Nov.+2026&until=26.11.2026", {"P1", "P2", "X_3"}),
        ("until=20.11.2026", set()),
        ("from=nonsense&outcome=odd&panel=%00", {"P1", "P2", "X_3"}),
    ],
)
def test_filters_narrow_the_list(client: FlaskClient, query: str, labels: set[str]) -> None:
    """Wildcards of the data base are plain letters here; what means nothing asks for nothing."""
    page = client.get(f"/panels/?{query}").text
    assert {label for label in ("P1", "P2", "X_3") if f"Panel {label}<" in page} == labels


def test_a_day_that_may_be_two_asks_back_beside_its_filter(client: FlaskClient) -> None:
    """It narrows nothing, and does not do so silently."""
    page = client.get("/panels/?until=03/04/2026").text
    assert 'id="q-until-error"' in page
    assert "can be 3 April 2026 or 4 March 2026" in page
    assert 'value="03/04/2026"' in page


@pytest.mark.usefixtures("three")
def test_csv_has_a_row_for_each_side_and_units_in_its_heads(client: FlaskClient) -> None:
    """Read back by another reader."""
    rows = list(csv.DictReader(StringIO(client.get("/panels/export.csv?panel=P").text)))
    assert [row["panel"] for row in rows] == ["P2", "P1"]
    assert float(rows[0]["dose_mj_cm2"]) == 60.02
    assert rows[0]["result"] == "lines 5 % wide"


def test_what_repeats_and_what_is_absolute_are_columns_of_their_own(
    client: FlaskClient, three: list[int], data: Path
) -> None:
    """Of the page's CSV, the record in words, and `sumlight records export sides`; older records leave them empty."""
    worth = '{"expanded_repeat_mj_cm2": 0.6, "expanded_absolute_mj_cm2": 5.1, "relative": false}'
    with Logbook(data / "logbook.sqlite", durable=False) as logbook:
        side_id = logbook.exposure(three[1])["sides"][0]["side_id"]  # type: ignore[index]
        logbook.put_sides([SideState(side_id, "done", 60.02, 0.1, 14.8, 1, 12.0, worth)], BEGAN)
    rows = list(csv.DictReader(StringIO(client.get("/panels/export.csv?panel=P").text)))
    names = ("expanded_repeat_mj_cm2", "expanded_absolute_mj_cm2", "relative")
    assert [tuple(row[name] for name in names) for row in rows] == [("0.6", "5.1", "False"), ("", "", "")]
    for path in (f"/panels/{three[1]}", f"/panels/{three[1]}/traveller"):
        assert "± 5.1; between doses of this box ± 0.60" in client.get(path).text
    assert "uncertainty not known" in client.get(f"/panels/{three[0]}").text
    with Logbook.open_reader(data / "logbook.sqlite") as logbook:
        found = [tuple(row[name] for name in names) for row in store_export.rows(logbook, "sides")]
    assert found == [(None, None, None), (0.6, 5.1, 0), (None, None, None)]


@pytest.mark.usefixtures("three")
def test_json_is_one_array_of_whole_records(client: FlaskClient) -> None:
    """Sides within."""
    found = json.loads(client.get("/panels/export.json").text)
    assert [row["panel"] for row in found] == ["X_3", "P2", "P1"]
    assert found[0]["sides"][0]["side"] == "A"


def test_exports_of_an_empty_box_are_empty_and_sound(client: FlaskClient) -> None:
    """No logbook is no error."""
    assert json.loads(client.get("/panels/export.json").text) == []
    assert client.get("/panels/export.csv").text.startswith("exposure_id,")


@pytest.mark.usefixtures("three")
def test_exports_go_in_chunks(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is lost or doubled where two chunks meet."""
    monkeypatch.setattr(export, "CHUNK", 1)
    assert [row["exposure_id"] for row in json.loads(client.get("/panels/export.json").text)] == [3, 2, 1]


@pytest.mark.usefixtures("three")
def test_few_exports_run_at_once_and_each_gives_its_place_back(client: FlaskClient) -> None:
    """Each holds a thread of the server."""
    open_now = [client.get("/panels/export.csv") for _ in range(export.AT_ONCE)]
    assert client.get("/panels/export.csv").status_code == 503
    for answer in open_now:
        answer.close()
    answer = client.get("/panels/export.csv")
    assert answer.status_code == 200
    answer.close()


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx"])
def test_no_cell_is_taken_for_a_formula(text: str) -> None:
    """A label is what anybody typed (outside check: OWASP's list of first letters)."""
    assert harmless(text) == "'" + text
    assert harmless(-1.5) == -1.5


def test_samples_and_record_of_one_panel(client: FlaskClient, three: list[int]) -> None:
    """Every sample as the meter gave it."""
    rows = list(csv.DictReader(StringIO(client.get(f"/panels/{three[0]}/trace.csv").text)))
    assert len(rows) == 200
    assert rows[0]["side"] == "A"
    one = json.loads(client.get(f"/panels/{three[0]}/record.json").text)
    assert one["recipe_text"].startswith("resist:")
    assert client.get("/panels/99/trace.csv").status_code == 404
    assert client.get("/panels/99/record.json").status_code == 404


def test_note_and_result_go_to_control_which_alone_writes(
    client: FlaskClient, control: FakeControl, three: list[int]
) -> None:
    """With who noted it."""
    fields = {"note": " thick film ", "result": "good\r\nagain"}
    answer = client.post(f"/panels/{three[0]}/note", data=fields, headers=ORIGIN)
    assert answer.status_code == 303
    asked = {key: value for key, value in control.commands[-1].items() if key != "id"}
    assert asked == {
        "command": "note",
        "exposure_id": three[0],
        "note": "thick film",
        "result": "good\nagain",
        "who": "Ada",
    }


def test_a_note_that_cannot_be_kept_stays_in_its_field(
    client: FlaskClient, control: FakeControl, three: list[int]
) -> None:
    """Too long, refused, or nobody there."""
    path = f"/panels/{three[0]}/note"
    answer = client.post(path, data={"note": "x" * 2001, "result": ""}, headers=ORIGIN)
    assert answer.status_code == 422
    assert "At most 1500 characters" in answer.text

    def refuse(request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", "The card is full.")

    control.answers["note"] = refuse
    answer = client.post(path, data={"note": "kept here", "result": ""}, headers=ORIGIN)
    assert answer.status_code == 409
    assert "kept here" in answer.text
    assert client.post("/panels/99/note", data={"note": ""}, headers=ORIGIN).status_code == 404


def test_the_traveller_has_record_curve_and_room_to_sign(client: FlaskClient, three: list[int]) -> None:
    """One sheet, drawn by the server, so that it prints without script."""
    page = client.get(f"/panels/{three[0]}/traveller").text
    assert "Traveller of panel P1" in page
    assert '<svg class="record-curve"' in page
    assert "Developed: time, bath, by" in page
    with client.get("/static/sumlight.css") as sheet:
        assert "@media print" in sheet.get_data(as_text=True)
