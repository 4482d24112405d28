"""Opens everything that box.yaml describes, on the pin library and buses that it names."""

from collections.abc import Callable
from typing import Any

from gpiozero.pins import Factory

from sumlight.box.description import AuxiliaryOutputs, BoxDescription, Meter
from sumlight.box.front_panel import FrontPanel
from sumlight.box.lamps import EnableLine, Failure, LampBank, close_all, tell_unclosed, try_each
from sumlight.box.lid import Lid
from sumlight.box.meter import LightMeter
from sumlight.box.signals import AuxiliaryOutput, Signals
from sumlight.box.thermometer import Thermometer
from sumlight.text.message import say


class PinLibraryError(RuntimeError):
    """The pin library that box.yaml names is not there; no other one is tried."""


class Box:
    """All parts of one box, opened together and closed together. Fail-safe: dark before anything is released.

    `may_light` is the leave that lamps ask, `may_hold` the one that the enable line of K1 asks. `sensor` is the kind
    of all its meters. `threaded` gives the outputs of the front panel a thread of their own.
    """

    def __init__(
        self,
        description: BoxDescription,
        pin_factory: Factory,
        bus: Callable[[int], Any],
        may_light: Callable[[], bool],
        may_hold: Callable[[], bool],
        *,
        threaded: bool = False,
    ) -> None:
        self.description = description
        self.sensor = description.meters[0].sensor
        self.banks: list[LampBank] = []
        self.enable: EnableLine | None = None
        self.lid: Lid | None = None
        self.signals: Signals | None = None
        self.thermometer: Thermometer | None = None
        self.comforts: dict[str, AuxiliaryOutput] = {}
        self.front_panel: FrontPanel | None = None
        try:
            self.banks += [LampBank(bank, pin_factory, may_light) for bank in description.banks]
            if description.enable_pin is not None:
                self.enable = EnableLine(description.enable_pin, pin_factory, may_hold)
            self.lid = Lid(description.lid, pin_factory)
            self.signals = Signals(description.signals, pin_factory)
            self.comforts = _comforts(description.comforts, pin_factory)
            if description.front_panel is not None:
                self.front_panel = FrontPanel(description.front_panel, pin_factory, threaded=threaded)
            self.meters = {
                meter.name: _meter(meter, bus(meter.i2c_bus), self._lamps_on) for meter in description.meters
            }
            if description.thermometer is not None:
                self.thermometer = Thermometer(description.thermometer, bus(description.thermometer.i2c_bus))
        except BaseException:
            self.close()
            raise

    def _lamps_on(self) -> bool:
        return any(bank.commanded for bank in self.banks)

    def dark(self) -> list[Failure]:
        """All banks dark and K1 no longer held; returns what failed instead of raising it."""
        acts: list[tuple[str, Callable[[], None]]] = [(bank.name, bank.dark) for bank in self.banks]
        if self.enable is not None:
            acts.append((self.enable.name, self.enable.rest))
        return try_each(acts)

    def close(self) -> list[Failure]:
        """Everything dark, then every part released, whatever the others do; logs and returns what failed.

        May be called twice.
        """
        failed = close_all(self.banks, self.enable)
        others: list[tuple[str, Callable[[], None]]] = [(name, part.close) for name, part in self.comforts.items()]
        others += [(name, part.close) for name, part in self._contacts() if part]
        self.lid, self.signals, self.front_panel, self.comforts = None, None, None, {}
        failed += try_each(others)
        tell_unclosed(failed)
        return failed

    def _contacts(self) -> tuple[tuple[str, Any], ...]:
        return (("lid", self.lid), ("signals", self.signals), ("front panel", self.front_panel))


def _meter(meter: Meter, bus: Any, lamps_on: Callable[[], bool]) -> LightMeter:
    """The meter of the kind that box.yaml says; only its driver is loaded."""
    if meter.colour_i2c_address is not None:
        from sumlight.box.both_meters import BothMeters

        return BothMeters(meter, bus, lamps_on)
    if meter.kind == "as7331":
        from sumlight.box.uv_meter import UvMeter

        return UvMeter(meter, bus, lamps_on)
    from sumlight.box.colour_meter import ColourMeter

    return ColourMeter(meter, bus, lamps_on)


def _comforts(comforts: AuxiliaryOutputs | None, pin_factory: Factory) -> dict[str, AuxiliaryOutput]:
    if comforts is None:
        return {}
    declared = (
        ("fan", comforts.fan_pin, comforts.fan_run_on_s),
        ("pump", comforts.pump_pin, 0.0),
        ("beacon", comforts.beacon_pin, 0.0),
    )
    return {name: AuxiliaryOutput(pin, run_on_s, pin_factory) for name, pin, run_on_s in declared if pin is not None}


def real_pin_factory(library: str) -> Factory:
    """The pin factory for a real Pi. Raises PinLibraryError with what to install if it cannot be opened."""
    if library != "lgpio":
        raise PinLibraryError(say("pins_not_real", library=library))
    try:
        from sumlight.box.pi_pins import pin_factory

        return pin_factory()
    except Exception as error:  # lgpio raises errors of its own, OSError or ImportError; all mean the same here
        raise PinLibraryError(say("pins_not_opened", why=str(error))) from error


def real_bus(number: int) -> Any:
    """The I2C bus `/dev/i2c-<number>` as the sensor's driver wants it."""
    from adafruit_extended_bus import ExtendedI2C

    return ExtendedI2C(number)
