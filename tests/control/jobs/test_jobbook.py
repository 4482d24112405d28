"""Jobs in control: a card costs nothing, an exposure notes itself, and everything is there after a kill."""

from typing import Any

import pytest

from sumlight.store.logbook.logbook import LogbookError
from sumlight.text.message import Message, say
from tests.control.bench_box import BenchBox, recipe_text
from tests.control.conftest import MakeBench
from tests.control.test_logbook_trouble import read_only


@pytest.fixture
def shop(bench: BenchBox) -> BenchBox:
    """A box with one recipe that lights one side."""
    bench.run(0.5)
    return bench


def new(bench: BenchBox, **asked: Any) -> int:
    """A job of one panel; returns the panel's number."""
    made = bench.ask("job_new", **{"recipe": "quick"} | asked)
    return int(made["panel_ids"][0])


def step_of(bench: BenchBox, panel_id: int, kind: str) -> dict[str, Any]:
    """The first step of a kind on a card."""
    found: dict[str, Any] = next(s for s in bench.ask("card", panel_id=panel_id)["steps"] if s["kind"] == kind)
    return found


def note(bench: BenchBox, panel_id: int, kind: str, act: str, **more: Any) -> dict[str, Any]:
    """Note something of a step."""
    number = step_of(bench, panel_id, kind)["step_id"]
    return bench.ask("job_step", panel_id=panel_id, step_id=number, act=act, **more)


def light(bench: BenchBox, panel: str) -> None:
    """Light a panel to its dose."""
    bench.until(lambda: "start" in bench.snapshot()["may"])
    bench.ask("start", recipe="quick", panel=panel)
    bench.until_state("done")
    bench.run(0.5)


def test_a_new_job_needs_no_word(shop: BenchBox) -> None:
    """The only recipe, the plan that it lights, the usual metal, the label that the Bench proposes."""
    made = shop.ask("job_new")
    assert made["labels"] == ["quick · 1"]
    job = shop.ask("job", job_id=made["job_id"])
    assert (job["numbers"]["plan"], job["numbers"]["metal"], job["numbers"]["recipe"]) == (
        "board_one",
        "copper",
        "quick",
    )
    assert job["numbers"]["hold_s"] == 60


def test_the_break_point_of_a_recipe_sets_the_dwell_of_its_cards(shop: BenchBox) -> None:
    """30 s to clear at half of the dwell are a minute in all; without it the usual 60 % make it 50 s (by hand)."""
    shop.save("half", recipe_text() + "break_point_share: 0.5\n")
    for recipe, dwell_s in (("quick", 50.0), ("half", 60.0)):
        panel_id = new(shop, recipe=recipe)
        job_id = shop.ask("card", panel_id=panel_id)["job_id"]
        shop.ask("job_numbers", job_id=job_id, clear_s=30.0)
        note(shop, panel_id, "develop", "begin")
        (timer,) = shop.ask("card", panel_id=panel_id)["timers"]
        assert timer["next_s"] == pytest.approx(dwell_s / 2, abs=0.5)
        assert f"{dwell_s:.0f} s" in step_of(shop, panel_id, "develop")["sentence"]


def test_the_next_job_is_as_the_last(shop: BenchBox) -> None:
    """Nothing is asked twice, and labels go on."""
    first = shop.ask("job_new", metal="brass", thickness_um=100.0, wanted=2, artwork="gear")
    shop.ask("job_numbers", job_id=first["job_id"], clear_s=20.0, etchant="iron", rate_um_min=5.0)
    second = shop.ask("job_new")
    assert second["labels"] == ["quick · 3"]
    numbers = shop.ask("job", job_id=second["job_id"])["numbers"]
    assert (numbers["metal"], numbers["thickness_um"], numbers["clear_s"], numbers["etchant"]) == (
        "brass",
        100,
        20,
        "iron",
    )


def test_an_untouched_card_follows_the_light(shop: BenchBox) -> None:
    """Exposing is noted by itself, the rest begins by itself, and what lay before needs no entry."""
    panel_id = new(shop)
    light(shop, "quick · 1")
    card = shop.ask("card", panel_id=panel_id)
    assert step_of(shop, panel_id, "expose")["state"] == "done"
    assert step_of(shop, panel_id, "expose")["by"] == "box"
    assert (card["title"], card["state"]) == ("Hold", "begun")
    assert [timer["title"] for timer in card["timers"]] == ["Hold"]
    assert card["timers"][0]["next_s"] == pytest.approx(60, abs=3)


