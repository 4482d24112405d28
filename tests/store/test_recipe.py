"""What a recipe may say, and what it is told when it says something else."""

import pytest

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipe import Recipe

ONE_SIDE = """\
resist: Invented film
thickness_um: 38
sides: one
dose_mj_cm2: 60
transmission: {a: 0.84}
time_guard_s: 120
hold_s: 900
interruptions: {forgiven: 2, longest_gap_s: 60}
"""

PLAIN = (
    "is not written as a plain decimal (given: {}; YAML would take it for {}). Write a number like 60, 0.84 or -3, "
    "without leading zeros, exponents, colons or underscores; quote a text"
)


MISSING = "dose_mj_cm2: is missing; a recipe of a known time has draft_lit_s instead, one of neither dose_unknown: true"


def changed(key: str, value: str | None) -> str:
    """The recipe with another value for one key, or without that key."""
    lines = [line for line in ONE_SIDE.splitlines() if not line.startswith(f"{key}:")]
    return "\n".join(lines if value is None else [*lines, f"{key}: {value}"]) + "\n"


def problems(text: str) -> list[str]:
    """Every mistake as field and message."""
    with pytest.raises(FileProblemsError) as caught:
        checkedfile.parse(text, Recipe, "recipe.yaml")
    return [f"{problem.field}: {problem.message}" for problem in caught.value.problems]


def test_a_recipe_for_one_side_needs_no_more_than_this() -> None:
    """What is left out has a harmless default."""
    recipe = checkedfile.parse(ONE_SIDE, Recipe, "recipe.yaml")
    assert recipe.side_names() == ("A",)
    assert recipe.transmission_of("A") == 0.84
    assert (recipe.hold_limit_s, recipe.note) == (None, "")


@pytest.mark.parametrize("sides", ["turned", "together"])
def test_a_recipe_for_two_sides_has_a_transmission_for_each(sides: str) -> None:
    """Film and sheet may differ between the faces."""
    text = changed("sides", sides).replace("{a: 0.84}", "{a: 0.84, b: 1}")
    recipe = checkedfile.parse(text, Recipe, "recipe.yaml")
    assert recipe.side_names() == ("A", "B")
    assert (recipe.transmission_of("A"), recipe.transmission_of("B")) == (0.84, 1.0)


def test_two_sides_with_one_transmission_are_refused() -> None:
    """It is not guessed from side A."""
    assert problems(changed("sides", "turned")) == [
        "transmission.b: is missing: two sides are exposed, so B needs its value"
    ]


