"""Commands and the snapshot, as clients see them."""

from dataclasses import replace
from typing import Any

import pytest

from sumlight.box.description import Sight
from sumlight.control.exposure.plan import SidePlan
from sumlight.control.exposure.side import SideRun
from sumlight.control.server.commands import Commander
from sumlight.control.server.snapshot import left_s
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.writer import Ticket
from tests.control.bench_box import BenchBox, demo_box, recipe_text
from tests.control.conftest import MakeBench
from tests.protocol.checking import check_snapshot

STATES = {"idle", "dark_check", "light", "paused", "turn", "faulted", "done"}


def check(snapshot: dict[str, Any]) -> None:
    """The whole snapshot as the page reads it; JSON can carry it."""
    check_snapshot(snapshot)
    assert snapshot["sentence"].endswith(".")


@pytest.mark.long
def test_the_snapshot_keeps_its_shape_through_a_whole_turned_exposure(bench: BenchBox) -> None:
    """In every state, with a pause and a fault in between."""
    seen = set()

    def look() -> None:
        snapshot = bench.snapshot()
        check(snapshot)
        seen.add(snapshot["state"])

    bench.after_step = look
    bench.run(0.5)
    bench.start_new(sides="turned", dose_mj_cm2=12)
    bench.until_state("light")
    bench.run(1.5)
    bench.turn_panel()
    bench.happen("meter_disappears")
    bench.ask("go")
    bench.until_state("faulted")
    bench.happen("meter_returns")
    bench.run(2.0)
    bench.ask("acknowledge")
    bench.ask("go")
    bench.until_state("turn")
    bench.turn_panel()
    bench.ask("go")
    bench.until_state("done")
    bench.run(0.1)
    assert seen == STATES


def test_what_may_be_done_is_carried_out_and_the_rest_refused(bench: BenchBox) -> None:
    """In each state `may` tells the truth."""
    bench.ready()
    for command in ("go", "abandon"):
        assert command not in bench.snapshot()["may"]
        assert bench.refused(command).code == "refused"
    bench.light_up()
    assert bench.snapshot()["may"] == ["dark"]
    bench.ask("dark")
    assert bench.state == "paused"
    assert set(bench.snapshot()["may"]) == {"dark", "go", "abandon"}
    bench.ask("abandon")
    bench.step()
    assert bench.snapshot()["may"] == ["dark"]
    bench.change_panel()
    assert set(bench.snapshot()["may"]) == {"dark", "start"}


def test_the_picture_tells_asked_from_measured(bench: BenchBox) -> None:
    """Commanded on, and no light yet."""
    bench.start().until(bench.any_relay_lights)
    bench.run(0.3)
    bank = bench.snapshot()["banks"][0]
    assert bank["commanded"] is True
    assert bank["irradiance_mw_cm2"] < 0.05
    bench.run(4.0)
    bank = bench.snapshot()["banks"][0]
    assert bank["irradiance_mw_cm2"] == pytest.approx(bench.world.actinic_mw_cm2("lower"), rel=0.4)
    assert bank["strikes"] == 1
    assert bank["lamp_hours"] > 0
    side = bench.snapshot()["exposure"]["sides"][0]
    assert side["irradiance_at_resist_mw_cm2"] == pytest.approx(0.8 * bank["irradiance_mw_cm2"], rel=0.02)
    assert side["left_s"] > 0


def test_the_time_left_is_right_while_lamps_warm_up(bench: BenchBox) -> None:
    """Within two percent at half of the dose."""
    bench.start_new(dose_mj_cm2=40)
    bench.until(lambda: bench.side().dose_mj_cm2 > 20)
    left_s = bench.snapshot()["exposure"]["sides"][0]["left_s"]
    assert left_s == pytest.approx(bench.until(lambda: bench.side().state == "cut"), rel=0.02)


