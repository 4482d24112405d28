// The live curve: light on the left scale, dose on the right with the band of its uncertainty, target and expected
// finish. Per pixel column only the lowest and highest value are drawn. Dark stretches are cut short and marked.

import { Drawing, marked, shown, ticks } from "./axes.js";

const DARK_GAP_S = 2;
const GAP_WIDTH_S = 0.6;
const MOST_POINTS = 12000;
const EDGE = { left: 46, right: 54, top: 26, bottom: 30 };

// A dark reading may lie a hair below nought: never "-0.00".
const digits = (value, places) => marked(value.toFixed(places).replace(/^-(?=0\.?0*$)/, ""));

// Pairs of neighbours become their lower and higher one, so that no peak is lost.
function halve(line) {
  const kept = [];
  for (let i = 0; i + 3 < line.length; i += 4) {
    const four = line.slice(i, i + 4);
    const low = four.reduce((a, b) => (b.light < a.light ? b : a));
    const high = four.reduce((a, b) => (b.light > a.light ? b : a));
    kept.push(...(low === high ? [low] : low.x < high.x ? [low, high] : [high, low]));
  }
  kept.push(...line.slice(line.length - (line.length % 4)));
  return kept;
}

export class Curve extends Drawing {
  constructor(canvas, readout) {
    super(canvas);
    this.readout = readout;
    this.clear();
  }

  clear() {
    this.sides = new Map();
    this.gaps = [];
    this.now = 0;
    this.lastTime = null;
    this.future = null;
    this.wish();
  }

  // points: [time in s, side, mW/cm², mJ/cm²], in order of time.
  add(points) {
    for (const [time, side, light, dose] of points) {
      const last = this.sides.get(side)?.at(-1);
      if (last && time <= last.time) continue;
      if (this.lastTime !== null && time > this.lastTime) {
        const step = time - this.lastTime;
        if (step > DARK_GAP_S) this.gaps.push(this.now + GAP_WIDTH_S / 2);
        this.now += step > DARK_GAP_S ? GAP_WIDTH_S : step;
      }
      this.lastTime = Math.max(time, this.lastTime ?? time);
      if (!this.sides.has(side)) this.sides.set(side, []);
      this.sides.get(side).push({ time, x: this.now, light, dose });
      if (this.sides.get(side).length > MOST_POINTS) this.sides.set(side, halve(this.sides.get(side)));
    }
    if (points.length) this.wish();
  }

  plan(plan) {
    this.future = plan;
    this.wish();
  }

  draw({ pen, look, width, height }) {
    const scale = this.scale({ width, height });
    const sides = this.future ? this.future.sides : [];
    const worth = new Map(sides.map((side) => [side.side, side.worth]));
    this.axes(pen, scale, look);
    for (const [name, line] of this.sides) this.band(pen, scale, look, line, worth.get(name) ?? null);
    for (const side of sides) {
      // Of the many legs of a series only the one under light shows its target.
      if (side.target_mj_cm2 === null || (this.future.series && side.left_s === null)) continue;
      this.target(pen, scale, look, side, sides);
    }
    for (const [name, line] of this.sides) this.side(pen, scale, look, name, line);
    this.cross(pen, scale, look);
  }

  scale(box) {
    const sides = this.future ? this.future.sides : [];
    const lines = [...this.sides.values()].flat();
    const left = Math.max(0, ...sides.map((side) => side.left_s ?? 0));
    let lightTop = 0.1;
    let doseTop = 1;
    for (const point of lines) {
      lightTop = Math.max(lightTop, point.light);
      doseTop = Math.max(doseTop, point.dose);
    }
    for (const side of sides) {
      doseTop = Math.max(doseTop, side.target_mj_cm2 ?? 0, side.dose_mj_cm2 * (1 + (side.worth ?? 0)));
      if (side.left_s !== null) doseTop = Math.max(doseTop, (side.target_mj_cm2 ?? 0) * (1 + (side.worth ?? 0)));
    }
    const inner = { width: box.width - EDGE.left - EDGE.right, height: box.height - EDGE.top - EDGE.bottom };
    const span = Math.max(this.now + left, 5);
    return {
      span,
      lightTop: lightTop * 1.12,
      doseTop: doseTop * 1.12,
      inner,
      x: (s) => EDGE.left + (inner.width * s) / span,
      light: (e) => EDGE.top + inner.height * (1 - e / (lightTop * 1.12)),
      dose: (d) => EDGE.top + inner.height * (1 - d / (doseTop * 1.12)),
      right: EDGE.left + inner.width,
      base: EDGE.top + inner.height,
    };
  }

