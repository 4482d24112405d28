"""Baths in control: from mixing to waste, loaded by what goes through them, and refused where they must not meet."""

from typing import Any

import pytest

from sumlight.craft.baths.tempo import CALL_S
from sumlight.craft.chemistry import hazards
from sumlight.protocol.errors import BadRequestError
from tests.control.bench_box import BenchBox, recipe_text
from tests.control.conftest import MakeBench
from tests.control.jobs.test_jobbook import new, note, step_of

IRON = {"kind": "iron", "volume_l": 1.0, "wt_percent": 40.0}


@pytest.fixture
def shop(bench: BenchBox) -> BenchBox:
    """A box with one recipe that lights one side."""
    bench.run(0.5)
    return bench


def job_id(bench: BenchBox, panel_id: int) -> int:
    """The job of a panel."""
    return int(bench.ask("card", panel_id=panel_id)["job_id"])


def etch(bench: BenchBox, panel_id: int, seconds: float, **more: Any) -> None:
    """Etch a panel for so long."""
    note(bench, panel_id, "etch", "begin", **more)
    bench.run(seconds)
    note(bench, panel_id, "etch", "done")


def test_a_bath_counts_the_metal_of_its_panels(shop: BenchBox) -> None:
    """1 dm² of copper foil of 35 µm is 3.136 g (craft reference A5), 2.83 % of what ferric chloride of 40 wt% takes."""
    bath = shop.ask("bath_new", **IRON)
    told = shop.ask("bath_panel", bath_id=bath["bath_id"], metal="copper", open_cm2=100.0, depth_um=35.0)
    assert told["metal_g"] == pytest.approx(3.136, abs=0.002)
    assert told["used"] == pytest.approx(3.136 / 110.9, rel=0.005)
    assert "About 3 % of what it can take is used." in told["sentences"]
    assert "stoichiometry" in told["sentences"][-1]


def test_a_panel_whose_area_nobody_knows_is_said_to_be_left_out(shop: BenchBox) -> None:
    """Nothing is counted as nothing."""
    bath = shop.ask("bath_new", **IRON)
    told = shop.ask("bath_panel", bath_id=bath["bath_id"], metal="copper")
    assert told["used"] == 0
    assert any(sentence.code == "bath_not_counted" for sentence in told["sentences"])


def test_a_card_goes_into_the_only_bath_by_itself(shop: BenchBox) -> None:
    """Nothing is asked: the metal and its thickness are the job's, the time is between two taps."""
    panel_id = new(shop, metal="copper", thickness_um=35.0)
    shop.ask("job_numbers", job_id=job_id(shop, panel_id), open_cm2=50.0)
    assert step_of(shop, panel_id, "etch")["in_bath"] is False
    shop.ask("bath_new", **IRON)
    step = step_of(shop, panel_id, "etch")
    assert (step["in_bath"], step["timed"]) == (True, True)
    assert "bath 1 (ferric chloride)" in step["sentence"]
    etch(shop, panel_id, 80.0, bath_c=21.0)
    (taken,) = shop.ask("bath", bath_id=1)["taken"]
    assert (taken["metal"], taken["open_cm2"], taken["depth_um"], taken["bath_c"]) == ("copper", 50, 35, 21)
    assert taken["took_s"] == pytest.approx(80, abs=1)
    assert taken["label"] == "quick · 1"


def test_the_etching_rate_of_a_recipe_times_its_cards(shop: BenchBox) -> None:
    """Twice the rate, half the time; what was timed for a job goes before it, what its bath has learned before both.

    A recipe whose metal the job is not made of says nothing.
    """
    shop.ask("bath_new", **IRON)
    for name, rates in (("slow", "copper: {iron: 2.0}"), ("fast", "copper: {iron: 4.0, peroxide: 9.0}")):
        shop.save(name, recipe_text() + f"etch_rates_um_min: {{{rates}}}\n")
    slow, fast, brass = (
        first_look_s(shop, new(shop, recipe=recipe, metal=metal))
        for recipe, metal in (("slow", "copper"), ("fast", "copper"), ("fast", "brass"))
    )
    assert slow == pytest.approx(2 * fast, abs=2)
    assert brass == pytest.approx(first_look_s(shop, new(shop, recipe="quick", metal="brass")), abs=2)
    panel_id = new(shop, recipe="slow", metal="copper")
    shop.ask("job_numbers", job_id=job_id(shop, panel_id), etchant="iron", rate_um_min=4.0)
    assert first_look_s(shop, panel_id) == pytest.approx(fast, abs=2)
    assert first_look_s(shop, new(shop, recipe="slow")) == pytest.approx(slow, abs=2)
    etch(shop, panel_id, 300.0)
    learned = [first_look_s(shop, new(shop, recipe=recipe, metal="copper")) for recipe in ("slow", "fast")]
    assert learned[0] == pytest.approx(learned[1], abs=2)


