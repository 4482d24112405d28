"""`sumlight records`: what the logbook holds, and care for it; `export` writes its rows."""

import argparse
from collections import Counter
from dataclasses import asdict
from datetime import timedelta
from pathlib import Path
from typing import Any

from sumlight.box.description import LogbookRules
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.clock import SystemClock
from sumlight.control.daemon import LOGBOOK
from sumlight.control.records.replay import Replayed, replay
from sumlight.language import N_, _, named, text_of
from sumlight.store.datalock import DataLock
from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.pruning import Pruning, compact
from sumlight.store.logbook.weekly_statistics import courses
from sumlight.store.maintenance.backup import back_up, put_back
from sumlight.store.maintenance.photos import archive_of, back_up_photos, put_back_photos

MOST_TOLD = 20
CARE_TOLD = 20
KILLED = N_("{count} ended with a kill or a power cut: the journal's dose stands for their lost samples")
NO_TRACE = N_("{count} have no trace any more")
TOO_OLD = N_("{count} sides were recorded before calibrations were kept beside traces; they cannot be replayed")


def add_told(command: argparse.ArgumentParser) -> None:
    """Declare the options of the command that tells what the logbook holds."""
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_told)


def add_backup(command: argparse.ArgumentParser) -> None:
    """Declare the options of `backup`."""
    command.add_argument("file", type=Path, metavar="FILE")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_backup)


def add_restore(command: argparse.ArgumentParser) -> None:
    """Declare the options of `restore`."""
    command.add_argument("file", type=Path, metavar="FILE")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_restore)


