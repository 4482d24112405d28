"""`sumlight recipes shared`, `adopt` and `share`: between two boxes' shelves and a folder, which may be git's."""

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from sumlight.cli import main
from sumlight.control.daemon import RECIPES
from sumlight.store import sharing
from sumlight.store.logbook.calibrations import CalibrationRecord, LampsFitted
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore
from tests.control.bench_box import BenchBox, recipe_text
from tests.store.making import later
from tests.webui.given import BLUE

STRONGER, OTHER = BLUE.replace("dose_mj_cm2: 60", "dose_mj_cm2: 75"), BLUE.replace("hold_s: 900", "hold_s: 1200")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Two boxes `a` and `b`, the first with a recipe, and the folder `common`."""
    for name in ("a/recipes", "b/recipes", "common"):
        (tmp_path / name).mkdir(parents=True)
    (tmp_path / "a" / "recipes" / "blue-38.yaml").write_text(BLUE)
    return tmp_path


def run(shop: Path, box: str, *words: str) -> int:
    """A command at a box, on the shared folder."""
    return main(["recipes", *words, str(shop / "common"), "--data", str(shop / box)])


def standings(shop: Path, box: str, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """What `shared` says, by name."""
    capsys.readouterr()
    assert run(shop, box, "shared", "--json") == 0
    return {one["name"]: one["standing"] for one in json.loads(capsys.readouterr().out)["recipes"]}


def shelf(shop: Path, box: str) -> str:
    """The recipe's text on a box."""
    return (shop / box / "recipes" / "blue-38.yaml").read_text()