def test_the_hold_time_counts_down_after_a_completed_panel(bench: BenchBox) -> None:
    """Sixty seconds in this recipe, then it is over."""
    bench.start().until_state("done")
    exposure = bench.snapshot()["exposure"]
    assert exposure["hold_left_s"] == pytest.approx(60, abs=0.1)
    first = bench.snapshot()["sentence"]
    bench.run(61.0)
    assert bench.snapshot()["exposure"]["hold_left_s"] == 0.0
    assert bench.snapshot()["sentence"] != first


def test_an_abandoned_panel_has_no_hold_time(bench: BenchBox) -> None:
    """It goes nowhere."""
    bench.light_up()
    bench.ask("abandon")
    assert bench.snapshot()["exposure"]["hold_left_s"] is None


def test_the_trace_gives_the_curve_of_the_running_exposure(bench: BenchBox) -> None:
    """Time, side, irradiance and dose; only what is newer than asked for."""
    bench.light_up()
    samples = bench.ask("trace")["samples"]
    assert len(samples) > 15
    times = [sample[0] for sample in samples]
    assert times == sorted(times)
    assert {sample[1] for sample in samples} == {"A"}
    doses = [sample[3] for sample in samples]
    assert doses == sorted(doses)
    assert bench.ask("trace", since_s=times[-3])["samples"] == samples[-2:]
    assert bench.refused("trace", since_s="now").field == "since_s"


def test_the_curve_of_a_long_exposure_stays_small(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its beginning is kept, thinned out."""
    monkeypatch.setattr("sumlight.control.exposure.curve.POINTS", 100)
    monkeypatch.setattr("sumlight.control.server.commands.CURVE_PIECE", 50)
    bench.light_up()
    bench.run(25.0)
    curve = bench.loop.curve.since(0.0, 1000)
    assert len(curve) <= 100
    assert curve[0][0] < bench.clock.now_s - 25
    assert curve[-1][0] > bench.clock.now_s - 0.5
    assert bench.ask("trace")["samples"] == [list(point) for point in curve[:50]]


def test_an_unknown_recipe_is_not_found_and_the_known_ones_named(bench: BenchBox) -> None:
    """By its field."""
    error = bench.ready().refused("start", recipe="no-such")
    assert (error.code, error.field) == ("not_found", "recipe")
    assert "quick" in error.message


@pytest.mark.parametrize("name", ["../box", "/etc/passwd", "Quick", "", "a" * 65, "quick.yaml", "qu\nick"])
def test_a_name_that_is_no_recipe_name_is_refused(bench: BenchBox, name: str) -> None:
    """No way out of the shelf's folder."""
    error = bench.ready().refused("start", recipe=name)
    assert (error.code, error.field) in (("not_found", "recipe"), ("bad_value", "recipe"))
    assert bench.state == "idle"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("dose_mj_cm2: [", "not valid YAML"),
        (recipe_text(dose_mj_cm2=-5), "dose_mj_cm2"),
        (recipe_text().replace("a: 0.8", "a: 0"), "transmission.a"),
        (recipe_text().replace("a: 0.8", "a: 1.2"), "transmission.a"),
    ],
    ids=["unreadable", "negative dose", "stack lets nothing through", "stack above one"],
)
def test_an_unusable_recipe_is_told_with_line_and_field(bench: BenchBox, text: str, told: str) -> None:
    """And nothing is lit."""
    (bench.data / "recipes" / "bad.yaml").write_text(text)
    error = bench.ready().refused("start", recipe="bad")
    assert (error.code, error.field) == ("bad_value", "recipe")
    assert told in error.message
    assert "line" in error.message
    assert bench.state == "idle"


