"""The shelf in control: rolls, metal and stencils are found by the cards that need them, and count their panels."""

from typing import Any

import pytest

from sumlight.control.jobs import stockbook
from sumlight.craft.stock import stencils
from sumlight.protocol.errors import BadRequestError
from sumlight.text.message import Message
from tests.control.bench_box import BenchBox, recipe_text
from tests.control.conftest import MakeBench
from tests.control.jobs.test_baths import job_id
from tests.control.jobs.test_jobbook import light, new, note, step_of

ROLL = {"resist": "Invented film", "film_um": 38.0}


@pytest.fixture
def shop(bench: BenchBox) -> BenchBox:
    """A box with one recipe that lights one side."""
    bench.run(0.5)
    return bench


@pytest.fixture
def two_sides(shop: BenchBox) -> BenchBox:
    """The same with a recipe that lights both, one after the other."""
    shop.save("turned", recipe_text(sides="turned"))
    return shop


def codes(told: list[Message]) -> list[str]:
    """Which sentences stand there."""
    return [each.code for each in told]


def thing(bench: BenchBox, stock_id: int) -> dict[str, Any]:
    """One thing on the shelf."""
    return bench.ask("stock_thing", stock_id=stock_id)


def at_hand(bench: BenchBox, panel_id: int, kind: str) -> list[str]:
    """What a card says besides, once it has come to a step."""
    note(bench, panel_id, kind, "begin")
    return codes(step_of(bench, panel_id, kind)["more"])


def test_a_new_roll_is_open_from_today_and_asks_for_a_tablet(shop: BenchBox) -> None:
    """Nothing is typed but its resist; the card says so at laminating and before the light."""
    roll = shop.ask("roll_new", **ROLL)
    assert roll["roll"]["opened_on"] == roll["noted_utc"][:10]
    assert codes(roll["sentences"])[:2] == ["roll_wants_tablet", "roll_open"]
    panel_id = new(shop)
    assert at_hand(shop, panel_id, "laminate") == ["take_thing", "roll_wants_tablet", "roll_open"]
    assert at_hand(shop, panel_id, "expose") == ["roll_wants_tablet"]


def test_a_step_tablet_of_its_resist_ends_the_asking(shop: BenchBox) -> None:
    """Whoever lights it, on whatever page: control hears it. A roll of another resist goes on asking."""
    shop.ask("roll_new", **ROLL)
    shop.ask("roll_new", **ROLL | {"resist": "Another film"})
    shop.ask("series", kind="tablet", recipe="quick", panel="T", doses_mj_cm2=[20.0])
    shop.until_state("done")
    shop.run(0.5)
    assert "roll_had_tablet" in codes(thing(shop, 1)["sentences"])
    assert thing(shop, 1)["roll"]["tablet_utc"] is not None
    assert "roll_wants_tablet" in codes(thing(shop, 2)["sentences"])


@pytest.mark.parametrize("opened_on", [None, ""], ids=["beside an open one", "beside a closed one"])
def test_a_tablet_says_nothing_of_a_closed_roll_beside_another(shop: BenchBox, opened_on: str | None) -> None:
    """It waits for its turn, and will want a tablet of its own (trade notes E1: every roll)."""
    shop.ask("roll_new", **ROLL, opened_on=opened_on)
    shop.ask("roll_new", **ROLL, opened_on="")
    shop.daemon.commander.jobs.stock.tablet("invented FILM")
    told = [thing(shop, number)["roll"] for number in (1, 2)]
    assert [roll["tablet_utc"] is not None for roll in told] == [opened_on is None, False]
    assert told[1]["opened_on"] is None


def test_a_tablet_on_the_only_roll_opens_it(shop: BenchBox) -> None:
    """There was no other to cut it from."""
    shop.ask("roll_new", **ROLL, opened_on="")
    shop.daemon.commander.jobs.stock.tablet("Invented film")
    roll = thing(shop, 1)["roll"]
    assert (roll["opened_on"], roll["tablet_utc"] is not None) == (thing(shop, 1)["noted_utc"][:10], True)


