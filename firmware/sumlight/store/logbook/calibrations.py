"""Records of what doses are worth, and the logbook's part that writes and reads them."""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from sumlight.craft.tablet import USUAL, Densities, TabletReading
from sumlight.light.fingerprint import Fingerprint
from sumlight.light.lampsigns import LampSigns, signs_in
from sumlight.store.logbook.lamps import LampRegister, NewTube
from sumlight.store.logbook.session import Session
from sumlight.text.message import unpacked

READ_LAST = "reading_id IN (SELECT max(reading_id) FROM tablet_readings GROUP BY exposure_id, zone)"
"""Tablets as they were read last: earlier versions kept every reading of one."""

BOX_UNITS = ("box.yaml", "teach")
"""Origins of a scale that nothing outside the box has checked."""


def counted_alone(anchor: Mapping[str, Any]) -> bool:
    """Whether a dose counted by `anchor`, as a side's budget holds it, is in the box's own units."""
    return bool(anchor.get("relative", anchor.get("origin", "") in BOX_UNITS))


IN_FINGERPRINT = ("print_", "gain_code", "ln_window", "lit_s", "signs", "heat")
"""Parts of a calibration that stand in its column `fingerprint`, as JSON."""
LAST_BUDGETS = """
    SELECT bank, budget FROM sides WHERE side_id IN (
        SELECT max(side_id) FROM sides JOIN exposures USING (exposure_id)
        WHERE state = 'done' AND kind = 'panel' AND budget LIKE '%"settled_basic_counts": [%'
        GROUP BY bank
    )
"""


@dataclass(frozen=True)
class LampsFitted:
    """New lamps in a bank, `number` counting from 1; hours and strikes of the set before go into the record.

    `tubes` are all of the bank's where they were named: the bank's count begins with theirs, else with nothing.
    """

    bank: str
    number: int
    lamp_type: str
    fitted_utc: str
    tubes: tuple[NewTube, ...] = ()


@dataclass(frozen=True)
class CalibrationRecord:
    """One anchoring of a light meter, as `sumlight.light.calibration.Calibration` explains it.

    `ln_ratio` holds for the nominal size of the gain `gain_code`, the one in use while it was made, and for conversions
    that last their nominal time: `ln_window` is ln of what they lasted over that (0 in older records). `lit_s` is how
    long its light lasted, `signs` how its lamps started and rippled, `heat` how warm they were (a share of 1, see
    `sumlight.light.lampheat`), where that is known. `exposure_id` names the exposure that it came from.
    """

    origin: str
    meter: str
    bank: str
    lamp_set: int
    ln_ratio: float
    ln_sigma: float
    common_ln_sigma: float
    lamp_hours: float
    made_utc: str
    print_: Fingerprint | None = None
    gain_code: int | None = None
    exposure_id: int | None = None
    position: str = ""
    note: str = ""
    ln_window: float = 0.0
    lit_s: float | None = None
    signs: LampSigns | None = None
    heat: float | None = None


@dataclass(frozen=True)
class ShiftRecord:
    """A change of a meter's window; `applied` tells whether the calibration was moved by it."""

    meter: str
    bank: str
    lamp_set: int
    lamp_hours: float
    ln_shift: float
    ln_sigma: float
    applied: bool
    made_utc: str


@dataclass(frozen=True)
class TabletRecord:
    """One tablet as it was read; `zone` is the leg of the series. A later reading of it replaces the earlier one."""

    exposure_id: int
    zone: str
    dose_mj_cm2: float
    step: str
    convention: str
    half: bool
    lot: str
    read_utc: str
    densities: Densities = USUAL
    density_sigma: float | None = None
    """Standard, in density; None where the certificate states none."""


@dataclass(frozen=True)
class SelfCheckRecord:
    """What the sensor saw of its own LED: six basic counts. `lamp_basic_counts` is the last settled lamp reading,
    corrected for the air at the tubes where a thermometer knows it."""

    meter: str
    bank: str
    made_utc: str
    lamp_hours: float
    led: tuple[float, ...]
    lamp_basic_counts: float | None
    verdict: str
    is_reference: bool


