"""Opens everything that box.yaml describes, on the pin library and buses that it names."""

from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

from gpiozero.pins import Factory

from sumlight.box.description import BoxDescription, Comforts
from sumlight.box.lamps import EnableLine, LampBank, close_all
from sumlight.box.lid import Lid
from sumlight.box.meter import LightMeter
from sumlight.box.signals import Comfort, Signals


class PinLibraryError(RuntimeError):
    """The pin library that box.yaml names is not there; no other one is tried."""


class Box:
    """All parts of one box, opened together and closed together. Fail-safe: dark before anything is released."""

    def __init__(
        self,
        description: BoxDescription,
        pin_factory: Factory,
        bus: Callable[[int], Any],
        may_light: Callable[[], bool],
    ) -> None:
        self.description = description
        self.banks: list[LampBank] = []
        self.enable: EnableLine | None = None
        self.lid: Lid | None = None
        self.signals: Signals | None = None
        self.comforts: dict[str, Comfort] = {}
        try:
            self.banks += [LampBank(bank, pin_factory, may_light) for bank in description.banks]
            if description.enable_pin is not None:
                self.enable = EnableLine(description.enable_pin, pin_factory)
            self.lid = Lid(description.lid, pin_factory)
            self.signals = Signals(description.signals, pin_factory)
            self.comforts = _comforts(description.comforts, pin_factory)
            self.meters = {meter.name: LightMeter(meter, bus(meter.i2c_bus)) for meter in description.meters}
        except BaseException:
            self.close()
            raise

    def dark(self) -> None:
        """All banks dark and K1 no longer held, whatever else fails."""
        with ExitStack() as each:  # runs every callback, then raises what failed
            for bank in self.banks:
                each.callback(bank.dark)
            if self.enable is not None:
                each.callback(self.enable.rest)

    def close(self) -> None:
        """Everything dark, then everything released; may be called twice."""
        parts: list[LampBank | EnableLine] = list(self.banks)
        if self.enable is not None:
            parts.append(self.enable)
        close_all(parts)
        if self.lid is not None:
            self.lid.close()
            self.lid = None
        if self.signals is not None:
            self.signals.close()
            self.signals = None
        comforts, self.comforts = self.comforts, {}
        for comfort in comforts.values():
            comfort.close()


def _comforts(comforts: Comforts | None, pin_factory: Factory) -> dict[str, Comfort]:
    if comforts is None:
        return {}
    declared = (("fan", comforts.fan_pin, comforts.fan_run_on_s), ("beacon", comforts.beacon_pin, 0.0))
    return {name: Comfort(pin, run_on_s, pin_factory) for name, pin, run_on_s in declared if pin is not None}


def real_pin_factory(library: str) -> Factory:
    """The pin factory for a real Pi. Raises PinLibraryError with what to install if it cannot be opened."""
    if library != "lgpio":
        raise PinLibraryError(f"pin_library '{library}' cannot drive a real box; box.yaml must say 'lgpio'")
    try:
        from sumlight.box.pi_pins import pin_factory

        return pin_factory()
    except Exception as error:  # lgpio raises errors of its own, OSError or ImportError; all mean the same here
        raise PinLibraryError(
            f"pin library 'lgpio' cannot be opened ({error}); on the Pi install sumlight[pi] and see hardware/README.md"
        ) from error


def real_bus(number: int) -> Any:
    """The I2C bus `/dev/i2c-<number>` as the sensor's driver wants it."""
    from adafruit_extended_bus import ExtendedI2C

    return ExtendedI2C(number)
