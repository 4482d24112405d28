"""The shelf of recipes: listing, loading, saving as a whole, putting away."""

import fcntl
import hashlib
import os
import stat
from pathlib import Path

import pytest

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError
from sumlight.store import recipes
from sumlight.store.files import replace_file
from sumlight.store.recipes import (
    NOT_THERE,
    RecipeChangedError,
    RecipeStore,
    RecipeStoreError,
    StoredRecipe,
    UnknownRecipeError,
    UnusableRecipe,
    recipe_from_text,
)
from tests.store.making import RECIPE_TEXT, no_room

OTHER_TEXT = RECIPE_TEXT.replace("dose_mj_cm2: 60", "dose_mj_cm2: 75")


@pytest.fixture
def shelf(tmp_path: Path) -> RecipeStore:
    """A shelf whose folder does not exist yet."""
    return RecipeStore(tmp_path / "recipes")


def test_a_saved_recipe_is_loaded_with_its_exact_text_and_hash(shelf: RecipeStore) -> None:
    """The hash is SHA-256 of the file as it stands on the disk."""
    saved = shelf.save("invented-38", RECIPE_TEXT)
    loaded = shelf.load("invented-38")
    raw = (shelf.folder / "invented-38.yaml").read_bytes()
    assert loaded == saved
    assert (loaded.name, loaded.text, loaded.recipe.dose_mj_cm2) == ("invented-38", RECIPE_TEXT, 60.0)
    assert raw == RECIPE_TEXT.encode()
    assert loaded.sha256 == hashlib.sha256(raw).hexdigest()


def test_a_text_with_foreign_line_ends_is_kept_to_the_byte(shelf: RecipeStore) -> None:
    """A hash is of no use if reading changes the text."""
    text = RECIPE_TEXT.replace("\n", "\r\n")
    assert shelf.save("dos", text) == shelf.load("dos")
    assert shelf.load("dos").text == text


def test_the_list_is_sorted_and_shows_a_bad_file_among_the_good(shelf: RecipeStore) -> None:
    """One bad file hides no other; what is no recipe file is passed over."""
    shelf.save("b-good", RECIPE_TEXT)
    (shelf.folder / "a-bad.yaml").write_text("dose_mj_cm2: -1\n")
    (shelf.folder / "c-latin.yaml").write_bytes(b"resist: \xe9\n")
    (shelf.folder / "d-folder.yaml").mkdir()
    (shelf.folder / "Wrong Name.yaml").write_text(RECIPE_TEXT)
    (shelf.folder / "notes.txt").write_text("not a recipe")
    (shelf.folder / ".hidden.yaml").write_text("not a recipe")
    listed = shelf.list()
    assert [entry.name for entry in listed] == ["Wrong Name", "a-bad", "b-good", "c-latin", "d-folder"]
    assert [type(entry) for entry in listed] == [UnusableRecipe] * 2 + [StoredRecipe] + [UnusableRecipe] * 2
    told = {entry.name: str(entry.problems[0]) for entry in listed if isinstance(entry, UnusableRecipe)}
    assert told["a-bad"].startswith("a-bad.yaml, line 1: ")
    assert told["c-latin"] == "c-latin.yaml: is not UTF-8 text (byte 8); save it as UTF-8"
    assert told["d-folder"] == "d-folder.yaml: cannot be read: it is not a file"
    assert told["Wrong Name"] == (
        "Wrong Name.yaml: name: 'Wrong Name' cannot be a recipe's name: use 1 to 48 small letters a-z, digits and"
        " hyphens, beginning with a letter or digit"
    )


def test_an_empty_shelf_lists_nothing(shelf: RecipeStore) -> None:
    """The folder is made by the first save."""
    assert shelf.list() == []
    with pytest.raises(UnknownRecipeError, match="no recipe is called 'blue'; the shelf is empty"):
        shelf.load("blue")


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    """A file where the folder should be is not an empty shelf."""
    (tmp_path / "recipes").write_text("")
    with pytest.raises(RecipeStoreError, match="cannot be read: Not a directory"):
        RecipeStore(tmp_path / "recipes").list()
    with pytest.raises(RecipeStoreError, match="recipe 'x' was not saved: File exists"):
        RecipeStore(tmp_path / "recipes").save("x", RECIPE_TEXT)


