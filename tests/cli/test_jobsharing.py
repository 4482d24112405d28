"""`sumlight job share` and `adopt`: what a job is goes through a folder; a person begins it, and nothing is lit."""

import json
import re
from functools import partial
from pathlib import Path

import pytest

from sumlight.store import sharedjobs
from tests.cli.terminal import printed
from tests.control.bench_box import BenchBox

job = partial(printed, "job")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """That boxes share."""
    common = tmp_path / "common"
    common.mkdir()
    return common


def steps(box: BenchBox, job_id: int) -> list[str]:
    """Of a job, as shared jobs have them."""
    return [step["written"] for step in box.ask("job", job_id=job_id)["steps"]]


def test_a_job_with_its_own_plan_and_words_is_begun_again_elsewhere(
    box: BenchBox, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One step moved, one left out, one worded anew, one of a person's own; twice as many panels as one."""
    job(box, capsys, "new", "quick", "--artwork", "gear", "--thickness", "70um", "--metal", "copper", "--wanted", "2")
    box.ask("job_plan", job_id=1, step_id=3, act="up")
    box.ask("job_plan", job_id=1, step_id=4, act="leave_out")
    box.ask("job_plan", job_id=1, step_id=1, act="edit", words="band saw: 40 × 60 (both edges)")
    box.ask("job_plan", job_id=1, step_id=2, act="add", words="a photo\nof both sides")
    assert "shared as gear" in job(box, capsys, "share", "1", str(folder), "--name", "gear")
    lit = box.loop.exposure.running
    told = json.loads(job(box, capsys, "adopt", "gear", str(folder), "--json"))
    assert (told["job_id"], told["labels"], told["other_recipe"]) == (2, ["quick · 3", "quick · 4"], False)
    assert steps(box, 2) == steps(box, 1)
    assert "own (a photo\nof both sides)" in steps(box, 2)
    first, second = (box.ask("job", job_id=number) for number in (1, 2))
    for name in ("metal", "thickness_um", "recipe", "plan"):
        assert second["numbers"][name] == first["numbers"][name]
    assert (second["artwork"], second["wanted"]) == ("gear", 2)
    assert (lit, box.loop.exposure.running) == (False, False)


def test_another_job_of_that_name_is_not_lost(box: BenchBox, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same may be shared again; another needs a word more, and so does a file that cannot be read."""
    job(box, capsys, "new", "quick")
    job(box, capsys, "share", "1", str(folder))
    job(box, capsys, "share", "1", str(folder))
    before = (folder / "quick.job").read_text()
    job(box, capsys, "new", "quick", "--wanted", "3")
    assert "--replace" in job(box, capsys, "share", "2", str(folder), status=2)
    assert (folder / "quick.job").read_text() == before
    job(box, capsys, "share", "2", str(folder), "--replace")
    assert sharedjobs.load(folder, "quick").wanted == 3
    (folder / "quick.job").write_text("plan: [")
    assert "--replace" in job(box, capsys, "share", "2", str(folder), status=2)


def test_a_recipe_that_is_missing_or_another_is_told(
    box: BenchBox, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A job without its recipe is not begun; one with another text is, and it is said."""
    job(box, capsys, "new", "quick")
    job(box, capsys, "share", "1", str(folder))
    path = folder / "quick.job"
    path.write_text(re.sub("recipe_sha256: .*", "recipe_sha256: another", path.read_text()))
    assert "not the text that the job was shared with" in " ".join(
        job(box, capsys, "adopt", "quick", str(folder)).split()
    )
    path.write_text(path.read_text().replace("recipe: quick", "recipe: violet-40"))
    told = job(box, capsys, "adopt", "quick", str(folder), status=2)
    assert f"sumlight recipes adopt violet-40 {folder}" in told
    assert len(box.ask("jobs")["jobs"]) == 2


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("thickness_um: ", "thickness_um: -", "thickness_um"),
        ("wanted: 1", "wanted: 500", "wanted"),
        ("wanted: 1", "lamps: on", "lamps"),
        ("- cut", "- expose B", "no such step"),
        ("- cut", "- rm -rf", "no such step"),
        ("- cut", "- own", "no such step"),
        ("plan: board_one", "plan: board_nine", "board_nine"),
        ("metal: ", "metal: un", "metal"),
    ],
)
def test_a_file_with_a_mistake_begins_nothing(
    box: BenchBox, folder: Path, capsys: pytest.CaptureFixture[str], was: str, now: str, words: str
) -> None:
    """Whoever wrote it: the field is named, and the mistake is in plain words."""
    job(box, capsys, "new", "quick")
    job(box, capsys, "share", "1", str(folder))
    path = folder / "quick.job"
    assert was in path.read_text()
    path.write_text(path.read_text().replace(was, now, 1))
    assert words in " ".join(job(box, capsys, "adopt", "quick", str(folder), status=2).split())
    assert len(box.ask("jobs")["jobs"]) == 1


@pytest.mark.parametrize("name", ["../quick", "none", "Quick", ""])
def test_a_name_that_is_none_opens_no_file(
    box: BenchBox, folder: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """It is looked up in the folder or refused; those that are there are named."""
    job(box, capsys, "new", "quick")
    job(box, capsys, "share", "1", str(folder))
    (folder.parent / "quick.job").write_text((folder / "quick.job").read_text())
    told = job(box, capsys, "adopt", name, str(folder), status=2)
    assert ("there are: quick" if name == "none" else "recipe's name") in told
    assert len(box.ask("jobs")["jobs"]) == 1
    assert "is no folder" in job(box, capsys, "adopt", "quick", str(folder / "none"), status=2)