def first_look_s(bench: BenchBox, panel_id: int) -> float:
    """When the timer of an etch would call for the first look; nothing is noted in the end."""
    note(bench, panel_id, "etch", "begin")
    (timer,) = bench.ask("card", panel_id=panel_id)["timers"]
    note(bench, panel_id, "etch", "again")
    return 2 * float(timer["next_s"]) + CALL_S  # the first call is at half of it, a little before the look


def test_an_etch_rings_for_a_look_and_never_says_take_out(shop: BenchBox) -> None:
    """First at the lower end of what is expected, then every tenth of the time, for as long as it takes."""
    panel_id = new(shop)
    shop.ask("bath_new", **IRON)
    for _panel in range(3):
        shop.ask("bath_panel", bath_id=1, metal="copper", depth_um=35.0, took_s=30.0)
    expected = shop.ask("bath", bath_id=1)["expected"]
    note(shop, panel_id, "etch", "begin")
    (timer,) = shop.ask("card", panel_id=panel_id)["timers"]
    shop.ask("timer_answer", timer_id=timer["timer_id"])
    shop.run(expected["low_s"] / 4 + 0.5)
    shop.ask("timer_answer", timer_id=timer["timer_id"])
    for _look in range(15):
        (timer,) = shop.ask("card", panel_id=panel_id)["timers"]
        shop.run(timer["next_s"] + 0.2)
        (timer,) = shop.ask("card", panel_id=panel_id)["timers"]
        assert timer["rings"].code == "ring_look_etch"
        assert timer["next_s"] == pytest.approx(expected["mid_s"] / 10, abs=0.5)
        shop.ask("timer_answer", timer_id=timer["timer_id"])
    words = [*shop.ask("card", panel_id=panel_id)["steps"]]
    assert not any("take it out" in step["sentence"].lower() for step in words if step["kind"] == "etch")


def test_the_bath_learns_from_its_own_panels(shop: BenchBox) -> None:
    """A tray twice as fast as practice says is known to be so after a few panels, and more narrowly."""
    shop.ask("bath_new", **IRON)
    first = shop.ask("bath", bath_id=1)["expected"]
    for _panel in range(6):
        shop.ask("bath_panel", bath_id=1, metal="copper", open_cm2=50.0, depth_um=35.0, took_s=200.0, bath_c=22.0)
    told = shop.ask("bath", bath_id=1)["expected"]
    assert told["timed"] == 6
    assert told["mid_s"] == pytest.approx(200, rel=0.1)
    assert told["high_s"] / told["low_s"] < first["high_s"] / first["low_s"] / 2


def test_a_tap_says_that_the_developer_has_cleared(shop: BenchBox) -> None:
    """The break point is at 60 % of the dwell (data sheet of a film, trade notes E1): the rest is rung for."""
    shop.ask("bath_new", kind="developer", volume_l=1.0, wt_percent=0.85)
    panel_id = new(shop)
    note(shop, panel_id, "develop", "begin")
    shop.run(45.0)
    note(shop, panel_id, "develop", "clear")
    (timer,) = shop.ask("card", panel_id=panel_id)["timers"]
    assert timer["next_s"] == pytest.approx(45 / 0.6 - 45, abs=1)
    shop.run(30.0)
    note(shop, panel_id, "develop", "clear")  # a second tap changes nothing
    note(shop, panel_id, "develop", "done")
    (taken,) = shop.ask("bath", bath_id=1)["taken"]
    assert taken["took_s"] == pytest.approx(45, abs=1)


def test_a_panel_taken_back_unloads_the_bath(shop: BenchBox) -> None:
    """By the card, and by the page."""
    shop.ask("bath_new", **IRON)
    panel_id = new(shop)
    etch(shop, panel_id, 20.0)
    note(shop, panel_id, "etch", "again")
    assert shop.ask("bath", bath_id=1)["panels"] == 0
    shop.ask("bath_panel", bath_id=1, metal="copper", open_cm2=50.0, depth_um=35.0)
    assert shop.ask("bath_take_back", bath_id=1)["metal_g"] == 0
    with pytest.raises(BadRequestError, match="has taken no panel"):
        shop.ask("bath_take_back", bath_id=1)


