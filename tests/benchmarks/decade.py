"""Fills a logbook as ten years of work would: every side with its full-rate trace and its journal, all invented."""

import math
import sqlite3
import struct
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from sumlight.control.records.recorder import CHUNK_SAMPLES, JOURNAL_S
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341
from sumlight.store.codecs import journals, traces
from sumlight.store.logbook import database
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from tests.benchmarks.dose import bench_recipe

SIDES = 73_000
YEARS = 10
SHORTEST_S, LONGEST_S = 10.0, 240.0
POOL = 240
"""Different sides made; the others repeat their samples, each as a record of its own."""

TICK_S = 0.005
FIRST_UTC = datetime(2016, 11, 25, 7, 0, tzinfo=UTC)
CHANNELS = (8000, 2600, 700, 350, 9500, 600)


@dataclass(frozen=True)
class Made:
    """One side's packed records."""

    lit_s: float
    chunks: tuple[tuple[int, bytes], ...]
    journal: tuple[int, bytes]
    dose_mj_cm2: float


def fill(path: Path, sides: int = SIDES) -> int:
    """Fill a new logbook; returns how many samples its traces hold."""
    chance = Random(73)
    pool = [make_side(chance) for _ in range(min(POOL, sides))]
    with Logbook(path, durable=False) as book:
        tubes = [NewTube(place, "T8 15 W (invented)", "UV-A 368 nm") for place in range(1, 7)]
        book.lamps.fit_tubes("lower", tubes, FIRST_UTC, whole=True)
    samples = 0
    with closing(database.connect_writer(path, durable=False)) as link:
        link.execute("PRAGMA foreign_keys = OFF")
        link.execute("BEGIN")
        for number, rows in enumerate(_work(chance, pool, sides)):
            samples += rows
            if number % 5000 == 4999:
                link.execute("COMMIT")
                link.execute("BEGIN")
            _write(link, chance, pool, number, sides)
        link.execute("COMMIT")
        link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return samples


def _work(chance: Random, pool: list[Made], sides: int) -> Iterator[int]:
    return (sum(count for count, _ in pool[number % len(pool)].chunks) for number in range(sides))


def make_side(chance: Random) -> Made:
    """A side as the box records it: conversions seen at ticks that are never quite on time, with the chip's noise."""
    lit_s = math.exp(chance.uniform(math.log(SHORTEST_S), math.log(LONGEST_S)))
    at_s = chance.uniform(1e4, 1e6)
    samples, ready_s = [], at_s
    while ready_s - at_s < lit_s:
        ready_s += AS7341.window_s
        end_s = at_s + math.ceil((ready_s - at_s) / TICK_S) * TICK_S + abs(chance.gauss(0, 1e-4))
        warm = (1 - 0.25 * math.exp(-(ready_s - at_s) / 60)) if ready_s - at_s > 0.9 else 0.0
        counts = [
            min(65535, max(0, round(level * warm + chance.gauss(0, math.hypot(1.0, 5e-4 * level * warm)))))
            for level in CHANNELS
        ]
        c = (counts[0], counts[1], counts[2], counts[3], counts[4], counts[5])
        samples.append(Sample(end_s, end_s - AS7341.window_s / 2, c, 5, 0))
    chunks = tuple(
        (len(samples[at : at + CHUNK_SAMPLES]), traces.encode(samples[at : at + CHUNK_SAMPLES]))
        for at in range(0, len(samples), CHUNK_SAMPLES)
    )
    entries, dose = [], 0.0
    for step in range(int(lit_s / JOURNAL_S)):
        dose += 4.0 * JOURNAL_S * (1 + chance.gauss(0, 0.01))
        now_s = step * JOURNAL_S + chance.uniform(0, TICK_S)
        state = "lit" if step < lit_s / JOURNAL_S - 2 else "cut"
        entries.append(journals.JournalEntry(FIRST_UTC + timedelta(seconds=now_s), state, dose, 0.0, now_s + 1e-6))
    return Made(lit_s, chunks, (len(entries), journals.encode(entries)), dose)