@dataclass(frozen=True)
class MeasurementRecord:
    """What a series of legs told: `kind` transmission, field or strip, the result as JSON text.

    A later result of the same series replaces the earlier one.
    """

    kind: str
    exposure_id: int
    made_utc: str
    result: str


@dataclass(frozen=True)
class GainStepRecord:
    """One doubling of a meter's gain, learned."""

    meter: str
    code: int
    ln_error: float
    ln_sigma: float
    learned_utc: str


MetrologyRecord = (
    LampsFitted | CalibrationRecord | ShiftRecord | TabletRecord | SelfCheckRecord | MeasurementRecord | GainStepRecord
)


@dataclass(frozen=True)
class StoredCalibrations:
    """All that a new run of control needs to know, oldest first; lamp sets by bank.

    `last_budgets` is by bank, as JSON text, what the dose of the last completed side with settled light rests on.
    """

    calibrations: list[CalibrationRecord] = field(default_factory=list)
    shifts: list[ShiftRecord] = field(default_factory=list)
    self_checks: list[SelfCheckRecord] = field(default_factory=list)
    gain_steps: list[GainStepRecord] = field(default_factory=list)
    lamp_sets: dict[str, LampsFitted] = field(default_factory=dict)
    field_result: dict[str, Any] | None = None
    last_budgets: dict[str, str] = field(default_factory=dict)


def fingerprint_text(record: CalibrationRecord) -> str | None:
    """The fingerprint of a calibration as JSON, with gain and window, and length, signs and warmth of its light."""
    seen: dict[str, Any] = {}
    if record.print_ is not None:
        seen |= {"shares": record.print_.shares, "sigmas": record.print_.sigmas, "gain_code": record.gain_code}
    if record.ln_window or record.lit_s is not None:
        seen |= {"ln_window": record.ln_window, "lit_s": record.lit_s}
    if record.signs is not None:
        seen["signs"] = asdict(record.signs)
    if record.heat is not None:
        seen["heat"] = record.heat
    return json.dumps(seen) if seen else None


