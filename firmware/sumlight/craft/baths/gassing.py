"""What a tight lid would have to hold back over a bath that gasses: why the cap of its waste is vented.

Oxygen of all that was mixed into it, by the ideal gas law at 20 °C: none stays dissolved and no vessel gives way, so it
is the most that can come, and a bath that has worked holds less.
"""

from sumlight.craft.baths.contents import Contents
from sumlight.craft.chemistry import gas, mixing, peroxide
from sumlight.text.message import Message, say

FILLED = 0.75
"""What the label of a container allows (common practice, no source)."""

USUAL = {
    "peroxide": Contents("peroxide", 1.0, peroxide_wt_percent=peroxide.USUAL_PEROXIDE_WT_PERCENT),
    "persulfate": Contents("persulfate", 1.0, g_per_l=mixing.USUAL_PERSULFATE_G_PER_L),
}
"""The baths that gas by themselves, as they are usually mixed."""


def tight_lid_atm(bath: Contents) -> float | None:
    """How many times the pressure of the air a lid would hold back over a container that is filled as its label allows.

    None for a bath that gives off no gas by itself, and for one whose strength nobody knows.
    """
    headspace_l = bath.volume_l * (1 - FILLED) / FILLED
    if bath.kind == "peroxide" and bath.peroxide_wt_percent is not None:
        litres = gas.oxygen_l(bath.volume_l, bath.peroxide_wt_percent, peroxide.BATH_G_CM3)
    elif bath.kind == "persulfate" and bath.g_per_l is not None:
        litres = gas.persulfate_oxygen_l(bath.volume_l, bath.g_per_l)
    else:
        return None
    return gas.tight_lid_atm(litres, headspace_l)


def tight_lid(bath: Contents) -> Message | None:
    """Say why its cap is vented; of a bath whose strength nobody knows as of a usual one. None: it does not gas."""
    if (times := tight_lid_atm(bath)) is not None:
        return say("tight_lid_holds", times=times)
    return tight_lid_usually(bath.kind)


def tight_lid_usually(kind: str) -> Message | None:
    """The same of a kind of bath, mixed as usual."""
    times = tight_lid_atm(USUAL[kind]) if kind in USUAL else None
    return None if times is None else say("tight_lid_holds_usually", times=times)
