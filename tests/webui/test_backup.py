"""A copy of the logbook from the page: sound, as it stands, and nothing left behind."""

import sqlite3
import threading
from collections import namedtuple
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.maintenance.integrity import check
from sumlight.text.message import as_written
from sumlight_web.box import backup
from sumlight_web.services import OWN_FOLDER
from tests.webui.given import ORIGIN
from tests.webui.light_runs import BEGAN, keep
from tests.webui.test_hostile import visit_as


@pytest.fixture
def logbook(data: Path) -> Path:
    """A logbook with one run in it."""
    keep(data / "logbook.sqlite", "panel")
    return data / "logbook.sqlite"


def left_behind(data: Path) -> list[str]:
    """What a copy might have left in the data folder or in the page's own."""
    folders = (data, data / OWN_FOLDER)
    return [path.name for folder in folders for path in folder.iterdir() if path.name.startswith(backup.PREFIX)]


def test_the_copy_is_a_sound_logbook_with_everything_in_it(client: FlaskClient, logbook: Path, tmp_path: Path) -> None:
    """Opened as control would open it, and looked through by SQLite itself; a writer goes on meanwhile."""
    with Logbook(logbook, durable=False) as writing:
        writing.note_maintenance("checked", as_written("sound"), BEGAN)
        answer = client.post("/box/backup", headers=ORIGIN)
    assert answer.status_code == 200
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="logbook-2')
    assert int(answer.headers["Content-Length"]) == len(answer.data)
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(answer.data)
    assert check(copy).problems == ()
    with sqlite3.connect(copy) as link:
        assert link.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    with Logbook.open_reader(copy) as book:
        assert [row["panel"] for row in book.recent()] == ["panel"]
        assert book.last_maintenance("checked") == (BEGAN, "sound")
    assert left_behind(logbook.parent) == []


def test_nothing_stays_behind_while_it_is_sent_or_when_it_is_not_taken(client: FlaskClient, logbook: Path) -> None:
    """The copy has no name any more when its first byte goes; the next one is possible after a client has hung up."""
    answer = client.post("/box/backup", headers=ORIGIN, buffered=False)
    assert left_behind(logbook.parent) == []
    assert client.post("/box/backup", headers=ORIGIN).status_code == 409
    answer.close()
    (logbook.parent / OWN_FOLDER / f"{backup.PREFIX}old").mkdir()
    again = client.post("/box/backup", headers=ORIGIN)
    assert again.status_code == 200
    again.close()
    assert left_behind(logbook.parent) == []


def test_it_is_sent_in_small_pieces(client: FlaskClient, logbook: Path) -> None:
    """However large the logbook is."""
    answer = client.post("/box/backup", headers=ORIGIN, buffered=False)
    pieces = [len(piece) for piece in answer.response]
    answer.close()
    assert len(pieces) > 1
    assert max(pieces) == backup.PIECE_BYTES


def test_without_a_logbook_or_room_it_is_said_so(
    client: FlaskClient, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """409 with the reason, and nothing half written."""
    answer = client.post("/box/backup", headers=ORIGIN)
    assert answer.status_code == 409
    assert "There is no logbook yet" in answer.text
    assert "There is nothing to copy yet." in client.get("/box/").text
    keep(data / "logbook.sqlite", "panel")
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr("sumlight_web.box.backup.shutil.disk_usage", lambda _path: usage(10**9, 10**9, 1_000_000))
    answer = client.post("/box/backup", headers=ORIGIN)
    assert answer.status_code == 409
    assert "The disk has 1 MB left; a copy needs 5" in answer.text
    assert left_behind(data) == []


def test_a_damaged_logbook_gives_no_copy(client: FlaskClient, logbook: Path) -> None:
    """A copy that is not sound is worse than none, for it is believed."""
    body = bytearray(logbook.read_bytes())
    body[8192:12288] = b"\xff" * 4096
    logbook.write_bytes(bytes(body))
    answer = client.post("/box/backup", headers=ORIGIN)
    assert answer.status_code == 409
    assert "could not be copied" in answer.text
    assert client.get("/box/").status_code == 200
    assert left_behind(logbook.parent) == []


def test_box_comes_up_with_a_logbook_that_cannot_be_read(client: FlaskClient, data: Path) -> None:
    """The faults stand on it; only the records are missing."""
    (data / "logbook.sqlite").write_bytes(b"no logbook at all" * 1000)
    answer = client.get("/box/")
    assert answer.status_code == 200
    assert "The logbook cannot be read just now." in answer.text


def test_the_place_for_a_copy_is_given_back_after_every_no(client: FlaskClient, data: Path) -> None:
    """Otherwise the first mistake would be the last copy."""
    for _ in range(3):
        assert client.post("/box/backup", headers=ORIGIN).status_code == 409
    keep(data / "logbook.sqlite", "panel")
    (data / "logbook.sqlite").chmod(0o600)
    answers: list[int] = []
    threads = [threading.Thread(target=lambda: answers.append(_copy(client))) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert 200 in answers
    assert _copy(client) == 200


def _copy(client: FlaskClient) -> int:
    answer = client.post("/box/backup", headers=ORIGIN)
    answer.close()
    return answer.status_code


def test_box_says_the_size_first_the_last_look_and_how_to_put_it_back(client: FlaskClient, logbook: Path) -> None:
    """Before anything is pressed."""
    text = client.get("/box/").text
    assert "A copy weighs about 0." in text
    assert "that has not happened yet" in text
    assert f"restore COPY --data {logbook.parent}" in text
    assert "systemctl stop sumlight-control" in text
    with Logbook(logbook, durable=False) as book:
        book.note_maintenance("checked", as_written("sound"), datetime(2026, 11, 26, 2, 0, tzinfo=UTC))
    assert "Looked through on 2026-11-26" in client.get("/box/").text
    with Logbook(logbook, durable=False) as book:
        missing = as_written("row 3 of sides is missing")
        book.note_maintenance("checked", missing, datetime(2026, 11, 27, 2, 0, tzinfo=UTC))
    text = client.get("/box/").text
    assert "damaged" in text
    assert "row 3 of sides is missing" in text


def test_only_operators_carry_the_logbook_away(app: Flask, logbook: Path) -> None:
    """Watchers see that one can be made; a foreign page gets nothing."""
    watcher = visit_as(app, "a watcher")
    assert "An operator can make one." in watcher.get("/box/").text
    assert watcher.post("/box/backup", headers=ORIGIN).status_code == 401
    assert watcher.get("/box/backup").status_code == 405
    operator = visit_as(app, "an operator")
    assert operator.post("/box/backup", headers={"Origin": "http://evil.example"}).status_code == 403
    answer = operator.post("/box/backup", headers=ORIGIN)
    assert answer.status_code == 200
    answer.close()
