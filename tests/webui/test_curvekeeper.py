"""The curve as the page keeps it: fetched in pieces, once for all who look."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import pytest

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.series_answers import CURVE_PIECE
from sumlight_web.curvekeeper import KEPT_POINTS, MOST_PIECES, SHOWN_POINTS, CurveKeeper
from sumlight_web.link import ControlLink, Latest, LinkDownError
from tests.webui import fake_control as fake


class Link(ControlLink):
    """Answers from `samples` as control does, and counts."""

    def __init__(self) -> None:
        super().__init__(Path("nowhere"))
        self.samples: list[Any] = []
        self.asked: list[float] = []
        self.fails: Exception | None = None
        self.answer: Callable[[float], Any] = lambda since_s: [p for p in self.samples if p[0] > since_s][:CURVE_PIECE]

    def ask(self, command: str, **fields: object) -> dict[str, Any]:
        """Only ever the curve."""
        assert command == "trace"
        since_s = cast(float, fields["since_s"])
        self.asked.append(since_s)
        if self.fails is not None:
            raise self.fails
        return {"samples": self.answer(since_s)}


def at(mono_s: float, heard: int, exposure_id: int = 5) -> Latest:
    """A snapshot under light."""
    snapshot = fake.lit(mono_s=mono_s)
    snapshot["exposure"]["exposure_id"] = exposure_id
    return Latest(cast(Any, snapshot), 0.0, True, heard)


@pytest.fixture
def link() -> Link:
    """With a curve of fifty seconds."""
    link = Link()
    link.samples = fake.past(1050.0, 1000.0)
    return link


def test_it_is_fetched_in_pieces_and_only_once_a_snapshot(link: Link) -> None:
    """However many look: a thousand points are ten questions, and later ones ask for what is new."""
    keeper = CurveKeeper(link)
    for _ in range(20):
        assert keeper.since(0.0, at(1050.0, 7)) == link.samples
    assert len(link.asked) == 1000 / CURVE_PIECE + 1  # the last piece was full: there might have been more
    link.samples = fake.past(1052.0, 1000.0)
    assert keeper.since(1049.0, at(1052.0, 8)) == [p for p in link.samples if p[0] > 1049.0]
    assert link.asked[11:] == [1049.95]


@pytest.mark.parametrize("later", [at(1050.0, 8, exposure_id=6), at(3.0, 8)])
def test_another_panel_and_a_box_begun_anew_have_a_curve_of_their_own(link: Link, later: Latest) -> None:
    """Nothing of the one before is shown."""
    keeper = CurveKeeper(link)
    keeper.since(0.0, at(1050.0, 7))
    link.samples = [[1.0, "A", 3.0, 0.5]]
    assert keeper.since(0.0, later) == link.samples


def test_a_snapshot_a_little_older_than_the_curve_throws_nothing_away(link: Link) -> None:
    """The curve is asked for after it, so its last point may be the newer one."""
    keeper = CurveKeeper(link)
    assert len(keeper.since(0.0, at(1048.0, 7))) == 1000
    assert len(keeper.since(0.0, at(1048.1, 8))) == 1000
    assert link.asked.count(0.0) == 1


@pytest.mark.parametrize("trouble", [LinkDownError("gone", sent=False), BadRequestError("refused", cast(Any, "no"))])
def test_what_is_known_stays_while_control_is_silent(link: Link, trouble: Exception) -> None:
    """And is filled up afterwards."""
    keeper = CurveKeeper(link)
    keeper.since(0.0, at(1050.0, 7))
    link.fails = trouble
    assert len(keeper.since(0.0, at(1051.0, 8))) == 1000
    link.fails, link.samples = None, fake.past(1052.0, 1000.0)
    assert keeper.since(0.0, at(1052.0, 9)) == link.samples


def test_without_an_exposure_nobody_is_asked(link: Link) -> None:
    """There is no curve."""
    assert CurveKeeper(link).since(0.0, Latest(cast(Any, fake.snapshot()), 0.0, True, 3)) == []
    assert link.asked == []


def test_two_sides_stay_apart_and_in_order(link: Link) -> None:
    """Both lit at once: the points of one moment come together."""
    link.samples = sorted([t / 5, side, 2.0, 0.1] for t in range(1, 400) for side in "AB")
    assert CurveKeeper(link).since(0.0, at(80.0, 1)) == link.samples


def test_a_long_curve_keeps_its_dips(link: Link) -> None:
    """A pause of one reading among thousands is still in the picture, and no more is kept than needed."""
    link.samples = [[n / 5, "A", 0.0 if n in (777, 6500) else 4.0, 0.0] for n in range(1, 7001)]
    keeper = CurveKeeper(link)
    shown = keeper.since(0.0, at(1400.0, 1))
    assert len(shown) <= SHOWN_POINTS
    assert [p[0] for p in shown if p[2] == 0.0] == [777 / 5, 1300.0]
    assert KEPT_POINTS / 4 < sum(map(len, keeper._sides.values())) <= KEPT_POINTS


def test_a_control_that_talks_nonsense_is_left_alone(link: Link) -> None:
    """What is no point is dropped, and one that always has more is not heard for ever."""
    keeper = CurveKeeper(link)
    link.answer = lambda since_s: ["x", [1.0], [2.0, 3, 4.0, 5.0], [3.0, "A", "high", 0.0], [4.0, "A", 1.0, 0.0]]
    assert keeper.since(0.0, at(10.0, 1)) == [[4.0, "A", 1.0, 0.0]]
    link.answer = lambda since_s: [[since_s + n / 1000, "A", 1.0, 0.0] for n in range(1, CURVE_PIECE + 1)]
    link.asked.clear()
    keeper.since(0.0, at(11.0, 2))
    assert len(link.asked) == MOST_PIECES
    link.answer = lambda since_s: None
    keeper.since(0.0, at(12.0, 3))
