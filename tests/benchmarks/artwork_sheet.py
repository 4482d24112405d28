"""An A4 sheet at 1200 dpi, worked on in a process of its own: how long it takes, and how much memory.

`python -m tests.benchmarks.artwork_sheet check|predict|compensate|compare FILE` prints one JSON object.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
from PIL import Image

from sumlight.artwork import check, compare, compensate, front, pngfile, predict, prior, reading, scan, sheet
from sumlight.artwork.picture import Picture
from sumlight.artwork.sheet import Mask

WIDTH_PX, HEIGHT_PX, PITCH_UM = 9921, 14031, 25_400 / 1200
THICKNESS_UM = 150.0
CELL_PX = 640


def cell() -> Mask:
    """13.5 mm of invented artwork: a wheel held by two tabs, slots, a row of holes, fine lines, dust."""
    y, x = np.mgrid[0:CELL_PX, 0:CELL_PX]
    away = np.hypot(x - 220, y - 220)
    made = (away < 200) & (away > 150) & (np.abs(x - 220) > 20)
    made |= away < 40
    made |= (y > 460) & (y < 610) & ((x // 24) % 2 == 0) & (x < 600)
    made |= ((x - 480) % 60 < 24) & ((y - 40) % 60 < 24) & (x > 460) & (y < 420)
    made |= np.random.default_rng(1).random((CELL_PX, CELL_PX)) < 2e-5
    return np.asarray(made & (x < CELL_PX - 20) & (y < CELL_PX - 20))


def write(path: Path) -> None:
    """Write the sheet, row of cells by row of cells."""
    row = np.zeros((CELL_PX, WIDTH_PX), np.bool_)
    tiled = np.tile(cell(), (1, WIDTH_PX // CELL_PX))
    row[:, : tiled.shape[1]] = tiled
    packed = np.packbits(~row, axis=1)
    with pngfile.PngFile(path, pngfile.Format(WIDTH_PX, HEIGHT_PX, PITCH_UM)) as file:
        for first in range(0, HEIGHT_PX, CELL_PX):
            file.put(packed[: min(CELL_PX, HEIGHT_PX - first)])


def work(step: str, path: Path) -> None:
    """Do what `sumlight artwork` does with it."""
    picture = reading.open_picture(path)
    if step == "compare":
        _compared(picture, path)
        return
    tones = sheet.tones(picture.strips())
    art = sheet.sheet_of(picture, tones.threshold)
    made, factors = front.build("sheet", THICKNESS_UM), prior.factor_band(None)
    if step == "check":
        check.check(art, tones, made=made, factors=factors)
    elif step == "predict":
        predict.predict(art, None, made, factors)
        predict.draw(path.with_name("part.png"), art, None, made, factors, predict.AMBER)
    else:
        done = compensate.compensate(art, compensate.Wanted(THICKNESS_UM, 1.0))
        pngfile.write_sheet(path.with_name("film.png"), done.sheet, "open")


def _compared(picture: Picture, path: Path) -> None:
    """With what a crooked scan of it is: grey, soft, larger than the sheet."""
    crooked = path.with_name("crooked.png")
    with scan.laid_down(reading.open_picture(crooked), path.parent) as image:
        compare.compare(image, sheet.sheet_of(picture, 127.5))


def write_crooked(path: Path, degrees: float = 1.5) -> None:
    """A scan of the sheet: turned, soft, grey. Drawn with half a sheet in memory; the benchmark counts it not."""
    with Image.open(path) as image:
        image.load()
        grey = image.convert("L").point(lambda value: 40 + value * 180 // 255)
    turned = grey.rotate(degrees, resample=Image.Resampling.BILINEAR, fillcolor=220)
    turned.save(path.with_name("crooked.png"), dpi=(1200, 1200), compress_level=1)


def peak_mb() -> float:
    """The most memory this program held. `getrusage` counts what its parent held, too, while it drew the scan."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line.split()[1] for line in lines if line.startswith("VmHWM:"))) / 1000


if __name__ == "__main__":
    began_s, cpu_s = time.monotonic(), time.process_time()
    work(sys.argv[1], Path(sys.argv[2]))
    told = {
        "wall_s": time.monotonic() - began_s,
        "cpu_s": time.process_time() - cpu_s,
        "peak_mb": peak_mb(),
    }
    print(json.dumps(told))
