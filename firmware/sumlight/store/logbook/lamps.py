"""The lamp register in the logbook: which tube sat where, how long it burned, and what each bank's light did."""

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sumlight.light.ageing import SAME_DAY, LampPoint, in_best_air
from sumlight.light.lampanswer import BankHistory, UsualRecipe
from sumlight.light.lampchange import SIGN_BASE, SIGN_RECENT
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.records import LampReading
from sumlight.store.logbook.session import Session
from sumlight.text.message import say

SETTLED_AFTER_S = 120.0
"""A reading taken so long after first light is settled (trade notes: about three minutes to settle)."""

UNSETTLED_WEIGHT = 0.1
"""What a reading within the warm-up is worth beside a settled one (no source)."""

SELDOM_WITHOUT_AIR = 0.05
"""A life counts as watched with a thermometer if no more than this share of its readings lacks the air (judgement)."""

MOST_TUBES = 60
ORDINAL_TO_JULIAN = 1_721_425
"""From Python's day number to the Julian day that begins at its noon, as SQLite counts."""


@dataclass(frozen=True)
class NewTube:
    """A tube put into a place of a bank. `label` is written on it; `hours` and `strikes` it had behind it before."""

    position: int
    lamp_type: str
    wavelength_class: str
    label: str = ""
    hours: float = 0.0
    strikes: int = 0
    expected_life_h: float | None = None


def day_of(utc: datetime) -> int:
    """The number of a day, as readings carry it."""
    return utc.toordinal() + ORDINAL_TO_JULIAN


def date_of(day: int) -> date:
    """The date of such a number."""
    return date.fromordinal(day - ORDINAL_TO_JULIAN)


