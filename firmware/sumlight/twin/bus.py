"""A simulated I2C bus with the calls that drivers make on a `busio.I2C`."""

import errno
import threading
from collections.abc import Callable, Mapping
from typing import Protocol

Buffer = bytes | bytearray | memoryview
WritableBuffer = bytearray | memoryview


class _Clock(Protocol):
    now_s: float


class Device(Protocol):
    """A chip on the bus: its registers, and whether it answers at all."""

    present: bool

    def write(self, now_s: float, register: int, values: Buffer) -> None:
        """Write `values` to `register` and those after it."""

    def read(self, now_s: float, register: int, size: int) -> bytes:
        """What `size` bytes from `register` on hold."""


class TwinBus:
    """One bus with its chips by address.

    Every access first brings the world up to now. An address without a chip, or whose chip is gone, gives
    OSError(EREMOTEIO) as the kernel does; an access without the lock is a RuntimeError.
    """

    def __init__(
        self, clock: _Clock, advance: Callable[[], None], world_lock: threading.RLock, chips: Mapping[int, Device]
    ) -> None:
        self._clock = clock
        self._advance = advance
        self._world_lock = world_lock
        self._chips = chips
        self._locked = False
        self._pointer = dict.fromkeys(chips, 0)

    def try_lock(self) -> bool:
        """Take the bus; False if somebody has it."""
        if self._locked:
            return False
        self._locked = True
        return True

    def unlock(self) -> None:
        """Give the bus back."""
        self._locked = False

    def deinit(self) -> None:
        """Nothing to release."""

    def scan(self) -> list[int]:
        """Addresses that answer."""
        self._advance()
        return sorted(address for address, chip in self._chips.items() if chip.present)

    def writeto(self, address: int, buffer: Buffer, *, start: int = 0, end: int | None = None) -> None:
        """Write `buffer[start:end]`: a register number, then values for it and those after it."""
        chip = self._chip(address)
        data = buffer[start : len(buffer) if end is None else end]
        if len(data):
            self._pointer[address] = data[0]
            if len(data) > 1:
                with self._world_lock:
                    chip.write(self._clock.now_s, data[0], data[1:])

    def readfrom_into(self, address: int, buffer: WritableBuffer, *, start: int = 0, end: int | None = None) -> None:
        """Fill `buffer[start:end]` from the register written last."""
        chip = self._chip(address)
        stop = len(buffer) if end is None else end
        with self._world_lock:
            buffer[start:stop] = chip.read(self._clock.now_s, self._pointer[address], stop - start)

    def writeto_then_readfrom(
        self,
        address: int,
        out_buffer: Buffer,
        in_buffer: WritableBuffer,
        *,
        out_start: int = 0,
        out_end: int | None = None,
        in_start: int = 0,
        in_end: int | None = None,
    ) -> None:
        """Write, then read without letting go of the bus."""
        chip = self._chip(address)
        if out_end is None:
            out_end = len(out_buffer)
        if in_end is None:
            in_end = len(in_buffer)
        if out_end - out_start > 1:
            self.writeto(address, out_buffer, start=out_start, end=out_end)
        register = self._pointer[address] = out_buffer[out_start]
        with self._world_lock:
            in_buffer[in_start:in_end] = chip.read(self._clock.now_s, register, in_end - in_start)

    def _chip(self, address: int) -> Device:
        if not self._locked:
            raise RuntimeError("the I2C bus was used without its lock; take it with try_lock() first")
        self._advance()
        chip = self._chips.get(address)
        if chip is None or not chip.present:
            raise OSError(errno.EREMOTEIO, f"no answer from I2C address 0x{address:02x}")
        return chip
