"""`sumlight bath new`, `list`, `panel` and `waste` on a running box."""

import json
from functools import partial

import pytest

from tests.cli.terminal import printed
from tests.control.bench_box import BenchBox

bath = partial(printed, "bath")


def test_a_bath_goes_from_mixing_to_waste(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """By its number; a wrong container is refused, the right one prints its label."""
    assert "No bath is in use." in bath(box, capsys, "list")
    told = bath(box, capsys, "new", "iron", "--volume", "500ml", "--strength", "1.415g/cm3", "--from", "40")
    assert "bath 1 (ferric chloride)\n0.5 L. 39.9 wt% in the finished bath. Mixed from 40 %." in told
    told = bath(
        *(box, capsys, "panel", "1", "--metal", "copper", "--area", "100", "--depth", "35um"),
        *("--took", "6min", "--warmth", "72F"),
    )
    assert "with 3.14 g of metal" in told
    assert "bath 1 (ferric chloride): It goes on" in bath(box, capsys, "list")
    (taken,) = json.loads(bath(box, capsys, "list", "1", "--json"))["taken"]
    assert (taken["took_s"], round(taken["bath_c"])) == (360, 22)
    assert "Nothing has been in it yet." in bath(box, capsys, "panel", "1", "--back")
    assert "Refused" in bath(box, capsys, "panel", "1", "--metal", "aluminium", status=2)
    assert "Refused" in bath(box, capsys, "waste", "1", "--into", "peroxide", status=2)
    assert "--into is needed" in bath(box, capsys, "waste", "1", status=2)
    assert "WASTE: ferric chloride, used" in bath(box, capsys, "waste", "1", "--into", "iron")
    assert "give one of the two" in bath(box, capsys, "waste", "iron", "--into", "iron", "--emptied", status=2)
    told = bath(box, capsys, "waste", "iron", "--emptied")
    assert "ferric chloride: Emptied on" in told
    assert "waste authority" in told


def test_a_bath_that_gasses_says_why_its_cap_is_vented(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """Of this bath's own strength, where it goes to waste: 250 g/L give 12.6 L of oxygen into a third of a litre."""
    bath(box, capsys, "new", "persulfate", "--volume", "1l", "--strength", "250g/l")
    told = bath(box, capsys, "waste", "1", "--into", "persulfate")
    assert "if all of it fell apart in a container three quarters full" in told
    assert "hold back 38 times the pressure of the air" in told


def test_a_peroxide_bath_beyond_its_limits_is_refused(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """As when it is mixed."""
    words = ("new", "peroxide", "--volume", "1l", "--peroxide", "1.8%", "--acid", "11%")
    assert "1.8 wt% peroxide and 11 wt% acid" in bath(box, capsys, *words)
    assert "too strong to mix from" in bath(box, capsys, *words, "--from", "35", status=2)
    assert "250 g in a litre" in bath(box, capsys, "new", "persulfate", "--volume", "1l", "--strength", "250g/l")
