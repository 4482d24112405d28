"""The reading of darkness that comes before every light."""

from tests.control.conftest import MakeBench


def test_going_on_at_once_after_dark_is_not_mistaken_for_foreign_light(make_bench: MakeBench) -> None:
    """The conversion that began under burning lamps does not count as darkness; twenty tries hit every phase of it."""
    bench = make_bench().light_up(settled_s=2.0, dose_mj_cm2=4000, forgiven=100, time_guard_s=500)
    for number in range(20):
        bench.run(0.0025 * number)
        bench.ask("dark")
        bench.step()
        bench.ask("go")
        bench.until_state("light", 2.0)
        assert bench.faults == []
