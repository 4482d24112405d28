"""The table of faults and the desk where they latch."""

from dataclasses import FrozenInstanceError

import pytest

from sumlight.control.safety.faults import FAULTS, FaultRegistry
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import Later, as_written


@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_has_all_its_texts(name: FaultName) -> None:
    """Title, what was seen and what to do, each a text that can stand on the page."""
    kind = FAULTS[name]
    assert kind.fault is name
    for text in (kind.title, kind.seen, kind.remedy):
        assert len(text) > 8
        assert text[0].isupper()
    assert not kind.title.endswith(".")
    assert kind.seen.endswith(".")
    assert kind.remedy.endswith(".")


def test_titles_tell_faults_apart() -> None:
    """No two faults look the same to the person at the box."""
    assert len({kind.title for kind in FAULTS.values()}) == len(FAULTS)


def test_a_fault_is_reported_once_and_keeps_its_beginning() -> None:
    """Seen again it is the same fault."""
    desk = FaultRegistry()
    assert desk.report(FaultName.METER_LOST, as_written("first"), 5.0) == "first"
    assert desk.report(FaultName.METER_LOST, as_written("again"), 6.0) is None
    standing = desk.standing()
    assert [(fault.kind.fault, fault.detail, fault.since_s) for fault in standing] == [("meter_lost", "first", 5.0)]
    assert "meter_lost" in desk
    assert "no_light" not in desk


def test_a_fault_whose_cause_is_present_cannot_be_acknowledged() -> None:
    """The desk stays as it is."""
    desk = FaultRegistry()
    desk.report(FaultName.LID_MISMATCH, as_written(""), 1.0)
    desk.note_causes({FaultName.LID_MISMATCH})
    assert desk.acknowledge() == []
    assert desk


def test_a_fault_stands_after_its_cause_has_gone_until_acknowledged() -> None:
    """It takes both."""
    desk = FaultRegistry()
    desk.report(FaultName.LID_MISMATCH, as_written(""), 1.0)
    desk.note_causes(set())
    assert desk
    assert desk.standing()[0].cause_gone
    assert desk.acknowledge() == ["lid_mismatch"]
    assert not desk


def test_a_cause_that_comes_back_before_the_acknowledgement_counts() -> None:
    """Reported again, or seen again."""
    desk = FaultRegistry()
    desk.report(FaultName.METER_LOST, as_written(""), 1.0)
    desk.note_causes(set())
    desk.report(FaultName.METER_LOST, as_written(""), 2.0)
    assert desk.acknowledge() == []
    desk.note_causes(set())
    desk.note_causes({FaultName.METER_LOST})
    assert desk.acknowledge() == []


def test_each_fault_is_cleared_by_itself_oldest_first() -> None:
    """One whose cause is gone does not take the other with it."""
    desk = FaultRegistry()
    desk.report(FaultName.NO_LIGHT, as_written(""), 3.0)
    desk.report(FaultName.METER_LOST, as_written(""), 2.0)
    assert [fault.kind.fault for fault in desk.standing()] == ["meter_lost", "no_light"]
    desk.note_causes({FaultName.METER_LOST})
    assert desk.acknowledge() == ["no_light"]
    assert [fault.kind.fault for fault in desk.standing()] == ["meter_lost"]


def test_names_and_whether_any_stops_follow_what_stands() -> None:
    """The loop asks for them in every tick: those that are kept must be those that are there."""
    desk = FaultRegistry()
    assert (desk.names, desk.stops, bool(desk)) == ((), False, False)
    desk.report(FaultName.CLOCK_STEPPED, as_written("told only"), 1.0)
    assert (desk.names, desk.stops, bool(desk)) == (("clock_stepped",), False, False)
    desk.report(FaultName.METER_LOST, as_written("darkens"), 2.0)
    assert (desk.names, desk.stops, bool(desk)) == (("clock_stepped", "meter_lost"), True, True)
    desk.note_causes([FaultName.CLOCK_STEPPED])
    desk.acknowledge()
    assert (desk.names, desk.stops, bool(desk)) == (("clock_stepped",), False, False)


def test_every_name_is_in_the_table_and_no_other_can_be_made() -> None:
    """A misspelt name is a mistake of the program."""
    assert list(FAULTS) == list(FaultName)
    with pytest.raises(ValueError, match="flat_tyre"):
        FaultName("flat_tyre")


def test_what_has_no_words_latches_all_the_same() -> None:
    """A mistake in the words must not keep a fault from standing: it then reads as its code and values."""
    desk = FaultRegistry()
    assert desk.report(FaultName.NO_LIGHT, Later("no_words", {"bank": "lower"}), 1.0) == "no_words: bank lower"
    assert desk.report(FaultName.METER_LOST, Later("no_tick", {"stalled_s": "long"}), 1.0) == "no_tick: stalled_s long"
    assert len(desk.standing()) == 2


def test_only_these_kinds_are_remarks_that_do_not_darken() -> None:
    """Everything else ends light; which do not is decided here and nowhere else."""
    advisories = {"clock_stepped", "supply_low", "page_gone", "logbook_unsound"}
    assert {name for name, kind in FAULTS.items() if not kind.stops} == advisories


def test_what_darkens_stands_before_what_is_only_told() -> None:
    """Although the remark came first; the page's sentence is about the first one."""
    desk = FaultRegistry()
    desk.report(FaultName.SUPPLY_LOW, as_written(""), 1.0)
    assert not desk
    desk.report(FaultName.NO_LIGHT, as_written(""), 2.0)
    assert desk
    assert [fault.kind.fault for fault in desk.standing()] == ["no_light", "supply_low"]


def test_a_fault_just_reported_cannot_be_acknowledged_before_its_cause_was_looked_at() -> None:
    """Its cause counts as present until somebody has looked."""
    desk = FaultRegistry()
    desk.report(FaultName.TOO_HOT, as_written(""), 1.0)
    assert desk.acknowledge() == []
    assert "too_hot" in desk


def test_the_table_cannot_be_changed_by_the_way() -> None:
    """A kind of fault is as it is written."""
    with pytest.raises(FrozenInstanceError):
        FAULTS[FaultName.TOO_HOT].stops = False  # type: ignore[misc]