@pytest.mark.parametrize("dose_mj_cm2", ["1", "5", "500", "5000", "62.5"])
def test_ordinary_doses_are_accepted(dose_mj_cm2: str) -> None:
    """5 to 500 mJ/cm² are ordinary; some room on both sides."""
    text = changed("dose_mj_cm2", dose_mj_cm2)
    assert checkedfile.parse(text, Recipe, "recipe.yaml").dose_mj_cm2 == float(dose_mj_cm2)


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("dose_mj_cm2", "-60", "dose_mj_cm2: input should be greater than or equal to 1 (given: -60)"),
        ("dose_mj_cm2", "0", "dose_mj_cm2: input should be greater than or equal to 1 (given: 0)"),
        ("dose_mj_cm2", "5001", "dose_mj_cm2: input should be less than or equal to 5000 (given: 5001)"),
        ("dose_mj_cm2", ".nan", f"dose_mj_cm2: {PLAIN.format('.nan', 'nan')}"),
        ("dose_mj_cm2", ".inf", f"dose_mj_cm2: {PLAIN.format('.inf', 'inf')}"),
        ("dose_mj_cm2", "60 mJ", "dose_mj_cm2: input should be a valid number (given: '60 mJ')"),
        ("dose_mj_cm2", "60,5", "dose_mj_cm2: input should be a valid number (given: '60,5')"),
        ("dose_mj_cm2", "yes", "dose_mj_cm2: input should be a valid number (given: True)"),
        ("dose_mj_cm2", "", MISSING),
        ("transmission", "{a: 0}", "transmission.a: input should be greater than 0 (given: 0)"),
        ("transmission", "{a: 1.01}", "transmission.a: input should be less than or equal to 1 (given: 1.01)"),
        ("transmission", "{b: 0.8}", "transmission.a: is missing and has no default"),
        ("transmission", "0.84", "transmission: needs keys of its own: a, b (given: 0.84)"),
        ("sides", "both", "sides: input should be one of 'one', 'turned', 'together' (given: 'both')"),
        ("hold_limit_s", "900", "hold_limit_s: must be longer than hold_s (900 s) or be left out"),
        ("resist", "''", "resist: should not be empty (given: '')"),
        (
            "interruptions",
            "{forgiven: 1.5, longest_gap_s: 60}",
            "interruptions.forgiven: input should be a valid integer (given: 1.5)",
        ),
        (
            "etch_rates_um_min",
            "{brass: {iron: 0}}",
            "etch_rates_um_min.brass.iron: input should be greater than or equal to 0.01 (given: 0)",
        ),
        (
            "etch_rates_um_min",
            "{brass: {beer: 4}}",
            "etch_rates_um_min.brass.beer: bath must be one of iron, persulfate, peroxide, cupric, caustic, not 'beer'",
        ),
        (
            "etch_rates_um_min",
            "{aluminium: {peroxide: 4}}",
            "etch_rates_um_min.aluminium.peroxide: Refused: aluminium does not go into peroxide bath: it heats the "
            "bath until it boils over, and gives off hydrogen. Take another metal.",
        ),
        (
            "etch_rates_um_min",
            "{brass: 4}",
            "etch_rates_um_min.brass: input should be keys with values of their own (given: 4)",
        ),
        ("doze_mj_cm2", "60", f"doze_mj_cm2: unknown key; known here: {', '.join(Recipe.model_fields)}"),
    ],
)
def test_a_value_out_of_bounds_is_named_with_what_is_allowed(key: str, value: str, message: str) -> None:
    """Field, rule and the value given, in one sentence."""
    assert problems(changed(key, value)) == [message]


REQUIRED = [key for key, field in Recipe.model_fields.items() if field.is_required()]


@pytest.mark.parametrize("key", REQUIRED)
def test_a_missing_value_is_never_made_up(key: str) -> None:
    """Dose, guard, hold and tolerance of interruptions have no default."""
    assert problems(changed(key, None)) == [f"{key}: is missing and has no default"]


def test_what_decides_the_work_is_required() -> None:
    """A default slipped in for one of these would go unnoticed on a panel."""
    decides = {"sides", "transmission", "time_guard_s", "hold_s", "interruptions"}
    assert decides <= set(REQUIRED)


def test_a_recipe_without_anything_that_ends_its_light_is_refused() -> None:
    """Nor does `dose_unknown: false` end it."""
    assert problems(changed("dose_mj_cm2", None)) == [MISSING]
    assert problems(changed("dose_mj_cm2", None) + "dose_unknown: false\n") == [MISSING]


@pytest.mark.parametrize("other", ["draft_lit_s: 60", "dose_unknown: true"])
def test_one_thing_only_ends_the_light(other: str) -> None:
    """Else nobody knows which of two was meant."""
    (told,) = problems(ONE_SIDE + other + "\n")
    assert told == f"{other.split(':')[0]}: only one of dose_mj_cm2, draft_lit_s and dose_unknown may be given"


def test_a_draft_has_a_time_within_its_guard() -> None:
    """A guard that ends it sooner would make every panel a fault."""
    draft = changed("dose_mj_cm2", None)
    recipe = checkedfile.parse(draft + "draft_lit_s: 119.5\n", Recipe, "recipe.yaml")
    assert (recipe.is_draft, recipe.draft_lit_s, recipe.dose_mj_cm2) == (True, 119.5, None)
    assert problems(draft + "draft_lit_s: 120\n") == ["time_guard_s: must be longer than the time of the draft (120 s)"]
    assert problems(draft + "draft_lit_s: 8:00\n") == [f"draft_lit_s: {PLAIN.format('8:00', 480)}"]
