"""Scans as a scanner gives them, drawn here: grey, askew, soft, noisy, with dust. Invented."""

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

DPI = 600
MM = DPI / 25.4


def crooked_scan(path: Path, *, degrees: float = 2.0, frame: bool = True, seed: int = 1) -> Path:
    """A framed plate of 24 × 16 mm with a slot of 2 × 6 mm, two holes of 2 mm and a speck, leaning by `degrees`."""
    image = Image.new("L", (round(36 * MM), round(28 * MM)), 228)
    draw = ImageDraw.Draw(image)

    def box(left: float, top: float, right: float, bottom: float) -> tuple[float, float, float, float]:
        return left * MM, top * MM, right * MM, bottom * MM

    if frame:
        draw.rectangle(box(6, 6, 30, 22), outline=35, width=round(0.5 * MM))
    draw.rectangle(box(10, 10, 12, 16), fill=35)
    draw.ellipse(box(16, 10, 18, 12), fill=35)
    draw.ellipse(box(22, 14, 24, 16), fill=35)
    draw.rectangle(box(26.0, 9.0, 26.06, 9.06), fill=35)
    turned = image.rotate(-degrees, resample=Image.Resampling.BICUBIC, fillcolor=228)
    grey = np.asarray(turned.filter(ImageFilter.GaussianBlur(0.8)), np.float64)
    grey += np.random.default_rng(seed).normal(0, 3, grey.shape)
    Image.fromarray(grey.clip(0, 255).astype(np.uint8)).save(path, dpi=(DPI, DPI))
    return path
