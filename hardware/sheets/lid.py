"""Three switches at the lid: each on a bracket of its own, seen from the side of the hinge."""

from sheets.canvas import GREY, INK, PALE, WARN, Sheet


def draw() -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "Lid: three switches, three mountings, so that one loose screw never defeats all",
        "Isolated at S1 and tubes cold before you work at the lid. Only 24 V DC wires cross the hinge.",
    )
    sheet.box(0, -4.2, 18.0, 4.2, fill=PALE)
    sheet.text((6.5, -3.6), "box, seen from the side, lid shut", at="center", size=10)
    sheet.box(0, 0.1, 18.0, 0.5, fill="white")
    sheet.text((9.0, 0.95), "lid, earthed (wire 303)", at="center", size=10)
    sheet.circle((0, 0.05), 0.35, fill="white")
    sheet.text((-0.6, 0.05), "hinge", at="right", size=10)
    _hinge(sheet)
    _front(sheet)
    _notes(sheet)
    return sheet


def _hinge(sheet: Sheet) -> None:
    """S3 works from the hinge's own cam."""
    sheet.shape([(0.2, 0.0), (1.1, -0.1), (1.1, -0.6), (0.1, -0.5)], fill=GREY)
    sheet.circle((0.8, -0.8), 0.2, fill="white")
    sheet.box(0.4, -2.4, 1.2, 1.4, fill="white")
    sheet.name((1.0, -1.5), "S3", at="center")
    sheet.circle((1.0, -2.05), 0.2)
    sheet.arrow((0.83, -2.05), (1.19, -2.05))
    sheet.box(0.2, -2.7, 1.6, 0.3, fill=INK)
    sheet.text((2.1, -1.5), "pinned cam on the hinge's shaft;\nit pushes S3 open as the lid rises", size=9.5)


def _front(sheet: Sheet) -> None:
    """S4 and S5 at the two front corners, on brackets of their own."""
    for left, part, words in (
        (11.2, "S4", "left front corner:\nclosed while shut"),
        (15.4, "S5", "right front corner:\nclosed while open"),
    ):
        sheet.wire((left + 0.6, 0.1), (left + 0.6, -0.8))
        sheet.circle((left + 0.6, -0.7), 0.15, fill="white")
        sheet.box(left, -2.2, 1.2, 1.3, fill="white")
        sheet.name((left + 0.6, -1.5), part, at="center")
        sheet.box(left - 0.2, -2.5, 1.6, 0.3, fill=INK)
        sheet.text((left + 0.6, -3.2), words, at="center", size=9.5)


def _notes(sheet: Sheet) -> None:
    lines = (
        "S3: direct opening (IEC 60947-5-1 annex K) in positive mode (ISO 14119; from memory):",
        "the opening lid itself forces the contact apart. Cam and switch are pinned, out of reach.",
        "S4 and S5: plungers whose springs follow the lid. Neither shares bracket, screw or cable with S3.",
        "S3 has opened before a finger or direct light gets through at the front edge: 10 mm at most",
        "(common practice, no source; measure it). Cable: hose over the hinge, strain relief on both sides.",
    )
    for row, line in enumerate(lines):
        sheet.text((-2.0, -5.4 - 0.55 * row), line, size=10)
    sheet.text((-2.0, -8.4), "Never bridge or tie down a switch of the lid.", size=10, color=WARN)
