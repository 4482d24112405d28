"""Recipes that are changed keep a person's comments; two libraries never judge one file differently."""

import hashlib
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from sumlight import checkedfile
from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipes import RecipeChangedError, RecipeStore, recipe_from_text
from sumlight.store.rewriting import CommentsLostError, DiffersError, comments, read_again, rewritten
from tests.store.hostile_yaml import files

BY_HAND = """\
# Blue film, second roll (invented)

dose_mj_cm2: 60   # found in March
resist:   "Blue film 38"
# what lies between
transmission:
    b: 0.83   # the new sheet
    a: 0.85
sides: turned
thickness_um: 38.0
time_guard_s: 300
hold_s: 900
hold_limit_s: 28800  # a shift
# experience:
interruptions: {forgiven: 2, longest_gap_s: 60}
tolerance: 0.05 # tight
note: |
  one
  # two is no comment
# the end
"""

NEVER = object()


def judged(text: str) -> Any:
    """What the first reader says of a text, or NEVER."""
    try:
        return checkedfile.understood(text, "file")
    except FileProblemsError:
        return NEVER


def seen_again(text: str) -> Any:
    """What the second reader says of it, or NEVER."""
    try:
        return read_again(text)
    except (DiffersError, FileProblemsError):
        return NEVER


def same(one: Any, other: Any) -> bool:
    """Whether two values are equal down to their types: 1, 1.0 and True are three."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other) or (one != one and other != other)


def two_readers_agree(text: str) -> None:
    """What the second accepts it reads to the same value as the first, or it is refused."""
    again = seen_again(text)
    if again is not NEVER:
        first = judged(text)
        assert first is not NEVER
        assert same(first, again)


LONG = pytest.param(10_000, marks=[pytest.mark.campaign, pytest.mark.timeout(3600)])


@pytest.mark.parametrize("count", [100, LONG])
def test_two_readers_never_judge_hostile_files_differently(count: int) -> None:
    """Duplicate keys, anchors, merge keys, octal-like, sexagesimal, yes and no, tabs, BOM, deep nesting, tags."""
    short = settings(max_examples=count, deadline=None, suppress_health_check=list(HealthCheck))
    given(files())(short(two_readers_agree))()


def test_a_text_that_names_a_version_of_yaml_is_not_read_a_second_time() -> None:
    """By the rules of YAML 1.1 the second reader warns of 12e3, where the first sees a text."""
    with pytest.raises(DiffersError):
        read_again("%YAML 1.1\n---\nthickness_um: 12e3\n")


@pytest.mark.parametrize(
    "value",
    [
        *("12e3", "0o14", "1.5e3", "!!str 1", "*a", "&a 1", "{a: 1, a: 2}", "[" * 25 + "]" * 25, "1_000", "060", "yes"),
        *("1:10.5", "2026-11-29", '"\\u2028"', "a\u0085b", "<<", "=", "x" * 20_000, "{<<: {a: 1}}", "|\n  a\u2028b\n"),
    ],
)
def test_what_is_known_to_divide_libraries_is_refused_or_read_alike(value: str) -> None:
    """One by one, so that none depends on luck; in each place where it may stand."""
    for text in (
        f"a: {value}\n",
        f"a:\n  b: {value}\nc: 1\n",
        f"{value}: 1\n",
        f"a: 1\r\nb: {value}\r\n",
        f"\ufeffa: {value}\n",
    ):
        two_readers_agree(text)


@pytest.mark.parametrize("value", ["12e3", "0o14"])
def test_the_library_alone_would_read_another_value(value: str) -> None:
    """So the guard is needed: a text to the judge (YAML 1.1), a number to the library (YAML 1.2)."""
    text = f"resist: {value}\n"
    assert judged(text) == {"resist": value}
    assert YAML(typ="rt", pure=True).load(text)["resist"] != value
    with pytest.raises(DiffersError):
        read_again(text)


@pytest.mark.long
def test_most_files_that_are_accepted_are_seen_again() -> None:
    """The property above would hold of a second reader that refuses everything."""
    accepted = again = 0

    @given(files())
    @settings(max_examples=300, database=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
    def look(text: str) -> None:
        nonlocal accepted, again
        accepted += judged(text) is not NEVER
        again += seen_again(text) is not NEVER

    look()
    assert accepted >= 30
    assert again >= 0.8 * accepted


# -- comments and order -----------------------------------------------------------------------------------------------


def test_one_number_changed_leaves_every_other_byte() -> None:
    """But runs of spaces before a value, and blocks of text are indented as groups are."""
    stored = recipe_from_text(BY_HAND, "blue")
    text = rewritten(stored, {"dose_mj_cm2": 61.5})
    tidy = BY_HAND.replace("resist:   ", "resist: ").replace("  one\n  # two", "    one\n    # two")
    assert text == tidy.replace("dose_mj_cm2: 60   #", "dose_mj_cm2: 61.5 #")
    assert rewritten(stored, {"dose_mj_cm2": 60.0}) == BY_HAND


def test_values_come_and_go_and_all_other_comments_stay() -> None:
    """A key that goes takes its own comment along, not that of its neighbour; new keys stand last."""
    stored = recipe_from_text(BY_HAND, "blue")
    text = rewritten(
        stored,
        {"hold_limit_s": None, "tolerance": None, "transmission.b": 0.5, "found_at_mw_cm2": 1e-05, "resist": "yes"},
    )
    data = yaml.safe_load(text)
    assert list(data) == [key for key in yaml.safe_load(BY_HAND) if key not in ("hold_limit_s", "tolerance")] + [
        "found_at_mw_cm2"
    ]
    assert (data["transmission"], data["resist"]) == ({"b": 0.5, "a": 0.85}, "yes")
    assert "found_at_mw_cm2: 0.00001\n" in text
    assert comments(text) == [each for each in comments(BY_HAND) if each not in ("# a shift", "# tight")]
    recipe = recipe_from_text(text, "blue").recipe
    assert (recipe.hold_limit_s, recipe.tolerance) == (None, 0.1)


def test_groups_within_groups_are_made_and_filled_up_one_by_one() -> None:
    """Rates of etching stand by metal and bath; one more leaves the others, and every comment."""
    text = rewritten(recipe_from_text(BY_HAND, "blue"), {"etch_rates_um_min.brass.iron": 4.2})
    for place, rate in (("copper.iron", 5.0), ("brass.peroxide", 7.5), ("brass.iron", 4.0)):
        text = rewritten(recipe_from_text(text, "blue"), {f"etch_rates_um_min.{place}": rate})
    rates = {"brass": {"iron": 4.0, "peroxide": 7.5}, "copper": {"iron": 5.0}}
    assert recipe_from_text(text, "blue").recipe.etch_rates_um_min == rates
    assert comments(text) == comments(BY_HAND)


@pytest.mark.parametrize(
    "held",
    [
        "etch_rates_um_min:\n  brass:\n    iron: 4.2\n    peroxide: 7.5\n  copper:\n    iron: 5.0 # a fresh one\n",
        "etch_rates_um_min: {brass: {iron: 4.2, peroxide: 7.5}, copper: {iron: 5.0}} # a fresh one\n",
    ],
    ids=["by lines", "in one line"],
)
def test_a_group_goes_with_the_last_of_its_keys(held: str) -> None:
    """Rates that are taken out of a recipe leave no empty metal behind, and all other comments stay."""
    stored = recipe_from_text(BY_HAND.replace("tolerance", held + "tolerance"), "blue")
    places = [f"etch_rates_um_min.{place}" for place in ("brass.iron", "brass.peroxide", "copper.iron")]
    text = rewritten(stored, dict.fromkeys(places))
    assert text == BY_HAND
    if "\n  brass" in held:
        text = rewritten(stored, dict.fromkeys(places[:2]))
        assert recipe_from_text(text, "blue").recipe.etch_rates_um_min == {"copper": {"iron": 5.0}}
        assert comments(text) == comments(stored.text)


def test_a_group_takes_no_comment_of_its_neighbour_along() -> None:
    """What stands between it and the next key is said of that."""
    held = "etch_rates_um_min:\n  brass:\n    iron: 4.2\n# for gears only:\n"
    stored = recipe_from_text(BY_HAND.replace("tolerance", held + "tolerance"), "blue")
    text = rewritten(stored, {"etch_rates_um_min.brass.iron": None})
    assert text == BY_HAND.replace("tolerance", "# for gears only:\ntolerance")


def test_what_cannot_be_kept_is_asked_for() -> None:
    """Nothing is dropped unasked; a file without comments has nothing to lose."""
    odd = BY_HAND.replace('"Blue film 38"', "12e3")
    with pytest.raises(CommentsLostError):
        rewritten(recipe_from_text(odd, "blue"), {"dose_mj_cm2": 61.5})
    anew = rewritten(recipe_from_text(odd, "blue"), {"dose_mj_cm2": 61.5}, comments_may_go=True)
    assert recipe_from_text(anew, "blue").recipe.resist == "12e3"
    bare = "\n".join(line.split(" #")[0] for line in odd.splitlines() if not line.startswith("#")).split("note:")[0]
    assert recipe_from_text(rewritten(recipe_from_text(bare, "x"), {"hold_s": 1.0}), "x").recipe.hold_s == 1


@pytest.mark.parametrize(
    ("usual", "unusual"),
    [
        ("{forgiven: 2, ", "{forgiven: 2, # within\n  "),
        ("dose_mj_cm2: 60 ", "? dose_mj_cm2 # within\n: 60 "),
        ("dose_mj_cm2: 60 ", "dose_mj_cm2: # within\n  60 "),
        ("# Blue film", "# head\n---\n# Blue film"),
    ],
)
def test_what_the_library_would_lose_is_not_written(usual: str, unusual: str) -> None:
    """It drops comments in these places, or writes what nobody can read; what it wrote is compared and judged."""
    assert unusual not in BY_HAND
    text = BY_HAND.replace(usual, unusual, 1)
    stored = recipe_from_text(text, "blue")
    assert stored.recipe == recipe_from_text(BY_HAND, "blue").recipe
    with pytest.raises(CommentsLostError):
        rewritten(stored, {"dose_mj_cm2": 61.5})


def test_every_comment_is_found() -> None:
    """Also behind the sign of a block of text; not what only looks like one."""
    text = "# a\nx: 1 # b\ny: | # c\n  # no\nz: 'q # no' # d\nw: a#no\n  # e\n"
    assert comments(text) == ["# a", "# b", "# c", "# d", "# e"]


def test_a_change_that_makes_no_sound_recipe_is_refused() -> None:
    """By the same rules as a file."""
    with pytest.raises(FileProblemsError, match="less than or equal to 5000"):
        rewritten(recipe_from_text(BY_HAND, "blue"), {"dose_mj_cm2": 5001.0})


def test_it_is_written_only_over_the_file_that_was_read(tmp_path: Any) -> None:
    """The hash is compared under the shelf's lock, as with every save."""
    shelf = RecipeStore(tmp_path)
    stored = shelf.save("blue", BY_HAND)
    (tmp_path / "blue.yaml").write_text(BY_HAND + "# another hand\n", encoding="utf-8")
    with pytest.raises(RecipeChangedError):
        shelf.save("blue", rewritten(stored, {"hold_s": 1.0}), stored.sha256)
    assert "another hand" in (tmp_path / "blue.yaml").read_text(encoding="utf-8")
    assert hashlib.sha256(BY_HAND.encode()).hexdigest() == stored.sha256


