"""Writes a PDF of one page at true size that shows a sheet as a 1-bit picture (ISO 32000, image XObjects)."""

import zlib
from pathlib import Path

from sumlight.artwork.choices import UM_PER_INCH
from sumlight.artwork.pngfile import black_rows
from sumlight.artwork.sheet import Sheet

POINTS_PER_UM = 72 / UM_PER_INCH


def write_pdf(path: Path, sheet: Sheet, black: str, printed: tuple[float, float] = (1.0, 1.0)) -> None:
    """Write it; the page is as large as the sheet, less what a printer adds: `printed` is how long it makes a unit
    across and down. Raises FileExistsError, OSError."""
    packer = zlib.compressobj(6)
    data = b"".join([*(packer.compress((~rows).tobytes()) for rows in black_rows(sheet, black)), packer.flush()])
    sides = zip((sheet.width_px, sheet.height_px), printed, strict=True)
    wide, high = (count * sheet.pitch_um * POINTS_PER_UM / by for count, by in sides)
    draw = f"q {wide:.5f} 0 0 {high:.5f} 0 0 cm /S Do Q".encode()
    size = f"/Width {sheet.width_px} /Height {sheet.height_px}"
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {wide:.5f} {high:.5f}] /Contents 4 0 R "
        f"/Resources << /XObject << /S 5 0 R >> >> >>".encode(),
        _stream("", draw),
        _stream(
            f"/Type /XObject /Subtype /Image {size} /BitsPerComponent 1 /ColorSpace /DeviceGray /Filter /FlateDecode ",
            data,
        ),
    ]
    written = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    starts = []
    for number, body in enumerate(objects, 1):
        starts.append(len(written))
        written += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = len(written)
    written += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    for start in starts:
        written += b"%010d 00000 n \n" % start
    written += b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, table)
    with path.open("xb") as file:
        file.write(written)


def _stream(words: str, data: bytes) -> bytes:
    return f"<< {words}/Length {len(data)} >>\nstream\n".encode() + data + b"\nendstream"