def _write(link: sqlite3.Connection, chance: Random, pool: list[Made], number: int, sides: int) -> None:
    """One side, every second one as the other face of the panel before."""
    made, side_id = pool[number % len(pool)], number + 1
    utc = FIRST_UTC + timedelta(days=365.25 * YEARS * number / sides)
    text = utc_text(utc)
    exposure_id = number // 2 + 1
    if number % 2 == 0:
        link.execute("INSERT INTO panels VALUES (?, ?, ?)", (exposure_id, f"P{exposure_id}", text))
        link.execute(
            "INSERT INTO exposures (exposure_id, panel_id, kind, note, recipe_name, recipe_text, recipe_sha256, hold_s,"
            " box_name, simulated, started_utc, ended_utc, outcome, doubtful) VALUES"
            " (?, ?, 'panel', '', ?, ?, ?, 900, 'Bench box', 1, ?, ?, 'completed', 0)",
            (exposure_id, exposure_id, f"film-{exposure_id % 9}", RECIPE, "0" * 64, text, text),
        )
    link.execute(
        "INSERT INTO sides (side_id, exposure_id, side, bank, target_mj_cm2, transmission, state, dose_mj_cm2,"
        " doubt_mj_cm2, lit_s, pauses, longest_gap_s) VALUES (?, ?, ?, 'lower', ?, 0.84, 'done', ?, 0, ?, 0, 0)",
        (side_id, exposure_id, "AB"[number % 2], made.dose_mj_cm2, made.dose_mj_cm2, made.lit_s),
    )
    link.execute(
        "INSERT INTO light_stretches VALUES (?, ?, ?, 1000.1, 1000.0, 0.001, '[0.0123]', 50.04, 0.84,"
        " 0.012, 0, 0, NULL, 1,"
        " 'cut', 1060.2, 1060.5, ?, 0)",
        (side_id, side_id, text, made.dose_mj_cm2),
    )
    link.executemany(
        "INSERT INTO traces (side_id, sample_count, packed, stretch_id) VALUES (?, ?, ?, ?)",
        [(side_id, count, packed, side_id) for count, packed in made.chunks],
    )
    link.execute(
        "INSERT INTO packed_journals (side_id, entry_count, packed) VALUES (?, ?, ?)", (side_id, *made.journal)
    )
    _write_lamps(link, chance, side_id, made.lit_s, utc)
    if number % 20 == 0:
        link.execute(
            "INSERT INTO pauses (exposure_id, cause, began_utc, gap_s) VALUES (?, 'lid', ?, 4.2)", (exposure_id, text)
        )
    if number % 200 == 0:
        link.execute(
            "INSERT INTO faults (name, detail, exposure_id, raised_utc, cleared_utc, cleared_by)"
            " VALUES ('tube_out', 'invented', ?, ?, ?, 'somebody')",
            (exposure_id, text, text),
        )


def _write_lamps(link: sqlite3.Connection, chance: Random, side_id: int, lit_s: float, utc: datetime) -> None:
    link.execute(
        "UPDATE banks SET lit_s = lit_s + ?1, strikes = strikes + 1, total_lit_s = total_lit_s + ?1,"
        " total_strikes = total_strikes + 1 WHERE bank = 'lower'",
        (lit_s,),
    )
    total_s = link.execute("SELECT total_lit_s FROM banks WHERE bank = 'lower'").fetchone()[0]
    light = 5.0 * math.exp(-1.5e-4 * total_s / 3600 + chance.gauss(0, 0.012))
    link.execute(
        "INSERT INTO lamp_readings (bank, side_id, read_utc, settled_mw_cm2, warm_up_s, lit_s, strikes, strike_s,"
        " burned_s, total_lit_s) VALUES ('lower', ?, ?, ?, 55, ?, ?, 0.9, ?, ?)",
        (side_id, utc_text(utc), light, total_s, side_id, lit_s, total_s),
    )
    link.execute(
        "INSERT INTO lamp_days VALUES ('lower', 1, ?1, 1, 1, ?2, ?3, 0, 0) ON CONFLICT (bank, life, day) DO UPDATE SET"
        " readings = readings + 1, weight = weight + 1, light_sum = light_sum + ?2,"
        " total_lit_s_sum = total_lit_s_sum + ?3",
        (utc.toordinal() + 1_721_425, light, total_s),
    )


def bytes_per_sample(made: list[Made]) -> float:
    """What the packed traces take."""
    size = sum(len(packed) for side in made for _, packed in side.chunks)
    return size / sum(count for side in made for count, _ in side.chunks)


RECIPE = bench_recipe(60.0)
"""The text that every invented exposure ran; a real one is about as long."""

RAW_BYTES = struct.calcsize("<dd6HBB")
