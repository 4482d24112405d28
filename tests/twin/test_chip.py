"""The register-level light sensor, register by register."""

from collections.abc import Callable
from random import Random
from statistics import fmean, pstdev

import pytest

from sumlight.twin import chip as registers
from sumlight.twin import optics
from sumlight.twin.chip import Chip

# Bytes of the SMUX for F1-F4, Clear, NIR and for F5-F8, Clear, NIR: reference values §4, built there from the
# driver's own map.
LOW_SMUX = bytes.fromhex("30 01 00 00 00 42 00 00 50 00 00 00 20 04 00 30 01 50 00 06")
HIGH_SMUX = bytes.fromhex("00 00 00 40 02 00 10 03 50 10 03 00 00 00 24 00 00 50 00 06")
SPAN_S = 30 * 600 * 2.78e-6


def lamp(level: float) -> Callable[[float], registers.Light]:
    """Steady lamp light of `level` × nominal."""
    return lambda at_s: (level * at_s, level * at_s, 0.0)


def connect(chip: Chip, now_s: float, smux: bytes) -> None:
    """Stop, load the SMUX, start."""
    chip.write(now_s, registers.ENABLE, bytes([registers.PON]))
    chip.write(now_s, registers.CFG6, bytes([registers.SMUX_WRITE << 3]))
    chip.write(now_s, 0x00, smux)
    chip.write(now_s, registers.ENABLE, bytes([registers.PON | registers.SMUXEN]))
    chip.write(now_s, registers.ENABLE, bytes([registers.PON | registers.SP_EN]))


def converting(
    light: Callable[[float], registers.Light], gain_code: int = 5, smux: bytes = LOW_SMUX, seed: int = 1
) -> Chip:
    """A chip at 50.04 ms that started to convert at 0 s."""
    chip = Chip(light, Random(seed))
    chip.write(0.0, registers.ATIME, bytes([29]))
    chip.write(0.0, registers.ASTEP_L, (599).to_bytes(2, "little"))
    chip.write(0.0, registers.CFG1, bytes([gain_code]))
    connect(chip, 0.0, smux)
    return chip


def burst(chip: Chip, now_s: float) -> tuple[int, list[int]]:
    """Status byte and the six counts, read in one go."""
    raw = chip.read(now_s, registers.ASTATUS, 13)
    return raw[0], [int.from_bytes(raw[i : i + 2], "little") for i in range(1, 13, 2)]


def ready(chip: Chip, now_s: float) -> bool:
    """The data-valid bit."""
    return bool(chip.read(now_s, registers.STATUS2, 1)[0] & registers.AVALID)


def expected(channel: str, gain: float, seconds: float = SPAN_S) -> float:
    """Counts of a channel under nominal lamps, without offset."""
    answer = optics.counts(channel)
    return (answer.phosphor + answer.lines) * gain * seconds


def test_the_identity_register_reads_as_published() -> None:
    """(reg & 0xFC) == 0x24 at 0x92, and it cannot be written."""
    chip = Chip(lamp(0), Random(1))
    chip.write(0.0, 0x92, b"\xff")
    assert chip.read(0.0, 0x92, 1)[0] & 0xFC == 0x24


def test_registers_count_up_on_longer_accesses() -> None:
    """A write of two bytes fills two registers, a read gives both."""
    chip = Chip(lamp(0), Random(1))
    chip.write(0.0, registers.ASTEP_L, b"\x57\x02")
    assert chip.read(0.0, registers.ASTEP_L, 2) == b"\x57\x02"
    assert chip.read(0.0, registers.ASTEP_H, 1) == b"\x02"


def test_the_low_bank_is_hidden_until_it_is_selected() -> None:
    """CONFIG 0x70 and LED 0x74 exist only with CFG0 bit 4."""
    chip = Chip(lamp(0), Random(1))
    chip.write(0.0, 0x74, b"\x84")
    assert chip.read(0.0, 0x74, 1) == b"\x00"
    chip.write(0.0, registers.CFG0, bytes([registers.LOW_BANK]))
    assert chip.read(0.0, 0x74, 1) == b"\x00"
    chip.write(0.0, 0x74, b"\x84")
    assert chip.read(0.0, 0x74, 1) == b"\x84"
    chip.write(0.0, registers.CFG0, b"\x00")
    assert chip.read(0.0, 0x74, 1) == b"\x00"


