"""What was seen on panels and which causes were confirmed, and what the table of causes makes of it."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any

from sumlight.craft.causes.answer import Answer, why
from sumlight.craft.causes.known import Known, facts_of
from sumlight.craft.causes.signs import CAUSES, SIGNS
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.craft.jobs.instructions import PanelNumbers, etch_plan
from sumlight.craft.jobs.proposals import numbers_from
from sumlight.craft.stock.rolls import Roll, months_open
from sumlight.craft.stock.shelf import Thing
from sumlight.craft.stock.stencils import Stencil, last
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.session import Session
from sumlight.store.logbook.stock import StockRegister

NOTHING_KNOWN = Known()


@dataclass(frozen=True)
class Findings:
    """Signs and what is known of one panel, and its confirmed causes; empty where nobody put anything on."""

    signs: tuple[str, ...] = ()
    known: Known = NOTHING_KNOWN
    found_utc: str | None = None
    found_by: str = ""
    confirmed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Etched:
    """A panel in an etchant of a kind: how deep on each face, how long, and how much of the bath was used before."""

    kind: str
    metal: str
    depth_um: float
    took_s: float
    used: float | None


class FindingsRegister:
    """The part of a logbook that knows what came of panels."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def put_findings(
        self, exposure_id: int, signs: Collection[str], known: Mapping[str, Any], who: str, utc: datetime
    ) -> None:
        """Replace what is put on an exposure; a number that does not exist changes nothing."""
        with self._session.writing(f"putting signs on exposure {exposure_id}"):
            self._session.link.execute(
                "INSERT INTO findings (exposure_id, signs, known, found_utc, found_by)"
                " SELECT exposure_id, ?, ?, ?, ? FROM exposures WHERE exposure_id = ?"
                " ON CONFLICT (exposure_id) DO UPDATE SET signs = excluded.signs, known = excluded.known,"
                " found_utc = excluded.found_utc, found_by = excluded.found_by",
                (json.dumps(list(signs)), json.dumps(dict(known)), utc_text(utc), who, exposure_id),
            )

    def confirm_cause(self, exposure_id: int, cause: str, confirmed: bool, who: str, utc: datetime) -> None:
        """Keep that this was the cause, or take that back; a number that does not exist changes nothing."""
        with self._session.writing(f"confirming a cause of exposure {exposure_id}"):
            if not confirmed:
                self._session.link.execute(
                    "DELETE FROM confirmed_causes WHERE exposure_id = ? AND cause = ?", (exposure_id, cause)
                )
                return
            self._session.link.execute(
                "INSERT INTO confirmed_causes (exposure_id, cause, confirmed_utc, confirmed_by)"
                " SELECT exposure_id, ?, ?, ? FROM exposures WHERE exposure_id = ? ON CONFLICT DO NOTHING",
                (cause, utc_text(utc), who, exposure_id),
            )

    def of(self, exposure_id: int) -> Findings:
        """What is put on an exposure. Names that this version does not know are left out."""
        with self._session.reading(f"reading the signs of exposure {exposure_id}"):
            row = self._session.one("SELECT * FROM findings WHERE exposure_id = ?", exposure_id)
            causes = self._session.all(
                "SELECT cause FROM confirmed_causes WHERE exposure_id = ? ORDER BY cause", exposure_id
            )
        confirmed = tuple(row["cause"] for row in causes if row["cause"] in CAUSES)
        if row is None:
            return Findings(confirmed=confirmed)
        signs = tuple(name for name in _list(row["signs"]) if name in SIGNS)
        return Findings(signs, _known(row["known"]), row["found_utc"], row["found_by"], confirmed)

    def confirmed(self, *, simulated: bool) -> dict[str, int]:
        """How many failures have each cause confirmed; what the twin spoilt says nothing of a real bench."""
        with self._session.reading("counting confirmed causes"):
            rows = self._session.all(
                "SELECT cause, count(*) AS panels FROM confirmed_causes JOIN exposures USING (exposure_id)"
                " WHERE simulated = ? GROUP BY cause",
                simulated,
            )
        return {row["cause"]: row["panels"] for row in rows if row["cause"] in CAUSES}

    def last_known(self, recipe_name: str) -> Known:
        """What was told last of a panel with this recipe: what a form proposes where it rarely changes."""
        with self._session.reading("reading what was told last"):
            row = self._session.one(
                "SELECT known FROM findings JOIN exposures USING (exposure_id) WHERE recipe_name = ?"
                " ORDER BY found_utc DESC LIMIT 1",
                recipe_name,
            )
        return NOTHING_KNOWN if row is None else _known(row["known"])

    def why(self, exposure: Mapping[str, Any]) -> Answer:
        """Weigh what is put on an exposure, as `LogbookReader.exposure` gives it. Raises LogbookError."""
        found, known = self.of(exposure["exposure_id"]), self.known_of(exposure)
        doses = [
            (side["dose_mj_cm2"], side["target_mj_cm2"])
            for side in exposure["sides"]
            if side["target_mj_cm2"] is not None
        ]
        rest = exposure["hold_s"], exposure["hold_limit_s"]
        try:
            facts = facts_of(known, doses, *rest)
        except (ValueError, TypeError):  # kept by a version that knew more words, or changed by hand
            facts = facts_of(NOTHING_KNOWN, doses, *rest)
        return why(found.signs, facts, self.confirmed(simulated=bool(exposure["simulated"])))

    def known_of(self, exposure: Mapping[str, Any]) -> Known:
        """What a person told of a panel, and its card, its baths and the shelf besides."""
        return _together(self.of(exposure["exposure_id"]).known, self._of_card(exposure))

    def etched(self, label: str) -> Etched | None:
        """How the last panel of that label was etched, as its bath noted it; None where no bath did."""
        with self._session.reading(f"reading how panel '{label}' was etched"):
            rows = self._session.all(
                "SELECT json_extract(contents, '$.kind') AS kind, json_extract(taken, '$.metal') AS metal,"
                " json_extract(taken, '$.depth_um') AS depth_um, json_extract(taken, '$.took_s') AS took_s, used"
                " FROM bath_panels JOIN baths USING (bath_id) WHERE ended_utc IS NOT NULL AND job_panel_id ="
                " (SELECT max(job_panel_id) FROM job_panels WHERE label = ?) ORDER BY bath_panel_id DESC",
                label,
            )
        found = next((row for row in rows if row["kind"] in ETCHANTS and row["took_s"] and row["depth_um"]), None)
        return None if found is None else Etched(**dict(found))

    def _of_card(self, exposure: Mapping[str, Any]) -> Known:
        """What the card of its panel tells: when it was developed and etched, and for how long; nothing without one."""
        with self._session.reading("reading the card of a panel"):
            rows = self._session.all(
                "SELECT json_extract(step.value, '$.kind') AS kind, job_steps.began_utc, job_steps.ended_utc, numbers"
                " FROM job_steps JOIN job_panels USING (job_panel_id) JOIN jobs USING (job_id),"
                " json_each(jobs.steps) AS step WHERE json_extract(step.value, '$.step_id') = job_steps.step_id"
                " AND job_panel_id = (SELECT max(job_panel_id) FROM job_panels WHERE label = ?)",
                exposure["panel"],
            )
            baths = self._session.all(
                "SELECT json_extract(contents, '$.kind') AS kind, json_extract(taken, '$.took_s') AS took_s,"
                " expected_s, used FROM bath_panels JOIN baths USING (bath_id) WHERE ended_utc IS NOT NULL"
                " AND job_panel_id = (SELECT max(job_panel_id) FROM job_panels WHERE label = ?) ORDER BY bath_panel_id",
                exposure["panel"],
            )
        times = {row["kind"]: (row["began_utc"], row["ended_utc"]) for row in rows}
        developed, etched = times.get("develop", (None, None)), times.get("etch", (None, None))
        numbers = _numbers(rows[0]["numbers"]) if rows else None
        card = Known(
            rested_s=None if exposure["utc_unsure"] else _between(exposure["ended_utc"], developed[0]),
            clear_s=None if numbers is None else numbers.clear_s,
            developed_s=_between(*developed),
            etched_s=_between(*etched),
            expected_etch_s=_expected_s(numbers),
        )
        for thing, used_utc in StockRegister(self._session).taken_by(exposure["panel"]):
            card = _together(_of_shelf(thing, used_utc), card)
        for bath in baths:  # what was timed in a bath is surer than what its job says
            card = _together(_of_bath(bath), card)
        return card