def test_a_closed_roll_is_opened_by_its_first_panel(shop: BenchBox) -> None:
    """That is when its age begins; a panel counts once, however many of its steps are noted."""
    shop.ask("roll_new", **ROLL, opened_on="")
    panel_id = new(shop)
    assert thing(shop, 1)["roll"]["opened_on"] is None
    note(shop, panel_id, "laminate", "done")
    light(shop, "quick · 1")
    told = thing(shop, 1)
    assert told["roll"]["opened_on"] == told["noted_utc"][:10]
    assert told["uses"] == 1


def test_pieces_of_metal_are_counted_down_by_panels(shop: BenchBox) -> None:
    """One piece for a panel of that metal and thickness; another thickness leaves them alone."""
    shop.ask("metal_new", metal="brass", thickness_um=150.0, pieces=2)
    for thickness_um in (150.0, 200.0, 150.0):
        note(shop, new(shop, metal="brass", thickness_um=thickness_um), "cut", "done")
    told = thing(shop, 1)
    assert told["uses"] == 2
    assert codes(told["sentences"])[0] == "no_piece_left"
    next_one = new(shop, metal="brass", thickness_um=150.0)
    assert codes(step_of(shop, next_one, "cut")["more"]) == ["take_thing", "no_piece_left"]


def test_a_stencil_belongs_to_its_artwork_until_another_is_chosen(two_sides: BenchBox) -> None:
    """Of one artwork it is taken by itself; of another it can be chosen, and the next job of that keeps it."""
    two_sides.ask("stencil_new", artwork="gear", spacer_um=150.0)
    two_sides.ask("stencil_measured", stock_id=1, apart_um=40.0, density=2.5, readable_a=True, readable_b=False)
    told = at_hand(two_sides, new(two_sides, recipe="turned", artwork="Gear"), "expose")
    assert told == ["frame_front", "stencil_mirrored", "stencil_steps_left", "black_good", "stencil_apart"]
    other = new(two_sides, recipe="turned", artwork="dial")
    assert at_hand(two_sides, other, "expose") == []
    assert [each["chosen"] for each in two_sides.ask("job", job_id=job_id(two_sides, other))["stock"]] == [False]
    assert two_sides.ask("job_stock", job_id=job_id(two_sides, other), stock_id=1)["stock"] == []
    assert "frame_front" in codes(step_of(two_sides, other, "expose")["more"])
    carried = [new(two_sides, recipe="turned", artwork=artwork) for artwork in ("dial", "third")]
    told = [two_sides.ask("job", job_id=job_id(two_sides, panel_id))["numbers"]["stock"] for panel_id in carried]
    assert told == [(1,), ()]


def test_a_card_names_the_film_of_the_side_that_is_lit(two_sides: BenchBox) -> None:
    """Front for A, back for B; a job without a stencil says nothing at either."""
    two_sides.ask("stencil_new", artwork="gear", spacer_um=150.0)
    panel_id = new(two_sides, recipe="turned", artwork="gear")
    bare = new(two_sides, recipe="turned", artwork="dial")
    for side, code in (("A", "frame_front"), ("B", "frame_back")):
        for number, wanted in ((panel_id, [code]), (bare, [])):
            steps = two_sides.ask("card", panel_id=number)["steps"]
            step = next(s for s in steps if s["kind"] == "expose" and s["title"].values["side"] == side)
            two_sides.ask("job_step", panel_id=number, step_id=step["step_id"], act="begin")
            card = two_sides.ask("card", panel_id=number)
            told = codes(next(s for s in card["steps"] if s["step_id"] == step["step_id"])["more"])
            assert [each for each in told if each.startswith("frame")] == wanted