def test_the_smux_ram_takes_bytes_only_under_the_write_command() -> None:
    """Without CFG6 = write the bytes are lost."""
    chip = Chip(lamp(0), Random(1))
    chip.write(0.0, 0x00, LOW_SMUX)
    assert chip.read(0.0, 0x00, 20) == bytes(20)
    chip.write(0.0, registers.CFG6, bytes([registers.SMUX_WRITE << 3]))
    chip.write(0.0, 0x00, LOW_SMUX)
    assert chip.read(0.0, 0x00, 20) == LOW_SMUX


def test_the_smux_command_bit_clears_after_it_was_seen_set() -> None:
    """The driver waits for that."""
    chip = Chip(lamp(0), Random(1))
    chip.write(0.0, registers.ENABLE, bytes([registers.PON | registers.SMUXEN]))
    seen = [bool(chip.read(0.0, registers.ENABLE, 1)[0] & registers.SMUXEN) for _ in range(3)]
    assert seen == [True, False, False]


def test_six_adcs_see_the_channels_that_the_smux_gives_them() -> None:
    """F1-F4, Clear and NIR with one set of bytes, F5-F8 with the other, both halves of each pair counted."""
    for smux, first in ((LOW_SMUX, 1), (HIGH_SMUX, 5)):
        chip = converting(lamp(1.0), smux=smux)
        _, counts = burst(chip, 0.06)
        names = [f"F{first + i}" for i in range(4)] + ["CLEAR", "NIR"]
        for name, found in zip(names, counts, strict=True):
            assert found == pytest.approx(expected(name, 16) + 3, rel=0.003, abs=6), name


def test_half_a_pair_gives_half_the_counts() -> None:
    """Only the left photodiode of F1 connected."""
    smux = bytearray(20)
    smux[1] = 0x01
    _, counts = burst(converting(lamp(1.0), smux=bytes(smux)), 0.06)
    assert counts[0] == pytest.approx(expected("F1", 16) / 2, rel=0.003)


def test_two_channels_on_one_adc_add_up() -> None:
    """The SMUX map is followed literally."""
    smux = bytearray(LOW_SMUX)
    smux[5], smux[12] = 0x41, 0x10  # both photodiodes of F2 to the ADC of F1
    _, counts = burst(converting(lamp(0.5), smux=bytes(smux)), 0.06)
    assert counts[0] == pytest.approx((expected("F1", 16) + expected("F2", 16)) / 2, rel=0.003)
    assert counts[1] <= 6


def test_nothing_is_connected_before_the_first_smux_command() -> None:
    """Counts stay around zero under full light."""
    chip = Chip(lamp(1.0), Random(1))
    chip.write(0.0, registers.ENABLE, bytes([registers.PON | registers.SP_EN]))
    _, counts = burst(chip, 1.0)
    assert max(counts) <= 5


def test_data_turn_valid_at_the_end_of_the_conversion_and_are_used_up_by_reading() -> None:
    """Not before 50.04 ms; once read, not again until the next end."""
    chip = converting(lamp(1.0))
    assert not ready(chip, SPAN_S - 1e-6)
    assert ready(chip, SPAN_S + 1e-6)
    assert ready(chip, SPAN_S + 1e-6)
    burst(chip, SPAN_S + 2e-6)
    assert not ready(chip, SPAN_S + 3e-6)
    assert not ready(chip, 2 * SPAN_S - 1e-6)
    assert ready(chip, 2 * SPAN_S + 1e-6)


def test_conversions_follow_each_other_without_a_gap() -> None:
    """Counts of ten conversions add up to the light of ten spans."""
    steps = 0.0

    def rising(at_s: float) -> registers.Light:
        return (at_s**2, at_s**2, 0.0)

    chip = converting(rising)
    for number in range(1, 11):
        steps += burst(chip, number * SPAN_S + 1e-6)[1][0] - 2.5
    answer = optics.counts("F1")
    assert steps == pytest.approx((answer.phosphor + answer.lines) * 16 * (10 * SPAN_S) ** 2, rel=0.001)


