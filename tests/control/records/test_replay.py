"""Every recorded stretch of light gives the stored dose again, through today's code."""

from dataclasses import replace

import pytest

from sumlight.control.records.replay import Replayed, replay, replay_all
from sumlight.store.logbook.light_intervals import RecordedLightInterval
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench


def stretches(bench: BenchBox) -> list[RecordedLightInterval]:
    """What the logbook holds."""
    bench.daemon.writer.drain(0)
    with bench.logbook() as book:
        assert book.intervals.unreplayable_sides() == 0
        return list(book.intervals.stretches())


def doses(found: list[Replayed]) -> list[str]:
    """The verdicts."""
    return [each.verdict for each in found]


def test_a_panel_done_in_one_go_is_replayed_to_the_bit(bench: BenchBox) -> None:
    """Dose and doubt at the end of the tail."""
    bench.ready().start().until_state("done")
    found = stretches(bench)
    again = [replay(each) for each in found]
    assert doses(again) == ["same"]
    assert again[0].replayed_mj_cm2 == pytest.approx(bench.side().dose_mj_cm2, abs=1e-9)
    assert again[0].samples > 100


def test_a_panel_with_pauses_is_replayed_stretch_by_stretch(bench: BenchBox) -> None:
    """Lid opened and dark pressed in the middle; each stretch begins where the last one ended."""
    bench.light_up(dose_mj_cm2=40)
    bench.ask("dark")
    bench.run(1.0)
    bench.ask("go")
    bench.until_state("light")
    bench.run(3.0)
    bench.ask("dark")
    bench.run(1.0)
    bench.ask("go")
    bench.until_state("done")
    found = stretches(bench)
    assert [each.end.ended for each in found if each.end] == ["interrupted", "interrupted", "cut"]
    assert doses(list(replay_all(found))) == ["same"] * 3
    assert [each.begin.from_mj_cm2 for each in found[1:]] == [each.end.to_mj_cm2 for each in found[:-1] if each.end]


def test_light_that_was_killed_stays_open_and_the_rest_is_replayed(make_bench: MakeBench) -> None:
    """The journal's dose stands for what the trace lost."""
    bench = make_bench().light_up(dose_mj_cm2=40)
    bench.kill()
    after = make_bench()
    after.run(1.0)
    after.ask("go")
    after.until_state("done")
    found = [replay(each) for each in stretches(after)]
    assert doses(found) == ["open", "same"]


def test_a_change_of_the_dose_code_is_noticed(bench: BenchBox) -> None:
    """A dark reading forgotten, or a sample lost, shows as a difference."""
    bench.ready()
    bench.start().until_state("done")
    found = stretches(bench)[0]
    assert replay(replace(found, samples=found.samples[:50] + found.samples[51:])).verdict == "differs"
    assert replay(replace(found, begin=replace(found.begin, dark_mw_cm2=0.0))).verdict == "differs"
    assert replay(found).verdict == "same"
