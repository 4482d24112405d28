"""A damaged logbook is set aside; a new one holds what could be read; the box stays usable."""

import os
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from sumlight.language import Reader, text_of, written_for
from sumlight.store.logbook import database
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.pruning import care_told
from sumlight.store.maintenance import recovery
from sumlight.store.maintenance.integrity import check
from sumlight.store.maintenance.recovery import make_sound
from sumlight.text.message import as_written
from tests.store.filled import fill
from tests.store.making import START_UTC, ask, later, new_exposure, no_room

PAGE = 4096


def spoil(path: Path, pages: list[int], seed: int = 1) -> None:
    """Write noise over whole pages, as a dying card does."""
    chance = Random(seed)
    with path.open("rb+") as file:
        for page in pages:
            file.seek(PAGE * page)
            file.write(chance.randbytes(PAGE))


def damaged_files(path: Path) -> list[str]:
    """Names of what was set aside."""
    return sorted(file.name for file in path.parent.glob("logbook.damaged-*.sqlite"))


def test_a_sound_logbook_or_none_is_left_alone(path: Path) -> None:
    """Nothing is set aside, nothing is noted."""
    assert make_sound(path, START_UTC) is None
    fill(path, 3)
    assert make_sound(path, START_UTC) is None
    assert damaged_files(path) == []
    assert ask(path, "SELECT count(*) FROM upkeep") == [(0,)]


@pytest.mark.parametrize("seed", range(6))
def test_pages_of_noise_cost_their_own_rows_only(path: Path, seed: int) -> None:
    """Three pages at random places: most exposures are there, all that is there is whole."""
    fill(path)
    pages = path.stat().st_size // PAGE
    spoil(path, Random(seed).sample(range(1, pages), 3), seed)
    rescued = make_sound(path, START_UTC)
    if rescued is None:  # the noise fell on pages that hold nothing
        assert check(path, thorough=False).problems == ()
        return
    assert damaged_files(path) == ["logbook.damaged-20261125T080000Z.sqlite"]
    assert check(path).problems == ()
    with Logbook(path) as book:
        for row in book.recent(100):
            full = book.exposure(row["exposure_id"])
            assert full is not None
            for side in full["sides"]:
                assert len(book.trace(side["side_id"])) in (0, 100)
                assert len(book.journal(side["side_id"])) in (0, 9)
        begun = book.begin(new_exposure())
        assert begun.exposure_id > 0
    assert ask(path, "SELECT what FROM upkeep") == [("saved",)]
    assert "Rescued: " in rescued.words


