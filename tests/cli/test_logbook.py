"""`sumlight lamps` and `sumlight records` from the terminal."""

import csv
import json
import re
from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.store import lamp_settings
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import LampReading, SideState
from sumlight.store.maintenance.photos import archive_of, folder_of
from sumlight.text.message import as_written
from tests.control.bench_box import BenchBox
from tests.store.filled import fill
from tests.store.making import later, new_exposure
from tests.webui.lamp_book import live


@pytest.fixture
def worked(tmp_path: Path) -> Path:
    """The data folder of a box that has exposed one panel."""
    bench = BenchBox(tmp_path)
    bench.ready().start().until_state("done")
    bench.close()
    return tmp_path


def test_replay_finds_every_dose_again(worked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 0."""
    assert main(["records", "replay", "--data", str(worked)]) == 0
    assert "1 stretches of light give the stored dose, 0 do not" in capsys.readouterr().out


def test_replay_tells_a_dose_that_differs(worked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exposure, side and both doses; exit status 1."""
    with Logbook(worked / "logbook.sqlite") as book:
        book._session.link.execute("UPDATE light_stretches SET to_mj_cm2 = to_mj_cm2 + 0.001")
    assert main(["records", "replay", "--data", str(worked), "--exposure", "1"]) == 1
    assert "exposure 1 side A" in capsys.readouterr().out
    assert main(["records", "replay", "--data", str(worked), "--exposure", "7"]) == 2


def test_backup_and_restore_round_trip(worked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The other file is kept and named."""
    copy = worked / "copy.sqlite"
    assert main(["records", "backup", str(copy), "--data", str(worked)]) == 0
    assert main(["records", "backup", str(copy), "--data", str(worked)]) == 2
    assert main(["records", "restore", str(copy), "--data", str(worked)]) == 0
    assert "is kept as" in capsys.readouterr().out
    assert len(list(worked.glob("logbook.replaced-*.sqlite"))) == 1


def test_photos_go_with_a_backup_and_come_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Beside the copy of the logbook, and named."""
    Logbook(tmp_path / "logbook.sqlite").close()
    photo = folder_of(tmp_path) / "1.jpg"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(b"one")
    copy = tmp_path / "copy.sqlite"
    assert main(["records", "backup", str(copy), "--data", str(tmp_path)]) == 0
    assert "copy.sqlite.photos.zip: photos: 1" in capsys.readouterr().out
    photo.write_bytes(b"another")
    assert main(["records", "restore", str(copy), "--data", str(tmp_path)]) == 0
    assert "photos put back: 1" in capsys.readouterr().out
    assert photo.read_bytes() == b"one"
    archive_of(copy).write_bytes(b"broken")
    assert main(["records", "restore", str(copy), "--data", str(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert "restored from" in said
    assert "The photos were not put back" in said
    assert photo.read_bytes() == b"one"
    copy.unlink()
    assert main(["records", "backup", str(copy), "--data", str(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert "sound" in said
    assert "copy.sqlite.photos.zip" in said


def test_restore_is_refused_while_the_box_runs(worked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Somebody answers at the socket."""
    assert main(["records", "backup", str(worked / "copy.sqlite"), "--data", str(worked)]) == 0
    bench = BenchBox(worked)
    bench.daemon.serve(worked / "control.sock")
    try:
        assert main(["records", "restore", str(worked / "copy.sqlite"), "--data", str(worked)]) == 2
    finally:
        bench.close()
    assert "stop it first" in capsys.readouterr().err


def test_tidy_needs_a_yes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And a sensible age."""
    fill(tmp_path / "logbook.sqlite", 2)
    with pytest.raises(SystemExit, match="2"):
        main(["records", "tidy", "--older-than-days", "1", "--data", str(tmp_path)])
    with Logbook(tmp_path / "logbook.sqlite") as book:
        book._session.link.execute(
            "UPDATE exposures SET ended_utc = '2020-01-01T08:00:00.000000Z' WHERE exposure_id = 1"
        )
    asked = ["records", "tidy", "--older-than-days", "365", "--data", str(tmp_path)]
    assert main(asked) == 0
    told = capsys.readouterr().out
    assert told.startswith("1 pieces of traces")
    assert "Nothing was removed" in told
    assert main([*asked, "--yes"]) == 0
    assert "Removed" in capsys.readouterr().out
    with Logbook(tmp_path / "logbook.sqlite") as book:
        assert [len(book.trace(side_id)) for side_id in (1, 2)] == [0, 100]


def test_compacting_says_what_it_won_and_waits_for_a_box_at_rest(
    worked: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Refused while somebody answers at the socket."""
    bench = BenchBox(worked)
    bench.daemon.serve(worked / "control.sock")
    try:
        assert main(["records", "compact", "--data", str(worked)]) == 2
    finally:
        bench.close()
    assert "stop it first" in capsys.readouterr().err
    assert main(["records", "compact", "--data", str(worked)]) == 0
    assert "MB freed" in capsys.readouterr().out


def test_logbook_tells_what_it_holds_and_what_was_done_to_it(worked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Size, newest exposure, care."""
    assert main(["records", "show", "--data", str(worked)]) == 0
    told = capsys.readouterr().out
    assert "1 exposures, the newest of 20" in told
    assert "no care was needed yet" in told
    assert "  dose: 1 of the 12 values that limits need" in told
    with Logbook(worked / "logbook.sqlite") as book:
        book.note_maintenance("checked", as_written("sound"), later(0))
    assert main(["records", "show", "--data", str(worked)]) == 0
    assert "  2026-11-25 08:00 UTC, looked through: sound" in capsys.readouterr().out


def test_lamps_tells_banks_and_tubes_and_writes_csv(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Words to the terminal, every reading to the file."""
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        book.lamps.fit_tubes("lower", [NewTube(1, "T8", "UV-A", "No 7")], later(0), whole=True)
        for day in range(120):
            book.lamps.add_lamp_use("lower", 3600 * 3, 4)
            light = 5 * (1 - 0.0006 * day) * (1.003 if day % 3 else 0.997)
            book.lamps.add_lamp_reading(LampReading("lower", side_id, later(86_400 * day), light, 60.0, 0.9, 200.0))
    assert main(["lamps", "show", "--data", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "of new" in told
    assert "place 1: T8 'No 7', UV-A, 360 h" in told
    assert main(["records", "export", "lamps", str(tmp_path / "lamps.csv"), "--data", str(tmp_path)]) == 0
    lines = (tmp_path / "lamps.csv").read_text().splitlines()
    assert len(lines) == 121
    assert lines[0].startswith("bank,read_utc,lamp_hours")
    capsys.readouterr()
    assert main(["records", "export", "lamps", "-", "--data", str(tmp_path)]) == 0
    assert capsys.readouterr().out.count("\n") == 121
    assert main(["records", "export", "tubes", str(tmp_path / "tubes.jsonl"), "--data", str(tmp_path)]) == 0
    assert json.loads((tmp_path / "tubes.jsonl").read_text())["label"] == "No 7"
    with pytest.raises(SystemExit, match="2"):
        main(["lamps", "show", "--data", str(tmp_path), "--level", "120"])


def test_lamps_keeps_to_the_level_that_was_set_unless_told_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As the page does; a settings file that cannot be used is an error, but not where a level is given."""
    live(tmp_path / "logbook.sqlite")
    text = lamp_settings.as_text(LampSettings(replace_at_percent=60))
    (tmp_path / lamp_settings.FILE).write_text(text, encoding="utf-8")
    assert main(["lamps", "show", "--data", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "Replacement level of 60% in" in told
    assert re.search(r"At the present use of [\d.]+ h a week", told)  # less every day, by today's date
    assert main(["lamps", "show", "--data", str(tmp_path), "--level", "75"]) == 0
    assert "Replacement level of 75% in" in capsys.readouterr().out
    (tmp_path / lamp_settings.FILE).write_text("replace_at_percent: 7\n", encoding="utf-8")
    assert main(["lamps", "show", "--data", str(tmp_path)]) == 2
    assert "line 1: replace_at_percent" in capsys.readouterr().err
    assert main(["lamps", "show", "--data", str(tmp_path), "--level", "75"]) == 0


def test_tubes_are_recorded_through_the_running_box(worked: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not past it; without a box it says so."""
    asked = ["lamps", "tubes", "lower", "--data", str(worked), "--all", "6", "--type", "T8", "--class", "UV-A"]
    assert main(asked) == 2
    assert "no box is running" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1+1", "@SUM(A1)", "\t=1"])
def test_no_cell_of_an_export_is_a_formula(tmp_path: Path, name: str) -> None:
    """Spreadsheets run what begins so (OWASP, "CSV Injection"), and anybody may name a panel. Figures stay such."""
    with Logbook(tmp_path / "logbook.sqlite") as book:
        begun = book.begin(new_exposure(name, sides="A"))
        book.put_sides([SideState(begun.side_ids["A"], "done", -0.5, 0.0, 1.0, 0, 0.0)], later(1))
    assert main(["records", "export", "sides", str(tmp_path / "out.csv"), "--data", str(tmp_path)]) == 0
    with (tmp_path / "out.csv").open(newline="", encoding="utf-8") as file:
        row = next(csv.DictReader(file))
    assert row["panel"] == f"'{name}"
    assert row["dose_mj_cm2"] == "-0.5"
    assert main(["records", "export", "sides", str(tmp_path / "out.jsonl"), "--data", str(tmp_path)]) == 0
    assert json.loads((tmp_path / "out.jsonl").read_text(encoding="utf-8"))["panel"] == name
