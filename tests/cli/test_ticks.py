"""The terminal says how fast this computer ticks when that matters, and only then."""

import math
import re
from typing import Any

import pytest

from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.cli import commission, main, rigs
from sumlight.cli.ticks import RateTeller
from sumlight.control.daemon import SOCKET
from sumlight.control.pace import TickRate
from tests.cli.terminal import at_terminal
from tests.control.bench_box import BenchBox

NEEDED = f"{needed_ticks_hz():.0f} needed"


class Machine(TickRate):
    """Real time as it would be on a machine that manages so many ticks a second."""

    def __init__(self, ticks_hz: float) -> None:
        super().__init__(needed_ticks_hz(), real_time=True)
        self._step_s = 1 / ticks_hz
        self._real_s = 0.0

    def ticked(self, _: float, *, held: bool) -> None:
        """So much later."""
        self._real_s += self._step_s
        super().ticked(self._real_s, held=held)


@pytest.mark.parametrize(
    ("ticks_hz", "told"),
    [
        (195.0, []),
        (175.0, ["only just fast enough"]),
        (150.0, ["too slow"]),  # told once more when light has ended
    ],
)
def test_expose_tells_the_rate_where_it_is_near_or_below_what_is_needed(
    box: BenchBox, capsys: pytest.CaptureFixture[str], ticks_hz: float, told: list[str]
) -> None:
    """With the figure, beside the bar; nothing on a machine that is fast enough.

    Snapshots come ten times a real second, here while the box lives through any number of its own: the word before
    light has ended may be missed, which `test_each_word_comes_once_until_it_gets_worse` looks at.
    """
    box.loop.rate = Machine(ticks_hz)
    at_terminal(box, lambda: main(["panel", "expose", "long", "--data", str(box.data)]))
    said = " ".join(capsys.readouterr().err.split())
    words = re.findall(rf"This computer is ([a-z ]+): {ticks_hz:.0f} ticks a second, {NEEDED}", said)
    assert said.count("ticks a second") == len(words)
    assert [word for word in words if word != "getting too slow"] == told


def test_a_guided_series_tells_it_too(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """As `panel tablet`, `strip` and the others show it. Its light lasts long enough for a snapshot, however fast."""
    box.loop.rate = Machine(175.0)

    def series() -> None:
        with rigs.RunningBench(box.data) as bench:
            bench.begin("long", kind="steady", panel="steady light", seconds=90)
            bench.follow()

    at_terminal(box, series)
    assert capsys.readouterr().out.count(f"175 ticks a second, {NEEDED}") == 1


def test_commissioning_tells_it_too(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """Before a step is asked for."""
    box.loop.rate = Machine(175.0)
    box.run(2.0)
    box.loop.hurry(math.inf)  # as with a step under way: a box at rest counts no ticks
    at_terminal(box, lambda: commission.TerminalOperator(box.data / SOCKET, "A. Nyone")._look())
    assert capsys.readouterr().out.count(f"175 ticks a second, {NEEDED}") == 1


def snapshot(measured_hz: float | None, needed_hz: float | None = 165.0, *faults: dict[str, Any]) -> dict[str, Any]:
    """As much of control's picture as is looked at."""
    return {"faults": list(faults), "ticks": {"measured_hz": measured_hz, "needed_hz": needed_hz}}


def test_each_word_comes_once_until_it_gets_worse() -> None:
    """A rate that swings about a limit does not fill the screen."""
    teller = RateTeller()
    fault = {"name": "too_slow", "detail": "this computer is too slow: 150 ticks a second, 165 needed"}
    told = [
        teller.words(one)
        for one in (
            snapshot(199.0),
            snapshot(181.0),
            snapshot(199.0),
            snapshot(180.0),
            snapshot(160.0),
            snapshot(166.0),
            snapshot(198.0, 165.0, fault),
            snapshot(198.0, 165.0, fault),
        )
    ]
    assert [number for number, words in enumerate(told) if words] == [1, 4, 6]
    assert "181 ticks" in str(told[1])
    assert "160 ticks" in str(told[4])
    assert "150 ticks" in str(told[6])


@pytest.mark.parametrize(("measured_hz", "needed_hz"), [(None, 165.0), (100.0, None), (None, None)])
def test_nothing_is_told_without_a_rate_or_a_need(measured_hz: float | None, needed_hz: float | None) -> None:
    """A twin at another speed; a box without K1."""
    assert RateTeller().words(snapshot(measured_hz, needed_hz)) is None
