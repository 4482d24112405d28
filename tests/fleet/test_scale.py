"""The chapter *Ten thousand boxes*: its sums, and that its words are those of the command; figures may be older."""

import re

from tests.fleet.scale import TEXT, chapter


def without_figures(text: str) -> str:
    """A full run of a benchmark changes figures of the table, and the chapter only when it is written anew."""
    return re.sub(r"\d[\d.,]*", "#", text)


def test_the_chapter_is_what_the_command_writes() -> None:
    """Run `python -m tests.fleet.scale` after a change."""
    assert without_figures(TEXT.read_text(encoding="utf-8")) == without_figures(chapter())


def test_its_sums_are_right() -> None:
    """10,000 × 40 records: 400,000 a day, 4.63 a second (86,400 s), 146 million a year; states: 333 + 100."""
    text = chapter()
    for said in (
        "| records, 40 a day of each box | 4.6 1/s",
        "| states, each 30 s, under light each 2 s | 433 1/s",
        "400,000 records wait",
    ):
        assert said in text
    assert "146 million records a year" in text
    assert "monthly partitions of 12 million" in text
    assert "100 sites of 100 boxes" in text