def _of_bath(row: Any) -> Known:
    """What a bath noted of a panel: its time, what was expected, and how much of the bath was used before."""
    if row["kind"] == "developer":
        return Known(clear_s=row["took_s"], developer_used=row["used"])
    if row["kind"] == "stripper":
        return Known()
    return Known(etched_s=row["took_s"], expected_etch_s=row["expected_s"], etchant_used=row["used"])


def _of_shelf(thing: Thing, used_utc: datetime) -> Known:
    """What the shelf knows: how long the roll had been open, how far the stencil's films were measured to lie apart."""
    match thing:
        case Roll():
            return Known(roll_months=months_open(thing, used_utc))
        case Stencil() if (apart := last(thing.measured, "apart_um")) is not None:
            return Known(faces_off_um=float(apart[1]))
    return Known()


def _together(told: Known, card: Known) -> Known:
    """What a person told counts before what the card says."""
    return replace(card, **{name: value for name, value in vars(told).items() if value is not None})


def _between(began_utc: str | None, ended_utc: str | None) -> float | None:
    """Seconds from one time on record to another; None where one is missing or they are the wrong way round."""
    try:
        passed = None if not began_utc or not ended_utc else (utc_from(ended_utc) - utc_from(began_utc)).total_seconds()
    except ValueError:
        return None
    return passed if passed is not None and passed >= 1 else None


def _numbers(text: str) -> PanelNumbers | None:
    try:
        return numbers_from(json.loads(text))
    except (TypeError, ValueError):
        return None


def _expected_s(numbers: PanelNumbers | None) -> float | None:
    try:
        plan = None if numbers is None else etch_plan(numbers)
    except (ValueError, TypeError):
        return None
    return None if plan is None else plan.time_s


def _list(text: str) -> list[Any]:
    read = json.loads(text)
    return read if isinstance(read, list) else []


_NAMES = frozenset(each.name for each in fields(Known))


def _known(text: str) -> Known:
    """What was kept, as far as this version can make sense of it: control checked it when it came in."""
    read = json.loads(text)
    values = read if isinstance(read, dict) else {}
    return Known(**{name: value for name, value in values.items() if name in _NAMES})
