"""Raw counts of the AS7341 into basic counts, and the choice of gain. Source of the formulas: ams AN000633 §3.1."""

GAINS = (0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0)
"""Nominal gain for the chip's gain codes 0…10."""

STEP_US = 2.78
"""Length of one integration step of the chip."""

HIGH_SHARE = 0.8
LOW_SHARE = 0.02
AIM_SHARE = 0.4
"""Shares of full scale between which a gain is kept, and the share a new one aims at."""


def integration_ms(atime: int, astep: int) -> float:
    """Length of one conversion in milliseconds for the registers ATIME (0…255) and ASTEP (0…65534)."""
    return (atime + 1) * (astep + 1) * STEP_US / 1000


def full_scale_counts(atime: int, astep: int) -> int:
    """Largest count a conversion of that length can reach."""
    return min((atime + 1) * (astep + 1), 65535)


def basic_counts(counts: float, gain_code: int, integration_time_ms: float) -> float:
    """Counts per unit of gain and millisecond, so that readings at different settings compare."""
    return counts / (GAINS[gain_code] * integration_time_ms)


def fitting_gain(gain_code: int, largest_count: int, full_scale: int, *, saturated: bool) -> int:
    """The gain code that suits what was just read; `gain_code` itself while the reading is in the comfortable range.

    A saturated reading tells only that the light is stronger, so the gain then falls by a factor of eight.
    """
    if saturated:
        return max(0, gain_code - 3)
    share = largest_count / full_scale
    if LOW_SHARE <= share <= HIGH_SHARE:
        return gain_code
    step = 1 if share < LOW_SHARE else -1
    code = gain_code
    while 0 <= code + step < len(GAINS):
        expected = share * GAINS[code] / GAINS[gain_code]
        if (step > 0 and expected * 2 > AIM_SHARE * 1.5) or (step < 0 and expected <= AIM_SHARE):
            break
        code += step
    return code
