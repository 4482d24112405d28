"""Writes an SVG at true size that shows a sheet as a 1-bit picture: its pixels and no outlines that are nobody's."""

import base64
from pathlib import Path

from sumlight.artwork.pngfile import write_sheet
from sumlight.artwork.sheet import Sheet

PIECE_BYTES = 3 * 2**16
"""Three bytes are four letters: pieces follow each other without padding between them."""


def write_svg(path: Path, sheet: Sheet, black: str, printed: tuple[float, float] = (1.0, 1.0)) -> None:
    """Write it; `printed` is how long a printer makes a unit across and down. Raises FileExistsError, OSError."""
    with path.open("x", encoding="ascii", newline="\n") as file:
        inner = path.with_name(f"{path.name}.png")
        try:
            write_sheet(inner, sheet, black)
            wide, high = (
                count * sheet.pitch_um / 1000 / by
                for count, by in zip((sheet.width_px, sheet.height_px), printed, strict=True)
            )
            file.write(
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.5f}mm" height="{high:.5f}mm" '
                f'viewBox="0 0 {sheet.width_px} {sheet.height_px}" preserveAspectRatio="none">\n'
                f'<image width="{sheet.width_px}" height="{sheet.height_px}" preserveAspectRatio="none" '
                'style="image-rendering:pixelated" href="data:image/png;base64,'
            )
            with inner.open("rb") as picture:
                while piece := picture.read(PIECE_BYTES):
                    file.write(base64.b64encode(piece).decode("ascii"))
            file.write('"/>\n</svg>\n')
        finally:
            inner.unlink(missing_ok=True)
