"""The commands `findings`, `confirm_cause` and `looked_at`: control takes them, because it alone writes the logbook."""

import pytest

from sumlight.craft.causes.known import Known
from sumlight.protocol.finding_commands import NOT_KNOWN, Findings
from sumlight.protocol.snapshot import OF_LIGHT, ONLY_TOLD
from tests.control.bench_box import BenchBox


def test_signs_and_causes_reach_the_logbook(bench: BenchBox) -> None:
    """After the panel is done, and again when they are taken back."""
    bench.run(0.5)
    bench.start_new(dose_mj_cm2=5)
    bench.until(lambda: bench.snapshot()["state"] == "done")
    number = bench.snapshot()["exposure"]["exposure_id"]
    bench.ask("findings", exposure_id=number, signs=["scum", "clears_late"], same_place=False, clear_s=60.0, who="Ada")
    bench.ask("confirm_cause", exposure_id=number, cause="developer_spent", who="Ada")
    bench.run(0.5)
    with bench.logbook() as book:
        found = book.findings.of(number)
        assert found.signs == ("clears_late", "scum")  # in the order of the list, whatever the order they came in
        assert found.known == Known(same_place=False, clear_s=60.0)
        assert (found.found_by, found.confirmed) == ("Ada", ("developer_spent",))
    bench.ask("confirm_cause", exposure_id=number, cause="developer_spent", confirmed=False, who="Ada")
    bench.run(0.5)
    with bench.logbook() as book:
        assert book.findings.of(number).confirmed == ()


@pytest.mark.parametrize(
    ("command", "fields", "field"),
    [
        ("findings", {"exposure_id": 1, "signs": ["glows"]}, "signs"),
        ("findings", {"exposure_id": 1, "signs": ["scum"] * 40}, "signs"),
        ("findings", {"exposure_id": 1, "place": "moon"}, "place"),
        ("findings", {"exposure_id": 1, "etchant_used": 1.5}, "etchant_used"),
        ("findings", {"exposure_id": 1, "held_step": 22.0}, "held_step"),
        ("findings", {"exposure_id": 0}, "exposure_id"),
        ("confirm_cause", {"exposure_id": 1, "cause": "moonlight"}, "cause"),
        ("confirm_cause", {"exposure_id": 1}, "cause"),
        ("looked_at", {"fault_id": 1, "word": " "}, "word"),
        ("looked_at", {"fault_id": 1}, "word"),
    ],
)
def test_what_is_not_on_the_lists_is_refused(
    bench: BenchBox, command: str, fields: dict[str, object], field: str
) -> None:
    """Before anything is written; the error names the field."""
    assert bench.refused(command, **fields).field == field


def test_signs_on_a_panel_that_does_not_exist_keep_nothing_from_starting(bench: BenchBox) -> None:
    """Nothing is written, and the card is not blamed."""
    bench.run(0.5)
    bench.ask("findings", exposure_id=99, signs=["scum"])
    bench.ask("confirm_cause", exposure_id=99, cause="fogged")
    bench.run(0.5)
    assert bench.snapshot()["logbook"]["ok"]
    assert "start" in bench.snapshot()["may"]


def test_the_command_takes_all_that_can_be_known() -> None:
    """Nothing that the table weighs is left without a way in."""
    names = set(Findings.model_fields) - NOT_KNOWN
    assert names == set(Known.__dataclass_fields__)


def test_a_look_at_the_lamps_reaches_the_logbook_and_takes_no_standing_fault_away(bench: BenchBox) -> None:
    """While a fault of light stands it is refused: first its cause has to go."""
    bench.light_up(dose_mj_cm2=60)
    bench.happen("tube_fails", tubes=6)
    bench.until_state("faulted")
    assert "standing" in bench.refused("looked_at", fault_id=1, word="a fuse").message
    bench.until(lambda: bench.snapshot()["faults"][0]["cause_gone"])
    bench.ask("acknowledge", who="Ada")
    bench.run(0.5)
    with bench.logbook() as book:
        (fault,) = book.faults.not_mended(OF_LIGHT, ONLY_TOLD)
    bench.ask("looked_at", fault_id=fault["fault_id"], word="a fuse", who="Ada")
    bench.run(0.5)
    with bench.logbook() as book:
        assert book.faults.not_mended(OF_LIGHT, ONLY_TOLD) == []
        assert book.faults.past(1)[0]["looked_word"] == "a fuse"