  axes(pen, scale, look) {
    pen.strokeStyle = look.line;
    pen.fillStyle = look.ink;
    pen.lineWidth = 1;
    pen.setLineDash([]);
    pen.strokeRect(EDGE.left, EDGE.top, scale.inner.width, scale.inner.height);
    pen.textAlign = "center";
    pen.textBaseline = "top";
    ticks(0, scale.span, 5, (s, label) => {
      pen.fillRect(scale.x(s), scale.base, 1, 4);
      pen.fillText(s ? label : "0 s", scale.x(s), scale.base + 8);
    });
    pen.textBaseline = "middle";
    pen.textAlign = "right";
    ticks(0, scale.lightTop, 4, (e, label) => {
      pen.fillStyle = look.line;
      pen.globalAlpha = 0.35;
      if (e > 0) pen.fillRect(EDGE.left, scale.light(e), scale.inner.width, 1);
      pen.globalAlpha = 1;
      pen.fillStyle = look.ink;
      pen.fillText(label, EDGE.left - 6, scale.light(e));
    });
    pen.textAlign = "left";
    ticks(0, scale.doseTop, 4, (d, label) => pen.fillText(label, scale.right + 6, scale.dose(d)));
    pen.textBaseline = "alphabetic";
    pen.fillText("mW/cm²", 4, 16);
    pen.textAlign = "right";
    pen.fillText(this.unit(), scale.right + EDGE.right - 4, 16);
    pen.textAlign = "left";
    for (const gap of this.gaps) this.zigzag(pen, scale.x(gap), scale);
  }

  zigzag(pen, x, scale) {
    pen.beginPath();
    for (let y = scale.base; y >= EDGE.top; y -= 8) pen.lineTo(x + (((scale.base - y) / 8) % 2 ? 3 : -3), y);
    pen.stroke();
  }

  target(pen, scale, look, side, sides) {
    const y = scale.dose(side.target_mj_cm2);
    const same = this.future.series ? [side] : sides.filter((other) => other.target_mj_cm2 === side.target_mj_cm2);
    pen.strokeStyle = look.ink;
    pen.lineWidth = 2.5;
    pen.setLineDash([2, 5]);
    pen.beginPath();
    pen.moveTo(EDGE.left, y);
    pen.lineTo(scale.right, y);
    pen.stroke();
    if (same[0] === side) {
      const names = sides.length > 1 && same.length === 1 ? ` ${side.side}` : "";
      pen.fillText(`${this.canvas.dataset.target}${names} ${shown(side.target_mj_cm2)}`, EDGE.left + 6, y - 6);
    }
    if (side.left_s === null) return;
    pen.lineWidth = 2;
    pen.setLineDash([9, 5]);
    pen.beginPath();
    pen.moveTo(scale.x(this.now), scale.dose(side.dose_mj_cm2));
    pen.lineTo(scale.x(this.now + side.left_s), y);
    pen.lineTo(scale.x(this.now + side.left_s), scale.base);
    pen.stroke();
  }

  // Of a box that nothing outside it has ever checked, its own.
  unit() {
    return this.future?.sides[0]?.unit ?? "mJ/cm²";
  }

  // How sure the dose is: so far, and up to the expected finish.
  band(pen, scale, look, line, worth) {
    if (!worth || line.length < 2) return;
    const width = Math.max(1, Math.floor(line.length / 300));
    const kept = line.filter((_, index) => index % width === 0 || index === line.length - 1);
    const edge = kept.map((point) => [scale.x(point.x), point.dose]);
    const side = this.future?.sides.find((each) => each.left_s !== null && this.sides.get(each.side) === line);
    if (side && side.target_mj_cm2 !== null) edge.push([scale.x(this.now + side.left_s), side.target_mj_cm2]);
    pen.fillStyle = look.line;
    pen.globalAlpha = 0.6;
    pen.beginPath();
    for (const [x, dose] of edge) pen.lineTo(x, scale.dose(dose * (1 + worth)));
    for (const [x, dose] of edge.reverse()) pen.lineTo(x, scale.dose(dose * (1 - worth)));
    pen.fill();
    pen.globalAlpha = 1;
    pen.fillStyle = look.ink;
  }