def test_a_recipe_for_two_banks_on_a_one_bank_box_is_refused(bench: BenchBox) -> None:
    """With what to do instead."""
    bench.save("both", recipe_text("together"))
    error = bench.ready().refused("start", recipe="both")
    assert (error.code, error.field) == ("bad_value", "sides")
    assert "turned" in str(error.remedy)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"recipe": 5}, "recipe"),
        ({}, "recipe"),
        ({"recipe": "quick", "panel": ["P1"]}, "panel"),
        ({"recipe": "quick", "panel": "x" * 61}, "panel"),
        ({"recipe": "quick", "note": 5}, "note"),
        ({"recipe": "quick", "note": "x" * 2001}, "note"),
    ],
)
def test_wrong_types_are_refused_by_field(bench: BenchBox, values: dict[str, Any], field: str) -> None:
    """Nothing is started."""
    error = bench.ready().refused("start", **values)
    assert (error.code, error.field) == ("bad_value", field)
    assert bench.state == "idle"


def test_a_start_with_the_lid_open_is_refused(bench: BenchBox) -> None:
    """With the remedy."""
    bench.ready().open_lid()
    error = bench.refused("start", recipe="quick")
    assert (error.code, error.message) == ("refused", "The lid is not shut.")


def test_an_error_of_the_program_is_answered_as_internal(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """The client gets an answer, the loop goes on."""

    def broken(_: Commander) -> dict[str, Any]:
        raise ZeroDivisionError("made for this test")

    with monkeypatch.context() as patch:
        patch.setattr(Commander, "snapshot", broken)
        with pytest.raises(BadRequestError) as error:
            bench.ask("state")
    assert error.value.code == "internal"
    bench.step()
    bench.ask("acknowledge")
    bench.start().until_state("done")


def test_hands_move_the_parts_of_the_twin(bench: BenchBox) -> None:
    """Unknown movements are refused with what there is."""
    bench.ready().ask("simulate", do="lid_opens")
    bench.run(0.1)
    assert bench.snapshot()["lid"] == "open"
    error = bench.refused("simulate", do="fly")
    assert (error.code, error.field) == ("bad_value", "do")
    assert "lid_opens" in error.message
    assert bench.refused("simulate", do="tube_fails", bank="attic").code == "bad_value"


def test_a_real_box_cannot_be_moved_by_command(bench: BenchBox) -> None:
    """There the parts are moved by hand."""
    bench.daemon.commander._hands = None
    assert bench.refused("simulate", do="lid_opens").code == "refused"


def test_a_box_without_contactor_says_so_at_all_times(make_bench: MakeBench) -> None:
    """A welded relay could not be switched off by this controller."""
    bench = make_bench(box=demo_box(enable_pin=None))
    assert "K1" in bench.snapshot()["warnings"][0]
    bench.start().until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.003)


def test_tubes_that_the_sensor_does_not_see_are_named_at_all_times(make_bench: MakeBench) -> None:
    """And nothing is said where it sees them all, or where box.yaml does not tell."""
    meter = demo_box().meters[0]
    for accepts_deg, remarks in ((63.0, 0), (60.0, 1)):
        look = Sight(tubes=6, pitch_mm=50, height_mm=80, accepts_deg=accepts_deg)
        bench = make_bench(box=demo_box(meters=[meter.model_copy(update={"sight": look})]))
        told = [line for line in bench.snapshot()["warnings"] if "tubes" in line]
        bench.close()
        assert len(told) == remarks
    assert f"Sensor {meter.name} sees 4 of 6 tubes. Not seen: 1, 6." in told[0]
    assert not any("tubes" in line for line in make_bench().snapshot()["warnings"])


def test_an_acknowledgement_is_recorded_with_who_gave_it(bench: BenchBox) -> None:
    """Name and time beside the fault."""
    bench.light_up()
    bench.happen("tube_fails")
    bench.until_state("faulted")
    assert bench.ask("acknowledge", who="K. of the night shift") == {"cleared": ["tube_out"], "standing": []}
    with bench.logbook() as book:
        full = book.exposure(book.recent()[0]["exposure_id"])
    assert full is not None
    fault = full["faults"][0]
    assert (fault["name"], fault["cleared_by"]) == ("tube_out", "K. of the night shift")
    assert fault["cleared_utc"] is not None


