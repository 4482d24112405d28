"""The benchmark `lies` can fail, and what tells its lies knows nothing of what finds them."""

from pathlib import Path

import pytest

import sumlight
from sumlight.control.calibration.expected_light import LightJudge
from tests.benchmarks import lies, lies_told
from tests.worlds.test_apart import imported, shared

FIRMWARE = Path(sumlight.__file__).parent
TELLING = [Path(str(module.__file__)) for module in (lies, lies_told)]
FINDING = [
    FIRMWARE / "box" / "meter_proof.py",
    FIRMWARE / "light" / "plausible.py",
    FIRMWARE / "light" / "fingerprint.py",
    FIRMWARE / "light" / "lampsigns.py",
    FIRMWARE / "control" / "calibration" / "expected_light.py",
    FIRMWARE / "control" / "calibration" / "seen_light.py",
    FIRMWARE / "control" / "calibration" / "forecast.py",
    FIRMWARE / "control" / "calibration" / "lamp_colour.py",
    FIRMWARE / "control" / "safety" / "light_monitor.py",
]
ELSEWHERE = {
    "0.8": "review F: the diffuser at 0.80; and an invented stack",
    "0.03": "review B: a chip clock 3 % off",
    "60": "review F: the sensor moved by 60 mm; and a rest of a minute",
    "6": "the driver, after DS001047: the register of a UV sensor's gain and time",
    "100": "per cent",
    "25": "review B: ATIME at 25",
    "0.004": "review F: lines and band 0.4 %/K apart",
}
"""Numbers of the review, which the code that finds lies may hold for reasons of its own."""


def test_lies_are_told_without_what_finds_them() -> None:
    """Neither a module nor a number of it."""
    telling = {path.name: path.read_text(encoding="utf-8") for path in TELLING}
    for source in telling.values():
        assert "sumlight.light" not in source
        assert "sumlight.control" not in source
        assert "sumlight" in imported(source)
    finding = {path.name: path.read_text(encoding="utf-8") for path in FINDING}
    found = shared(finding, telling)
    assert [told for told in found if told.split(":")[0] not in ELSEWHERE] == []


@pytest.mark.parametrize("name", ["LEDs of 395 nm, 61 mJ/cm²", "bit 12 of 415 nm stuck at 0"])
def test_a_box_that_is_blind_to_it_believes_a_lie(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """So the benchmark's nought is one that could be otherwise."""
    lie = next(lie for lie in lies_told.LIES if lie.name == name)
    assert not lies.told(lie).completed
    for judge in ("strength", "early", "settled"):
        monkeypatch.setattr(LightJudge, judge, lambda *_: None)
    assert lies.told(lie).lied


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("diffuser at 0.92 within", "within an earlier panel"),
        ("diffuser at 0.80 from the start", "run the self-check"),
        ("diffuser at 0.80, looked at first", ""),
        ("diffuser at 0.90, found and left", "nobody has applied it"),
        ("LEDs of 405 nm for 365 of the same UV-A, by a UV sensor", ""),
        ("LEDs of 405 nm for 365 built in, by a UV sensor", "light since the calibration"),
        ("the UV sensor's window at 0.85, by both", "violet beside UV changed"),
        ("chip clock 3 % slow", ""),
        ("tubes of another phosphor", ""),
        ("LEDs of 385 nm put in unsaid, 7 mJ/cm², by a UV sensor", "the lamps start unlike"),
    ],
)
def test_what_is_completed_is_inside_what_is_stated(name: str, told: str) -> None:
    """And what widens the ± is said while the light is on."""
    outcome = lies.told(next(lie for lie in lies_told.LIES if lie.name == name))
    assert outcome.completed
    assert outcome.inside
    assert told in " ".join(outcome.remarks)


def test_lamps_of_another_kind_are_told_without_colour() -> None:
    """Tubes and LEDs that give a UV sensor the same counts differ by a fifth in what a resist gets."""
    outcome = lies.told(next(lie for lie in lies_told.LIES if lie.name.startswith("LEDs of 385 nm put in unsaid, 61")))
    assert not outcome.completed
    assert outcome.named(("start and ripple unlike",))


@pytest.mark.long
def test_a_few_sound_panels_are_found_no_fault_with() -> None:
    """The benchmark judges a thousand."""
    faults, outside, width, weaker = lies.sound(4)
    assert (faults.measured, outside.measured, weaker.measured) == (0, 0, 0)
    assert width.measured < 6


def test_an_outcome_is_judged_by_the_truth_alone() -> None:
    """Inside, outside, not completed."""
    said = lies.Outcome(40.0, 60.0, 21.0, (), (), "")
    assert (said.completed, said.inside, said.lied) == (True, True, False)
    off = lies.Outcome(40.0, 60.0, 19.0, (), (), "")
    assert (off.inside, off.lied) == (False, True)
    ended = lies.Outcome(3.0, None, 1.0, ("light_unlikely: blue against violet",), (), "")
    assert (ended.lied, ended.named(("violet",)), ended.named(("SMUX",))) == (False, True, False)
