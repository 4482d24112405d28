"""Photos beside a copy of the logbook: all of them, back as they were, and nothing else put in their place."""

import errno
import os
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.photos import archive_of, back_up_photos, folder_of, put_back_photos

NOW = datetime(2026, 11, 25, 8, tzinfo=UTC)
JPEG = b"\xff\xd8\xff\xd9"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with two photos, one half sent, and a file that is none."""
    folder = folder_of(tmp_path)
    folder.mkdir(parents=True)
    for name in ("1.jpg", "22.jpg", "3.part", "notes.txt"):
        (folder / name).write_bytes(JPEG + name.encode())
    return tmp_path


def test_photos_come_back_as_they_were_and_the_others_are_kept(data: Path) -> None:
    """Half a photo and what is none stay out."""
    copy = data / "copy.sqlite"
    assert back_up_photos(data, copy) == 2
    (folder_of(data) / "1.jpg").write_bytes(b"another")
    count, kept = put_back_photos(data, copy, NOW)
    assert count == 2
    assert kept is not None
    assert (kept / "1.jpg").read_bytes() == b"another"
    assert {each.name for each in folder_of(data).iterdir()} == {"1.jpg", "22.jpg"}
    assert (folder_of(data) / "22.jpg").read_bytes() == JPEG + b"22.jpg"
    assert (folder_of(data) / "1.jpg").stat().st_mode & 0o777 == 0o600


def test_without_photos_there_is_no_archive_and_nothing_to_put_back(tmp_path: Path) -> None:
    """A box that never had any."""
    copy = tmp_path / "copy.sqlite"
    assert back_up_photos(tmp_path, copy) == 0
    assert not archive_of(copy).exists()
    assert put_back_photos(tmp_path, copy, NOW) == (0, None)


def test_an_archive_is_not_overwritten(data: Path) -> None:
    """As the copy is not."""
    back_up_photos(data, data / "copy.sqlite")
    with pytest.raises(LogbookError, match="exists already"):
        back_up_photos(data, data / "copy.sqlite")


@pytest.mark.parametrize("name", ["../../operators.json", "/nowhere/at/all/1.jpg", "7.jpg/x", "photo.jpg", "0.jpg"])
def test_an_archive_with_anything_else_is_refused_whole(data: Path, name: str) -> None:
    """The photos stay as they were, and nothing lies beside them."""
    before = {each.name: each.read_bytes() for each in folder_of(data).iterdir()}
    copy = data / "copy.sqlite"
    with zipfile.ZipFile(archive_of(copy), "w") as archive:
        archive.writestr("1.jpg", JPEG)
        archive.writestr(name, JPEG)
    with pytest.raises(LogbookError, match="no photo"):
        put_back_photos(data, copy, NOW)
    assert {each.name: each.read_bytes() for each in folder_of(data).iterdir()} == before
    assert [each.name for each in folder_of(data).parent.iterdir()] == ["photos"]


@pytest.mark.parametrize("raw", [b"", b"PK", b"no archive at all"])
def test_a_broken_archive_is_refused(data: Path, raw: bytes) -> None:
    """In words, with its name."""
    copy = data / "copy.sqlite"
    archive_of(copy).write_bytes(raw)
    with pytest.raises(LogbookError, match=r"copy\.sqlite\.photos\.zip"):
        put_back_photos(data, copy, NOW)
    assert (folder_of(data) / "1.jpg").exists()


def test_photos_that_were_set_aside_come_back_when_the_others_cannot_take_their_place(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second of the two renames fails: the page still has its photos under their name."""
    copy = data / "copy.sqlite"
    back_up_photos(data, copy)
    before = {each.name: each.read_bytes() for each in folder_of(data).iterdir()}
    rename = os.rename

    def failing(source: Path, target: Path) -> None:
        if source.name == ".photos.new":
            raise OSError(errno.EIO, "Input/output error")
        rename(source, target)

    monkeypatch.setattr(os, "rename", failing)
    with pytest.raises(LogbookError, match="Input/output error"):
        put_back_photos(data, copy, NOW)
    assert {each.name: each.read_bytes() for each in folder_of(data).iterdir()} == before
    assert [each.name for each in folder_of(data).parent.iterdir()] == ["photos"]


def test_one_photo_that_is_too_large_is_refused(data: Path) -> None:
    """A small archive may hold what fills the card."""
    copy = data / "copy.sqlite"
    with zipfile.ZipFile(archive_of(copy), "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("1.jpg", bytes(1_000_001))
    with pytest.raises(LogbookError, match="no photo"):
        put_back_photos(data, copy, NOW)