def test_light_that_a_card_missed_is_taken_up_after_a_kill(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The record of the light is there, its card was not noted any more: both the dose and the rest are known."""
    before = make_bench()
    before.run(0.5)
    panel_id = new(before)
    monkeypatch.setattr(before.daemon.commander.jobs, "look", lambda: None)
    light(before, "quick · 1")
    before.run(10)
    before.kill()
    after = make_bench()
    card = after.ask("card", panel_id=panel_id)
    assert (card["title"], card["state"]) == ("Hold", "begun")
    assert card["timers"][0]["next_s"] == pytest.approx(60 - 12, abs=2)


def test_a_panel_of_another_label_tells_this_card_nothing(shop: BenchBox) -> None:
    """Only its own."""
    panel_id = new(shop)
    light(shop, "test strip")
    assert shop.ask("card", panel_id=panel_id)["title"] == "Cut and deburr"


def test_both_sides_are_noted_one_by_one(bench: BenchBox) -> None:
    """A turned panel: the second is due after the first."""
    bench.save("turned", recipe_text(sides="turned", dose_mj_cm2=5))
    bench.run(0.5)
    panel_id = new(bench, recipe="turned")
    bench.ask("start", recipe="turned", panel="turned · 1")
    bench.until_state("turn")
    bench.run(0.5)
    assert bench.ask("card", panel_id=panel_id)["title"] == "Expose side B"


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"plan": "gold"}, "plan"),
        ({"metal": "wood"}, "metal"),
        ({"recipe": "none"}, "recipe"),
        ({"thickness_um": -35.0}, "thickness_um"),
        ({"wanted": 0}, "wanted"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(shop: BenchBox, asked: dict[str, Any], field: str) -> None:
    """And no job is begun."""
    assert shop.refused("job_new", **asked).field == field
    assert shop.ask("jobs")["jobs"] == []


def test_a_plan_that_the_recipe_does_not_light_is_refused(shop: BenchBox) -> None:
    """The words name both."""
    told = shop.refused("job_new", plan="sheet_two")
    assert str(told.message) == "Sheet, two sides is lit from two sides; the recipe 'quick' lights one"


def test_a_metal_that_must_not_go_into_the_bath_is_refused(shop: BenchBox) -> None:
    """Before it is kept."""
    job_id = shop.ask("job_new", metal="aluminium", thickness_um=100.0)["job_id"]
    told = shop.refused("job_numbers", job_id=job_id, etchant="peroxide", rate_um_min=10.0)
    assert "aluminium does not go into peroxide bath" in str(told.message)
    assert shop.ask("job", job_id=job_id)["numbers"]["etchant"] is None


def test_steps_are_skipped_moved_worded_and_left_out(shop: BenchBox) -> None:
    """Whatever a person's bench is like."""
    made = shop.ask("job_new")
    job_id, panel_id = made["job_id"], made["panel_ids"][0]
    note(shop, panel_id, "cut", "skip")
    assert shop.ask("card", panel_id=panel_id)["title"] == "Degrease"
    shop.ask("job_plan", job_id=job_id, step_id=2, act="leave_out")
    assert shop.ask("card", panel_id=panel_id)["title"] == "Water-break test"
    shop.ask("job_plan", job_id=job_id, step_id=4, act="up")
    shop.ask("job_plan", job_id=job_id, step_id=4, act="edit", words="Hang it up.")
    card = shop.ask("card", panel_id=panel_id)
    assert (card["title"], card["steps"][1]["sentence"]) == ("Dry", "Hang it up.")
    shop.ask("job_plan", job_id=job_id, step_id=4, act="add", words="Number it.")
    assert [step["title"] for step in shop.ask("job", job_id=job_id)["steps"]][:3] == [
        "Cut and deburr",
        "Dry",
        "Number it.",
    ]
    assert shop.refused("job_plan", job_id=job_id, step_id=4, act="add").field == "words"


def test_a_step_that_went_wrong_stays_due_until_it_is_done_again(shop: BenchBox) -> None:
    """With the word that was left."""
    panel_id = new(shop)
    note(shop, panel_id, "laminate", "wrong", word="a bubble", who="Ada")
    step = step_of(shop, panel_id, "laminate")
    assert (step["state"], step["word"], step["by"]) == ("wrong", "a bubble", "Ada")
    assert shop.ask("card", panel_id=panel_id)["step_id"] == step["step_id"]
    note(shop, panel_id, "laminate", "again")
    assert step_of(shop, panel_id, "laminate")["state"] is None


def test_a_panel_is_finished_with_its_last_step_and_its_job_with_it(shop: BenchBox) -> None:
    """Then nothing is due."""
    panel_id = new(shop)
    assert note(shop, panel_id, "part", "done")["outcome"] == "finished"
    assert shop.ask("jobs")["jobs"] == []
    shop.run(0.2)
    with shop.logbook() as book:
        assert book.page("SELECT label, outcome FROM job_panels") == [{"label": "quick · 1", "outcome": "finished"}]
        assert book.page("SELECT count(*) AS n FROM jobs WHERE ended_utc IS NULL") == [{"n": 0}]


def test_a_panel_or_a_job_is_given_up(shop: BenchBox) -> None:
    """One of two, then the rest."""
    made = shop.ask("job_new", wanted=2)
    assert shop.ask("job_end", job_id=made["job_id"], panel_id=made["panel_ids"][0])["open"]
    assert not shop.ask("job_end", job_id=made["job_id"])["open"]
    assert shop.snapshot()["jobs"]["panels"] == 0


def test_the_snapshot_says_whose_turn_is_next(shop: BenchBox) -> None:
    """The one furthest on; what rests comes after whoever waits for a hand."""
    assert shop.snapshot()["jobs"] == {"panels": 0, "due": None, "timers": []}
    made = shop.ask("job_new", wanted=2)
    light(shop, "quick · 1")
    due = shop.snapshot()["jobs"]["due"]
    assert (due["panel"], due["title"], due["left_s"]) == ("quick · 2", "Cut and deburr", 0)
    shop.ask("job_end", job_id=made["job_id"], panel_id=made["panel_ids"][1])
    due = shop.snapshot()["jobs"]["due"]
    assert (due["panel"], due["title"]) == ("quick · 1", "Hold")
    assert 50 < due["left_s"] <= 60
    shop.run(62)
    due, timer = shop.snapshot()["jobs"]["due"], shop.snapshot()["jobs"]["timers"][0]
    assert due["left_s"] == 0
    assert timer["rings"] == "the time is over"


def test_everything_is_there_after_a_kill(make_bench: MakeBench) -> None:
    """Jobs, plans in their order, notes, labels, numbers."""
    before = make_bench()
    before.run(0.5)
    made = before.ask("job_new", wanted=2, artwork="gear", metal="brass", thickness_um=100.0)
    job_id, panel_id = made["job_id"], made["panel_ids"][0]
    before.ask("job_plan", job_id=job_id, step_id=3, act="up")
    note(before, panel_id, "laminate", "done", word="two passes")
    before.ask("job_end", job_id=job_id, panel_id=made["panel_ids"][1])
    was = before.ask("jobs"), before.ask("card", panel_id=panel_id)
    before.kill()
    after = make_bench()
    after.run(0.5)
    assert (after.ask("jobs"), after.ask("card", panel_id=panel_id)) == was
    assert after.ask("job_new")["labels"] == ["quick · 3"], "numbers go on, also after a panel that was given up"


def test_jobs_never_wait_for_an_exposure_except_a_new_one(bench: BenchBox) -> None:
    """A new one opens the recipe's file, which nothing may under light."""
    bench.run(0.5)
    panel_id = new(bench)
    bench.light_up(dose_mj_cm2=40)
    assert note(bench, panel_id, "cut", "done")["title"] == "Degrease"
    assert bench.ask("jobs")["panels"] == 1
    assert bench.refused("job_new").code == "refused"


def test_a_card_that_cannot_be_noted_ends_no_light(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is a note, no more."""
    bench.run(0.5)
    new(bench)

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(bench.daemon.commander.jobs, "_take", broken)
    light(bench, "quick · 1")
    assert bench.snapshot()["exposure"]["outcome"] == "completed"
    assert bench.snapshot()["faults"] == []


def test_nothing_is_noted_on_a_card_that_the_logbook_cannot_keep(shop: BenchBox) -> None:
    """It would be gone after a kill; looking at it is no trouble."""
    panel_id = new(shop)
    read_only(shop, True)
    shop.daemon.writer.add_lamp_use("lower", 0.0, 0)
    step_id = step_of(shop, panel_id, "cut")["step_id"]
    error = shop.refused("job_step", panel_id=panel_id, step_id=step_id, act="done")
    assert (error.code, error.message.code) == ("refused", "logbook_cannot_be_written")
    assert step_of(shop, panel_id, "cut")["state"] is None


def test_a_new_job_over_a_logbook_that_cannot_be_read_is_no_fault_of_the_program(
    shop: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its labels stand there: whoever asks is told, and nothing else is kept from working."""

    def broken() -> None:
        raise LogbookError(say("make_room"))

    monkeypatch.setattr(shop.daemon.commander.jobs, "_open_book", broken)
    error = shop.refused("job_new", recipe="quick")
    assert (error.code, error.message.code) == ("internal", "make_room")
    assert shop.faults == []
    assert shop.ask("jobs")["jobs"] == []


def test_what_a_card_says_is_said_by_codes(shop: BenchBox) -> None:
    """So that each reader gets it in their own language."""
    card = shop.ask("card", panel_id=new(shop))
    assert all(isinstance(step[key], Message) for step in card["steps"] for key in ("title", "sentence"))
    assert card["steps"][0]["cautions"]


@pytest.mark.parametrize(
    ("command", "asked", "field"),
    [
        ("card", {"panel_id": 99}, "panel_id"),
        ("job", {"job_id": 99}, "job_id"),
        ("job_step", {"panel_id": 99, "step_id": 1, "act": "done"}, "panel_id"),
        ("job_plan", {"job_id": 99, "step_id": 1, "act": "up"}, "job_id"),
        ("timer_answer", {"timer_id": 99}, "timer_id"),
        ("timer_start", {"seconds": -5.0}, "seconds"),
        ("timer_start", {"seconds": 1e9}, "seconds"),
    ],
)
def test_what_is_not_there_is_told(shop: BenchBox, command: str, asked: dict[str, Any], field: str) -> None:
    """By its field."""
    assert shop.refused(command, **asked).field == field