def test_a_late_reader_gets_the_last_finished_conversion() -> None:
    """Light that came earlier is gone, light after its end not yet in."""

    def step(at_s: float) -> registers.Light:
        return (max(0.0, at_s - 0.2), max(0.0, at_s - 0.2), 0.0)

    assert burst(converting(step), 0.2)[1][0] <= 8
    assert burst(converting(step), 1.0)[1][0] == pytest.approx(expected("F1", 16), rel=0.003)


def test_reading_the_status_byte_latches_the_data_behind_it() -> None:
    """Data bytes read alone stay those of the last status read."""
    chip = converting(lambda at_s: (at_s**2, at_s**2, 0.0))
    _, first = burst(chip, SPAN_S + 1e-6)
    late = chip.read(0.5, registers.ASTATUS + 1, 2)
    assert int.from_bytes(late, "little") == first[0]
    _, second = burst(chip, 0.5)
    assert second[0] > first[0] * 5


def test_the_status_byte_carries_the_gain() -> None:
    """Bits 3:0."""
    for code in (0, 5, 10):
        assert burst(converting(lamp(0.001), gain_code=code), 0.06)[0] & 0x0F == code


@pytest.mark.parametrize("code", range(11))
def test_each_gain_doubles_the_counts(code: int) -> None:
    """0.5 × to 512 ×, at a light that suits the gain."""
    gain = 0.5 * 2**code
    _, counts = burst(converting(lamp(8.0 / gain), gain_code=code), 0.06)
    dark = 2 + 0.03 * gain
    assert counts[0] - dark == pytest.approx(expected("F1", 8.0), rel=0.005)


def test_a_gain_written_halfway_gives_one_mixed_conversion() -> None:
    """The running conversion is half the one and half the other; the next is whole."""
    chip = converting(lamp(0.5), gain_code=5)
    burst(chip, SPAN_S + 1e-6)
    chip.write(1.5 * SPAN_S, registers.CFG1, b"\x06")
    status, mixed = burst(chip, 2 * SPAN_S + 1e-6)
    _, whole = burst(chip, 3 * SPAN_S + 1e-6)
    assert status & 0x0F == 6
    assert mixed[0] == pytest.approx(0.5 * expected("F1", 24), rel=0.003)
    assert whole[0] == pytest.approx(0.5 * expected("F1", 32), rel=0.003)


def test_writing_the_same_gain_again_changes_nothing() -> None:
    """No mix, no restart."""
    chip = converting(lamp(0.5))
    chip.write(0.5 * SPAN_S, registers.CFG1, b"\x05")
    assert burst(chip, SPAN_S + 1e-6)[1][0] == pytest.approx(0.5 * expected("F1", 16), rel=0.003)


@pytest.mark.parametrize(
    ("register", "value"), [(registers.ATIME, 59), (registers.ASTEP_L, 0x10), (registers.ASTEP_H, 4)]
)
def test_a_new_integration_time_restarts_the_conversion(register: int, value: int) -> None:
    """What was collected is lost; the new span counts from the write."""
    chip = converting(lamp(0.2))
    chip.write(0.04, register, bytes([value]))
    atime, astep = chip.read(0.04, registers.ATIME, 1)[0], chip.read(0.04, registers.ASTEP_L, 2)
    span_s = (atime + 1) * (int.from_bytes(astep, "little") + 1) * 2.78e-6
    assert not ready(chip, 0.04 + span_s - 1e-6)
    assert ready(chip, 0.04 + span_s + 1e-6)
    assert burst(chip, 0.04 + span_s + 1e-6)[1][0] == pytest.approx(0.2 * expected("F1", 16, span_s), rel=0.01)


def test_stopping_and_starting_restarts_the_conversion() -> None:
    """SP_EN off loses the running one and what was valid."""
    chip = converting(lamp(0.5))
    assert ready(chip, 0.06)
    chip.write(0.07, registers.ENABLE, bytes([registers.PON]))
    assert not ready(chip, 1.0)
    chip.write(1.0, registers.ENABLE, bytes([registers.PON | registers.SP_EN]))
    assert not ready(chip, 1.0 + SPAN_S - 1e-6)
    assert ready(chip, 1.0 + SPAN_S + 1e-6)