def test_whoever_goes_on_or_gives_up_has_taken_the_panel_out(shop: BenchBox) -> None:
    """Nobody said when: it loads the bath all the same, and teaches it no time."""
    shop.ask("bath_new", **IRON)
    for number, ends in enumerate(("goes on", "gives up"), 1):
        panel_id = new(shop, metal="copper", thickness_um=35.0)
        shop.ask("job_numbers", job_id=job_id(shop, panel_id), open_cm2=100.0)
        note(shop, panel_id, "etch", "begin")
        shop.run(30.0)
        if ends == "goes on":
            note(shop, panel_id, "strip", "begin")
        else:
            shop.ask("job_end", job_id=job_id(shop, panel_id))
        told = shop.ask("bath", bath_id=1)
        assert told["panels"] == number
        assert told["metal_g"] == pytest.approx(3.136 * number, rel=0.001)  # as above
        assert told["taken"][0]["took_s"] is None
        assert told["taken"][0]["ended_utc"] is not None


def test_going_on_leaves_a_panel_that_was_taken_out_as_it_was_noted(shop: BenchBox) -> None:
    """Its time stays the one that was said."""
    shop.ask("bath_new", **IRON)
    panel_id = new(shop)
    note(shop, panel_id, "etch", "begin")
    shop.run(30.0)
    note(shop, panel_id, "etch", "done")
    noted = shop.ask("bath", bath_id=1)["taken"]
    shop.run(60.0)
    note(shop, panel_id, "strip", "begin")
    assert shop.ask("bath", bath_id=1)["taken"] == noted


def test_a_step_that_is_skipped_after_all_puts_nothing_into_the_bath(shop: BenchBox) -> None:
    """Its beginning was a slip of the finger."""
    shop.ask("bath_new", **IRON)
    panel_id = new(shop)
    note(shop, panel_id, "etch", "begin")
    note(shop, panel_id, "etch", "skip")
    note(shop, panel_id, "strip", "begin")
    assert shop.ask("bath", bath_id=1)["taken"] == []


FORBIDDEN = [
    *(("aluminium", bath) for bath in ("peroxide", "iron", "caustic")),
    *((metal, "caustic") for metal in ("zinc", "tin-lead")),
]
"""The issue's own list: metal and bath."""


def begun(bench: BenchBox, kind: str) -> int:
    """A bath of a kind."""
    of = {"peroxide": {"peroxide_wt_percent": 1.8, "acid_wt_percent": 11.0}}.get(kind, {})
    return int(bench.ask("bath_new", kind=kind, volume_l=1.0, **of)["bath_id"])


@pytest.mark.parametrize(("metal", "kind"), FORBIDDEN)
def test_a_metal_that_must_not_go_in_is_refused(shop: BenchBox, metal: str, kind: str) -> None:
    """By hand, by choosing, and by the card, which says why."""
    bath_id = begun(shop, kind)
    panel_id = new(shop, metal=metal)
    with pytest.raises(BadRequestError, match="Refused"):
        shop.ask("bath_panel", bath_id=bath_id, metal=metal)
    with pytest.raises(BadRequestError, match="Refused"):
        shop.ask("job_bath", job_id=job_id(shop, panel_id), bath_id=bath_id)
    note(shop, panel_id, "etch", "begin")
    card = shop.ask("card", panel_id=panel_id)
    (step,) = (each for each in card["steps"] if each["step_id"] == card["step_id"])
    assert step["in_bath"] is False
    assert [caution.code for caution in step["cautions"]] == ["metal_not_in_bath"]
    assert shop.ask("bath", bath_id=bath_id)["panels"] == 0


@pytest.mark.parametrize("kind", hazards.KINDS)
def test_only_its_own_container_takes_a_bath(shop: BenchBox, kind: str) -> None:
    """Every other one is refused and the bath stays in use; then its own takes it, once."""
    bath_id = begun(shop, kind)
    for other in hazards.KINDS:
        if other != kind:
            with pytest.raises(BadRequestError, match="Refused"):
                shop.ask("bath_waste", bath_id=bath_id, into=other)
    assert shop.ask("bath_waste", bath_id=bath_id, into=kind)["waste_into"] == kind
    told = shop.ask("baths")
    assert (told["baths"], [bath["bath_id"] for bath in told["wasted"]]) == ([], [bath_id])
    with pytest.raises(BadRequestError, match="waste already"):
        shop.ask("bath_waste", bath_id=bath_id, into=kind)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"peroxide_wt_percent": 1.8, "acid_wt_percent": 11.0, "bottle_percent": 35.0}, "too strong to mix from"),
        ({"peroxide_wt_percent": 3.0, "acid_wt_percent": 11.0}, "the finished bath would hold"),
        ({"peroxide_wt_percent": 1.8, "acid_wt_percent": 15.0}, "the finished bath would hold"),
        ({}, "peroxide_wt_percent"),
    ],
)
def test_a_peroxide_bath_beyond_its_limits_is_not_kept(shop: BenchBox, asked: dict[str, float], words: str) -> None:
    """What must not be mixed must not stand in the register either."""
    with pytest.raises(BadRequestError, match=words):
        shop.ask("bath_new", kind="peroxide", volume_l=1.0, **asked)
    assert shop.ask("baths")["baths"] == []


