"""`sumlight bath`: sums and refusals on the command line, as people type them."""

import json
from typing import Any

import pytest

from sumlight.cli import main


def told(capsys: pytest.CaptureFixture[str], words: str, status: int = 0) -> str:
    """What it says."""
    assert main(["bath", *words.split()]) == status
    said = capsys.readouterr()
    return said.out + said.err


def found(capsys: pytest.CaptureFixture[str], words: str, status: int = 0) -> dict[str, Any]:
    """The answer as an object."""
    assert main(["bath", *words.split(), "--json"]) == status
    return dict(json.loads(capsys.readouterr().out))


def misread(capsys: pytest.CaptureFixture[str], words: str) -> str:
    """What it says of an option that cannot be read."""
    with pytest.raises(SystemExit) as ended:
        main(["bath", *words.split()])
    assert ended.value.code == 2
    return capsys.readouterr().err


@pytest.mark.parametrize("volume", ["1l", "1", "1,0l", "1000ml", "1.000l", "0.2641720524gal", "33.8140227fl oz"])
def test_a_volume_in_any_unit_is_the_same_litre(capsys: pytest.CaptureFixture[str], volume: str) -> None:
    """A US gallon is 3.785411784 L, 128 fluid ounces (NIST Handbook 44)."""
    assert main(["bath", "mix", "developer", "--volume", volume, "--powder", "dry-powder", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["volume_l"] == pytest.approx(1, rel=1e-8)


@pytest.mark.parametrize(
    ("strength", "wt_percent"),
    [("1%", 1), ("1", 1), ("1,0%", 1), ("10.087g/l", 1), ("1.0087g/cm3", 1), ("1:99water", 1), ("1:100whole", 1)],
)
def test_a_strength_in_any_way_is_the_same_bath(
    capsys: pytest.CaptureFixture[str], strength: str, wt_percent: float
) -> None:
    """1 wt% of soda is 10.087 g/L by a density of 1.0087 (Laliberté and Cooper)."""
    mix = found(capsys, f"mix developer --volume 1l --powder dry-powder --strength {strength}")
    assert mix["wt_percent"]["Na2CO3"] == pytest.approx(wt_percent, rel=1e-4)


def test_the_powder_is_asked_before_anything_is_weighed(capsys: pytest.CaptureFixture[str]) -> None:
    """All four answers are named; two of them ask for the oven."""
    said = told(capsys, "mix developer --volume 1l", 2)
    assert all(answer in said for answer in ("dry-powder", "clear-crystals", "white-and-crumbly", "unknown"))
    unknown = told(capsys, "mix developer --volume 1l --powder unknown", 1)
    assert "Oven check" in unknown
    assert "Stir in" not in unknown
    crystals = found(capsys, "mix developer --volume 1l --strength 1% --oven 10:3.7")
    assert crystals["portions"][1]["mass_g"] == pytest.approx(27.26, abs=0.02)  # 10.087 g / 0.37


def test_a_mix_says_its_echo_then_its_cautions_then_its_steps(capsys: pytest.CaptureFixture[str]) -> None:
    """The danger is told before the hand moves, and the waste at the end."""
    said = told(capsys, "mix peroxide --volume 1l --peroxide 3% --acid 31% --ratio 2:1").splitlines()
    kinds = ["caution" if line[0] == "!" else "step" if line[1:2] == "." else "words" for line in said]
    assert kinds == ["words", *["caution"] * 4, *["step"] * 4, "words", "words"]
    assert "2 of hydrogen peroxide of 3 wt% to 1 volume of hydrochloric acid of 31 wt%" in said[0]
    assert "hold back 21 times the pressure of the air" in said[-2]  # 7.1 L of oxygen into a third of a litre
    assert "waste authority" in said[-1]


@pytest.mark.parametrize(
    "words",
    [
        "mix peroxide --volume 1l --peroxide 35% --acid 31%",
        "mix peroxide --volume 1l --peroxide 100vol --acid 31%",
        "mix peroxide --volume 1l --peroxide 12% --acid 31% --ratio 2:1",
        "mix peroxide --volume 1l --peroxide 3% --acid 31% --ratio 1:1",
        "etch-time aluminium iron --thickness 0.1mm --rate 10um/min",
        "etch-time aluminium peroxide --thickness 0.1mm --rate 10um/min",
        "etch-time zinc caustic --thickness 0.1mm --rate 10um/min",
        "etch-time copper peroxide --thickness 0.1mm --rate 10um/min --open 600cm2 --volume 500ml",
        "meet aluminium stripper",
        "meet stripper tin-lead",
        "waste iron --into peroxide",
        "waste iron --into cupric",
        "neutralise --volume 1l --with soda --acid 2",
        "neutralise --volume 1l --with lye --acid 2 --authority-allows",
    ],
)
def test_what_can_hurt_is_refused_with_no_numbers_left(capsys: pytest.CaptureFixture[str], words: str) -> None:
    """Status 2, nothing on standard output, also with --json."""
    for more in ([], ["--json"]):
        assert main(["bath", *words.split(), *more]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.startswith(("sumlight: Refused:", "sumlight: No answer yet:"))


def test_waste_that_gasses_says_what_a_tight_lid_would_hold_back(capsys: pytest.CaptureFixture[str]) -> None:
    """And waste that does not says nothing of it."""
    assert "hold back 38 times the pressure of the air" in told(capsys, "waste persulfate")
    assert "pressure of the air" not in told(capsys, "waste iron")
    assert found(capsys, "waste iron")["tight_lid"] is None


def test_liquids_that_must_not_meet(capsys: pytest.CaptureFixture[str]) -> None:
    """An answer with status 1, for it was asked."""
    assert found(capsys, "meet bleach acid", 1)["why"] == "any acid with bleach gives off chlorine"
    assert "no licence to mix" in told(capsys, "meet acid iron")
    assert found(capsys, "meet brass iron")["may_meet"]


@pytest.mark.parametrize(
    ("thickness", "rate"), [("150um", "10um/min"), ("0,15mm", "10"), ("5.905511811mil", "0.3937007874mil/min")]
)
def test_an_etch_time_in_either_unit(capsys: pytest.CaptureFixture[str], thickness: str, rate: str) -> None:
    """75 µm from each side at 10 µm/min; first look a fifth before, then every tenth of it."""
    time = found(capsys, f"etch-time brass iron --thickness {thickness} --rate {rate}")
    assert time["time_s"] == pytest.approx(450)
    assert time["looks_s"] == pytest.approx([360, 396, 432, 468, 504])


def test_an_etch_time_is_for_looking_not_for_taking_out(capsys: pytest.CaptureFixture[str]) -> None:
    """Through-etch is seen."""
    said = told(capsys, "etch-time brass iron --thickness 0.2mm --rate 10um/min")
    assert "seen, not timed" in said
    assert "take out at" not in said.lower()


def test_a_bath_loads_itself_and_warmth_doubles_it(capsys: pytest.CaptureFixture[str]) -> None:
    """12.22 min of craft reference A9, half of it 10 °C warmer (95 °F is 35 °C)."""
    words = "etch-time brass iron --thickness 200um --rate 10um/min --open 2dm2 --volume 1l --capacity 50g/l"
    assert found(capsys, words)["time_s"] == pytest.approx(12.22 * 60, abs=0.5)
    assert found(capsys, f"{words} --warmth 25C:95F")["time_s"] == pytest.approx(12.22 * 30, abs=0.5)
    assert "never finishes" in told(capsys, f"{words} --load 70%", 2)


def test_capacity_by_the_strength_of_iron_chloride(capsys: pytest.CaptureFixture[str]) -> None:
    """96.2 g/L of copper for 36 wt% (craft reference A5): 1.79 g of 0.2 mm on a square centimetre are … of it."""
    words = "etch-time copper iron --thickness 200um --rate 10um/min --open 100cm2 --volume 1l --capacity 36%"
    assert found(capsys, words)["load_after"] == pytest.approx(100 * 100e-4 * 8.96 / 96.2, rel=2e-3)
    assert "strength of ferric chloride" in told(capsys, words.replace("iron", "persulfate"), 2)


def test_compensation_and_the_question_about_the_factor(capsys: pytest.CaptureFixture[str]) -> None:
    """A hole of 300 in 150 with factor 2 at k 1.2 is drawn 250 (design §2.5); 0.5 is asked about, not used."""
    words = "compensate opening 0.3mm --thickness 150um"
    assert found(capsys, f"{words} --factor 2")["drawn_um"] == pytest.approx(250, abs=0.5)
    asked = found(capsys, f"{words} --factor 0,5", 1)
    assert "undercut-over-depth" in asked["answers"]
    assert "drawn_um" not in asked
    answered = found(capsys, f"{words} --factor 0,5 --meaning undercut-over-depth")
    assert answered["drawn_um"] == pytest.approx(250, abs=0.5)
    assert "etch_factor must be above 0" in told(capsys, f"{words} --factor 0", 2)


def test_the_smallest_of_a_thickness_with_the_rule_s_name(capsys: pytest.CaptureFixture[str]) -> None:
    """Hole 1.1 T."""
    assert found(capsys, "smallest --thickness 150um")["hole"]["rule"] == "hole at least 1.1 T"
    assert "165 µm   hole at least 1.1 T" in told(capsys, "smallest --thickness 150um")


def test_a_dwell(capsys: pytest.CaptureFixture[str]) -> None:
    """30 s are 60 % of 50."""
    assert found(capsys, "dwell --clear 0:30")["dwell_s"] == pytest.approx(50)


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (
            "mix developer --volume 1spoon --powder dry-powder",
            "'spoon' is not a unit for this. Write the number with one of these: L, mL, gal",
        ),
        ("mix developer --volume x --powder dry-powder", "--volume"),
        ("mix developer --volume 1l --oven 10", "write two, such as 2:1"),
        ("etch-time brass iron --thickness 1,250um --rate 10um/min", "--thickness"),
        ("etch-time brass developer --thickness 0.1mm --rate 10", "invalid choice"),
    ],
)
def test_what_cannot_be_read_is_said(capsys: pytest.CaptureFixture[str], words: str, named: str) -> None:
    """A spoon is no unit; 1,250 has two readings."""
    assert named in misread(capsys, words)


@pytest.mark.parametrize(
    ("words", "named"),
    [
        ("mix iron --volume 1l --stock 42Be", "need their modulus"),
        ("mix iron --volume 1l", "--stock is needed"),
        ("mix iron --volume 1l --stock 72%", "stock_wt_percent must lie between"),
        ("mix developer --volume 1l --powder dry-powder --strength 1:115", "means two things"),
        ("mix developer --volume=-1l --powder dry-powder", "volume_l must lie between 0.02 and 200"),
        ("mix peroxide --volume 1l --peroxide 3%", "--peroxide and --acid are needed"),
        ("etch-time brass iron --thickness=-150um --rate 10um/min", "thickness_um must lie between 5 and 3000"),
        ("etch-time brass iron --thickness 150um --rate 10um/min --depth 80um", "deeper than through"),
        ("etch-time brass iron --thickness 150um --rate 10um/min --capacity 50", "needs --open and --volume"),
        ("etch-time brass iron --thickness 150um --rate 10um/min --open 2dm2", "--open and --volume go together"),
    ],
)
def test_bad_numbers_are_named(capsys: pytest.CaptureFixture[str], words: str, named: str) -> None:
    """Field, value, what is allowed."""
    assert named in told(capsys, words, 2)


def test_a_can_that_counts_the_hexahydrate_is_understood_when_it_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    """72 % of hexahydrate is 43.2 wt% dry (craft reference A4)."""
    mix = found(capsys, "mix iron --volume 1l --stock 72%hydrate --strength 40%")
    assert mix["portions"][1]["mass_g"] == pytest.approx(1416.2 * 40 / 43.21, rel=1e-3)