def add_replay(command: argparse.ArgumentParser) -> None:
    """Declare the options of `replay`."""
    command.add_argument("--exposure", type=int, metavar="N", help=_("this exposure only"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_replay)


def add_tidy(command: argparse.ArgumentParser) -> None:
    """Declare the options of `tidy`."""
    shared.add_amount(
        command,
        "--older-than-days",
        LogbookRules,
        "keep_traces_days",
        "days",
        required=True,
        metavar="DAYS",
        help=_("remove traces older than this"),
    )
    command.add_argument("--yes", action="store_true", help=_("really remove them"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_tidy)


def add_compact(command: argparse.ArgumentParser) -> None:
    """Declare the options of `compact`."""
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_compact)


def carry_out_backup(options: argparse.Namespace) -> Answer:
    """Copy."""
    size = back_up(options.data / LOGBOOK, options.file)
    found: dict[str, Any] = {"file": str(options.file), "bytes": size, "photos": 0, "photos_file": None}
    lines = [_("{file}: {size_mb:.1f} MB, sound", file=options.file, size_mb=size / 1e6)]
    try:
        found["photos"] = back_up_photos(options.data, options.file)
    except LogbookError as error:  # the logbook is safe already
        return Answer(found, [*lines, f"! {text_of(error.told)}"], 1)
    if found["photos"]:
        found["photos_file"] = str(archive_of(options.file))
        lines.append(_("{file}: photos: {count}", file=found["photos_file"], count=found["photos"]))
    return Answer(found, lines)


def carry_out_restore(options: argparse.Namespace) -> Answer:
    """Put a copy back; what was there is kept beside it."""
    book = options.data / LOGBOOK
    with DataLock(options.data):
        kept = put_back(book, options.file, SystemClock().utc())
        photos, photos_kept, trouble = 0, None, None
        try:
            photos, photos_kept = put_back_photos(options.data, options.file, SystemClock().utc())
        except LogbookError as error:  # the logbook is back already
            trouble = error.told
    lines = [_("{logbook}: restored from {file}", logbook=book, file=options.file)]
    if photos:
        lines.append(_("{file}: photos put back: {count}", file=archive_of(options.file), count=photos))
    lines += [_("the previous file is kept as {file}", file=each) for each in (kept, photos_kept) if each is not None]
    found: dict[str, Any] = {
        "logbook": str(book),
        "restored_from": str(options.file),
        "kept": None if kept is None else str(kept),
    }
    found |= {"photos": photos, "photos_kept": None if photos_kept is None else str(photos_kept)}
    if trouble is not None:
        return Answer(found, [*lines, f"! {text_of(trouble)}"], 1)
    return Answer(found, lines)


def carry_out_replay(options: argparse.Namespace) -> Answer:
    """0 if every stretch gives its stored dose, 1 if one does not."""
    found: Counter[str] = Counter()
    differing: list[Replayed] = []
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        if options.exposure is not None and book.exposure(options.exposure) is None:
            raise ValueError(_("there is no exposure {number} in the logbook", number=options.exposure))
        earlier = book.intervals.unreplayable_sides() if options.exposure is None else 0
        for stretch in book.intervals.stretches(options.exposure):
            again = replay(stretch)
            found[again.verdict] += 1
            if again.verdict == "differs" and len(differing) < MOST_TOLD:
                differing.append(again)
    lines = [
        _(
            "exposure {exposure_id} side {side}: a dose of {recorded_mj_cm2} on record, {replayed_mj_cm2} by "
            "today's code",
            exposure_id=again.exposure_id,
            side=again.side,
            recorded_mj_cm2=again.recorded_mj_cm2,
            replayed_mj_cm2=again.replayed_mj_cm2,
        )
        for again in differing
    ]
    same, differs = found["same"], found["differs"]
    lines.append(_("{same} stretches of light give the stored dose, {differs} do not", same=same, differs=differs))
    for words, count in ((KILLED, found["open"]), (NO_TRACE, found["no trace"]), (TOO_OLD, earlier)):
        if count:
            lines.append(_(words, count=count))
    stretches = {verdict.replace(" ", "_"): found[verdict] for verdict in ("same", "differs", "open", "no trace")}
    told = {"stretches": stretches, "differing": [asdict(again) for again in differing], "not_replayable": earlier}
    return Answer(told, lines, 1 if found["differs"] else 0)


def carry_out_told(options: argparse.Namespace) -> Answer:
    """Size, span, care, and whether the process drifts."""
    path = options.data / LOGBOOK
    with Logbook.open_reader(path) as book:
        room, newest, care, weeks = book.care.room(), book.recent(1), book.care.upkeep(CARE_TOLD), courses(book)
    size = path.stat().st_size
    sizes = {"size_mb": size / 1e6, "free_mb": room.free / 1e6}
    lines = [_("{file}: {size_mb:.1f} MB, {free_mb:.1f} MB of it free for new records", file=path, **sizes)]
    if newest:
        minute = _minute(newest[0]["started_utc"])
        lines.append(_("{count} exposures, the newest of {minute}", count=newest[0]["exposure_id"], minute=minute))
    lines.append(_("what was done to it:") if care else _("no care was needed yet"))
    lines += [f"  {_minute(row['done_utc'])}, {named('upkeep', row['what'])}: {text_of(row['told'])}" for row in care]
    lines.append(_("the process, week by week (`sumlight records export weeks`):"))
    process = {course.measure: course.chart.words for course in weeks}
    lines += [f"  {measure.replace('_', '-')}: {text_of(words)}" for measure, words in process.items()]
    found = {
        "logbook": str(path),
        "bytes": size,
        "free_bytes": room.free,
        "newest_exposure_id": newest[0]["exposure_id"] if newest else None,
        "newest_started_utc": newest[0]["started_utc"] if newest else None,
        "care": [dict(row) for row in care],
        "process": process,
    }
    return Answer(found, lines)


def carry_out_compact(options: argparse.Namespace) -> Answer:
    """Give freed room back to the card."""
    path = options.data / LOGBOOK
    with DataLock(options.data):
        before, after = compact(path, SystemClock().utc())
    line = _(
        "{file}: {before_mb:.1f} MB before, {after_mb:.1f} MB now, {freed_mb:.1f} MB freed",
        file=path,
        before_mb=before / 1e6,
        after_mb=after / 1e6,
        freed_mb=(before - after) / 1e6,
    )
    return Answer({"bytes_before": before, "bytes_after": after}, [line])


def carry_out_tidy(options: argparse.Namespace) -> Answer:
    """Tell, and with --yes remove. What was done is recorded in the logbook."""
    path, now = options.data / LOGBOOK, SystemClock().utc()
    work = Pruning(now - timedelta(days=options.older_than_days))
    if not options.yes:
        with Logbook.open_reader(path) as reader:
            work = reader.care.old_traces(work.before)
        return _tidied(work, _("{traces} Nothing was removed; add --yes to do it.", traces=work.words), removed=False)
    with Logbook(path) as book:
        while not work.finished:
            book.care.remove_old_traces(work, now)
    told = _(
        "{traces} Removed; new records use the room (`sumlight records compact` gives it back).", traces=work.words
    )
    return _tidied(work, told, removed=True)


def _tidied(work: Pruning, told: str, *, removed: bool) -> Answer:
    found = {"pieces": work.removed, "bytes": work.size, "before_utc": work.before.isoformat(), "removed": removed}
    return Answer(found, [told])


def _minute(utc: str) -> str:
    return f"{utc[:16].replace('T', ' ')} UTC"