@pytest.mark.parametrize("name", ["green", "../secret", "", "a/b", "\x00"])
def test_an_unknown_name_is_answered_with_the_known_ones(shelf: RecipeStore, name: str) -> None:
    """Also a name that would lead out of the folder, where a file does stand."""
    shelf.save("blue", RECIPE_TEXT)
    shelf.save("amber", RECIPE_TEXT)
    (shelf.folder.parent / "secret.yaml").write_text(RECIPE_TEXT)
    with pytest.raises(UnknownRecipeError, match="there is amber, blue"):
        shelf.load(name)
    with pytest.raises(UnknownRecipeError, match="nothing to remove"):
        shelf.remove(name)
    assert (shelf.folder.parent / "secret.yaml").exists()


@pytest.mark.parametrize("name", ["", "-x", "Blue", "a b", "../x", "a" * 49, "blue\n", ".hidden"])
def test_a_recipe_is_not_saved_under_a_name_that_is_none(shelf: RecipeStore, name: str) -> None:
    """The page can show the message beside the name."""
    with pytest.raises(FileProblemsError, match="cannot be a recipe's name: use 1 to 48") as caught:
        shelf.save(name, RECIPE_TEXT)
    assert caught.value.problems[0].field == "name"
    assert not shelf.folder.exists()


def test_a_recipe_with_mistakes_is_not_saved(shelf: RecipeStore) -> None:
    """The old file stays."""
    shelf.save("blue", RECIPE_TEXT)
    with pytest.raises(FileProblemsError, match="dose_mj_cm2: input should be greater than or equal to 1"):
        shelf.save("blue", RECIPE_TEXT.replace("60", "-60", 1))
    assert shelf.load("blue").text == RECIPE_TEXT


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (RECIPE_TEXT + "#" * 65536, "big.yaml: is larger than 8 KiB, more than a recipe needs"),
        ("resist: \ud800\n", "big.yaml: holds a character that is not text (place 8); remove it"),
    ],
)
def test_a_text_that_no_file_could_hold_is_refused(text: str, message: str) -> None:
    """What could be saved can also be read again."""
    with pytest.raises(FileProblemsError) as caught:
        recipe_from_text(text, "big")
    assert str(caught.value) == message


def test_a_full_disk_leaves_the_old_recipe_and_no_rubbish(shelf: RecipeStore) -> None:
    """The kernel refuses the write; the message says that nothing changed."""
    shelf.save("blue", RECIPE_TEXT)
    with no_room(100), pytest.raises(RecipeStoreError) as caught:
        shelf.save("blue", OTHER_TEXT)
    assert str(caught.value) == (
        "recipe 'blue' was not saved: File too large; what was there before is unchanged."
        f" Check free space and permissions of {shelf.folder}, then try again."
    )
    assert shelf.load("blue").text == RECIPE_TEXT
    assert [file.name for file in shelf.folder.iterdir()] == ["blue.yaml"]
    shelf.save("blue", OTHER_TEXT)
    assert shelf.load("blue").text == OTHER_TEXT


