"""`sumlight help`: the manual in the terminal."""

import json

import pytest

from sumlight.cli import main, parser
from sumlight.cli.completion import script
from sumlight.manual.topics import TOPICS


def printed(capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    """What `sumlight help` prints."""
    assert main(["help", *words]) == status
    return capsys.readouterr().out


def test_help_lists_every_topic(capsys: pytest.CaptureFixture[str]) -> None:
    """By the name to type and in words."""
    lines = printed(capsys).splitlines()
    assert [line.split()[0] for line in lines[: len(TOPICS)]] == [*TOPICS]
    assert "What the box does" in lines[0]


def test_links_are_their_words_in_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody can press them there."""
    text = printed(capsys, "pages")
    assert "Every key is explained." in " ".join(text.split())
    assert ".md" not in text


@pytest.mark.parametrize("columns", [40, 80, 200])
def test_a_topic_is_printed_in_the_terminals_width(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    """No line is wider, on a wide terminal none is too wide to read; nothing of the files' marks is left."""
    monkeypatch.setenv("COLUMNS", str(columns))
    text = printed(capsys, "dose")
    widest = max(map(len, text.splitlines()))
    assert columns * 0.8 <= widest <= columns or widest == 100
    assert "DOSE, LIGHT AND ±" in text
    assert "Two numbers behind ±" in text
    assert [mark for mark in ("](", "{#", "**", "##", "\x1b") if mark in text] == []


def test_one_thing_is_explained_by_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    """A fault, a key, a command, a word."""
    assert "Look for a dark tube" in printed(capsys, "tube_out")
    assert "Shortest rest" in printed(capsys, "hold_s")
    assert "progress bar" in printed(capsys, "panel", "expose")
    assert "resist stays whole" in printed(capsys, "held", "step")


def test_other_words_are_looked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """Where they stand is told; where nothing does, the topics are, and the exit status says so."""
    assert "access: A lost password" in printed(capsys, "password")
    assert "says nothing about 'zebra'. Its topics: start, first-panel" in printed(capsys, "zebra", status=1)


def test_the_manual_is_had_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """The list, a topic, an entry."""
    every = json.loads(printed(capsys, "--json"))["topics"]
    assert [each["topic"] for each in every] == [*TOPICS]
    assert "tube_out" in every[TOPICS.index("faults")]["entries"]
    faults = json.loads(printed(capsys, "faults", "--json"))
    assert faults["topic"] == "faults"
    assert {"name", "title", "text"} == set(faults["entries"][0])
    (place,) = json.loads(printed(capsys, "hold_s", "--json"))["places"]
    assert place["name"] == "hold_s"
    assert place["topic"] == "recipes"


def test_bash_completes_topics() -> None:
    """After `sumlight help`."""
    assert f'"2 help") words="{" ".join(TOPICS)}"' in script(parser())
