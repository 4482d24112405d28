"""The commands about baths, from mixing to waste. Pure. None of them lights anything."""

from typing import Annotated, Final

from annotated_types import Ge, Le
from pydantic import Strict

from sumlight.craft.chemistry import mixing
from sumlight.craft.etching import times
from sumlight.protocol.command import TERMINAL, Command
from sumlight.protocol.fields import Identity, Text, Word

Percent = Annotated[float, Strict(), Ge(0.01), Le(100)]
BathWarmth = Annotated[float, Strict(), Ge(times.BATH_C[0]), Le(times.BATH_C[1])]
OpenArea = Annotated[float, Strict(), Ge(0.01), Le(times.LARGEST_CM2)]
Depth = Annotated[float, Strict(), Ge(0.1), Le(5000)]
Lasted = Annotated[float, Strict(), Ge(2), Le(86_400)]


class Baths(Command):
    """Ask for the baths in use, and the last ones that became waste."""


class Bath(Command):
    """Ask for one bath with the panels it has taken."""

    bath_id: Identity


class BathNew(Command):
    """Begin a bath that is mixed. Strengths are those of the finished bath; what is left out is not known.

    `bottle_percent` is what it was mixed from: stock in wt%, or the dry share of a powder.
    """

    kind: Word
    volume_l: Annotated[float, Strict(), Ge(mixing.SMALLEST_L), Le(mixing.LARGEST_L)]
    wt_percent: Percent | None = None
    peroxide_wt_percent: Percent | None = None
    acid_wt_percent: Percent | None = None
    g_per_l: Annotated[float, Strict(), Ge(mixing.PERSULFATE_G_PER_L[0]), Le(mixing.PERSULFATE_G_PER_L[1])] | None = (
        None
    )
    bottle_percent: Percent | None = None
    acid_bottle_percent: Percent | None = None
    who: Text = TERMINAL


class BathPanel(Command):
    """Note a panel in a bath that has no card. `took_s`: until it was through, or clear in a developer."""

    bath_id: Identity
    metal: Word = ""
    open_cm2: OpenArea | None = None
    depth_um: Depth | None = None
    took_s: Lasted | None = None
    bath_c: BathWarmth | None = None
    label: Text = ""
    who: Text = TERMINAL


class BathTakeBack(Command):
    """Take back the last panel that was noted in a bath."""

    bath_id: Identity


class BathWaste(Command):
    """Move a bath into the waste container of a kind."""

    bath_id: Identity
    into: Word
    who: Text = TERMINAL


class WasteEmptied(Command):
    """Note that the waste container of a kind of bath was taken away."""

    kind: Word
    who: Text = TERMINAL


COMMANDS: Final[dict[str, type[Command]]] = {
    "baths": Baths,
    "bath": Bath,
    "bath_new": BathNew,
    "bath_panel": BathPanel,
    "bath_take_back": BathTakeBack,
    "bath_waste": BathWaste,
    "waste_emptied": WasteEmptied,
}
