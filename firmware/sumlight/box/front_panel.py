"""Buttons, buzzer and light at the box. Comfort only: nothing here can light, and no trouble here reaches the loop."""

import threading
import time
from typing import Any, NamedTuple

from gpiozero import OutputDevice
from gpiozero.pins import Factory

from sumlight.box import description
from sumlight.box.contact import Contact
from sumlight.box.lamps import try_each

HANGS_S = 2.0
"""A write that takes so long has got stuck."""
END_S = 0.5


class Pressed(NamedTuple):
    """Whether each button is pressed now; None for one that the box does without."""

    go: bool | None
    stop: bool | None


class FrontPanel:
    """Reads the buttons and drives buzzer and light. Fail-safe: a broken wire never reads as a press of go.

    Wiring: go closes to ground when it is pressed, stop opens; buzzer and light are high when on. With `threaded` a
    thread of its own writes the outputs, so that one that hangs holds up nobody.
    """

    def __init__(self, panel: description.FrontPanel, pin_factory: Factory, *, threaded: bool = False) -> None:
        self._contacts: dict[str, Contact] = {}
        self._outputs: dict[str, Any] = {}
        try:
            for name, pin in (("go", panel.go_pin), ("stop", panel.stop_pin)):
                if pin is not None:
                    self._contacts[name] = Contact(pin, pin_factory)
            for name, pin in (("buzzer", panel.buzzer_pin), ("light", panel.light_pin)):
                if pin is not None:
                    self._outputs[name] = OutputDevice(pin, initial_value=False, pin_factory=pin_factory)
        except BaseException:
            self._release()
            raise
        self._display = ("display",) if panel.display_sda_pin is not None else ()
        self._go, self._stop = self._contacts.get("go"), self._contacts.get("stop")
        self._told = dict.fromkeys(self._outputs, False)
        self._written = dict(self._told)
        self._writing_since_s: float | None = None
        self._errors: dict[str, str] = {}
        self._news = threading.Event()
        self._ends = False
        self._thread = threading.Thread(target=self._serve, name="front panel", daemon=True) if threaded else None
        if self._thread is not None and self._outputs:
            self._thread.start()

    @property
    def has(self) -> tuple[str, ...]:
        """Names of the parts that are there; a display's pins are not ours to touch."""
        return (*self._contacts, *self._outputs, *self._display)

    def read(self) -> Pressed:
        """Both buttons now."""
        go, stop = self._go, self._stop
        return Pressed(None if go is None else not go.pin.state, None if stop is None else bool(stop.pin.state))

    def touched(self) -> bool:
        """Whether one of the buttons is pressed now."""
        go, stop = self._go, self._stop
        return (go is not None and not go.pin.state) or (stop is not None and bool(stop.pin.state))

    def show(self, *, buzzer: bool, light: bool) -> None:
        """Tell the outputs what to do; never waits for them where there is a thread, and never raises."""
        wanted = {name: on for name, on in (("buzzer", buzzer), ("light", light)) if name in self._outputs}
        if wanted == self._told:
            return
        self._told = wanted
        if self._thread is None:
            self._write()
            return
        self._news.set()

    def trouble(self) -> str | None:
        """Why an output did not do what it was last told, if so; an empty text for one that hangs."""
        since_s = self._writing_since_s
        if since_s is not None and time.monotonic() - since_s > HANGS_S:
            return ""
        return next(iter(self._errors.values()), None)

    def close(self) -> None:
        """Everything off, then the pins are released; an output that hangs is left behind. Raises what failed first."""
        self._ends = True
        self._news.set()
        if self._thread is not None and self._thread.is_alive():
            self._thread.join(END_S)
            if self._thread.is_alive():
                self._outputs = {}
        self._release()

    def _serve(self) -> None:
        while not self._ends:
            self._news.wait()
            self._news.clear()
            if not self._ends:
                self._write()

    def _write(self) -> None:
        self._writing_since_s = time.monotonic()
        for name, on in self._told.items():
            if self._written[name] == on:
                continue
            try:
                self._outputs[name].value = on
            except Exception as error:  # noqa: BLE001 - pin libraries raise their own kinds; comfort ends no light
                self._errors = {**self._errors, name: f"{type(error).__name__}: {error}"}
            else:
                self._written[name] = on
                self._errors = {failed: why for failed, why in self._errors.items() if failed != name}
        self._writing_since_s = None

    def _release(self) -> None:
        outputs, self._outputs = self._outputs, {}
        contacts, self._contacts, self._go, self._stop = self._contacts, {}, None, None
        failed = try_each((name, output.off) for name, output in outputs.items())
        failed += try_each((name, part.close) for name, part in (outputs | contacts).items())
        if failed:
            raise failed[0][1]
