"""The logbook's writing half: what control hands over, each record in a transaction of its own."""

import contextlib
from collections.abc import Iterable, Iterator
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from sumlight import checkedfile
from sumlight.store.codecs import journals, traces
from sumlight.store.logbook import database
from sumlight.store.logbook.database import LogbookError, utc_from, utc_text
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.logbook.records import (
    BegunExposure,
    CommissioningRecord,
    FaultRecord,
    NewExposure,
    OverrideRecord,
    Pause,
    SideState,
    TraceChunk,
)
from sumlight.store.logbook.rows import utc_or_none
from sumlight.store.recipe import Recipe
from sumlight.text.message import Message, say, stored

__all__ = ["Logbook", "LogbookError"]


class Logbook(LogbookReader):
    """One connection to a logbook, for the thread that made it.

    Opening creates the file or brings it to the newest shape. With `durable` a record is on the disk when its
    method returns; without, a power cut may take the last ones. Every method raises LogbookError.
    """

    def __init__(self, path: Path, *, durable: bool = True) -> None:
        super().__init__(database.connect_writer(path, durable=durable), path)
        with self._session.reading("opening it"):
            self._before_id = int(self._session.value("SELECT coalesce(max(exposure_id), 0) FROM exposures"))

    def begin(self, new: NewExposure) -> BegunExposure:
        """Record that an exposure begins; nothing may be lit before this returns."""
        hold_s, hold_limit_s = _hold_of(new.recipe_text)
        with self._session.writing(f"beginning the exposure of panel '{new.panel}'"):
            started_utc = utc_text(new.started_utc)
            newest = self._session.value("SELECT max(started_utc) FROM exposures WHERE NOT utc_unsure")
            panel_id = self._session.insert("panels", label=new.panel, created_utc=started_utc)
            exposure_id = self._session.insert(
                "exposures",
                panel_id=panel_id,
                kind=new.kind,
                note=new.note,
                recipe_name=new.recipe_name,
                recipe_text=new.recipe_text,
                recipe_sha256=new.recipe_sha256,
                hold_s=hold_s,
                hold_limit_s=hold_limit_s,
                box_name=new.box_name,
                simulated=int(new.simulated),
                started_by=new.started_by,
                parameters=new.parameters,
                started_utc=started_utc,
                utc_unsure=int(newest is not None and started_utc < newest),  # a clock without battery
            )
            side_ids = {}
            for side in new.sides:
                self._session.know_bank(side.bank)
                side_ids[side.side] = self._session.insert(
                    "sides",
                    exposure_id=exposure_id,
                    side=side.side,
                    bank=side.bank,
                    target_mj_cm2=side.target_mj_cm2,
                    transmission=side.transmission,
                )
        return BegunExposure(exposure_id, panel_id, side_ids)

    def make_room(self) -> None:
        """Give the write-ahead log its blocks now: a file that grows costs the card as much again with every sync.

        Nothing but time is lost where that fails, so nothing is raised.
        """
        database.make_room(self._session.link, self._session.path)

    @contextlib.contextmanager
    def unsynced(self) -> Iterator[None]:
        """What is written within reaches the disk with the next record behind it. Raises LogbookError."""
        link, path = self._session.link, self._session.path
        with database.in_words(path, "choosing when it is synced"):
            before = link.execute("PRAGMA synchronous").fetchone()[0]
            link.execute(f"PRAGMA synchronous = {min(before, 1)}")
        try:
            yield
        finally:
            link.execute(f"PRAGMA synchronous = {before}")

    def put_sides(self, states: Iterable[SideState], utc: datetime) -> None:
        """Record where sides stand now, and add a line to the dose journal for each."""
        with self._session.writing("writing the dose journal"):
            written_utc = utc_text(utc)
            for state in states:
                self._session.link.execute(
                    "UPDATE sides SET state = ?, dose_mj_cm2 = ?, doubt_mj_cm2 = ?, lit_s = ?, pauses = ?,"
                    " longest_gap_s = ?, budget = coalesce(?, budget) WHERE side_id = ?",
                    (
                        state.state,
                        state.dose_mj_cm2,
                        state.doubt_mj_cm2,
                        state.lit_s,
                        state.pauses,
                        state.longest_gap_s,
                        state.budget,
                        state.side_id,
                    ),
                )
                self._session.link.execute(
                    "INSERT INTO dose_journal (side_id, written_utc, state, dose_mj_cm2, doubt_mj_cm2, lit_s)"
                    " VALUES (?, ?, ?, ?, ?, ?)",
                    (
                        state.side_id,
                        written_utc,
                        state.state,
                        state.dose_mj_cm2,
                        state.doubt_mj_cm2,
                        state.lit_s,
                    ),
                )

    def add_trace(self, chunk: TraceChunk) -> None:
        """Append samples to the trace of a side; an empty chunk adds nothing."""
        if not chunk.samples:
            return
        try:
            packed = traces.encode(chunk.samples)
        except traces.TraceError as error:
            raise self._session.unfit(say("trace_of_side", side=chunk.side_id, why=str(error))) from error
        with self._session.writing(f"writing the trace of side {chunk.side_id}"):
            newest = self._session.value("SELECT max(stretch_id) FROM light_stretches WHERE side_id = ?", chunk.side_id)
            self._session.insert(
                "traces", side_id=chunk.side_id, sample_count=len(chunk.samples), packed=packed, stretch_id=newest
            )

    def add_pause(self, pause: Pause) -> None:
        """Record a pause when it begins; the same one with its `gap_s` completes it."""
        with self._session.writing(f"writing a pause of exposure {pause.exposure_id}"):
            self._session.link.execute(
                "INSERT INTO pauses (exposure_id, cause, began_utc, gap_s) VALUES (?, ?, ?, ?)"
                " ON CONFLICT (exposure_id, began_utc) DO UPDATE"
                " SET cause = excluded.cause, gap_s = coalesce(excluded.gap_s, gap_s)",
                (pause.exposure_id, pause.cause, utc_text(pause.began_utc), pause.gap_s),
            )

    def add_fault(self, fault: FaultRecord) -> int:
        """Record a latched fault; returns its row number."""
        with self._session.writing(f"writing the fault '{fault.name}'"):
            return self._session.insert(
                "faults",
                name=fault.name,
                detail=stored(fault.detail),
                exposure_id=fault.exposure_id,
                raised_utc=utc_text(fault.raised_utc),
            )

    def clear_fault(self, name: str, utc: datetime, who: str) -> None:
        """Record who acknowledged every standing fault of this name, and when."""
        with self._session.writing(f"clearing the fault '{name}'"):
            self._session.link.execute(
                "UPDATE faults SET cleared_utc = ?, cleared_by = ? WHERE name = ? AND cleared_utc IS NULL",
                (utc_text(utc), who, name),
            )

    def finish(self, exposure_id: int, outcome: str, doubtful: bool, utc: datetime) -> None:
        """Record how an exposure ended; its dose journal is packed, without loss."""
        with self._session.writing(f"ending exposure {exposure_id}"):
            done = self._session.link.execute(
                "UPDATE exposures SET ended_utc = ?, outcome = ?, doubtful = ? WHERE exposure_id = ?",
                (utc_text(utc), outcome, int(doubtful), exposure_id),
            )
            if done.rowcount != 1:
                raise self._session.unfit(say("ending_unknown_exposure", number=exposure_id))
            for side in self._session.all("SELECT side_id FROM sides WHERE exposure_id = ?", exposure_id):
                self._pack_journal(side["side_id"])

    def note_taken_out(self, utc: datetime) -> None:
        """Record that nothing of the newest exposure lies in the box any more."""
        with self._session.writing("noting that the panel was taken out"):
            self._session.link.execute(
                "UPDATE exposures SET taken_out_utc = ? WHERE exposure_id = (SELECT max(exposure_id) FROM exposures)",
                (utc_text(utc),),
            )

    def note_network_dark(self, sender: str, utc: datetime) -> None:
        """Record who ended light over a network, beside the exposure that has no end yet, if there is one."""
        with self._session.writing(f"noting a dark by {sender}"):
            self._session.link.execute(
                "INSERT INTO network_darks (exposure_id, obeyed_utc, sender)"
                " SELECT max(exposure_id), ?, ? FROM exposures WHERE outcome IS NULL",
                (utc_text(utc), sender),
            )

    def note_clock_set(self, told: Message, utc: datetime) -> None:
        """Record that the wall clock was set: times of exposures begun since this logbook was opened are unsure."""
        with self._session.writing("noting that the clock was set"):
            self._session.link.execute("UPDATE exposures SET utc_unsure = 1 WHERE exposure_id > ?", (self._before_id,))
            self._session.insert("upkeep", done_utc=utc_text(utc), what="clock_set", told=stored(told))

    def note_maintenance(self, what: str, told: Message, utc: datetime) -> None:
        """Record what was done to the logbook itself: checked, saved, tidied or compacted.

        That it was found sound is kept as that one word, which is looked for.
        """
        text = "sound" if told == "sound" else stored(told)
        with self._session.writing(f"noting that it was {what}"):
            self._session.insert("upkeep", done_utc=utc_text(utc), what=what, told=text)

    def put_note(self, exposure_id: int, note: str, result: str, who: str) -> None:
        """Replace note and result of an exposure; a number that does not exist changes nothing."""
        with self._session.writing(f"noting something on exposure {exposure_id}"):
            self._session.link.execute(
                "UPDATE exposures SET note = ?, result = ?, noted_by = ? WHERE exposure_id = ?",
                (note, result, who, exposure_id),
            )

    def put_verdict(self, exposure_id: int, verdict: str, who: str) -> None:
        """Keep whether a panel came out well; a number that does not exist changes nothing."""
        with self._session.writing(f"noting how exposure {exposure_id} came out"):
            self._session.link.execute(
                "UPDATE exposures SET verdict = ?, judged_by = ? WHERE exposure_id = ?", (verdict, who, exposure_id)
            )

    def put_bank_state(self, bank: str, release_s: float | None, gain_code: int | None) -> None:
        """Record what control learned of a bank."""
        with self._session.writing(f"writing the state of bank '{bank}'"):
            self._session.know_bank(bank)
            self._session.link.execute(
                "UPDATE banks SET release_s = ?, gain_code = ? WHERE bank = ?", (release_s, gain_code, bank)
            )

    def _pack_journal(self, side_id: int) -> None:
        rows = self._session.all(
            "SELECT written_utc, state, dose_mj_cm2, doubt_mj_cm2, lit_s FROM dose_journal WHERE side_id = ?"
            " ORDER BY entry_id",
            side_id,
        )
        if not rows:
            return
        try:
            entries = [journals.JournalEntry(utc_from(row[0]), *tuple(row)[1:]) for row in rows]
        except ValueError:
            return  # a time that is none has no place in a packed journal: these rows stay as they are
        self._session.insert(
            "packed_journals", side_id=side_id, entry_count=len(entries), packed=journals.encode(entries)
        )
        self._session.link.execute("DELETE FROM dose_journal WHERE side_id = ?", (side_id,))

    def put_commissioning(self, run: CommissioningRecord) -> None:
        """Record a run of commissioning, or how much further the same one (by `began_utc`) has come."""
        with self._session.writing("writing the commissioning"):
            self._session.link.execute(
                "INSERT INTO commissionings (began_utc, wiring_sha256, box_name, simulated, who, step_index, results,"
                " ended_utc, outcome) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (began_utc) DO UPDATE SET"
                " step_index = excluded.step_index, results = excluded.results, ended_utc = excluded.ended_utc,"
                " outcome = excluded.outcome",
                (
                    utc_text(run.began_utc),
                    run.wiring_sha256,
                    run.box_name,
                    int(run.simulated),
                    run.who,
                    run.step_index,
                    run.results,
                    utc_or_none(run.ended_utc),
                    run.outcome,
                ),
            )

    def add_override(self, override: OverrideRecord) -> None:
        """Record that somebody unlocked a box that was not commissioned."""
        with self._session.writing("writing an override"):
            self._session.insert(
                "commissioning_overrides",
                wiring_sha256=override.wiring_sha256,
                who=override.who,
                reason=override.reason,
                given_utc=utc_text(override.given_utc),
            )


@lru_cache(maxsize=8)
def _hold_of(recipe_text: str) -> tuple[float | None, float | None]:
    """Shortest and longest rest before developing; None where the text does not tell. Panels in a row share it."""
    try:
        recipe = checkedfile.parse(recipe_text, Recipe, "recipe")
    except checkedfile.FileProblemsError:
        return None, None
    return recipe.hold_s, recipe.hold_limit_s
