"""Calibrations and what they were made from come back as they were written."""

import json
from dataclasses import replace
from pathlib import Path

from sumlight.light.fingerprint import Fingerprint
from sumlight.light.lampsigns import LampSigns
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    LampsFitted,
    MeasurementRecord,
    SelfCheckRecord,
    ShiftRecord,
    TabletRecord,
    tablet_reading,
)
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import SideState
from sumlight.store.logbook.writer import LogWriter
from tests.store.making import START_UTC, ask, new_exposure, state

UTC = "2026-11-25T08:00:00.000000Z"
PRINT = Fingerprint((0.5, 0.2, 0.1, 0.1, 0.05, 0.05), (0.001,) * 6)
CALIBRATION = CalibrationRecord(
    "tablet", "below", "lower", 1, -0.7, 0.04, 0.02, 312.5, UTC, PRINT, 5, None, "", "four zones"
)
SIGNS = LampSigns(0.9, 0.0174, None)
SHIFT = ShiftRecord("below", "lower", 1, 700.0, 0.128, 0.012, True, UTC)
CHECK = SelfCheckRecord("below", "lower", UTC, 700.0, (1.0, 4.0, 2.0, 3.0, 5.0, 0.1), 9.8, "diffuser_dirty", False)
STEP = GainStepRecord("below", 4, 0.013, 0.002, UTC)


def test_what_calibrations_rest_on_comes_back_exactly(path: Path) -> None:
    """Bit for bit, by the next run of control."""
    fitted = LampsFitted("lower", 1, "invented tubes", UTC)
    with Logbook(path) as book:
        for record in (fitted, CALIBRATION, SHIFT, CHECK, STEP):
            book.calibrations.add_metrology(record)
    with Logbook.open_reader(path) as book:
        kept = book.calibrations.kept()
    assert (kept.calibrations, kept.shifts, kept.self_checks) == ([CALIBRATION], [SHIFT], [CHECK])
    assert (kept.gain_steps, kept.lamp_sets) == ([STEP], {"lower": fitted})


def test_the_window_and_the_light_of_a_calibration_come_back_and_older_ones_are_nominal(path: Path) -> None:
    """With a colour or without one; in a row as earlier versions wrote it there is no word of either."""
    plain = replace(CALIBRATION, print_=None, gain_code=None)
    made = [replace(record, ln_window=0.0296, lit_s=4.2, signs=SIGNS) for record in (CALIBRATION, plain)]
    with Logbook(path) as book:
        for record in (*made, CALIBRATION, plain):
            book.calibrations.add_metrology(record)
        kept = book.calibrations.kept().calibrations
    assert kept == [*made, CALIBRATION, plain]
    assert [(record.ln_window, record.lit_s) for record in kept[2:]] == [(0.0, None)] * 2


def test_new_lamps_begin_with_no_hours_and_the_old_ones_keep_theirs(path: Path) -> None:
    """Hours and strikes of the set before stand in the record of the new one."""
    with Logbook(path) as book:
        book.lamps.add_lamp_use("lower", 3600.0, 12)
        book.calibrations.add_metrology(LampsFitted("lower", 1, "invented tubes", UTC))
        assert (book.bank_state("lower").lit_s, book.bank_state("lower").strikes) == (0.0, 0)
        (row,) = book.calibrations.lamp_sets("lower")
    assert (row["retired_lit_s"], row["retired_strikes"]) == (3600.0, 12)


def test_tablets_and_measurements_are_kept_with_their_exposure(path: Path) -> None:
    """Readings by exposure, results newest first; the newest field is known to the next run."""
    with Logbook(path) as book:
        begun = book.begin(new_exposure())
        record = TabletRecord(begun.exposure_id, "1", 60.0, "7", "last_held", True, "lot 3", UTC)
        book.calibrations.add_metrology(record)
        for run, factor in ((begun, 1.02), (book.begin(new_exposure()), 1.03)):
            book.calibrations.add_metrology(
                MeasurementRecord("field", run.exposure_id, UTC, json.dumps({"factor": factor}))
            )
        (row,) = book.calibrations.tablet_readings(begun.exposure_id)
        plain = {key: value for key, value in vars(record).items() if not key.startswith("densit")}
        assert {key: row[key] for key in plain} == plain
        assert (tablet_reading(row).densities, book.calibrations.last_certificate()) == ((), ((), None))
        own = tuple(0.06 + 0.148 * step for step in range(21))
        book.calibrations.add_metrology(replace(record, zone="2", densities=own, density_sigma=0.01))
        newest = book.calibrations.tablet_readings(begun.exposure_id)[-1]
        assert (tablet_reading(newest).densities, book.calibrations.last_certificate()) == (own, (own, 0.01))
        assert [found["result"]["factor"] for found in book.calibrations.measurements("field")] == [1.03, 1.02]
        assert book.calibrations.kept().field_result == {"factor": 1.03}


def test_the_budget_of_a_side_stays_when_a_later_state_has_none(path: Path) -> None:
    """A journal row in the tail must not wipe it out."""
    with Logbook(path) as book:
        begun = book.begin(new_exposure(sides="A"))
        side_id = begun.side_ids["A"]
        book.put_sides([SideState(side_id, "done", 60.0, 0.1, 12.0, 0, 0.0, '{"k": 2.0}')], START_UTC)
        book.put_sides([state(side_id, 60.0, "done")], START_UTC)
        assert book.recent()[0]["sides"][0]["budget"] == {"k": 2.0}


def test_the_writer_hands_them_on(path: Path) -> None:
    """From its own thread."""
    writer = LogWriter(path, threaded=True)
    writer.add_metrology(CALIBRATION)
    writer.close()
    assert ask(path, "SELECT origin, fingerprint IS NOT NULL FROM calibrations") == [("tablet", 1)]


def test_a_later_reading_of_a_zone_and_a_later_result_replace_the_earlier_ones(path: Path) -> None:
    """Of the same run only; others stay."""
    with Logbook(path) as book:
        runs = [book.begin(new_exposure()).exposure_id for _ in range(2)]
        for run in runs:
            for zone, step in (("1", "6"), ("2", "7"), ("1", "8")):
                book.calibrations.add_metrology(TabletRecord(run, zone, 20.0, step, "last_held", False, "L1", UTC))
            for value in (1, 2):
                book.calibrations.add_metrology(MeasurementRecord("strip", run, UTC, json.dumps({"value": value})))
            book.calibrations.add_metrology(MeasurementRecord("field", run, UTC, "{}"))
        for run in runs:
            assert [(row["zone"], row["step"]) for row in book.calibrations.tablet_readings(run)] == [
                ("2", "7"),
                ("1", "8"),
            ]
        assert [row["result"] for row in book.calibrations.measurements("strip")] == [{"value": 2}, {"value": 2}]
        assert len(book.calibrations.measurements("field")) == 2
