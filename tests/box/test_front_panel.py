"""The front panel's outputs on pins of the library: one that hangs or fails is told, and takes no other with it."""

import threading
from typing import Any

import pytest
from gpiozero.pins.mock import MockFactory

from sumlight.box import description
from sumlight.box.front_panel import FrontPanel

PARTS = description.FrontPanel(go_pin=5, stop_pin=26, buzzer_pin=21, light_pin=4)


class SlowOutput:
    """An output whose every write waits until it is let through."""

    let_through = threading.Semaphore(0)
    entered = threading.Semaphore(0)

    def __init__(self, *_: Any, **__: Any) -> None:
        self.off = self.close = lambda: None

    @property
    def value(self) -> bool:
        """Nobody asks."""
        return False

    @value.setter
    def value(self, on: bool) -> None:
        self.entered.release()
        self.let_through.acquire()


def test_a_display_is_known_and_its_pins_are_left_alone() -> None:
    """They are the bus of Linux's own driver; without them there is none."""
    factory = MockFactory()
    shown = PARTS.model_copy(update={"display_sda_pin": 9, "display_scl_pin": 11})
    panel = FrontPanel(shown, factory)
    assert panel.has == ("go", "stop", "buzzer", "light", "display")
    assert {str(pin) for pin in factory.pins.values()} == {"GPIO5", "GPIO26", "GPIO21", "GPIO4"}
    panel.close()
    assert "display" not in FrontPanel(PARTS, MockFactory()).has


def test_an_output_that_hangs_at_a_later_write_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was told while an earlier write was under way counts as well: the earlier one's end is not its end."""
    monkeypatch.setattr("sumlight.box.front_panel.OutputDevice", SlowOutput)
    monkeypatch.setattr("sumlight.box.front_panel.HANGS_S", 0.0)
    panel = FrontPanel(PARTS.model_copy(update={"buzzer_pin": None}), MockFactory(), threaded=True)
    try:
        for on in (True, False):
            panel.show(buzzer=False, light=on)
            if on:
                SlowOutput.entered.acquire()
        SlowOutput.let_through.release()
        SlowOutput.entered.acquire()  # the second write is under way, and hangs
        assert panel.trouble() == ""
    finally:
        SlowOutput.let_through.release()
        panel.close()
    assert panel.trouble() is None


@pytest.mark.parametrize("part", ["go", "buzzer", "light"])
def test_a_part_that_cannot_be_closed_keeps_no_other_from_it(part: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The buzzer goes silent and every other pin is free, and what failed is raised."""
    factory = MockFactory()
    panel = FrontPanel(PARTS, factory)
    panel.show(buzzer=True, light=True)
    parts: dict[str, Any] = panel._contacts | panel._outputs  # held, or collecting garbage would release the pins
    broken = parts[part]
    close = broken.close

    def fails() -> None:
        raise OSError("no such line")

    monkeypatch.setattr(broken, "close", fails)
    with pytest.raises(OSError, match="no such line"):
        panel.close()
    assert not factory.pin(21).state
    assert not factory.pin(4).state
    close()
    assert len(parts) == 4
    FrontPanel(PARTS, factory).close()  # a pin that was not released would be in use