class Calibrations:
    """The part of a logbook that knows what doses are worth."""

    def __init__(self, session: Session, lamps: LampRegister) -> None:
        self._session = session
        self._lamps = lamps

    def kept(self) -> StoredCalibrations:
        """Everything that calibrations rest on."""
        with self._session.reading("reading the calibrations"):
            calibrations = [_calibration(row) for row in self._session.all("SELECT * FROM calibrations ORDER BY 1")]
            shifts = [_shift(row) for row in self._session.all("SELECT * FROM shifts ORDER BY 1")]
            checks = [_self_check(row) for row in self._session.all("SELECT * FROM self_checks ORDER BY 1")]
            steps = [
                GainStepRecord(row["meter"], row["code"], row["ln_error"], row["ln_sigma"], row["learned_utc"])
                for row in self._session.all("SELECT * FROM gain_steps ORDER BY 1")
            ]
            sets = {
                row["bank"]: LampsFitted(row["bank"], row["number"], row["lamp_type"], row["fitted_utc"])
                for row in self._session.all("SELECT * FROM lamp_sets ORDER BY number")
            }
            budgets = self._session.all(LAST_BUDGETS)
            fields = self._session.all(
                "SELECT result FROM measurements WHERE kind = 'field' ORDER BY measurement_id DESC LIMIT 1"
            )
        return StoredCalibrations(
            calibrations,
            shifts,
            checks,
            steps,
            sets,
            json.loads(fields[0]["result"]) if fields else None,
            {row["bank"]: row["budget"] for row in budgets},
        )

    def tablet_readings(self, exposure_id: int | None = None) -> list[dict[str, Any]]:
        """Tablets as they were read last, oldest first; of one exposure if named."""
        with self._session.reading("reading tablet readings"):
            rows = self._session.all(
                f"SELECT * FROM tablet_readings WHERE exposure_id = coalesce(?, exposure_id) AND {READ_LAST}"  # noqa: S608
                " ORDER BY reading_id",
                exposure_id,
            )
        return [{**dict(row), "half": bool(row["half"])} for row in rows]

    def last_certificate(self) -> tuple[Densities, float | None]:
        """Densities of the tablet that was read last, with their standard uncertainty."""
        with self._session.reading("reading the last tablet"):
            row = self._session.one("SELECT certificate FROM tablet_readings ORDER BY reading_id DESC LIMIT 1")
        return certificate_in(None if row is None else row["certificate"])

    def found_in_box_units(self, recipe_name: str) -> list[tuple[str, float]]:
        """Doses that this box gave for a recipe while nothing outside had checked it, each with what found it.

        Those of taught times and of drafts, and of a strip the one at which the resist began to hold.
        """
        with self._session.reading(f"looking for doses of recipe '{recipe_name}'"):
            rows = self._session.all(
                "SELECT exposures.kind, dose_mj_cm2, json_extract(measurements.result, '$.high_mj_cm2') AS high_mj_cm2"
                " FROM exposures JOIN sides USING (exposure_id) LEFT JOIN measurements"
                " ON measurements.exposure_id = exposures.exposure_id AND measurements.kind = 'strip'"
                " WHERE recipe_name = ? AND exposures.kind IN ('panel', 'teach', 'strip') AND state = 'done'"
                " AND (target_mj_cm2 IS NULL OR exposures.kind = 'strip')"
                " AND json_extract(budget, '$.anchor.origin') IN ('box.yaml', 'teach')",
                recipe_name,
            )
        doses = [(row["kind"], row["high_mj_cm2"] if row["kind"] == "strip" else row["dose_mj_cm2"]) for row in rows]
        return [(kind, dose) for kind, dose in doses if dose]

    def measurements(self, kind: str, limit: int = 20) -> list[dict[str, Any]]:
        """The newest results of a kind, newest first."""
        with self._session.reading(f"reading measurements of {kind}"):
            rows = self._session.all(
                "SELECT * FROM measurements WHERE kind = ? ORDER BY measurement_id DESC LIMIT ?", kind, max(0, limit)
            )
        return [{**dict(row), "result": unpacked(json.loads(row["result"]))} for row in rows]

    def lamp_sets(self, bank: str) -> list[dict[str, Any]]:
        """The lamp sets fitted in a bank, oldest first."""
        with self._session.reading(f"reading the lamp sets of bank '{bank}'"):
            return [
                dict(row) for row in self._session.all("SELECT * FROM lamp_sets WHERE bank = ? ORDER BY number", bank)
            ]

    def add_metrology(self, record: MetrologyRecord) -> int:
        """Record one thing; returns its row number."""
        with self._session.writing(f"writing a {type(record).__name__}"):
            match record:
                case LampsFitted():
                    return self._fit_lamps(record)
                case CalibrationRecord():
                    self._session.know_bank(record.bank)
                    values = dict(vars(record))
                    for part in IN_FINGERPRINT:
                        del values[part]
                    return self._session.insert("calibrations", **values, fingerprint=fingerprint_text(record))
                case ShiftRecord():
                    self._session.know_bank(record.bank)
                    return self._session.insert("shifts", **{**vars(record), "applied": int(record.applied)})
                case TabletRecord():
                    self._drop("tablet_readings", exposure_id=record.exposure_id, zone=record.zone)
                    return self._session.insert("tablet_readings", **_row_of(record))
                case SelfCheckRecord():
                    self._session.know_bank(record.bank)
                    led, mark = json.dumps(record.led), int(record.is_reference)
                    return self._session.insert("self_checks", **{**vars(record), "led": led, "is_reference": mark})
                case MeasurementRecord():
                    self._drop("measurements", kind=record.kind, exposure_id=record.exposure_id)
                    return self._session.insert("measurements", **vars(record))
                case GainStepRecord():
                    return self._session.insert("gain_steps", **vars(record))

    def _drop(self, table: str, **equal: object) -> None:
        """Remove the rows that a new one replaces."""
        wanted = " AND ".join(f"{column} = ?" for column in equal)
        self._session.link.execute(f"DELETE FROM {table} WHERE {wanted}", tuple(equal.values()))  # noqa: S608 - names are ours

    def _fit_lamps(self, fitted: LampsFitted) -> int:
        """The set before keeps its hours and strikes in the record; the bank's counters begin anew."""
        self._session.know_bank(fitted.bank)
        age = self._session.link.execute("SELECT lit_s, strikes FROM banks WHERE bank = ?", (fitted.bank,)).fetchone()
        row = self._session.insert(
            "lamp_sets",
            bank=fitted.bank,
            number=fitted.number,
            lamp_type=fitted.lamp_type,
            fitted_utc=fitted.fitted_utc,
            retired_lit_s=age["lit_s"],
            retired_strikes=age["strikes"],
        )
        if fitted.tubes:
            self._lamps.put_tubes(fitted.bank, fitted.tubes, fitted.fitted_utc, whole=True)
        else:
            self._lamps.begin_life(fitted.bank, fitted.lamp_type, fitted.fitted_utc)
            self._session.link.execute("UPDATE banks SET lit_s = 0, strikes = 0 WHERE bank = ?", (fitted.bank,))
        return row