def test_a_recipe_goes_from_box_to_box_by_hand_and_each_side_knows_which_is_newer(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Shared, adopted, changed there, changed here, changed in both places; what would be lost needs a word more."""
    assert standings(shop, "a", capsys) == {"blue-38": "only_here"}
    assert run(shop, "a", "share", "blue-38") == 0
    assert standings(shop, "b", capsys) == {"blue-38": "new"}
    assert run(shop, "b", "adopt", "blue-38") == 0
    assert shelf(shop, "b") == BLUE
    assert standings(shop, "b", capsys) == {"blue-38": "same"}
    (shop / "a" / "recipes" / "blue-38.yaml").write_text(STRONGER)
    assert standings(shop, "a", capsys) == {"blue-38": "newer_here"}
    assert run(shop, "a", "share", "blue-38") == 0
    assert standings(shop, "b", capsys) == {"blue-38": "newer_there"}
    assert run(shop, "b", "shared") == 0
    said = capsys.readouterr().out
    assert "blue-38: changed there\n  -dose_mj_cm2: 60.0\n  +dose_mj_cm2: 75.0\n" in said
    assert shelf(shop, "b") == BLUE  # looking changes nothing
    (shop / "b" / "recipes" / "blue-38.yaml").write_text(OTHER)
    assert standings(shop, "b", capsys) == {"blue-38": "apart"}
    for word in ("adopt", "share"):
        assert run(shop, "b", word, "blue-38") == 2
        assert "would be lost" in capsys.readouterr().err
    assert (shelf(shop, "b"), (shop / "common" / "blue-38.yaml").read_text()) == (OTHER, STRONGER)
    assert run(shop, "b", "adopt", "blue-38", "--replace") == 0
    assert shelf(shop, "b") == STRONGER


def test_bad_files_are_named_and_nothing_is_written(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the folder, and on the shelf; a name that is in neither place."""
    (shop / "common" / "blue-38.yaml").write_text(BLUE.replace("dose_mj_cm2: 60.0", "dose_mj_cm2: -6"))
    (shop / "common" / "Über.yaml").write_text(BLUE)
    assert run(shop, "a", "shared") == 0
    said = capsys.readouterr().out
    assert "blue-38: cannot be used\n  blue-38.yaml, line 4: dose_mj_cm2: input should be greater" in said
    assert "Über: cannot be used" in said
    for words in (("adopt", "blue-38", "--replace"), ("adopt", "Über"), ("adopt", "../a"), ("share", "green")):
        assert run(shop, "a", *words) == 2
    assert shelf(shop, "a") == BLUE
    assert sorted(path.name for path in (shop / "a" / "recipes").iterdir()) == ["blue-38.yaml"]
    (shop / "common" / "blue-38.yaml").write_text(BLUE)
    (shop / "a" / "recipes" / "blue-38.yaml").write_text("resist: [")
    assert run(shop, "a", "adopt", "blue-38") == 2
    assert run(shop, "a", "adopt", "blue-38", "--replace") == 0
    assert shelf(shop, "a") == BLUE


def test_a_full_disk_leaves_the_shelf_as_it_was(
    shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The recipe itself, and the note of what was shared."""

    def full(*_: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    assert run(shop, "a", "share", "blue-38") == 0
    monkeypatch.setattr("sumlight.store.recipes.replace_file", full)
    assert run(shop, "b", "adopt", "blue-38") == 2
    assert "No space left" in capsys.readouterr().err
    assert list((shop / "b" / "recipes").iterdir()) == []
    monkeypatch.undo()
    monkeypatch.setattr("sumlight.store.sharing.replace_file", full)
    for box, word in (("a", "share"), ("b", "adopt")):
        assert run(shop, box, word, "blue-38") == 2
        assert "No space left" in capsys.readouterr().err


def test_a_lost_or_damaged_note_of_what_was_adopted_only_forgets(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Then nobody knows which side is newer, and nothing is replaced without a word."""
    assert run(shop, "a", "share", "blue-38") == 0
    (shop / "common" / "blue-38.yaml").write_text(STRONGER)
    note = shop / "a" / "recipes" / sharing.ADOPTED
    assert standings(shop, "a", capsys) == {"blue-38": "newer_there"}
    for text in ("{", "[]", '{"blue-38": {"sha256": 1}}', "[" * 100_000):
        note.write_text(text)
        assert standings(shop, "a", capsys) == {"blue-38": "apart"}


def git(folder: Path, *words: str) -> str:
    """Git itself, which judges what version a file is."""
    who = ["-c", "user.name=Nobody", "-c", "user.email=nobody@shop.example", "-c", "init.defaultBranch=main"]
    return subprocess.run(
        ["git", *who, "-C", str(folder), *words], check=True, capture_output=True, text=True
    ).stdout.strip()


def test_of_a_git_work_tree_the_commit_is_kept_and_pull_fetches_what_is_new(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The commit that changed this very file; none for a text that is not committed. Two histories are not merged."""
    origin = shop / "origin"
    origin.mkdir()
    git(origin, "init")
    (origin / "blue-38.yaml").write_text(BLUE)
    git(origin, "add", ".")
    git(origin, "commit", "-m", "first")
    first = git(origin, "rev-parse", "HEAD")
    (shop / "common").rmdir()
    git(shop, "clone", str(origin), "common")
    (origin / "readme.txt").write_text("of another file\n")
    git(origin, "add", ".")
    git(origin, "commit", "-m", "second")
    assert run(shop, "b", "shared", "--pull") == 0
    assert git(shop / "common", "log", "-1", "--format=%s") == "second"
    assert run(shop, "b", "adopt", "blue-38") == 0
    assert f"version {first[:10]}" in capsys.readouterr().out
    kept = json.loads((shop / "b" / "recipes" / sharing.ADOPTED).read_text())
    assert kept["blue-38"]["version"] == first
    (shop / "common" / "blue-38.yaml").write_text(STRONGER)
    assert run(shop, "b", "adopt", "blue-38") == 0
    kept = json.loads((shop / "b" / "recipes" / sharing.ADOPTED).read_text())
    assert kept["blue-38"]["version"] == ""
    git(shop / "common", "commit", "-am", "mine")
    (origin / "blue-38.yaml").write_text(OTHER)
    git(origin, "commit", "-am", "theirs")
    assert run(shop, "b", "shared", "--pull") == 2
    assert (shop / "common" / "blue-38.yaml").read_text() == STRONGER


def lamps(shop: Path, box: str, lamp_type: str, wavelength: str, *, calibrated: bool) -> None:
    """What the logbook of a box says of its lamps."""
    with Logbook(shop / box / "logbook.sqlite") as book:
        book.lamps.add_lamp_use("lower", 3600.0, 3)
        tube = NewTube(1, lamp_type, wavelength)
        book.calibrations.add_metrology(LampsFitted("lower", 1, lamp_type, later(0).isoformat(), (tube,)))
        made = [("teach", 1)] + [("radiometer", 1)] * calibrated + [("radiometer", 0)]  # the last: of former lamps
        for origin, lamp_set in made:
            record = CalibrationRecord(origin, "below", "lower", lamp_set, -0.7, 0.05, 0.01, 1.0, later(1).isoformat())
            book.calibrations.add_metrology(record)


@pytest.mark.parametrize(
    ("there", "here", "said"),
    [
        (("T8 15 W", "365", True), ("LED bar", "365", True), []),
        (("T8 15 W", "365", False), ("T8 15 W", "365", True), ["Not calibrated there"]),
        (("T8 15 W", "365", True), ("LED bar", "365", False), ["there T8 15 W, here LED bar", "Not calibrated here"]),
        (("T8 15 W", "365", True), ("LED bar", "405", True), ["another wavelength"]),
    ],
)
def test_moving_to_other_lamps_warns_unless_both_boxes_are_calibrated(
    there: tuple[str, str, bool], here: tuple[str, str, bool], said: list[str],
    shop: Path, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """A teach-in is no calibration, nor is one of lamps that were changed; a resist's answer depends on wavelength."""
    for box, (lamp_type, wavelength, calibrated) in (("a", there), ("b", here)):
        lamps(shop, box, lamp_type, wavelength, calibrated=calibrated)
    assert run(shop, "a", "share", "blue-38") == 0
    assert run(shop, "b", "adopt", "blue-38", "--json") == 0
    warnings = json.loads(capsys.readouterr().out.splitlines()[-1])["warnings"]
    assert len(warnings) == len(said)
    assert all(word in warning for word, warning in zip(said, warnings, strict=True))


def test_a_recipe_of_which_nobody_says_its_light_warns(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Written by hand, or changed since it was shared; a time holds for one box; without a dose there is nothing."""
    words = {
        BLUE: "under which lamps",
        BLUE.replace("dose_mj_cm2: 60.0", "draft_lit_s: 60.0"): "lit by time",
        BLUE.replace("dose_mj_cm2: 60.0", "dose_unknown: true"): None,
    }
    assert run(shop, "a", "share", "blue-38") == 0
    for text, word in words.items():
        (shop / "common" / "blue-38.yaml").write_text(text + "# by hand\n")
        capsys.readouterr()
        assert run(shop, "b", "adopt", "blue-38", "--replace") == 0
        said = capsys.readouterr().out
        assert ("test strip" in said) is (word is not None)
        assert word is None or word in said


def test_a_running_exposure_keeps_the_recipe_that_it_began_with(tmp_path: Path) -> None:
    """Dose and text; the next panel takes what was adopted."""
    bench, common = BenchBox(tmp_path / "box"), tmp_path / "common"
    bench.light_up(dose_mj_cm2=30)
    name = "special"
    before = (bench.data / RECIPES / f"{name}.yaml").read_text()
    common.mkdir()
    (common / f"{name}.yaml").write_text(recipe_text(dose_mj_cm2=500))
    assert main(["recipes", "adopt", name, str(common), "--data", str(bench.data), "--replace"]) == 0
    bench.until(lambda: bench.snapshot()["state"] == "done", 60)
    (side,) = bench.snapshot()["exposure"]["sides"]
    assert side["dose_mj_cm2"] == pytest.approx(30, rel=0.05)
    with bench.logbook() as book:
        found = book.exposure(1)
    assert found is not None
    assert found["recipe_text"] == before
    assert RecipeStore(bench.data / RECIPES).load(name).recipe.dose_mj_cm2 == 500
    bench.daemon.close()