def test_a_start_right_after_an_end_waits_until_that_is_recorded(bench: BenchBox) -> None:
    """Else the end of the first panel would be written to the second."""
    bench.start()
    bench.ask("abandon")
    assert "still being recorded" in bench.refused("start", recipe="quick").message
    bench.step()
    bench.ask("start", recipe="quick", panel="P2")
    bench.until_state("light")
    with bench.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == [None, "abandoned"]
    bench.until_state("done")
    with bench.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == ["completed", "abandoned"]


def test_a_start_is_refused_while_the_last_beginning_waits_for_the_disk(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A card that stalls, a panel abandoned meanwhile, and the next one already there."""
    ticket = Ticket()
    real = bench.daemon.writer.begin
    with monkeypatch.context() as patch:
        patch.setattr(bench.daemon.writer, "begin", lambda new: begun.append(real(new)) or ticket)
        begun: list[Ticket] = []
        bench.start()
    bench.run(1.0)
    assert bench.state == "dark_check"
    bench.ask("abandon")
    bench.run(1.0)
    assert bench.refused("start", recipe="quick").code == "refused"
    ticket.settle(begun[0].value)
    bench.step()
    bench.ask("start", recipe="quick")
    bench.until_state("done")
    with bench.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == ["completed", "abandoned"]


def test_an_interrupted_panel_counts_down_the_darkness_that_its_recipe_forgives(bench: BenchBox) -> None:
    """Lit again a good second before the end it is sound, after it doubtful: control's own judgement of the pause."""
    bench.light_up(settled_s=0.5, longest_gap_s=5)
    assert bench.snapshot()["exposure"]["forgiven_left_s"] is None
    for wait_s, doubtful in ((1.0, False), (5.0, True)):
        bench.open_lid()
        bench.shut_lid()
        began_s, left_s = bench.clock.now_s, bench.snapshot()["exposure"]["forgiven_left_s"]
        assert 4.0 < left_s <= 5.0
        bench.run(wait_s)
        waited_s = bench.clock.now_s - began_s
        assert bench.snapshot()["exposure"]["forgiven_left_s"] == pytest.approx(max(0, left_s - waited_s), abs=0.01)
        check(bench.snapshot())
        bench.ask("go")
        bench.until_state("light")
        bench.run(0.5)
        assert bench.snapshot()["exposure"]["doubtful"] is doubtful
    bench.open_lid()
    assert bench.snapshot()["exposure"]["forgiven_left_s"] is None  # it can lose nothing any more


def test_where_nobody_knows_since_when_it_is_dark_nothing_is_counted_down(make_bench: MakeBench) -> None:
    """An exposure that an earlier run of control left."""
    before = make_bench().light_up(settled_s=1.0)
    before.kill()
    after = make_bench()
    assert after.state == "paused"
    assert after.snapshot()["exposure"]["forgiven_left_s"] is None


def test_a_measurement_has_no_panel_that_darkness_could_spoil(bench: BenchBox) -> None:
    """Its legs may lie dark for as long as somebody takes."""
    bench.ready().save("quick", recipe_text())
    bench.ask("series", kind="compare", recipe="quick", panel="sheets", seconds=8.0, legs=3)
    bench.until(lambda: bench.world.is_lit(bench.lit_bank))
    bench.run(0.5)
    bench.open_lid()
    assert (bench.state, bench.snapshot()["exposure"]["forgiven_left_s"]) == ("paused", None)


def test_the_time_left_is_never_more_than_the_time_guard_leaves() -> None:
    """Ten seconds into a light of 100 s under a guard of 40 s."""
    side = SideRun(SidePlan("A", "lower", None, 1.0, guard_s=40.0, lead_s=0.0, lit_for_s=100.0), 0.1)
    side.light(0.0, 0.0, 0.0)
    assert left_s(side, 10.0) == pytest.approx(30.0)
    assert left_s(side, 41.0) == 0.0
    side.plan = replace(side.plan, guard_s=200.0)
    assert left_s(side, 10.0) == pytest.approx(90.0)
