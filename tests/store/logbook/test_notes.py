"""Note and result of an exposure, and finding exposures by what is known of them."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.search import condition
from tests.webui.test_drafts import panel
from tests.webui.test_panels import record


def test_note_and_result_are_replaced_and_carry_a_name(tmp_path: Path) -> None:
    """Who wrote last is kept."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook:
        logbook.put_note(number, "new", "etched well", "Ada")
        row = logbook.exposure(number)
    assert row is not None
    assert (row["note"], row["result"], row["noted_by"]) == ("new", "etched well", "Ada")


def test_a_verdict_is_kept_and_the_question_is_over(tmp_path: Path) -> None:
    """Only a panel lit by time is asked about, and only until somebody has answered."""
    record(tmp_path / "logbook.sqlite")
    draft = panel(tmp_path)
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook:
        assert [row["exposure_id"] for row in logbook.unjudged()] == [draft]
        logbook.put_verdict(draft, "too_little", "Ada")
        row = logbook.exposure(draft)
        assert logbook.unjudged() == []
    assert row is not None
    assert (row["verdict"], row["judged_by"]) == ("too_little", "Ada")


def test_a_verdict_of_another_name_is_refused_by_the_file(tmp_path: Path) -> None:
    """It would be a question that nobody asked."""
    number = panel(tmp_path)
    with (
        Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook,
        pytest.raises(LogbookError),
    ):
        logbook.put_verdict(number, "excellent", "Ada")


def test_a_note_on_nothing_changes_nothing(tmp_path: Path) -> None:
    """It must not become an error that keeps the next panel from starting."""
    record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook:
        logbook.put_note(99, "x", "y", "Ada")
        assert logbook.exposure(99) is None


def test_versions_count_panels_by_text(tmp_path: Path) -> None:
    """Newest first."""
    for _ in range(2):
        record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook:
        (version,) = logbook.recipe_versions("blue-38")
        assert version["panels"] == 2
        assert version["recipe_text"].startswith("resist:")
        assert logbook.recipe_versions("other") == []


@pytest.mark.parametrize("text", ["'; DROP TABLE panels; --", "%", "_", "\\", '"'])
def test_what_is_looked_for_is_never_part_of_the_question(tmp_path: Path, text: str) -> None:
    """Values are bound, wildcards taken literally."""
    record(tmp_path / "logbook.sqlite", f"a{text}b")
    record(tmp_path / "logbook.sqlite", "other")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook:
        assert [row["panel"] for row in logbook.find({"panel": text})] == [f"a{text}b"]


def test_unknown_and_empty_wishes_ask_for_nothing() -> None:
    """So that a link from a newer page does not fail."""
    assert condition({"panel": "", "colour": "red"}) == ("1", [])


def test_times_bound_from_one_side_or_both(tmp_path: Path) -> None:
    """The end is excluded."""
    record(tmp_path / "logbook.sqlite")
    began = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as logbook:
        at = began.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"
        after = (began + timedelta(seconds=1)).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"
        assert len(logbook.find({"from_utc": at})) == 1
        assert len(logbook.find({"until_utc": at})) == 0
        assert len(logbook.find({"from_utc": at, "until_utc": after})) == 1
