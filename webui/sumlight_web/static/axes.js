// What all drawings share: a canvas as sharp as the screen, its colours from the style sheet, round numbers on axes.

export function niceStep(top, wanted) {
  const rough = top / wanted;
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((factor) => factor * power).find((step) => step >= rough);
}

// A number as the reader writes it: the page's language says with which decimal mark.
const COMMA = ["de"].includes(document.documentElement.lang);
export const marked = (text) => (COMMA ? text.replaceAll(".", ",") : text);

export const shown = (value) => marked(Number(value.toPrecision(6)).toString());

// Calls place(value, label) for round numbers from `low` to `high`, about `wanted` of them.
export function ticks(low, high, wanted, place) {
  const step = niceStep(high - low, wanted);
  for (let n = Math.ceil(low / step); n * step <= high + step * 1e-9; n += 1) place(n * step, shown(n * step));
}

// A pen for the canvas at its present size, or null while it has none.
export function sharpPen(canvas) {
  const box = canvas.getBoundingClientRect();
  if (!box.width || !box.height) return null;
  const ratio = devicePixelRatio || 1;
  const [width, height] = [Math.round(box.width * ratio), Math.round(box.height * ratio)];
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
  const style = getComputedStyle(canvas);
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, box.width, box.height);
  pen.font = `13px ${style.fontFamily}`;
  const look = {};
  for (const name of ["ink", "line", "soft", "ground"]) look[name] = style.getPropertyValue(`--${name}`);
  pen.strokeStyle = look.line;
  pen.fillStyle = look.ink;
  return { pen, look, width: box.width, height: box.height };
}

// One drawing per frame, however often it is wished for.
export class Drawing {
  constructor(canvas) {
    this.canvas = canvas;
    this.at = null;
    new ResizeObserver(() => this.wish()).observe(canvas);
    const point = (event) => {
      const box = canvas.getBoundingClientRect();
      this.at = { x: event.clientX - box.left, y: event.clientY - box.top };
      this.wish();
    };
    canvas.addEventListener("pointerdown", point);
    canvas.addEventListener("pointermove", point);
    canvas.addEventListener("pointerleave", () => {
      this.at = null;
      this.wish();
    });
  }

  wish() {
    if (this.wished) return;
    this.wished = true;
    requestAnimationFrame(() => {
      this.wished = false;
      const sharp = sharpPen(this.canvas);
      if (sharp) this.draw(sharp);
    });
  }
}
