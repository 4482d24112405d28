"""Lamps told and asked over the socket, damage told at the start, the nightly look."""

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sumlight.control.records.nightly_check import OVERDUE, REST_S, NightlyCheck
from sumlight.protocol.errors import BadRequestError
from sumlight.store import lamp_settings
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.maintenance.integrity import IntegrityReport
from sumlight.text.message import AS_WRITTEN
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench
from tests.store.filled import fill
from tests.store.making import ask

TUBE = {"lamp_type": "T8 15 W (invented)", "wavelength_class": "UV-A 368 nm"}


def test_all_tubes_fitted_start_the_hours_anew_at_once(bench: BenchBox) -> None:
    """In the answer to `lamps`, in the snapshot and in the logbook."""
    bench.ready().start().until_state("done")
    before = bench.ask("lamps")["banks"][0]
    assert before["strikes"] > 0
    assert bench.ask("tubes_fitted", bank="lower", tubes=6, hours=2.5, **TUBE)["whole"] is True
    assert bench.ask("lamps")["banks"] == [{"name": "lower", "side": "A", "lamp_hours": 2.5, "strikes": 0}]
    assert bench.snapshot()["banks"][0]["lamp_hours"] == 2.5
    with bench.logbook() as book:
        assert [tube["position"] for tube in book.lamps.tubes("lower")] == [1, 2, 3, 4, 5, 6]
        assert book.bank_state("lower").lit_s == 2.5 * 3600


def test_starts_that_tubes_had_behind_them_are_theirs_and_the_banks(bench: BenchBox) -> None:
    """At once and in the logbook."""
    bench.ask("tubes_fitted", bank="lower", tubes=6, hours=2.5, strikes=70, **TUBE)
    assert bench.ask("lamps")["banks"][0]["strikes"] == 70
    with bench.logbook() as book:
        assert {tube["strikes"] for tube in book.lamps.tubes("lower")} == {70}


def test_new_lamps_of_a_whole_bank_are_one_record_and_one_reply(bench: BenchBox) -> None:
    """The reply says what the snapshot says, and a reader who waits for the change finds all of it."""
    path = bench.data / "logbook.sqlite"
    reply = bench.ask("tubes_fitted", bank="lower", tubes=6, hours=120, strikes=70, **TUBE)
    shown = bench.snapshot()
    assert reply["calibration"]["lamp_hours"] == shown["calibration"]["lower"]["lamp_hours"] == 120
    assert (shown["banks"][0]["lamp_hours"], shown["banks"][0]["strikes"]) == (120, 70)
    assert "120 h" in reply["sentence"]
    assert "70 starts" in reply["sentence"]
    assert ask(path, "SELECT whole, tube_count, hours_after FROM lamp_changes") == [(1, 6, 120.0)]
    assert ask(path, "SELECT number, lamp_type FROM lamp_sets") == [(1, TUBE["lamp_type"])]
    with bench.logbook() as book:
        assert book.lamps.lamp_history("lower").hours == 120


def test_new_lamps_are_written_whole_or_not_at_all(bench: BenchBox) -> None:
    """A logbook that takes no tubes has no new set either."""
    path = bench.data / "logbook.sqlite"
    ask(path, "CREATE TRIGGER no_tubes BEFORE INSERT ON tubes BEGIN SELECT raise(ABORT, 'no tubes'); END")
    bench.ask("tubes_fitted", bank="lower", tubes=6, hours=120, **TUBE)
    assert bench.snapshot()["logbook"]["ok"] is False
    assert ask(path, "SELECT * FROM lamp_sets") == []
    assert ask(path, "SELECT * FROM lamp_changes") == []


def test_one_tube_fitted_leaves_the_hours_of_the_bank(bench: BenchBox) -> None:
    """Only its own count begins."""
    bench.ask("tubes_fitted", bank="lower", tubes=6, hours=100, **TUBE)
    bench.ask("tubes_fitted", bank="lower", positions=[3], label="spare", **TUBE)
    assert bench.ask("lamps")["banks"][0]["lamp_hours"] == 100
    with bench.logbook() as book:
        assert [tube["hours"] for tube in book.lamps.tubes("lower", removed=False)] == [100, 100, 0, 100, 100, 100]


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"bank": "attic", "tubes": 6}, "bank"),
        ({"bank": "lower"}, "positions"),
        ({"bank": "lower", "tubes": 6, "positions": [1]}, "positions"),
        ({"bank": "lower", "positions": [0]}, "positions"),
        ({"bank": "lower", "positions": [1, 1]}, "positions"),
        ({"bank": "lower", "positions": [1.5]}, "positions"),
        ({"bank": "lower", "tubes": 61}, "tubes"),
        ({"bank": "lower", "tubes": -1}, "tubes"),
        ({"bank": "lower", "tubes": 6, "hours": -3}, "hours"),
        ({"bank": "lower", "tubes": 6, "expected_life_h": 1e9}, "expected_life_h"),
        ({"bank": "lower", "tubes": 6, "strikes": 1.5}, "strikes"),
        ({"bank": "lower", "tubes": 6, "lamp_type": " "}, "lamp_type"),
    ],
)
def test_odd_tubes_are_refused_with_the_field(bench: BenchBox, values: dict[str, object], field: str) -> None:
    """And nothing is recorded."""
    assert bench.refused("tubes_fitted", **TUBE | values).field == field
    with bench.logbook() as book:
        assert book.lamps.tubes() == []