class LampRegister:
    """The part of a logbook that knows lamps: banks, tubes, changes, days of light."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def banks(self) -> list[dict[str, Any]]:
        """Every bank with hours and strikes of its present lamps."""
        with self._session.reading("reading the banks"):
            rows = self._session.all("SELECT bank, lit_s, strikes, total_lit_s, total_strikes FROM banks ORDER BY bank")
        return [{**dict(row), "hours": row["lit_s"] / 3600} for row in rows]

    def tubes(self, bank: str | None = None, *, removed: bool = True) -> list[dict[str, Any]]:
        """Tubes by bank and place, newest first in a place, each with its `hours` and `strikes` so far."""
        with self._session.reading("reading the lamp register"):
            rows = self._session.all(
                "SELECT tubes.*, coalesce(hours_at_removal,"
                " hours_at_fitting + (total_lit_s - bank_total_lit_s) / 3600.0) AS hours,"
                " coalesce(strikes_at_removal, strikes_at_fitting + total_strikes - bank_total_strikes) AS strikes"
                " FROM tubes JOIN banks USING (bank)"
                " WHERE bank = coalesce(?, bank) AND (? OR removed_utc IS NULL)"
                " ORDER BY bank, position, tube_id DESC",
                bank,
                removed,
            )
        return [dict(row) for row in rows]

    def lamp_changes(self, bank: str) -> list[dict[str, Any]]:
        """Changes of tubes in a bank, oldest first."""
        with self._session.reading(f"reading the lamp changes of bank '{bank}'"):
            return [
                dict(r) for r in self._session.all("SELECT * FROM lamp_changes WHERE bank = ? ORDER BY change_id", bank)
            ]

    def usual_recipe(self) -> UsualRecipe | None:
        """The recipe run most among the last hundred panels; None while none has ended."""
        with self._session.reading("looking for the usual recipe"):
            rows = self._session.all(
                "SELECT recipe_name, target_mj_cm2, transmission FROM sides JOIN exposures USING (exposure_id)"
                " WHERE exposure_id IN (SELECT exposure_id FROM exposures WHERE outcome = 'completed'"
                " AND kind = 'panel' ORDER BY exposure_id DESC LIMIT 100)"
                " AND target_mj_cm2 IS NOT NULL GROUP BY recipe_name ORDER BY count(*) DESC, max(side_id) DESC LIMIT 1"
            )
        return UsualRecipe(*rows[0]) if rows else None

    def lamp_history(self, bank: str) -> BankHistory:
        """The days of a bank's present lamps, ready to be judged, with signs of wear of the first and last readings."""
        changes = self.lamp_changes(bank)
        whole = next((c for c in reversed(changes) if c["whole"]), None)
        from_s = whole["bank_total_lit_s"] if whole else 0.0
        before_h = whole["hours_after"] if whole else 0.0
        life, newest = (whole["change_id"], whole["after_reading_id"]) if whole else (0, 0)
        signs = "SELECT strike_s, warm_up_s, flicker FROM lamp_readings WHERE bank = ? AND reading_id > ?"
        signs += " ORDER BY reading_id"
        with self._session.reading(f"reading the lamps of bank '{bank}'"):
            rows = self._session.all("SELECT * FROM lamp_days WHERE bank = ? AND life = ? ORDER BY day", bank, life)
            first = self._session.all(f"{signs} LIMIT ?", bank, newest, SIGN_BASE)
            latest = self._session.all(f"{signs} DESC LIMIT ?", bank, newest, SIGN_BASE + SIGN_RECENT)
            count = (
                self._session.all("SELECT sum(readings) FROM lamp_days WHERE bank = ? AND life = ?", bank, life)[0][0]
                or 0
            )
            few = int(SELDOM_WITHOUT_AIR * count)
            airless = self._session.all(  # ends at the first few on a box without a thermometer
                "SELECT 1 FROM lamp_readings WHERE bank = ? AND reading_id > ? AND air_c IS NULL LIMIT ?",
                bank,
                newest,
                few + 1,
            )
            now = self._session.all("SELECT total_lit_s FROM banks WHERE bank = ?", bank)
            calibrated = self._session.all(
                "SELECT lamp_hours FROM calibrations WHERE bank = ?1"
                " AND lamp_set = (SELECT coalesce(max(number), 0) FROM lamp_sets WHERE bank = ?1)",
                bank,
            )
            tube_count = self._session.all("SELECT count(*) FROM tubes WHERE bank = ? AND removed_utc IS NULL", bank)[
                0
            ][0]
        told = [*first, *reversed(latest[: max(0, count - len(first))])]
        total_s = now[0]["total_lit_s"] if now else from_s
        return BankHistory(
            bank=bank,
            hours=before_h + (total_s - from_s) / 3600,
            points=[_point(row, from_s, before_h) for row in rows],
            strikes_s=[row["strike_s"] for row in told if row["strike_s"] is not None],
            warm_ups_s=[row["warm_up_s"] for row in told if row["warm_up_s"] is not None],
            flickers=[row["flicker"] for row in told if row["flicker"] is not None],
            tube_count=tube_count or None,
            air_known=count > 0 and len(airless) <= few,
            calibration_hours=[row["lamp_hours"] for row in calibrated],
            swap_hours=[
                before_h + (c["bank_total_lit_s"] - from_s) / 3600
                for c in changes
                if not c["whole"] and c["change_id"] > (whole["change_id"] if whole else 0)
            ],
        )

    def lamp_readings(self, bank: str) -> list[dict[str, Any]]:
        """What the sides told of a bank's lamps, oldest first, each with the lamps' age at that time."""
        with self._session.reading(f"reading the lamps of bank '{bank}'"):
            rows = self._session.all(
                "SELECT reading_id, bank, side_id, read_utc, settled_mw_cm2, warm_up_s, lit_s, strikes, strike_s,"
                " burned_s, air_c, self_check, flicker"
                " FROM lamp_readings WHERE bank = ? ORDER BY reading_id",
                bank,
            )
        return [dict(row) for row in rows]

    def add_lamp_use(self, bank: str, lit_s: float, strikes: int) -> None:
        """Add time with light and strikes to a bank's lamps."""
        with self._session.writing(f"adding to the hours of bank '{bank}'"):
            self._session.know_bank(bank)
            self._session.link.execute(
                "UPDATE banks SET lit_s = lit_s + ?1, strikes = strikes + ?2, total_lit_s = total_lit_s + ?1,"
                " total_strikes = total_strikes + ?2 WHERE bank = ?3",
                (lit_s, strikes, bank),
            )

    def add_lamp_reading(self, reading: LampReading) -> None:
        """Record what a side told of the lamps, beside their hours and strikes so far."""
        with self._session.writing(f"writing a reading of bank '{reading.bank}'"):
            self._session.know_bank(reading.bank)
            age = self._session.one("SELECT lit_s, strikes, total_lit_s FROM banks WHERE bank = ?", reading.bank)
            self._session.insert(
                "lamp_readings",
                bank=reading.bank,
                side_id=reading.side_id,
                read_utc=utc_text(reading.read_utc),
                settled_mw_cm2=reading.settled_mw_cm2,
                warm_up_s=reading.warm_up_s,
                lit_s=age["lit_s"],
                strikes=age["strikes"],
                strike_s=reading.strike_s,
                burned_s=reading.burned_s,
                air_c=reading.air_c,
                self_check=reading.self_check,
                flicker=reading.flicker,
                total_lit_s=age["total_lit_s"],
            )
            self._add_to_day(reading, age["total_lit_s"])

    def fit_tubes(self, bank: str, tubes: Sequence[NewTube], utc: datetime, *, whole: bool) -> None:
        """Record tubes put into a bank; what sat in their places is removed and keeps its hours.

        `whole`: these are all of the bank's tubes; its count of hours and strikes then begins anew with theirs.
        """
        if not tubes or len({tube.position for tube in tubes}) != len(tubes):
            raise self._session.unfit(say("fitting_places_once", bank=bank))
        with self._session.writing(f"fitting tubes in bank '{bank}'"):
            self._session.know_bank(bank)
            self.put_tubes(bank, tubes, utc_text(utc), whole=whole)

    def put_tubes(self, bank: str, tubes: Sequence[NewTube], utc: str, *, whole: bool) -> None:
        """Within a transaction: the old tubes out, the new ones in, and one row that tells of the change."""
        now = self._session.link.execute("SELECT * FROM banks WHERE bank = ?", (bank,)).fetchone()
        places = None if whole else [tube.position for tube in tubes]
        self._remove(bank, places, now, utc)
        for tube in tubes:
            self._session.insert(
                "tubes",
                bank=bank,
                position=tube.position,
                label=tube.label,
                lamp_type=tube.lamp_type,
                wavelength_class=tube.wavelength_class,
                expected_life_h=tube.expected_life_h,
                fitted_utc=utc,
                hours_at_fitting=tube.hours,
                strikes_at_fitting=tube.strikes,
                bank_total_lit_s=now["total_lit_s"],
                bank_total_strikes=now["total_strikes"],
            )
        newest = self._session.link.execute("SELECT coalesce(max(reading_id), 0) FROM lamp_readings").fetchone()
        mean_h = sum(tube.hours for tube in tubes) / len(tubes)
        if whole:
            mean_strikes = round(sum(tube.strikes for tube in tubes) / len(tubes))
            self._session.link.execute(
                "UPDATE banks SET lit_s = ?, strikes = ? WHERE bank = ?", (3600 * mean_h, mean_strikes, bank)
            )
        named = ", ".join(str(tube.position) for tube in tubes)
        self._session.insert(
            "lamp_changes",
            bank=bank,
            changed_utc=utc,
            whole=int(whole),
            tube_count=len(tubes),
            hours_after=mean_h,
            bank_total_lit_s=now["total_lit_s"],
            after_reading_id=newest[0],
            told=f"{'all tubes' if whole else 'place ' + named}: {tubes[0].lamp_type}",
        )

    def _add_to_day(self, reading: LampReading, total_lit_s: float) -> None:
        """Take a reading into what its day says."""
        if reading.settled_mw_cm2 <= 0:
            return
        settled = reading.burned_s is None or reading.burned_s >= SETTLED_AFTER_S
        weight = 1.0 if settled else UNSETTLED_WEIGHT
        light = reading.settled_mw_cm2
        if reading.air_c is not None and not reading.led:
            light = in_best_air(light, reading.air_c)
        self._session.link.execute(
            "INSERT INTO lamp_days (bank, life, day, readings, weight, light_sum, total_lit_s_sum, check_sum, checks)"
            " VALUES (?1, (SELECT coalesce(max(change_id), 0) FROM lamp_changes WHERE bank = ?1 AND whole), ?2, 1,"
            " ?3, ?4, ?5, ?6, ?7) ON CONFLICT (bank, life, day) DO UPDATE SET readings = readings + 1,"
            " weight = weight + excluded.weight, light_sum = light_sum + excluded.light_sum,"
            " total_lit_s_sum = total_lit_s_sum + excluded.total_lit_s_sum,"
            " check_sum = check_sum + excluded.check_sum, checks = checks + excluded.checks",
            (
                reading.bank,
                day_of(reading.read_utc),
                weight,
                weight * light,
                weight * total_lit_s,
                reading.self_check or 0.0,
                int(reading.self_check is not None),
            ),
        )

    def begin_life(self, bank: str, lamp_type: str, utc: str) -> None:
        """New lamps without a word about single tubes: those on record are out, the bank's life begins anew."""
        now = self._session.link.execute("SELECT * FROM banks WHERE bank = ?", (bank,)).fetchone()
        newest = self._session.link.execute("SELECT coalesce(max(reading_id), 0) FROM lamp_readings").fetchone()
        self._remove(bank, None, now, utc)
        self._session.insert(
            "lamp_changes",
            bank=bank,
            changed_utc=utc,
            whole=1,
            tube_count=1,
            hours_after=0.0,
            bank_total_lit_s=now["total_lit_s"],
            after_reading_id=newest[0],
            told=f"all lamps: {lamp_type}",
        )

    def _remove(self, bank: str, places: list[int] | None, now: sqlite3.Row, utc: str) -> None:
        self._session.link.execute(
            "UPDATE tubes SET removed_utc = ?, hours_at_removal = hours_at_fitting + (? - bank_total_lit_s) / 3600.0,"
            " strikes_at_removal = strikes_at_fitting + ? - bank_total_strikes"
            " WHERE bank = ? AND removed_utc IS NULL AND (? OR position IN (SELECT value FROM json_each(?)))",
            (utc, now["total_lit_s"], now["total_strikes"], bank, places is None, json.dumps(places or [])),
        )


def _point(row: sqlite3.Row, from_s: float, before_h: float) -> LampPoint:
    weight = row["weight"]
    return LampPoint(
        hours=before_h + (row["total_lit_s_sum"] / weight - from_s) / 3600,
        mw_cm2=row["light_sum"] / weight,
        day=row["day"],
        weight=weight / (1 + SAME_DAY * (row["readings"] - 1)),
        self_check=row["check_sum"] / row["checks"] if row["checks"] else None,
    )
