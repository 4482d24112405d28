"""What is not worked out for each of ten snapshots a second: how old it may be, and what makes it anew."""

from typing import Any

from sumlight.control.server.standing import KEPT_S
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench


def pushed(bench: BenchBox) -> dict[str, Any]:
    """As those who watch get it."""
    return bench.daemon.commander.snapshot(pushed=True)


def test_what_stands_is_worked_out_once_a_second(bench: BenchBox) -> None:
    """And not ten times: it takes longer than the rest of a snapshot."""
    bench.light_up(dose_mj_cm2=100)
    first = pushed(bench)
    bench.run(0.5 * KEPT_S)
    assert pushed(bench)["calibration"] is first["calibration"]
    bench.run(0.6 * KEPT_S)
    assert pushed(bench)["calibration"] is not first["calibration"]


def test_whoever_asks_gets_it_as_it_is_now(bench: BenchBox) -> None:
    """Only the stream is spared."""
    bench.light_up(dose_mj_cm2=100)
    first = bench.snapshot()["exposure"]["sides"][0]
    bench.run(0.5 * KEPT_S)
    later = bench.snapshot()["exposure"]["sides"][0]
    assert later["expanded_absolute_mj_cm2"] > first["expanded_absolute_mj_cm2"]


def test_a_command_makes_it_anew(bench: BenchBox) -> None:
    """It may have changed anything."""
    bench.light_up(dose_mj_cm2=100)
    first = pushed(bench)
    bench.ask("note", exposure_id=1, note="dusty film", result="", who="Ada")
    assert pushed(bench)["calibration"] is not first["calibration"]


def test_a_question_that_the_page_always_asks_does_not(bench: BenchBox) -> None:
    """Twenty pages that ask for the curve must not cost the loop a whole snapshot each time."""
    bench.light_up(dose_mj_cm2=100)
    first = pushed(bench)
    bench.ask("trace", since_s=0.0)
    assert pushed(bench)["calibration"] is first["calibration"]


def test_the_end_of_a_side_makes_it_anew(make_bench: MakeBench) -> None:
    """What its dose is worth is then settled, and shown so at once, while the other side is not done yet."""
    bench = make_bench(box=demo_box(two_banks=True)).start_new(sides="together", dose_mj_cm2=60)
    while not any(side.state == "done" for side in bench.exposure.sides):
        pushed(bench)
        bench.step()
    first = next(side for side in bench.exposure.sides if side.state == "done")
    assert any(side.state != "done" for side in bench.exposure.sides)
    told = {side["side"]: side for side in pushed(bench)["exposure"]["sides"]}[first.plan.side]
    settled = bench.loop.appraiser.of(first).figures()
    assert told["expanded_absolute_mj_cm2"] == settled["expanded_absolute_mj_cm2"]
