"""Graphical symbols after IEC 60617 (from memory), upright: contacts, fuse, coil, operating means."""

from sheets.canvas import Place, Sheet, elm

LONG = 1.8
"""Length of every symbol, from its upper to its lower terminal."""


def contact(sheet: Sheet, top: Place, *, closed: bool) -> Place:
    """A break contact (closed at rest) or a make contact; returns where operating means join its blade."""
    x, y = top
    low = y - LONG
    sheet.wire((x, y), (x, y - 0.55))
    sheet.wire((x, low), (x, low + 0.5))
    if closed:
        sheet.wire((x, y - 0.55), (x + 0.42, y - 0.55))
        sheet.wire((x, low + 0.5), (x + 0.36, y - 0.42))
        return (x + 0.15, y - 0.95)
    sheet.wire((x, low + 0.5), (x - 0.42, y - 0.5))
    return (x - 0.2, y - 0.9)


def lying(sheet: Sheet, start: Place, end: Place, *, closed: bool) -> None:
    """A contact that lies between two places of the same height; its blade turns about `start`."""
    (x, y), (to_x, _y) = start, end
    sign = 1 if to_x > x else -1
    sheet.wire(start, (x + 0.35 * sign, y))
    sheet.wire((to_x - 0.45 * sign, y), end)
    if closed:
        sheet.wire((to_x - 0.45 * sign, y), (to_x - 0.45 * sign, y + 0.36))
        sheet.wire((x + 0.35 * sign, y), (to_x - 0.3 * sign, y + 0.34))
    else:
        sheet.wire((x + 0.35 * sign, y), (to_x - 0.45 * sign, y + 0.4))


def direct_opening(sheet: Sheet, place: Place) -> None:
    """The arrow in a circle of IEC 60947-5-1 annex K."""
    x, y = place
    sheet.circle(place, 0.2)
    sheet.arrow((x - 0.17, y), (x + 0.19, y))


def operated(sheet: Sheet, blade: Place, how: str) -> None:
    """What moves a contact, linked to its blade by a broken line to the left.

    Ways: mushroom, roller, heat, relay.
    """
    x, y = blade
    sheet.wire((x, y), (x - 1.0, y), dashed=True, width=1.0)
    left = x - 1.0
    if how == "mushroom":
        sheet.wire((left, y - 0.3), (left, y + 0.3))
        sheet.shape([(left, y + 0.3), (left - 0.25, y + 0.18), (left - 0.25, y - 0.18), (left, y - 0.3)])
    elif how == "roller":
        sheet.circle((left - 0.14, y), 0.14)
    elif how == "heat":
        sheet.box(left - 0.55, y - 0.25, 0.55, 0.5)
        sheet.text((left - 0.275, y), "ϑ>", at="center", size=9)


def fuse(sheet: Sheet, top: Place) -> None:
    """A fuse."""
    sheet.put(elm.FuseIEC(), top, (top[0], top[1] - LONG))


def coil(sheet: Sheet, top: Place) -> None:
    """Operating device of a relay or contactor."""
    x, y = top
    sheet.wire((x, y), (x, y - 0.5))
    sheet.box(x - 0.6, y - 1.3, 1.2, 0.8, fill="white")
    sheet.wire((x, y - 1.3), (x, y - LONG))


def suppressor(sheet: Sheet, top: Place, bottom: Place) -> None:
    """A suppressor diode that limits both ways."""
    x, middle = top[0], (top[1] + bottom[1]) / 2
    sheet.wire(top, (x, middle + 0.3))
    sheet.wire(bottom, (x, middle - 0.3))
    for sign in (1, -1):
        sheet.shape([(x - 0.22, middle + 0.3 * sign), (x + 0.22, middle + 0.3 * sign), (x, middle)])
    sheet.wire((x - 0.3, middle + 0.08), (x - 0.22, middle), (x + 0.22, middle), (x + 0.3, middle - 0.08))