def test_of_two_baths_a_person_chooses(shop: BenchBox) -> None:
    """Until then nothing is guessed; the next job of the same kind knows."""
    shop.ask("bath_new", **IRON)
    shop.ask("bath_new", **IRON)
    panel_id = new(shop)
    assert step_of(shop, panel_id, "etch")["in_bath"] is False
    choices = shop.ask("job", job_id=job_id(shop, panel_id))["baths"]
    assert [(each["bath_id"], each["chosen"]) for each in choices] == [(1, False), (2, False)]
    shop.ask("job_bath", job_id=job_id(shop, panel_id), bath_id=2)
    assert "bath 2" in step_of(shop, panel_id, "etch")["sentence"]
    assert "bath 2" in step_of(shop, new(shop), "etch")["sentence"]


def test_everything_is_there_after_a_kill(make_bench: MakeBench) -> None:
    """Baths, panels, what they taught, and a panel that was in the bath meanwhile."""
    before = make_bench()
    before.run(0.5)
    before.ask("bath_new", **IRON)
    for _panel in range(3):
        before.ask("bath_panel", bath_id=1, metal="copper", open_cm2=50.0, depth_um=35.0, took_s=300.0)
    panel_id = new(before)
    note(before, panel_id, "etch", "begin")
    before.run(100.0)
    known = before.ask("bath", bath_id=1)
    before.kill()
    after = make_bench()
    assert after.ask("bath", bath_id=1)["expected"] == pytest.approx(known["expected"], rel=1e-3)
    after.run(50.0)
    note(after, panel_id, "etch", "done")
    assert after.ask("bath", bath_id=1)["taken"][0]["took_s"] == pytest.approx(150, abs=5)


def test_a_bath_that_is_not_there_is_told(shop: BenchBox) -> None:
    """By its number."""
    with pytest.raises(BadRequestError, match="not 9"):
        shop.ask("bath", bath_id=9)


def test_the_register_ends_somewhere(shop: BenchBox) -> None:
    """An answer about all of them stays short."""
    for _bath in range(20):
        begun(shop, "developer")
    with pytest.raises(BadRequestError, match="20 baths are in use"):
        begun(shop, "developer")


def test_an_etchant_needs_its_metal(shop: BenchBox) -> None:
    """Without it nobody can refuse."""
    with pytest.raises(BadRequestError, match="metal"):
        shop.ask("bath_panel", bath_id=begun(shop, "iron"))


def test_a_bath_without_capacity_left_says_that_a_panel_would_never_finish(shop: BenchBox) -> None:
    """A panel whose share is more than what is left: no time helps (craft reference A9)."""
    shop.ask("bath_new", kind="iron", volume_l=0.1, wt_percent=40.0)
    told = shop.ask("bath_panel", bath_id=1, metal="copper", open_cm2=200.0, depth_um=35.0)
    assert told["verdict"].code == "bath_cannot_finish"


def test_a_waste_container_counts_what_went_in_until_it_is_emptied(make_bench: MakeBench) -> None:
    """Also after a restart; another kind's is its own."""
    bench = make_bench()
    bench.run(0.5)
    for kind, litres in (("iron", 1.0), ("iron", 0.5), ("developer", 2.0)):
        mixed = {"kind": kind, "volume_l": litres, "wt_percent": 36.0 if kind == "iron" else 1.0}
        bench.ask("bath_waste", bath_id=bench.ask("bath_new", **mixed)["bath_id"], into=kind)
    held = {one["kind"]: (one["litres"], one["baths"]) for one in bench.ask("baths")["containers"]}
    assert held == {"iron": (1.5, 2), "developer": (2.0, 1)}
    bench.run(0.1)
    told = {one["kind"]: one for one in bench.ask("waste_emptied", kind="iron", who="Ada")["containers"]}
    assert (told["iron"]["litres"], told["developer"]["litres"]) == (0, 2)
    bench.run(0.1)
    last = bench.ask("bath_new", kind="iron", volume_l=0.25, wt_percent=36.0)
    bench.ask("bath_waste", bath_id=last["bath_id"], into="iron")
    before = bench.ask("baths")["containers"]
    bench.close()
    again = make_bench()
    assert again.ask("baths")["containers"] == before
    assert {one["kind"]: one["litres"] for one in before} == {"iron": 0.25, "developer": 2.0}
    with pytest.raises(BadRequestError, match="kind"):
        again.ask("waste_emptied", kind="gold")