SPACES = st.sampled_from(("", "  # note: 1", " # 'x' \"y\"", "   #", " # é 😀", "\n# under it\n\n"))
VALUES = {
    "dose_mj_cm2": st.floats(1, 5000),
    "transmission.a": st.floats(0.001, 1),
    "hold_s": st.integers(0, 900).map(float),
    "hold_limit_s": st.none() | st.floats(1000, 604_800),
    "tolerance": st.none() | st.floats(0.02, 1),
    "resist": st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).filter(
        lambda text: text.strip() == text
    ),
    "note": st.none()
    | st.text(st.sampled_from("ab: #'\"\\|>-\n\té"), max_size=30).map(str.strip).map(lambda t: t or None),
}


@given(st.fixed_dictionaries({}, optional=VALUES), st.lists(SPACES, min_size=14, max_size=14), st.randoms())
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@pytest.mark.long
def test_any_change_reads_as_meant_and_keeps_comments_and_order(
    values: dict[str, Any], marks: list[str], chance: Any
) -> None:
    """PyYAML judges what was written; the comments are those that were put in here."""
    groups = ["transmission:\n  a: 0.85", "interruptions:\n    forgiven: 2\n    longest_gap_s: 60.0", "sides: one"]
    groups += ["dose_mj_cm2: 60", "resist: 'Blue: film'", "thickness_um: 38", "time_guard_s: 300", "hold_s: 900.0"]
    groups += ["hold_limit_s: 28800", "tolerance: 0.05", "note: >\n  folded\n  text"]
    chance.shuffle(groups)
    gone = {key.split(".")[0] for key, value in values.items() if value is None}
    marks = [
        "" if group.startswith("note") or group.split(":")[0] in gone else mark
        for group, mark in zip(groups, marks, strict=False)
    ]
    before = "# head\n" + "".join(group + mark + "\n" for group, mark in zip(groups, marks, strict=True)) + "# end\n"
    text = rewritten(recipe_from_text(before, "x"), values)
    data, old = yaml.safe_load(text), yaml.safe_load(before)
    for key, value in values.items():
        group, _, part = key.rpartition(".")
        at, was = (data[group], old[group]) if group else (data, old)
        assert (part in at) == (value is not None)
        assert value is None or at[part] == value or at[part] == was.get(part) == value
    assert [key for key in data if key in old] == [key for key in old if key not in gone]
    assert comments(text) == ["# head", *[m.strip() for m in marks if m.strip()], "# end"]
