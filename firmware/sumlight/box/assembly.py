"""Opens everything that box.yaml describes, on the pin library and buses that it names."""

from collections.abc import Callable
from typing import Any

from gpiozero.pins import Factory

from sumlight.box.description import BoxDescription, Comforts
from sumlight.box.lamps import EnableLine, Failure, LampBank, close_all, tell_unclosed, try_each
from sumlight.box.lid import Lid
from sumlight.box.meter import LightMeter
from sumlight.box.signals import Comfort, Signals


class PinLibraryError(RuntimeError):
    """The pin library that box.yaml names is not there; no other one is tried."""


class Box:
    """All parts of one box, opened together and closed together. Fail-safe: dark before anything is released.

    `may_light` is the leave that lamps ask, `may_hold` the one that the enable line of K1 asks.
    """

    def __init__(
        self,
        description: BoxDescription,
        pin_factory: Factory,
        bus: Callable[[int], Any],
        may_light: Callable[[], bool],
        may_hold: Callable[[], bool],
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
                self.enable = EnableLine(description.enable_pin, pin_factory, may_hold)
            self.lid = Lid(description.lid, pin_factory)
            self.signals = Signals(description.signals, pin_factory)
            self.comforts = _comforts(description.comforts, pin_factory)
            self.meters = {
                meter.name: LightMeter(meter, bus(meter.i2c_bus), self._lamps_on) for meter in description.meters
            }
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
        others += [(name, part.close) for name, part in (("lid", self.lid), ("signals", self.signals)) if part]
        self.lid, self.signals, self.comforts = None, None, {}
        failed += try_each(others)
        tell_unclosed(failed)
        return failed


def _comforts(comforts: Comforts | None, pin_factory: Factory) -> dict[str, Comfort]:
    if comforts is None:
        return {}
    declared = (
        ("fan", comforts.fan_pin, comforts.fan_run_on_s),
        ("pump", comforts.pump_pin, 0.0),
        ("beacon", comforts.beacon_pin, 0.0),
    )
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