@pytest.mark.parametrize(
    ("atime", "astep", "full"), [(29, 599, 18000), (0, 999, 1000), (255, 999, 65535), (9, 3596, 35970)]
)
def test_counts_end_at_full_scale_with_both_saturation_flags(atime: int, astep: int, full: int) -> None:
    """min(65535, (ATIME+1)·(ASTEP+1)); values of the reference table §4."""
    chip = converting(lamp(10.0), gain_code=10)
    chip.write(0.0, registers.ATIME, bytes([atime]))
    chip.write(0.0, registers.ASTEP_L, astep.to_bytes(2, "little"))
    flags = chip.read(2.0, registers.STATUS2, 1)[0]
    status, counts = burst(chip, 2.0)
    assert counts[0] == full
    assert status & registers.ASAT
    assert flags & registers.ASAT_ANALOG
    assert flags & registers.ASAT_DIGITAL


def test_the_analogue_part_saturates_before_full_scale() -> None:
    """At 96 % the flag is up although the counts look fine; at 93 % it is not."""
    full = 18000
    for share, flagged in ((0.96, True), (0.93, False)):
        chip = converting(lamp(share * full / expected("F1", 16)))
        flags = chip.read(0.06, registers.STATUS2, 1)[0]
        status, counts = burst(chip, 0.06)
        assert counts[0] < full
        assert bool(status & registers.ASAT) is flagged
        assert bool(flags & registers.ASAT_ANALOG) is flagged
        assert not flags & registers.ASAT_DIGITAL


def test_dark_counts_are_few_and_grow_with_gain() -> None:
    """Some counts of offset, more at high gain, never below zero."""
    for code, low, high in ((5, 1.5, 4.0), (10, 14.0, 22.0)):
        chip = converting(lamp(0.0), gain_code=code)
        seen = [burst(chip, n * SPAN_S + 1e-6)[1][0] for n in range(1, 200)]
        assert low < fmean(seen) < high
        assert min(seen) >= 0


def test_noise_has_a_fixed_and_a_proportional_part() -> None:
    """σ² = 1 + (0.0005 · counts)², plus a twelfth from rounding, within the scatter of 1500 samples."""
    for level in (0.1, 2.0):
        chip = converting(lamp(level))
        seen = [burst(chip, n * SPAN_S + 1e-6)[1][0] for n in range(1, 1501)]
        wanted = (1 + 1 / 12 + (0.0005 * fmean(seen)) ** 2) ** 0.5
        assert pstdev(seen) == pytest.approx(wanted, rel=0.08)


def test_the_same_seed_gives_the_same_counts() -> None:
    """And another seed others."""
    first, again, other = (
        [burst(converting(lamp(1.0), seed=seed), n * SPAN_S + 1e-6)[1] for n in range(1, 4)] for seed in (3, 3, 4)
    )
    assert first == again
    assert first != other


def test_a_hanging_chip_never_has_new_data() -> None:
    """It answers, but data-valid stays off."""
    chip = converting(lamp(1.0))
    burst(chip, 0.06)
    chip.hung = True
    assert not any(ready(chip, 0.06 + n * 0.05) for n in range(40))
    assert chip.read(3.0, 0x92, 1)[0] == 0x24


def test_a_frozen_chip_repeats_its_data_as_if_new() -> None:
    """Same counts under changing light, each time with data-valid."""
    chip = converting(lambda at_s: (at_s**2, at_s**2, 0.0))
    first = burst(chip, 0.06)
    chip.frozen = True
    for n in range(2, 10):
        assert ready(chip, n * 0.06)
        assert burst(chip, n * 0.06) == first


def test_power_up_forgets_settings_and_ends_hanging() -> None:
    """As after a plug that was pulled."""
    chip = converting(lamp(1.0))
    chip.hung = chip.frozen = True
    chip.power_up()
    assert chip.read(1.0, registers.ATIME, 1) == b"\x00"
    assert chip.read(1.0, registers.ENABLE, 1) == b"\x00"
    assert not ready(chip, 5.0)
    assert not chip.hung
    assert not chip.frozen


def test_an_idle_hour_is_skipped_not_simulated() -> None:
    """72,000 conversions that nobody saw cost one, so a long wait is cheap."""
    asked: list[float] = []

    def light(at_s: float) -> registers.Light:
        asked.append(at_s)
        return (at_s, at_s, 0.0)

    chip = converting(light)
    assert ready(chip, 3600.0)
    assert chip.conversions == 1
    assert len(asked) <= 4
