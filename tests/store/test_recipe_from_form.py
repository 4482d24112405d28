"""Text of a recipe from what a form holds: in order, as typed, and judged as the same text of a file."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import recipe_from_text, recipe_to_text
from tests.store.making import RECIPE_TEXT


def test_form_values_become_orderly_text() -> None:
    """Order of the model, numbers as numbers, text as text, blanks left out; nested or dotted."""
    form = {
        "note": "two\r\nlines",
        "hold_limit_s": " ",
        "resist": "38",
        "dose_mj_cm2": " 62.5 ",
        "thickness_um": "38",
        "sides": "turned",
        "transmission.b": "+0.81",
        "transmission.a": " 0.840 ",
        "time_guard_s": 120,
        "hold_s": "900",
        "interruptions": {"longest_gap_s": "60", "forgiven": "2"},
    }
    text = recipe_to_text(form)
    assert text == (
        "resist: '38'\n"
        "thickness_um: 38\n"
        "sides: turned\n"
        "dose_mj_cm2: 62.5\n"
        "transmission:\n"
        "  a: 0.84\n"
        "  b: 0.81\n"
        "time_guard_s: 120\n"
        "hold_s: 900\n"
        "interruptions:\n"
        "  forgiven: 2\n"
        "  longest_gap_s: 60\n"
        "note: |-\n"
        "  two\n"
        "  lines\n"
    )
    assert recipe_from_text(text, "from-form").recipe.resist == "38"


def test_form_values_that_are_wrong_reach_the_check_as_they_were_typed() -> None:
    """The page shows each message beside its field."""
    form = {"dose_mj_cm2": "sixty", "hold_s": "1_000", "transmission.a": "0,84", "colour": "blue"}
    with pytest.raises(FileProblemsError) as caught:
        recipe_from_text(recipe_to_text(form), "wrong")
    told = {problem.field: problem.message for problem in caught.value.problems}
    assert told["dose_mj_cm2"] == "input should be a valid number (given: 'sixty')"
    assert told["hold_s"] == "input should be a valid number (given: '1_000')"
    assert told["transmission.a"] == "input should be a valid number (given: '0,84')"
    assert told["colour"].startswith("unknown key; known here: resist, ")
    assert told["resist"] == "is missing and has no default"


PRINTABLE = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40)


@pytest.mark.parametrize("odd", ["\x85", "\u2028", "\r", "a\n\n b\r", "- x: 'y'", "# no", "yes", "\ufeff", "\n", " "])
def test_odd_letters_in_a_form_come_back_as_typed(odd: str) -> None:
    """Line ends that only YAML knows, and words that mean something to it."""
    fields = recipe_from_text(RECIPE_TEXT, "base").recipe.model_dump()
    read = recipe_from_text(recipe_to_text({**fields, "resist": f"x{odd}", "note": f"{odd}x"}), "odd").recipe
    assert (read.resist, read.note) == (f"x{odd}", f"{odd}x")


@given(resist=PRINTABLE, note=PRINTABLE, dose_mj_cm2=st.floats(1, 5000))
@pytest.mark.long
def test_any_words_and_numbers_survive_the_way_through_yaml(resist: str, note: str, dose_mj_cm2: float) -> None:
    """Quotes, colons, line ends and odd spaces of a form come back as typed; blanks are left out."""
    fields = {**recipe_from_text(RECIPE_TEXT, "base").recipe.model_dump(), "resist": "x" + resist, "note": note}
    read = recipe_from_text(recipe_to_text({**fields, "dose_mj_cm2": dose_mj_cm2}), "round").recipe
    assert read.resist == ("x" + resist).replace("\r\n", "\n")
    assert read.note == (note.replace("\r\n", "\n") if note.strip() else "")
    assert read.dose_mj_cm2 == dose_mj_cm2


def test_the_order_of_text_from_a_form_is_that_of_the_model() -> None:
    """A key added to the model later finds its place by itself."""
    fields = recipe_from_text(RECIPE_TEXT, "base").recipe.model_dump()
    text = recipe_to_text(dict(reversed(fields.items())))
    assert text == RECIPE_TEXT.replace("86400", "86400.0").replace("900", "900.0").replace(
        "longest_gap_s: 60", "longest_gap_s: 60.0"
    ).replace("dose_mj_cm2: 60", "dose_mj_cm2: 60.0").replace("_um: 38", "_um: 38.0").replace(
        "guard_s: 120", "guard_s: 120.0"
    ).replace("note:", "tolerance: 0.1\nreciprocity_p: 1.0\nnote:")
    assert [line.split(":")[0] for line in text.splitlines() if line[0] != " "] == [
        key for key in Recipe.model_fields if fields[key] is not None
    ]


@given(typed=st.text("0123456789+-._:xobeE", min_size=1, max_size=8))
@pytest.mark.long
def test_a_number_typed_into_a_form_is_judged_as_the_same_one_written_in_a_file(typed: str) -> None:
    """Two ways into a recipe: neither takes what the other refuses, nor for another value."""
    form = {**checkedfile.parse(RECIPE_TEXT, Recipe, "r").model_dump(), "dose_mj_cm2": typed}

    def dose(text: str) -> float | None:
        try:
            return recipe_from_text(text, "r").recipe.dose_mj_cm2
        except FileProblemsError:
            return None

    by_hand = RECIPE_TEXT.replace("dose_mj_cm2: 60\n", f"dose_mj_cm2: {typed}\n")
    assert dose(recipe_to_text(form)) == dose(by_hand)
    plain = typed.lstrip("+-").replace(".", "", 1).isdigit() and not typed.lstrip("+-").startswith("0")
    if not plain:
        assert dose(by_hand) is None


@pytest.mark.parametrize("share", [1e-5, 2.5e-7, 0.1 + 0.2])
def test_a_small_number_is_written_as_a_plain_decimal(share: float) -> None:
    """What the page writes is read again, to the last bit."""
    fields = checkedfile.parse(RECIPE_TEXT, Recipe, "r").model_dump()
    fields["transmission"] = {"a": share, "b": share}
    text = recipe_to_text(fields)
    assert "e-" not in text.split("time_guard_s")[0].split("transmission")[1]
    assert recipe_from_text(text, "r").recipe.transmission.a == share