def test_the_new_text_is_on_the_disk_before_it_takes_the_name(
    shelf: RecipeStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """First the file, then the rename, then the folder: a power cut leaves the old file or the new one."""
    shelf.save("blue", RECIPE_TEXT)
    order: list[str] = []
    sync, rename = os.fsync, Path.replace

    def noting_sync(fd: int) -> None:
        kind = "folder" if stat.S_ISDIR(os.fstat(fd).st_mode) else "file"
        order.append(f"{kind} synced with {shelf.load('blue').recipe.dose_mj_cm2:g}")
        sync(fd)

    def noting_rename(path: Path, target: Path) -> Path:
        order.append("renamed")
        return rename(path, target)

    monkeypatch.setattr(os, "fsync", noting_sync)
    monkeypatch.setattr(Path, "replace", noting_rename)
    shelf.save("blue", OTHER_TEXT)
    assert order == ["file synced with 60", "renamed", "folder synced with 75"]


def test_a_leftover_of_a_power_cut_does_not_stop_the_next_save(shelf: RecipeStore) -> None:
    """Half a new file, never renamed, is not listed and is replaced."""
    shelf.save("blue", RECIPE_TEXT)
    (shelf.folder / ".blue.yaml.new").write_text("resi")
    assert [entry.name for entry in shelf.list()] == ["blue"]
    shelf.save("blue", OTHER_TEXT)
    assert [file.name for file in shelf.folder.iterdir()] == ["blue.yaml"]


def test_saving_keeps_the_permissions_of_the_file(shelf: RecipeStore) -> None:
    """A group that may edit recipes by hand still may."""
    shelf.save("blue", RECIPE_TEXT)
    (shelf.folder / "blue.yaml").chmod(0o664)
    shelf.save("blue", OTHER_TEXT)
    assert (shelf.folder / "blue.yaml").stat().st_mode & 0o777 == 0o664


def test_a_recipe_changed_meanwhile_is_not_overwritten(shelf: RecipeStore) -> None:
    """Somebody edited it by hand while the page's editor was open."""
    opened = shelf.save("blue", RECIPE_TEXT)
    (shelf.folder / "blue.yaml").write_text(OTHER_TEXT)
    with pytest.raises(RecipeChangedError, match="recipe 'blue' was changed while you edited it"):
        shelf.save("blue", RECIPE_TEXT + "# mine\n", opened.sha256)
    assert shelf.load("blue").text == OTHER_TEXT
    saved = shelf.save("blue", RECIPE_TEXT + "# mine\n", shelf.load("blue").sha256)
    assert shelf.load("blue") == saved


def test_a_recipe_removed_meanwhile_is_not_brought_back_unasked(shelf: RecipeStore) -> None:
    """Removing it was somebody's decision."""
    opened = shelf.save("blue", RECIPE_TEXT)
    shelf.remove("blue")
    with pytest.raises(RecipeChangedError, match="recipe 'blue' was removed while you edited it"):
        shelf.save("blue", OTHER_TEXT, opened.sha256)
    assert shelf.list() == []


def test_a_new_recipe_does_not_replace_one_of_the_same_name(shelf: RecipeStore) -> None:
    """NOT_THERE says that the name must be free."""
    shelf.save("blue", RECIPE_TEXT, NOT_THERE)
    with pytest.raises(RecipeChangedError, match="a recipe 'blue' exists already; choose another name"):
        shelf.save("blue", OTHER_TEXT, NOT_THERE)
    assert shelf.load("blue").text == RECIPE_TEXT


def test_an_unusable_recipe_can_be_removed(shelf: RecipeStore) -> None:
    """Also one that could never be saved from here."""
    shelf.save("blue", RECIPE_TEXT)
    (shelf.folder / "Bad Name.yaml").write_text("x")
    shelf.remove("Bad Name")
    assert [entry.name for entry in shelf.list()] == ["blue"]


def test_a_recipe_is_worked_out_once_until_its_file_changes(
    shelf: RecipeStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A view of the page reads the whole shelf; what has not changed is not even opened."""
    shelf.save("a", RECIPE_TEXT)
    shelf.save("b", RECIPE_TEXT)
    (shelf.folder / "c.yaml").write_text("a: 1\n" * 1000)
    first = shelf.list()
    opened: list[Path] = []
    read = checkedfile.read_text

    def note(path: Path, most_bytes: int = 0) -> str:
        opened.append(path)
        return read(path, most_bytes)

    monkeypatch.setattr(checkedfile, "read_text", note)
    assert shelf.list() == first
    assert opened == []
    (shelf.folder / "b.yaml").write_text(OTHER_TEXT)
    changed = shelf.list()[1]
    assert isinstance(changed, StoredRecipe)
    assert changed.recipe.dose_mj_cm2 == 75
    assert opened == [shelf.folder / "b.yaml"]


def test_a_recipe_that_is_loaded_is_read_anew_whatever_its_time_says(shelf: RecipeStore) -> None:
    """Light depends on it: same size, same time, other dose."""
    shelf.save("a", RECIPE_TEXT)
    shelf.list()
    path = shelf.folder / "a.yaml"
    before = path.stat()
    known = shelf._known["a"][0]
    path.write_text(OTHER_TEXT)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    shelf._known["a"] = (recipes._mark(path) or known, shelf._known["a"][1])
    assert shelf.load("a").recipe.dose_mj_cm2 == 75


def test_files_that_are_none_are_told_and_nothing_waits_for_them(shelf: RecipeStore) -> None:
    """A pipe, a folder, a link to itself, a name that is no text: listed as unusable, loadable by nobody."""
    shelf.save("good", RECIPE_TEXT)
    os.mkfifo(shelf.folder / "pipe.yaml")
    (shelf.folder / "folder.yaml").mkdir()
    (shelf.folder / "loop.yaml").symlink_to("loop.yaml")
    Path(os.fsdecode(os.fsencode(shelf.folder) + b"/\xff.yaml")).write_text(RECIPE_TEXT)
    listed = {entry.name: entry for entry in shelf.list()}
    assert list(listed) == ["folder", "good", "loop", "pipe", "\ufffd"]
    assert [name for name, entry in listed.items() if isinstance(entry, StoredRecipe)] == ["good"]
    for name in ("folder", "loop", "pipe", "\ufffd"):
        with pytest.raises(FileProblemsError):
            shelf.load(name)
        with pytest.raises((RecipeChangedError, FileProblemsError)):
            shelf.save(name, RECIPE_TEXT, NOT_THERE)
        name.encode("utf-8")


def test_two_savers_take_turns(shelf: RecipeStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check for a change and the rename happen under one lock of the folder."""
    shelf.save("blue", RECIPE_TEXT)
    held: list[bool] = []
    replace = replace_file

    def noting(path: Path, raw: bytes) -> None:
        other = os.open(shelf.folder, os.O_RDONLY)
        try:
            fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            held.append(True)
        finally:
            os.close(other)
        replace(path, raw)

    monkeypatch.setattr(recipes, "replace_file", noting)
    shelf.save("blue", OTHER_TEXT)
    assert held == [True]


def test_a_recipe_that_was_put_away_is_off_the_shelf_and_comes_back_to_the_byte(shelf: RecipeStore) -> None:
    """A torn one, too; whoever may use the shelf may use the folder; a second one of that name is kept beside."""
    text = RECIPE_TEXT.replace("\n", "\r\n")
    shelf.save("blue", text)
    shelf.save("green", OTHER_TEXT)
    shelf.folder.chmod(0o2770)
    assert shelf.put_away("blue") == "blue"
    assert [entry.name for entry in shelf.list()] == ["green"]
    assert [entry.name for entry in shelf.away.list()] == ["blue"]
    assert stat.S_IMODE(shelf.away.folder.stat().st_mode) == 0o2770
    with pytest.raises(UnknownRecipeError, match="there is green"):
        shelf.load("blue")
    shelf.save("blue", OTHER_TEXT)
    with pytest.raises(RecipeChangedError, match="exists already"):
        shelf.take_back("blue")
    assert shelf.put_away("blue") == "blue-2"
    (shelf.folder / "torn.yaml").write_text("resist: [", encoding="utf-8")
    shelf.put_away("torn")
    shelf.take_back("blue")
    assert shelf.load("blue").text == text
    assert shelf.away.load("blue-2").text == OTHER_TEXT
    assert isinstance(shelf.away.list()[-1], UnusableRecipe)


@pytest.mark.parametrize("name", ["nowhere", "../secret", "", "put-away/x"])
def test_what_is_not_there_is_not_moved(shelf: RecipeStore, name: str) -> None:
    """Either way; a path is no name."""
    shelf.save("blue", RECIPE_TEXT)
    (shelf.folder.parent / "secret.yaml").write_text(RECIPE_TEXT, encoding="utf-8")
    for move in (shelf.put_away, shelf.take_back):
        with pytest.raises(UnknownRecipeError, match="nothing to move"):
            move(name)
    assert [entry.name for entry in shelf.list()] == ["blue"]


def test_a_recipe_that_cannot_be_moved_stays(shelf: RecipeStore) -> None:
    """Told with the folder to look at."""
    shelf.save("blue", RECIPE_TEXT)
    shelf.away.folder.write_text("a file in the way", encoding="utf-8")
    with pytest.raises(RecipeStoreError, match="it is where it was"):
        shelf.put_away("blue")
    assert shelf.load("blue").text == RECIPE_TEXT