def tablet_reading(row: Mapping[str, Any] | sqlite3.Row) -> TabletReading:
    """What a row of `tablet_readings` says of its tablet."""
    step = int(row["step"]) if row["step"].isdigit() else row["step"]
    panel, half = str(row["exposure_id"]), bool(row["half"])
    own = certificate_in(row["certificate"])[0]
    return TabletReading(
        row["dose_mj_cm2"], step, row["convention"], half, panel=panel, zone=row["zone"], densities=own
    )


def certificate_in(text: str | None) -> tuple[Densities, float | None]:
    """Densities and their standard uncertainty as a row of `tablet_readings` keeps them; those of the usual tablet
    where it keeps none."""
    if text is None:
        return USUAL, None
    kept = json.loads(text)
    return tuple(kept["densities"]), kept["density_sigma"]


def _row_of(record: TabletRecord) -> dict[str, Any]:
    values = {**vars(record), "half": int(record.half)}
    kept = {name: values.pop(name) for name in ("densities", "density_sigma")}
    return {**values, "certificate": json.dumps(kept) if kept["densities"] else None}


def _calibration(row: sqlite3.Row) -> CalibrationRecord:
    seen = json.loads(row["fingerprint"]) if row["fingerprint"] else {}
    names = ("origin", "meter", "bank", "lamp_set", "ln_ratio", "ln_sigma", "common_ln_sigma", "lamp_hours")
    return CalibrationRecord(
        **{name: row[name] for name in (*names, "made_utc", "exposure_id", "position", "note")},
        print_=Fingerprint(tuple(seen["shares"]), tuple(seen["sigmas"])) if "shares" in seen else None,
        gain_code=seen.get("gain_code"),
        ln_window=seen.get("ln_window", 0.0),
        lit_s=seen.get("lit_s"),
        signs=signs_in(seen.get("signs")),
        heat=seen.get("heat"),
    )


def _shift(row: sqlite3.Row) -> ShiftRecord:
    values = {name: row[name] for name in row.keys() if name != "shift_id"}  # noqa: SIM118 - a row is no mapping
    return ShiftRecord(**{**values, "applied": bool(row["applied"])})


def _self_check(row: sqlite3.Row) -> SelfCheckRecord:
    values = {name: row[name] for name in row.keys() if name != "check_id"}  # noqa: SIM118 - a row is no mapping
    mark = bool(row["is_reference"])
    return SelfCheckRecord(**{**values, "led": tuple(json.loads(row["led"])), "is_reference": mark})
