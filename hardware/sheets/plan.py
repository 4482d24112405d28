"""The terminal plan: every wire of a box, whichever sheet shows it, and which variant of the lamps needs it."""

from sheets.low import low_wires
from sheets.wires import Wire, led_wires, wires
from sumlight.box.description import BoxDescription


def every_wire(box: BoxDescription) -> list[tuple[Wire, str]]:
    """All wires by number; `tubes` or `LEDs` beside those that only this variant has."""
    tubes = {f"{letter}{first + index}" for letter, first in (("K", 11), ("D", 11), ("E", 1)) for index in range(2)}
    found = [(wire, "tubes" if tubes & _parts(wire) else "") for wire in (*wires(box), *low_wires(box))]
    found += [(wire, "LEDs") for wire in led_wires(box)]
    return sorted(found, key=lambda pair: pair[0].number)


def terminal_plan(box: BoxDescription) -> str:
    """All wires as CSV, one a line."""
    rows = ["wire,from,to,mm2,colour,cable,variant"]
    for wire, variant in every_wire(box):
        rows.append(f"{wire.number},{wire.start},{wire.end},{wire.area_mm2:g},{wire.colour},{wire.cable},{variant}")
    return "\n".join(rows) + "\n"


def _parts(wire: Wire) -> set[str]:
    return {end.split(":")[0] for end in (wire.start, wire.end)}
