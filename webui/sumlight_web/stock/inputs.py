"""The forms of Stock: what they ask of a thing on the shelf."""

from sumlight import days
from sumlight.protocol import stock_commands as commands
from sumlight_web.forms import Input, quantity, text
from sumlight_web.language import N_

ROLL = (
    Input("resist", N_("Resist, as in its recipe"), "pick"),
    Input(
        "opened_on",
        N_("Opened on"),
        "day",
        help=N_("Clear it for a roll that is still closed."),
        optional=True,
        longest=days.LONGEST,
    ),
    Input(
        "expires_on",
        N_("Good until"),
        "day",
        help=N_("As printed on it, such as 30 Nov 2027."),
        optional=True,
        longest=days.LONGEST,
    ),
    Input("storage", N_("Where is it kept?"), "pick", optional=True),
)
METAL = (
    Input("metal", N_("Metal"), "pick"),
    quantity(commands.MetalNew, "thickness_um", N_("Thickness of the metal"), "µm", N_("Of a board: of its copper.")),
    quantity(commands.MetalNew, "pieces", N_("How many pieces"), optional=True),
    text(commands.MetalNew, "remark", N_("Remark"), optional=True),
)
STENCIL = (
    text(commands.StencilNew, "artwork", N_("Artwork"), N_("The word that its jobs carry.")),
    Input("sides", N_("Films"), "pick"),
    quantity(
        commands.StencilNew,
        "spacer_um",
        N_("Strip between the sheets"),
        "µm",
        N_("As thick as the panel, else the films shift."),
        optional=True,
    ),
    Input("held", N_("Held by"), "pick"),
)
MEASURED = (
    quantity(
        commands.StencilMeasured,
        "density",
        N_("Density of its black over clear"),
        "",
        N_("By the lamps' light: 2 lets a hundredth through."),
        optional=True,
    ),
    quantity(commands.StencilMeasured, "apart_um", N_("Front and back lie apart by"), "µm", optional=True),
    Input("readable_a", N_("Side A, from the lamps' side"), "pick", optional=True),
    Input("readable_b", N_("Side B, from the lamps' side"), "pick", optional=True),
)
STORED = {"cool": N_("Cool and dark, 5 to 21 °C"), "room": N_("In a room, up to 25 °C"), "warm": N_("Warmer than that")}
HOLDS = {"hinge": N_("A hinge"), "pins": N_("Pins")}
READS = {"yes": N_("Reads as the part should"), "no": N_("Reads mirrored")}
