"""The lamp register: tubes keep their past, a bank's new lamps begin a new life, and readings find their age."""

from dataclasses import replace
from pathlib import Path

import pytest

from sumlight.store.logbook.calibrations import CalibrationRecord, LampsFitted
from sumlight.store.logbook.lamps import UNSETTLED_WEIGHT, NewTube
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.records import LampReading
from tests.store.making import later, new_exposure

DAY_S = 86_400.0


def tubes(*positions: int, kind: str = "T8 15 W", hours: float = 0.0, label: str = "") -> list[NewTube]:
    """New tubes for those places."""
    return [NewTube(p, kind, "fluorescent UV-A", label or f"{kind} {p}", hours) for p in positions]


def test_all_tubes_changed_begin_a_new_life_and_the_old_keep_their_hours(path: Path) -> None:
    """The bank's count starts with the new tubes' own hours."""
    with Logbook(path) as book:
        book.lamps.fit_tubes("lower", tubes(1, 2), later(0), whole=True)
        book.lamps.add_lamp_use("lower", 3600 * 500, 900)
        book.lamps.fit_tubes("lower", tubes(1, 2, hours=20), later(10), whole=True)
        book.lamps.add_lamp_use("lower", 3600 * 3, 5)
        assert book.bank_state("lower").lit_s == 23 * 3600
        assert book.bank_state("lower").strikes == 5
        found = [(t["position"], t["hours"], t["strikes"], t["removed_utc"] is None) for t in book.lamps.tubes("lower")]
        assert found == [(1, 23, 5, True), (1, 500, 900, False), (2, 23, 5, True), (2, 500, 900, False)]
        assert [t["position"] for t in book.lamps.tubes("lower", removed=False)] == [1, 2]


def test_one_tube_changed_leaves_the_others_and_the_bank_going(path: Path) -> None:
    """Its own count begins with what it brought."""
    with Logbook(path) as book:
        book.lamps.fit_tubes("lower", tubes(1, 2, 3), later(0), whole=True)
        book.lamps.add_lamp_use("lower", 3600 * 500, 900)
        book.lamps.fit_tubes("lower", tubes(2, hours=40, label="spare"), later(10), whole=False)
        book.lamps.add_lamp_use("lower", 3600 * 10, 12)
        assert book.bank_state("lower").lit_s == 510 * 3600
        now = {t["position"]: (t["label"], t["hours"]) for t in book.lamps.tubes("lower", removed=False)}
        assert now == {1: ("T8 15 W 1", 510), 2: ("spare", 50), 3: ("T8 15 W 3", 510)}
        history = book.lamps.lamp_history("lower")
        assert history.swap_hours == [500]
        assert history.tube_count == 3


def test_a_tube_moved_to_another_place_can_be_followed_by_its_label(path: Path) -> None:
    """Removed here with its hours, fitted there with them."""
    with Logbook(path) as book:
        book.lamps.fit_tubes("lower", tubes(1, label="No 7"), later(0), whole=True)
        book.lamps.add_lamp_use("lower", 3600 * 100, 1)
        old = book.lamps.tubes("lower")[0]
        book.lamps.fit_tubes("lower", tubes(1, label="No 8"), later(5), whole=False)
        book.lamps.fit_tubes("upper", tubes(4, label="No 7", hours=old["hours"]), later(6), whole=False)
        past = [(t["bank"], t["position"], t["hours"]) for t in book.lamps.tubes() if t["label"] == "No 7"]
        assert past == [("lower", 1, 100), ("upper", 4, 100)]


def test_readings_belong_to_the_present_lamps_at_their_age(path: Path) -> None:
    """Those of earlier lamps are left out; one within the warm-up counts little; cold air is taken out."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        book.lamps.add_lamp_use("lower", 3600 * 200, 100)
        book.lamps.add_lamp_reading(LampReading("lower", side_id, later(0), 3.0, 60.0, 0.9, 300.0))
        book.lamps.fit_tubes("lower", tubes(1, hours=5), later(10), whole=True)
        book.lamps.add_lamp_use("lower", 3600 * 10, 4)
        book.lamps.add_lamp_reading(LampReading("lower", side_id, later(DAY_S), 5.0, 61.0, 0.8, 300.0))
        book.lamps.add_lamp_use("lower", 3600 * 10, 4)
        book.lamps.add_lamp_reading(LampReading("lower", side_id, later(2 * DAY_S), 4.4, None, 0.7, 20.0, air_c=15.0))
        history = book.lamps.lamp_history("lower")
    assert history.hours == 25
    assert [p.hours for p in history.points] == [15, 25]
    assert [p.weight for p in history.points] == [1.0, UNSETTLED_WEIGHT]
    assert history.points[1].mw_cm2 == pytest.approx(4.4 / 0.88, rel=0.01)  # −12 % at 10 K off, trade notes L2
    assert history.points[1].day == history.points[0].day + 1
    assert (list(history.strikes_s), list(history.warm_ups_s)) == ([0.8, 0.7], [61.0])


@pytest.mark.parametrize(("without", "known"), [(0, True), (2, True), (3, False), (40, False)])
def test_a_life_was_watched_with_a_thermometer_if_hardly_a_reading_lacks_the_air(
    path: Path, without: int, known: bool
) -> None:
    """At most one of twenty, of the present lamps alone: the old ones had none at all."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        reading = LampReading("lower", side_id, later(0), 4.9, 60.0)
        for _ in range(9):
            book.lamps.add_lamp_reading(reading)
        book.lamps.fit_tubes("lower", tubes(1, 2), later(10), whole=True)
        assert not book.lamps.lamp_history("lower").air_known
        for n in range(40):
            book.lamps.add_lamp_reading(replace(reading, air_c=None if n < without else 19.0))
        assert book.lamps.lamp_history("lower").air_known is known


def test_the_same_place_twice_or_none_is_refused(path: Path) -> None:
    """And nothing is written."""
    with Logbook(path) as book:
        for wrong in ([], tubes(1, 1)):
            with pytest.raises(LogbookError, match="name each place once"):
                book.lamps.fit_tubes("lower", wrong, later(0), whole=True)
        assert book.lamps.tubes() == []
        assert book.lamps.banks() == []


def test_calibrations_of_the_present_lamps_stand_in_their_history(path: Path) -> None:
    """At the age they were made; those of earlier lamps do not."""
    tablet = CalibrationRecord("tablet", "below", "lower", 0, -0.7, 0.035, 0.0, 100.0, "2026-11-25T08:00:00.000000Z")
    with Logbook(path) as book:
        book.calibrations.add_metrology(tablet)
        assert book.lamps.lamp_history("lower").calibration_hours == [100.0]
        book.calibrations.add_metrology(LampsFitted("lower", 1, "tubes", "2026-11-26T08:00:00.000000Z"))
        assert book.lamps.lamp_history("lower").calibration_hours == []
        book.calibrations.add_metrology(replace(tablet, lamp_set=1, lamp_hours=12.0))
        assert book.lamps.lamp_history("lower").calibration_hours == [12.0]