def test_one_page_of_noise_costs_a_few_rows(path: Path) -> None:
    """Each page in turn but the first: whatever it held, most of all rows are saved."""
    fill(path)
    whole = path.read_bytes()
    rows = sum(int(str(ask(path, f"SELECT count(*) FROM {table}")[0][0])) for table in ("exposures", "sides", "traces"))
    hurt = jumped = 0
    for page in range(1, len(whole) // PAGE, 3):
        for file in path.parent.glob("logbook*"):
            file.unlink()
        path.write_bytes(whole)
        spoil(path, [page], page)
        rescued = make_sound(path, START_UTC)
        if rescued is not None:
            hurt += 1
            with closing(database.connect_reader(path)) as link:
                tables = ("exposures", "sides", "traces")
                saved = {table: link.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables}
            numbers = [row[0] for row in ask(path, "SELECT trace_id FROM traces")]
            jumped += len(numbers) < 40 and 40 in numbers  # read on behind the damage
            lost_whole_table = min(saved.values()) == 0  # the page that leads to all others of a table
            assert lost_whole_table or sum(saved.values()) >= 0.6 * rows, (page, saved)
    assert hurt > 10
    assert jumped >= 2


def test_a_file_that_is_no_database_any_more_begins_anew(path: Path) -> None:
    """Its first page is gone; the file is kept."""
    fill(path, 3)
    spoil(path, [0])
    before = path.read_bytes()
    rescued = make_sound(path, START_UTC)
    assert rescued is not None
    assert "nothing" in rescued.words
    assert (path.parent / damaged_files(path)[0]).read_bytes() == before
    with Logbook(path) as book:
        assert book.recent() == []
        book.begin(new_exposure())


def test_a_file_cut_short_is_rescued(path: Path) -> None:
    """As after a copy that broke off."""
    fill(path)
    with path.open("rb+") as file:
        file.truncate(path.stat().st_size * 2 // 3)
    rescued = make_sound(path, START_UTC)
    assert rescued is not None
    assert check(path).problems == ()


def test_damage_found_twice_in_a_second_gets_two_names(path: Path) -> None:
    """Nothing that was set aside is overwritten."""
    for _ in range(2):
        fill(path, 2)
        spoil(path, [0])
        make_sound(path, START_UTC)
        path.unlink()
    assert len(damaged_files(path)) == 2


def test_a_trace_that_does_not_unpack_is_left_behind(path: Path) -> None:
    """Noise within a row is noticed by the checksum of the blob."""
    fill(path, 3)
    ask(path, "SELECT 1")
    with closing(database.connect_writer(path, durable=False)) as link:
        link.execute("UPDATE traces SET packed = x'0178ffff' WHERE trace_id = 2")
    path.with_name("x").touch()
    found = recovery.Recovery(path, as_written("test"))
    with closing(database.connect_writer(path.with_name("new.sqlite"), durable=False)) as fresh:
        recovery._take_over(found, path, fresh)
        assert [row[0] for row in fresh.execute("SELECT trace_id FROM traces")] == [1, 3]
    assert found.gaps == 1


def test_no_time_left_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was not taken over is named; it stays in the damaged file."""
    fill(path, 3)
    monkeypatch.setattr(recovery, "RESCUE_S", -1.0)
    found = recovery.Recovery(path, as_written("test"))
    with closing(database.connect_writer(path.with_name("new.sqlite"), durable=False)) as fresh:
        recovery._take_over(found, path, fresh)
    assert "traces" in found.unread
    assert "no time" in found.words


def test_troubles_that_are_no_damage_set_nothing_aside(path: Path) -> None:
    """A full disk, a newer version: refused as ever."""
    fill(path, 2)
    with no_room(), pytest.raises(LogbookError, match="disk"):
        make_sound(path, START_UTC)
    with closing(database.connect_writer(path, durable=False)) as link:
        link.executescript("CREATE TABLE of_a_newer_sumlight (a); PRAGMA user_version = 9000")
    with pytest.raises(LogbookError, match="knows up to"):
        make_sound(path, later(1))
    assert damaged_files(path) == []


def test_a_look_can_be_bounded_and_given_up(path: Path) -> None:
    """It then says that it did not finish."""
    fill(path, 60)
    assert check(path).finished
    assert not check(path, give_up=lambda: True).finished
    assert not check(path, limit_s=-1.0).finished


def test_an_index_that_says_something_else_than_its_table_is_a_problem(path: Path) -> None:
    """SQLite reads such a file without complaint; only the look compares the two."""
    fill(path, 10)
    with closing(database.connect_writer(path, durable=False)) as link:
        link.execute("PRAGMA writable_schema = ON")
        link.execute(
            "UPDATE sqlite_master SET sql = replace(sql, '(panel_id)', '(recipe_name)')"
            " WHERE name = 'exposures_by_panel'"
        )
        link.execute("PRAGMA writable_schema = OFF")
    assert any("index exposures_by_panel" in problem for problem in check(path).problems)


def test_a_row_that_refers_to_nothing_is_a_problem(path: Path) -> None:
    """Told by a thorough look."""
    fill(path, 2)
    with closing(database.connect_writer(path, durable=False)) as link:
        link.execute("PRAGMA foreign_keys = OFF")
        link.execute("DELETE FROM panels WHERE panel_id = 1")
    assert any("exposures" in problem for problem in check(path).problems)
    assert check(path, thorough=False).problems == ()


@pytest.mark.parametrize("when", ["while rows are taken over", "before it has its name"])
def test_a_power_cut_while_it_is_rescued_only_means_to_begin_anew(
    path: Path, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    """The damaged file keeps its place until the new one is whole; the next start saves as much as the first."""
    fill(path)
    spoil(path, [9, 10])

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        if when == "while rows are taken over":
            patch.setattr(recovery, "_drop_orphans", cut)
        else:
            patch.setattr(os, "replace", cut)
        with pytest.raises(KeyboardInterrupt):
            make_sound(path, START_UTC)
    assert path.exists() == (when == "while rows are taken over")
    again = make_sound(path, later(60))
    assert (again is None) == (when == "before it has its name")
    assert len(damaged_files(path)) == 1
    assert check(path).problems == ()
    with Logbook(path) as book:
        assert len(book.recent(100)) > 20
        assert [row["what"] for row in book.care.upkeep()] == ["saved"]
    assert list(path.parent.glob("*.part*")) == []


def test_a_full_disk_while_it_is_rescued_is_told_and_loses_nothing(path: Path) -> None:
    """The damaged file is where it was; with room again it is rescued."""
    fill(path)
    spoil(path, [9, 10])
    size = path.stat().st_size
    with no_room(size // 3), pytest.raises(LogbookError, match="disk"):
        make_sound(path, START_UTC)
    assert path.stat().st_size == size
    assert damaged_files(path) == []
    assert make_sound(path, START_UTC) is not None
    with Logbook(path) as book:
        assert len(book.recent(100)) > 20


def test_what_was_saved_can_be_told_in_any_language(path: Path) -> None:
    """The record keeps code and values; an older line stays as it was written."""
    fill(path, 3)
    spoil(path, [path.stat().st_size // PAGE - 1])
    with path.open("rb+") as file:
        file.seek(100)
        file.write(b"noise" * 20)
    assert make_sound(path, START_UTC) is not None
    with Logbook(path) as book:
        book.note_maintenance("checked", as_written("sound"), START_UTC)
        kept = {row["what"]: row["told"] for row in book.care.upkeep()}
    assert kept["saved"].code in ("logbook_rescued", "sentences")
    assert kept["checked"].code == "logbook_is_sound"
    with written_for(Reader("de")):
        assert text_of(kept["saved"]).startswith("Das Logbuch war beschädigt (")
        assert "Gerettet: " in text_of(kept["saved"])
        assert text_of(care_told("7 pieces of traces")) == "7 pieces of traces"
