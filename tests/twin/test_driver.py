"""The unmodified AS7341 driver on the simulated bus and chip."""

import errno
from typing import Any

import pytest
from adafruit_as7341 import AS7341

from sumlight.twin.bus import TwinBus
from tests.twin.rig import Rig, scenario


class TickingBus:
    """Hands on to a simulated bus, but every access takes a millisecond of simulated time.

    The driver's blocking calls wait on the machine's clock; this lets the simulated one pass meanwhile.
    """

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._bus: TwinBus = rig.world.bus(1)

    def __getattr__(self, name: str) -> Any:
        if name in ("writeto", "readfrom_into", "writeto_then_readfrom"):
            self._rig.run(0.001)
        return getattr(self._bus, name)


def test_the_driver_finds_the_chip_and_sets_its_defaults() -> None:
    """281 ms and 128 × after construction."""
    driver = AS7341(Rig().world.bus(1))
    assert (driver.atime, driver.astep, driver.gain) == (100, 999, 8)


def test_the_drivers_blocking_reading_gives_all_eight_channels() -> None:
    """Both SMUX settings, waited for by the driver itself; violet and blue stand out under the lamps."""
    rig = Rig(scenario(lamp_hours=99.0))
    rig.light()
    driver = AS7341(TickingBus(rig))
    driver.atime, driver.astep, driver.gain = 29, 599, 5
    reads = driver.all_channels
    assert len(reads) == 8
    assert reads[0] > 4000
    assert reads[1] > 3000
    assert max(reads[2:]) < 300


def test_the_drivers_led_lives_in_the_low_bank() -> None:
    """Current and switch are kept, and other registers work afterwards."""
    driver = AS7341(Rig().world.bus(1))
    driver.led_current = 50
    driver.led = True
    assert driver.led_current == 50
    assert driver.led is True
    driver.gain = 3
    assert driver.gain == 3


def test_one_burst_gives_status_and_six_counts_of_one_conversion() -> None:
    """As the light meter reads it: no conversion twice, none lost."""
    rig = Rig()
    driver = rig.meter()
    rig.light()
    _ = driver._all_channels
    found = rig.samples(driver, 10.0)
    assert 199 <= len(found) <= 200
    assert {status for status, *_ in found} == {5}
    assert all(len(sample) == 7 for sample in found)


def test_a_meter_that_disappears_gives_a_bus_error_until_it_returns() -> None:
    """OSError with the kernel's number; afterwards it must be set up anew."""
    rig = Rig(scenario({"at_s": 1.0, "do": "meter_disappears"}, {"at_s": 2.0, "do": "meter_returns"}))
    driver = rig.meter()
    rig.run(1.5)
    with pytest.raises(OSError, match="0x39") as caught:
        _ = driver._data_ready_bit
    assert caught.value.errno == errno.EREMOTEIO == 121
    assert rig.world.bus(1).scan() == []
    rig.run(1.0)
    assert rig.world.bus(1).scan() == [0x39]
    assert not driver._data_ready_bit
    assert driver.atime == 0


def test_the_driver_refuses_an_address_without_a_chip() -> None:
    """The probe fails."""
    with pytest.raises(ValueError, match="0x29"):
        AS7341(Rig().world.bus(1), address=0x29)


def test_a_hanging_meter_stops_giving_samples() -> None:
    """The bus works, data-valid does not come."""
    rig = Rig(scenario({"at_s": 1.0, "do": "meter_hangs"}))
    driver = rig.meter()
    assert len(rig.samples(driver, 0.9)) >= 16
    rig.run(0.2)
    _ = driver._all_channels
    assert rig.samples(driver, 2.0) == []


def test_a_freezing_meter_repeats_the_same_sample() -> None:
    """With noise in every honest reading, equal ones betray it."""
    rig = Rig(scenario({"at_s": 3.0, "do": "meter_freezes"}))
    driver = rig.meter()
    rig.light()
    rig.run(rig.start_s + 3.1 - rig.clock.now_s)
    assert len(set(rig.samples(driver, 2.0))) == 1


def test_the_bus_refuses_work_without_its_lock() -> None:
    """A driver that forgets the lock must not pass its tests."""
    bus = Rig().world.bus(1)
    with pytest.raises(RuntimeError, match="lock"):
        bus.writeto(0x39, b"\x80")


def test_the_bus_is_taken_once() -> None:
    """A second taker waits until it is given back."""
    bus = Rig().world.bus(1)
    assert [bus.try_lock(), bus.try_lock()] == [True, False]
    bus.unlock()
    assert bus.try_lock()


def test_parts_of_buffers_are_honoured() -> None:
    """start and end as `busio` has them, pointer kept between a write and a read."""
    bus = Rig().world.bus(1)
    assert bus.try_lock()
    bus.writeto(0x39, b"\xff\xca\x57\x02\xff", start=1, end=4)
    bus.writeto(0x39, b"\xca")
    buffer = bytearray(4)
    bus.readfrom_into(0x39, buffer, start=1, end=3)
    assert buffer == b"\x00\x57\x02\x00"
    bus.writeto_then_readfrom(0x39, b"\x00\xcb", buffer, out_start=1, in_start=3)
    assert buffer == b"\x00\x57\x02\x02"


def test_a_bus_that_the_box_does_not_have_is_named() -> None:
    """With those it has."""
    with pytest.raises(ValueError, match=r"I2C bus 7 .* it has 1"):
        Rig().world.bus(7)