def test_a_registration_wears_with_the_panels_that_were_lit_through_it(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those since it was measured; a restart still knows when each was."""
    monkeypatch.setattr(stencils, "WORN_PANELS", 1)
    bench = make_bench()
    bench.run(0.5)
    bench.save("turned", recipe_text(sides="turned"))
    bench.ask("stencil_new", artwork="gear", spacer_um=150.0)
    for apart_um in (40.0, 30.0):
        bench.ask("stencil_measured", stock_id=1, apart_um=apart_um)
        assert "stencil_worn" not in codes(thing(bench, 1)["sentences"])
        panel_id = new(bench, recipe="turned", artwork="gear")
        bench.run(1.0)
        note(bench, panel_id, "expose", "done")
        assert "stencil_worn" in codes(thing(bench, 1)["sentences"])
        bench.run(1.0)
    bench.close()
    again = make_bench()
    (worn,) = [each for each in thing(again, 1)["sentences"] if each.code == "stencil_worn"]
    assert worn.values["panels"] == 1


def test_a_strip_of_another_thickness_is_said_where_it_shifts_the_films(two_sides: BenchBox) -> None:
    """Of a sheet; of a board the thickness of the whole is not known."""
    two_sides.ask("stencil_new", artwork="gear", spacer_um=150.0)
    thick = new(two_sides, recipe="turned", artwork="gear", plan="sheet_two", metal="brass", thickness_um=300.0)
    assert "spacer_wrong" in at_hand(two_sides, thick, "expose")
    board = new(two_sides, recipe="turned", artwork="gear", plan="board_two", metal="copper", thickness_um=35.0)
    assert "spacer_wrong" not in at_hand(two_sides, board, "expose")


def test_a_stencil_is_made_in_its_own_steps(shop: BenchBox) -> None:
    """Each with its sentence; a later one leaves those before behind, and a film alone is not registered."""
    told = shop.ask("stencil_new", artwork="gear", held="pins")
    assert [step["step"] for step in told["stencil"]["steps"]] == ["print", "condition", "register", "check"]
    assert told["stencil"]["steps"][2]["sentence"].code == "do_stencil_register_pins"
    told = shop.ask("stencil_done", stock_id=1, step="register", who="Ada")
    assert told["stencil"]["steps"][2]["by"] == "Ada"
    (left,) = [each for each in told["sentences"] if each.code == "stencil_steps_left"]
    assert str(left) == "Still to do: check against light."
    assert shop.ask("stencil_done", stock_id=1, step="register", done=False)["stencil"]["steps"][2]["done_utc"] is None
    one = shop.ask("stencil_new", artwork="dial", sides=1)
    assert [step["step"] for step in one["stencil"]["steps"]] == ["print", "condition", "check"]
    for asked in ({"step": "register"}, {"apart_um": 30.0}, {"readable_b": True}):
        command = "stencil_done" if "step" in asked else "stencil_measured"
        with pytest.raises(BadRequestError, match="no back"):
            shop.ask(command, stock_id=2, **asked)


def test_exposures_count_a_stencil(shop: BenchBox) -> None:
    """By themselves, once a panel."""
    shop.ask("stencil_new", artwork="gear", sides=1)
    new(shop, artwork="gear")
    light(shop, "quick · 1")
    assert thing(shop, 1)["uses"] == 1


def test_panels_without_a_card_count_for_the_stencil_of_their_recipe(make_bench: MakeBench) -> None:
    """One stencil a recipe, and it is there after a restart; a panel with a card counts where its artwork says."""
    shop = make_bench()
    shop.run(0.5)
    for artwork in ("gear", "dial"):
        shop.ask("stencil_new", artwork=artwork, sides=1)
    assert thing(shop, 1)["stencil"]["recipe"] == ""
    for number in (1, 2):
        told = shop.ask("stencil_recipe", stock_id=number, recipe="quick")
    assert [thing(shop, number)["stencil"]["recipe"] for number in (1, 2)] == ["", "quick"]
    assert "stencil_of_recipe" in codes(told["sentences"])
    new(shop, artwork="gear")
    for label, recipe, uses in (
        ("found in a drawer", "quick", [0, 1]),
        ("quick · 1", "quick", [1, 1]),
        ("another", None, [1, 1]),
    ):
        shop.ask("stencil_recipe", stock_id=2, recipe=recipe)
        light(shop, label)
        assert [thing(shop, number)["uses"] for number in (1, 2)] == uses
        shop.open_lid()
        shop.run(1.0)
        shop.shut_lid()
    shop.close()
    again = make_bench()
    assert [thing(again, number)["uses"] for number in (1, 2)] == [1, 1]


def test_what_is_used_up_is_taken_by_no_card(shop: BenchBox) -> None:
    """And can be put back, when that was a slip."""
    shop.ask("roll_new", **ROLL)
    shop.ask("stock_end", stock_id=1)
    panel_id = new(shop)
    assert at_hand(shop, panel_id, "laminate") == []
    shelf = shop.ask("stock")
    assert (len(shelf["things"]), len(shelf["ended"])) == (0, 1)
    shop.ask("stock_end", stock_id=1, ended=False)
    assert "take_thing" in codes(step_of(shop, panel_id, "laminate")["more"])


def test_a_full_shelf_takes_nothing_more_new_or_put_back(shop: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """And what is said twice keeps its first time."""
    monkeypatch.setattr(stockbook, "MOST_HERE", 1)
    shop.ask("roll_new", **ROLL)
    ended = shop.ask("stock_end", stock_id=1)["ended_utc"]
    shop.run(1.0)
    assert shop.ask("stock_end", stock_id=1)["ended_utc"] == ended
    shop.ask("roll_new", **ROLL)
    for command, asked in (("roll_new", ROLL), ("stock_end", {"stock_id": 1, "ended": False})):
        assert shop.refused(command, **asked).message.code == "too_much_stock"
    assert shop.ask("stock_end", stock_id=2, ended=False)["ended_utc"] is None


REFUSED: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("roll_new", {"resist": "x", "opened_on": "2999-01-01"}, "still to come"),
    ("roll_new", {"resist": "x", "opened_on": "1 March"}, "2026-03-01"),
    ("roll_new", {"resist": " "}, "is empty"),
    ("roll_new", {"resist": "x", "film_um": -3.0}, "film_um"),
    ("roll_new", {"resist": "x", "storage": "attic"}, "storage"),
    ("metal_new", {"metal": "cheese", "thickness_um": 100.0}, "metal must be one of"),
    ("metal_new", {"metal": "brass", "thickness_um": -1.0}, "thickness_um"),
    ("stencil_new", {"artwork": ""}, "is empty"),
    ("stencil_measured", {"stock_id": 1}, "no stencil"),
    ("stencil_measured", {"stock_id": 2}, "say what was measured"),
    ("stencil_done", {"stock_id": 2, "step": "frame"}, "step"),
    ("stencil_recipe", {"stock_id": 1, "recipe": "quick"}, "no stencil"),
    ("stencil_recipe", {"stock_id": 2, "recipe": "quick"}, "another number of sides"),
    ("stencil_recipe", {"stock_id": 2, "recipe": "lost"}, "no recipe is called 'lost'"),
    ("stock_thing", {"stock_id": 9}, "not 9"),
    ("job_stock", {"job_id": 1, "stock_id": 2}, "does not fit"),
)


def test_what_cannot_be_is_refused(shop: BenchBox) -> None:
    """In words that name the field; nothing on the shelf changes."""
    shop.ask("roll_new", resist="Invented film")
    shop.ask("stencil_new", artwork="gear")
    new(shop)
    before = shop.ask("stock")
    for command, asked, words in REFUSED:
        with pytest.raises(BadRequestError) as refused:
            shop.ask(command, **asked)
        assert words in refused.value.message, command
    assert shop.ask("stock") == before


def test_the_shelf_is_there_after_a_restart(make_bench: MakeBench) -> None:
    """With what was measured, and with the panels counted so far, each once."""
    bench = make_bench()
    bench.run(0.5)
    bench.ask("roll_new", **ROLL, opened_on="2026-01-05", expires_on="2027-01-05", storage="cool")
    bench.ask("metal_new", metal="copper", thickness_um=35.0, pieces=5, remark="invented shop")
    bench.ask("stencil_new", artwork="gear", sides=1, held="pins")
    bench.ask("stencil_done", stock_id=3, step="print")
    bench.ask("stencil_measured", stock_id=3, density=1.9)
    panel_id = new(bench, artwork="gear")
    note(bench, panel_id, "laminate", "done")
    before = [thing(bench, number) for number in (1, 2, 3)]
    bench.close()
    again = make_bench()
    assert [thing(again, number) | {"sentences": []} for number in (1, 2, 3)] == [
        each | {"sentences": []} for each in before
    ]
    note(again, panel_id, "laminate", "done")
    assert thing(again, 1)["uses"] == 1
    assert again.ask("roll_new", **ROLL)["stock_id"] == 4