  // What stood at the moment that a finger or the mouse points at.
  cross(pen, scale, look) {
    const said = [];
    if (this.at && this.at.x >= EDGE.left && this.at.x <= scale.right) {
      for (const [name, line] of this.sides) {
        const wanted = ((this.at.x - EDGE.left) * scale.span) / scale.inner.width;
        const near = line.reduce((a, b) => (Math.abs(b.x - wanted) < Math.abs(a.x - wanted) ? b : a), line[0]);
        if (!near || Math.abs(near.x - wanted) > scale.span / 20) continue;
        pen.fillStyle = look.ink;
        pen.fillRect(scale.x(near.x), EDGE.top, 1, scale.inner.height);
        said.push(`${name}: ${digits(near.x, 1)} s, ${digits(near.light, 2)} mW/cm², ${digits(near.dose, 1)} ${this.unit()}`);
      }
    }
    if (this.readout) this.readout.textContent = said.join(" · ");
  }

  side(pen, scale, look, name, line) {
    pen.strokeStyle = look.ink;
    pen.setLineDash([]);
    pen.lineWidth = 1.5;
    this.trace(pen, line, scale.x, (point) => scale.light(point.light));
    pen.lineWidth = 4;
    this.trace(pen, line, scale.x, (point) => scale.dose(point.dose));
    if (line.length) this.names(pen, scale, look, name, line.at(-1));
  }

  // Each line is named where it ends; while a side is lit its light stands there in figures.
  names(pen, scale, look, name, end) {
    const lit = this.future?.sides.find((side) => side.side === name && side.left_s !== null);
    if (!lit && this.sides.size > 1) return this.label(pen, scale, look, name, end.x, scale.dose(end.dose) - 8);
    const { light, dose } = this.canvas.dataset;
    const [lightAt, doseAt] = [scale.light(end.light), scale.dose(end.dose)];
    const apart = Math.abs(lightAt - doseAt) < 16 ? Math.sign(doseAt - lightAt || 1) * 9 : 0;
    this.label(pen, scale, look, lit ? `${digits(end.light, 2)} mW/cm²` : light, end.x, lightAt - 8 - apart);
    this.label(pen, scale, look, this.sides.size > 1 ? `${dose} ${name}` : dose, end.x, doseAt + 12 + apart);
  }

  // Behind the end of a line where there is room, else before it; with a rim of the ground's colour, so that no line strikes it out.
  label(pen, scale, look, text, at, y) {
    const wide = pen.measureText(text).width;
    const x = scale.x(at) + 6 + wide < scale.right ? scale.x(at) + 6 : scale.x(at) - 6 - wide;
    const middle = Math.min(Math.max(y, EDGE.top + 9), scale.base - 9);
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    pen.strokeStyle = look.ground;
    pen.lineWidth = 4;
    pen.lineJoin = "round";
    pen.strokeText(text, x, middle);
    pen.strokeStyle = look.ink;
    pen.fillText(text, x, middle);
    pen.textBaseline = "alphabetic";
  }

  trace(pen, line, xOf, yOf) {
    pen.beginPath();
    let column = null;
    let before = null;
    // Per pixel column: where the line came in, its highest and lowest place, where it went out.
    const flush = () => {
      if (column === null) return;
      pen.lineTo(column.x, column.low);
      if (column.high !== column.low) pen.lineTo(column.x, column.high);
      pen.lineTo(column.x, column.last);
    };
    for (const point of line) {
      const x = Math.round(xOf(point.x));
      const y = yOf(point);
      const broken = before !== null && point.time - before > DARK_GAP_S;
      before = point.time;
      if (column && x === column.x && !broken) {
        column.low = Math.min(column.low, y);
        column.high = Math.max(column.high, y);
        column.last = y;
        continue;
      }
      flush();
      if (broken || !column) pen.moveTo(x, y);
      else pen.lineTo(x, y);
      column = { x, low: y, high: y, last: y };
    }
    flush();
    pen.stroke();
  }
}
