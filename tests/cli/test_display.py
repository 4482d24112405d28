"""The small display: what stands on it, that only what has changed is written, and that it is nobody's page."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight import language
from sumlight.cli import display, main
from sumlight.protocol.client import ControlGoneError
from sumlight.text.message import as_written, say
from sumlight.text.words import WORDS
from tests.catalogue import load
from tests.webui import fake_control as fake


def snapshot(state: str = "idle", **more: Any) -> dict[str, Any]:
    """One as control sends it."""
    return fake.snapshot(state=state, **{"sentence": say("panel_receives_light"), **more})


def lit(left_s: float) -> dict[str, Any]:
    """An exposure with a side under light."""
    side = {"side": "A", "state": "lit", "left_s": left_s}
    return snapshot("light", exposure={"sides": [side, side | {"state": "waiting", "left_s": 900.0}]})


def test_state_and_time_left_stand_above_and_the_next_act_below() -> None:
    """As wide and as high as the display."""
    assert display.lines(lit(75.4), 20, 4) == [
        "Exposing 1:15       ",
        "The panel receives  ",
        "light. Leave the lid",
        "shut.               ",
    ]


def test_a_sentence_that_is_too_long_is_turned_over() -> None:
    """Sheet by sheet, and from the beginning again."""
    shown = [display.lines(lit(5.0), 16, 2, turn)[1].strip() for turn in range(4)]
    assert shown == ["The panel", "receives light.", "Leave the lid", "shut."]
    assert display.lines(lit(5.0), 16, 2, 4) == display.lines(lit(5.0), 16, 2, 0)


def test_every_state_has_words() -> None:
    """Also none at all."""
    from sumlight.protocol.snapshot import STATES

    heads = {display.lines(snapshot(state), 40, 4)[0].strip() for state in STATES}
    assert len(heads) == len(STATES)
    assert display.lines(None, 20, 2) == ["No word from the box", "Look at the box     "]


def test_letters_that_such_displays_lack_are_written_otherwise() -> None:
    """In German, with its umlauts."""
    with language.written_for(language.Reader("de")):
        text = "".join(display.lines(lit(75.0), 40, 4))
    assert text.isascii()
    assert "ae" in text or "ue" in text or "oe" in text


def test_no_letter_of_what_control_says_is_lost() -> None:
    """Every text, in English and German: a question mark stands only where one was written."""
    said = set(WORDS.values())
    texts = [str(text) for message in load("de") if message.id in said for text in (message.id, message.string)]
    assert len(texts) > 500
    for text in texts:
        shown = display.lines(snapshot(sentence=as_written(text)), 40, 2 + len(text))
        assert "".join(shown[1:]).count("?") == text.count("?"), text


def test_only_rows_that_changed_are_written_each_at_its_place() -> None:
    """A thousand bytes take some 23 to 92 ms on such a bus."""
    written: list[str] = []
    display.show([lit(75.0), lit(75.0), lit(74.0), None], written.append, 20, 4, placed=True)
    assert written[0] == display.CLEAR
    assert [text[:7] for text in written[1:6]] == [f"\x1b[Lx0y{row}" for row in (0, 1, 2, 3, 0)]
    assert written[5].endswith("Exposing 1:14       ")
    assert "No word from the box" in written[6]


def test_a_display_that_was_never_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With what to look at; no traceback."""
    device = tmp_path / "not-there" / "lcd"
    assert main(["box", "display", "--device", str(device), "--data", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(f"sumlight: The display {device} cannot be written: No such file or directory. See whether")


def test_a_display_that_goes_while_it_shows_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Linux's /dev/full takes no byte, as a display whose cable was pulled."""
    monkeypatch.setattr(display, "asked", lambda _socket: iter([snapshot()]))
    assert main(["box", "display", "--device", "/dev/full", "--data", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("sumlight: The display /dev/full cannot be written: No space left on device. See whether")


class _Client:
    """Answers, then is gone, then answers again."""

    asked: list[str] = []  # noqa: RUF012 - shared on purpose
    gone = False

    def __init__(self, _path: Path) -> None:
        if _Client.gone:
            _Client.gone = False
            raise ControlGoneError("unreachable", as_written("gone"), sent=False)

    def ask(self, command: str) -> dict[str, Any]:
        """A snapshot."""
        _Client.asked.append(command)
        if len(_Client.asked) == 2:
            _Client.gone = True
            raise ControlGoneError("hung_up", as_written("hung up"), sent=True)
        return snapshot()


def test_it_asks_and_does_not_watch_and_comes_back_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """One that watched would hide from control that the page is gone."""
    monkeypatch.setattr(display, "ControlClient", _Client)
    waits: list[float] = []
    looks: Iterator[dict[str, Any] | None] = iter(display.asked(Path("s"), waits.append))
    seen = [next(looks) is not None for _ in range(4)]
    assert seen == [True, False, False, True]
    assert set(_Client.asked) == {"state"}
    assert waits == [display.LOOK_S] * 3