def test_no_tubes_are_fitted_during_an_exposure(bench: BenchBox) -> None:
    """Paused or lit."""
    bench.light_up(dose_mj_cm2=40)
    assert bench.refused("tubes_fitted", bank="lower", tubes=6, **TUBE).code == "refused"
    bench.ask("dark")
    for which in ({"tubes": 6}, {"positions": [3]}):
        assert bench.refused("tubes_fitted", bank="lower", **which, **TUBE).code == "refused"


def test_a_reading_tells_strike_and_burning_time(bench: BenchBox) -> None:
    """From the light itself: the twin's tubes strike after 0.6 to 1.3 s."""
    bench.ready().start().until_state("done")
    with bench.logbook() as book:
        reading = book.lamps.lamp_readings("lower")[-1]
    assert 0.5 <= reading["strike_s"] <= 1.45
    assert reading["burned_s"] == pytest.approx(bench.side().lit_s - reading["strike_s"], abs=0.1)


def test_a_damaged_logbook_at_the_start_is_told_and_the_box_works(make_bench: MakeBench, tmp_path: Path) -> None:
    """As a remark, which does not keep the lamps dark."""
    (tmp_path / "data").mkdir()
    path = tmp_path / "data" / "logbook.sqlite"
    fill(path, 10)
    with path.open("rb+") as file:
        file.write(b"\xff" * 4096)
    bench = make_bench()
    assert [fault["name"] for fault in bench.snapshot()["faults"]] == ["logbook_unsound"]
    bench.ready().start().until_state("done")
    with bench.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == ["completed"]
    assert len(list(path.parent.glob("logbook.damaged-*.sqlite"))) == 1
    assert bench.ask("acknowledge") == {"cleared": ["logbook_unsound"], "standing": []}


def test_a_jump_of_the_wall_clock_marks_the_exposures_of_this_run(bench: BenchBox) -> None:
    """Those before the clock was set; later ones are sure again."""
    bench.ready().start().until_state("done")
    bench.set_wall_clock(86_400.0)
    bench.run(3.0)
    bench.ask("acknowledge")
    bench.start().until_state("done")
    with bench.logbook() as book:
        assert [row["utc_unsure"] for row in book.recent()] == [False, True]
    assert ask(bench.data / "logbook.sqlite", "SELECT what FROM upkeep") == [("clock_set",)]


def test_a_clock_that_boots_in_the_past_marks_what_it_dates(make_bench: MakeBench) -> None:
    """The order is that of the row numbers."""
    bench = make_bench()
    bench.ready().start().until_state("done")
    bench.close()
    again = make_bench()
    again.set_wall_clock(-86_400.0 * 30)
    again.ready().start().until_state("done")
    with again.logbook() as book:
        assert [row["utc_unsure"] for row in book.recent()][-1] is False
        assert book.recent()[0]["utc_unsure"] is True


class Nights:
    """A night watch polled by hand."""

    def __init__(self, path: Path) -> None:
        self.watch = NightlyCheck(path)
        self.now = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
        self.mono_s = 0.0

    def poll(self, *, resting: bool = True) -> IntegrityReport | None:
        """Once, and wait for a look that has begun."""
        self.mono_s += 1
        found = self.watch.poll(self.mono_s, self.now, resting=resting)
        until_s = time.monotonic() + 60
        while found is None and self.watch._thread is not None and time.monotonic() < until_s:
            found = self.watch.poll(self.mono_s, self.now, resting=resting)
        return found


def test_the_whole_logbook_is_looked_through_at_night_or_when_overdue(tmp_path: Path) -> None:
    """Not while a panel is exposed, not before the box has rested, not again at once."""
    path = tmp_path / "logbook.sqlite"
    fill(path, 5)
    nights = Nights(path)
    assert nights.poll() is None
    nights.mono_s += REST_S
    assert nights.poll() is None
    nights.now += OVERDUE + timedelta(hours=1)
    assert nights.poll(resting=False) is None
    assert nights.poll() is None
    nights.mono_s += REST_S
    assert nights.poll() == IntegrityReport((), finished=True)
    assert nights.poll() is None
    nights.watch.close()


def test_damage_found_at_night_is_told(tmp_path: Path) -> None:
    """With what SQLite says."""
    path = tmp_path / "logbook.sqlite"
    fill(path, 20)
    with Logbook(path) as book:
        book._session.link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with path.open("rb+") as file:
        file.seek(4096 * 3)
        file.write(b"\xff" * 4096 * 30)
    nights = Nights(path)
    nights.poll()
    nights.now += OVERDUE + timedelta(hours=1)
    nights.mono_s += REST_S
    found = nights.poll()
    assert found is not None
    assert found.problems
    nights.watch.close()


def test_the_replacement_level_is_kept_beside_the_logbook(bench: BenchBox) -> None:
    """Control writes the file, for it alone may write there; the next level replaces it."""
    assert bench.ask("replacement_level", percent=62.5) == {"percent": 62.5}
    bench.ask("replacement_level", percent=60)
    bench.step()
    assert lamp_settings.load(bench.data).replace_at_percent == 60


@pytest.mark.parametrize("percent", [None, 29.9, 95.1, "60", True, float("nan")])
def test_a_replacement_level_out_of_bounds_is_refused(bench: BenchBox, percent: object) -> None:
    """Nothing is written."""
    with pytest.raises(BadRequestError) as refused:
        bench.ask("replacement_level", percent=percent)
    assert (refused.value.code, refused.value.field) == ("bad_value", "percent")
    assert refused.value.message.code != AS_WRITTEN
    assert not (bench.data / lamp_settings.FILE).exists()
