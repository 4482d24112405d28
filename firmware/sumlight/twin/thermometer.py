"""A register-level MCP9808 thermometer, as far as its driver uses it: identity, and the temperature in sixteenths of a
kelvin (register addresses and layout by the driver)."""

from collections.abc import Callable

TEMPERATURE, MANUFACTURER, DEVICE = 0x05, 0x06, 0x07
MANUFACTURER_ID, DEVICE_ID = 0x0054, 0x0400


class ThermometerChip:
    """One of them in the air at the tubes; `off_k` is by how much it lies, `present` whether it answers."""

    def __init__(self, air_c: Callable[[float], float]) -> None:
        self.present = True
        self.off_k = 0.0
        self.reads = 0
        self._air_c = air_c

    def write(self, now_s: float, register: int, values: bytes | bytearray | memoryview) -> None:
        """Limits and the like, which nobody here uses."""

    def read(self, now_s: float, register: int, size: int) -> bytes:
        """Two bytes of a register, the more significant one first."""
        if register == TEMPERATURE:
            self.reads += 1
            sixteenths = round(16 * (self._air_c(now_s) + self.off_k))
            word = sixteenths & 0x1FFF  # two's complement of thirteen bits
        else:
            word = {MANUFACTURER: MANUFACTURER_ID, DEVICE: DEVICE_ID}.get(register, 0)
        return word.to_bytes(2, "big")[:size]
