"""Reads the colours of a picture of the page, by the browser itself on an empty page of its own."""

import base64
from functools import cache
from pathlib import Path

from playwright.sync_api import Browser, Page

COLOURS = """async address => {
  const image = new Image();
  image.src = address;
  await image.decode();
  const canvas = document.createElement('canvas');
  Object.assign(canvas, { width: image.width, height: image.height });
  const pen = canvas.getContext('2d');
  pen.drawImage(image, 0, 0);
  const data = pen.getImageData(0, 0, image.width, image.height).data;
  const seen = new Set();
  let last = -1;
  for (let i = 0; i < data.length; i += 4) {
    const colour = data[i] << 16 | data[i + 1] << 8 | data[i + 2];
    if (colour !== last) seen.add(last = colour);
  }
  return Array.from(seen);
}"""

Colour = tuple[int, int, int]


def colours(browser: Browser, picture: Path) -> set[Colour]:
    """Every colour in the picture as (red, green, blue), each 0 to 255."""
    address = "data:image/png;base64," + base64.b64encode(picture.read_bytes()).decode()
    packed: list[int] = _empty_page(browser).evaluate(COLOURS, address)
    return {(value >> 16, value >> 8 & 255, value & 255) for value in packed}


@cache
def _empty_page(browser: Browser) -> Page:
    """One for all pictures; it ends with the browser."""
    return browser.new_page()
