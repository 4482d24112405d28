"""When the program itself is at fault: dark, told, and on it goes."""

import pytest

from tests.control.conftest import MakeBench


def test_a_command_that_breaks_darkens_the_lamps(make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The client is told, the lamps are off before it hears of it, the fault stands."""
    bench = make_bench().light_up()

    def broken(_request: object) -> dict[str, object]:
        raise KeyError("lost")

    monkeypatch.setattr(bench.daemon.commander, "_carry_out", broken)
    assert bench.refused("go").code == "internal"
    assert not bench.any_relay_lights()
    assert bench.faults == ["internal"]


def test_the_gain_that_suited_is_remembered_for_the_next_run(make_bench: MakeBench) -> None:
    """So that the first conversion of the next lamps is already in range."""
    first = make_bench().start()
    first.until_state("done")
    code = first.loop.banks["lower"].meter.gain_code
    with first.logbook() as book:
        assert book.bank_state("lower").gain_code == code
