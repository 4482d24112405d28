// Heat maps, scatter plots and weeks of measured numbers. The same numbers stand in a table below each; see macros.html.
//
// heat:    {"x": [mm…], "y": [mm…], "values": [[…]…], "unit": "%"}   one row of values for each y
// scatter: {"points": [[x, y, low, high]…], "line": [[x, y]…], "x": "lamp hours", "y": "mW/cm²"}; low, high may be null
// weeks:   {"points": [[week, value, broke a rule, name]…], "unit": "%", "mean", "low", "high"}   the last three with limits
// life:    lamps over their hours, see lamps/drawing.py

import { Drawing, marked, shown, ticks } from "./axes.js";

const EDGE = { left: 52, right: 14, top: 24, bottom: 40 };

class Heat extends Drawing {
  draw({ pen, look, width, height }) {
    const { x, y, values, unit } = this.data;
    const inner = { width: width - EDGE.left - EDGE.right, height: height - EDGE.top - EDGE.bottom };
    const [cell, row] = [inner.width / x.length, inner.height / y.length];
    const all = values.flat().filter((value) => value !== null);
    const [low, high] = [Math.min(...all), Math.max(...all)];
    let told = "";
    values.forEach((line, j) => line.forEach((value, i) => {
      const [left, top] = [EDGE.left + i * cell, EDGE.top + j * row];
      if (value !== null) {
        // Brightness of one colour, and the number where there is room: nothing is told by hue.
        const share = high > low ? (value - low) / (high - low) : 1;
        pen.globalAlpha = 0.12 + 0.68 * share;
        pen.fillStyle = look.ink;
        pen.fillRect(left + 1, top + 1, cell - 2, row - 2);
        pen.globalAlpha = 1;
        pen.fillStyle = share > 0.55 ? look.ground : look.ink;
        pen.textAlign = "center";
        pen.textBaseline = "middle";
        if (cell > 34 && row > 18) pen.fillText(shown(Number(value.toPrecision(3))), left + cell / 2, top + row / 2);
      }
      const at = this.at;
      if (at && at.x >= left && at.x < left + cell && at.y >= top && at.y < top + row) {
        pen.strokeStyle = look.ink;
        pen.lineWidth = 2;
        pen.strokeRect(left + 1, top + 1, cell - 2, row - 2);
        told = `x ${shown(x[i])} mm, y ${shown(y[j])} mm: ${value === null ? "–" : shown(value)} ${unit}`;
      }
    }));
    pen.fillStyle = look.ink;
    pen.textAlign = "center";
    pen.textBaseline = "top";
    x.forEach((mm, i) => pen.fillText(shown(mm), EDGE.left + (i + 0.5) * cell, height - EDGE.bottom + 6));
    pen.fillText("mm", EDGE.left + inner.width / 2, height - 16);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    y.forEach((mm, j) => pen.fillText(shown(mm), EDGE.left - 6, EDGE.top + (j + 0.5) * row));
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillText(`${unit}: ${shown(low)} – ${shown(high)}`, 4, 15);
    this.readout.textContent = told;
  }
}

class Scatter extends Drawing {
  draw({ pen, look, width, height }) {
    const { points, line = [], x, y } = this.data;
    const xs = [...points, ...line].map((point) => point[0]);
    const ys = points.flatMap((point) => point.slice(1)).concat(line.map((point) => point[1])).filter((v) => v != null);
    const [x0, x1, y1] = [Math.min(...xs, 0), Math.max(...xs) || 1, (Math.max(...ys) || 1) * 1.1];
    const right = width - EDGE.right;
    const base = height - EDGE.bottom;
    const xOf = (value) => EDGE.left + ((right - EDGE.left) * (value - x0)) / (x1 - x0 || 1);
    const yOf = (value) => base - ((base - EDGE.top) * value) / y1;
    pen.strokeRect(EDGE.left, EDGE.top, right - EDGE.left, base - EDGE.top);
    pen.textAlign = "center";
    pen.textBaseline = "top";
    ticks(x0, x1, 4, (value, label) => pen.fillText(label, xOf(value), base + 6));
    pen.fillText(x, (EDGE.left + right) / 2, height - 16);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    ticks(0, y1, 4, (value, label) => pen.fillText(label, EDGE.left - 6, yOf(value)));
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillText(y, 4, 15);
    pen.strokeStyle = look.ink;
    pen.setLineDash([7, 4]);
    pen.beginPath();
    for (const [px, py] of line) pen.lineTo(xOf(px), yOf(py));
    pen.stroke();
    pen.setLineDash([]);
    let near = null;
    for (const [px, py, low, high] of points) {
      if (low != null && high != null) {
        pen.beginPath();
        pen.moveTo(xOf(px), yOf(low));
        pen.lineTo(xOf(px), yOf(high));
        pen.stroke();
      }
      pen.beginPath();
      pen.arc(xOf(px), yOf(py), 4, 0, 7);
      pen.fill();
      const away = this.at ? Math.hypot(this.at.x - xOf(px), this.at.y - yOf(py)) : Infinity;
      if (away < 30 && away < (near?.away ?? Infinity)) near = { away, text: `${shown(px)} ${x}: ${shown(py)} ${y}` };
    }
    this.readout.textContent = near?.text ?? "";
  }
}

class Weeks extends Drawing {
  draw({ pen, look, width, height }) {
    const { points, unit, mean = null, low = null, high = null } = this.data;
    const all = points.map((point) => point[1]).concat([low, high].filter((value) => value !== null));
    const [least, most] = [Math.min(...all), Math.max(...all)];
    const air = (most - least || Math.abs(most) || 1) * 0.1;
    const [y0, y1, last] = [least - air, most + air, points.at(-1)[0]];
    const right = width - EDGE.right;
    const base = height - EDGE.bottom;
    const xOf = (week) => EDGE.left + 12 + ((right - EDGE.left - 24) * week) / (last || 1);
    const yOf = (value) => base - ((base - EDGE.top) * (value - y0)) / (y1 - y0);
    pen.strokeRect(EDGE.left, EDGE.top, right - EDGE.left, base - EDGE.top);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    ticks(y0, y1, 4, (value, label) => pen.fillText(label, EDGE.left - 6, yOf(value)));
    pen.textAlign = "left";
    pen.textBaseline = "top";
    pen.fillText(points[0][3], EDGE.left, base + 6);
    pen.textAlign = "right";
    if (last) pen.fillText(points.at(-1)[3], right, base + 6);
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillText(unit, 4, 15);
    pen.strokeStyle = look.ink;
    const across = (value, dashes) => {
      if (value === null) return;
      pen.setLineDash(dashes);
      pen.beginPath();
      pen.moveTo(EDGE.left, yOf(value));
      pen.lineTo(right, yOf(value));
      pen.stroke();
    };
    across(low, [7, 4]);
    across(high, [7, 4]);
    across(mean, [1, 3]);
    pen.setLineDash([]);
    pen.beginPath();
    for (const [week, value] of points) pen.lineTo(xOf(week), yOf(value));
    pen.stroke();
    let near = null;
    for (const [week, value, broken, name] of points) {
      const [px, py] = [xOf(week), yOf(value)];
      pen.beginPath();
      pen.arc(px, py, 3, 0, 7);
      pen.fill();
      if (broken) {
        // A shape of its own: nothing is told by colour alone.
        pen.beginPath();
        pen.arc(px, py, 8, 0, 7);
        pen.stroke();
      }
      const away = this.at ? Math.hypot(this.at.x - px, this.at.y - py) : Infinity;
      if (away < 30 && away < (near?.away ?? Infinity)) near = { away, text: `${name}: ${shown(Number(value.toPrecision(5)))} ${unit}` };
    }
    this.readout.textContent = near?.text ?? "";
  }
}

// Days, fitted curve with its band, replacement level, today, and when the level is met.
class Life extends Drawing {
  draw({ pen, look, width, height }) {
    const { points, line, words, x: [x0, x1], y: [y0, y1] } = this.data;
    const right = width - EDGE.right;
    const base = height - EDGE.bottom;
    const xOf = (value) => EDGE.left + ((right - EDGE.left) * (value - x0)) / (x1 - x0);
    const yOf = (value) => base - ((base - EDGE.top) * (value - y0)) / (y1 - y0);
    const place = { pen, look, right, base, xOf, yOf };
    this.ground(place);
    if (line.length) this.curve(place);
    this.level(place);
    const told = this.days(place, points);
    this.upright(place, this.data.now_h, words.now, 1, 14);
    if (this.data.end[0] !== null) this.ending(place);
    const near = this.at && line.length ? this.onCurve(place) : "";
    this.readout.textContent = told || near;
  }

  ground({ pen, look, right, base, xOf, yOf }) {
    const { words, x: [x0, x1], y: [y0, y1], run_in_h: seasoned } = this.data;
    pen.fillStyle = look.line;
    pen.globalAlpha = 0.3;
    pen.fillRect(EDGE.left, EDGE.top, Math.min(xOf(seasoned), right) - EDGE.left, base - EDGE.top);
    pen.globalAlpha = 1;
    pen.fillStyle = look.ink;
    pen.strokeRect(EDGE.left, EDGE.top, right - EDGE.left, base - EDGE.top);
    pen.textAlign = "center";
    pen.textBaseline = "top";
    ticks(x0, x1, right > 500 ? 8 : 5, (value, label) => pen.fillText(label, xOf(value), base + 6));
    pen.fillText(words.x, (EDGE.left + right) / 2, base + 24);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    ticks(y0, y1, 5, (value, label) => pen.fillText(label, EDGE.left - 6, yOf(value)));
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillText("mW/cm²", 4, 15);
    if (pen.measureText(words.run_in).width < xOf(seasoned) - EDGE.left) {
      pen.fillText(words.run_in, EDGE.left + 4, base - 6);
    }
  }

  curve({ pen, look, xOf, yOf }) {
    const { line, now_h: now } = this.data;
    pen.fillStyle = look.line;
    pen.globalAlpha = 0.6;
    pen.beginPath();
    for (const [h, , , high] of line) pen.lineTo(xOf(h), yOf(high));
    for (const [h, , low] of [...line].reverse()) pen.lineTo(xOf(h), yOf(low));
    pen.fill();
    pen.globalAlpha = 1;
    pen.fillStyle = pen.strokeStyle = look.ink;
    pen.lineWidth = 2;
    for (const [dash, part] of [[[], (h) => h <= now], [[9, 5], (h) => h >= now]]) {
      pen.setLineDash(dash);
      pen.beginPath();
      for (const [h, light] of line.filter(([hours]) => part(hours))) pen.lineTo(xOf(h), yOf(light));
      pen.stroke();
    }
    pen.setLineDash([]);
    pen.lineWidth = 1;
  }

  level({ pen, look, right, yOf }) {
    if (this.data.level_mw_cm2 === null) return;
    const y = yOf(this.data.level_mw_cm2);
    pen.strokeStyle = look.ink;
    pen.lineWidth = 2.5;
    pen.setLineDash([2, 5]);
    pen.beginPath();
    pen.moveTo(EDGE.left, y);
    pen.lineTo(right, y);
    pen.stroke();
    pen.setLineDash([]);
    pen.lineWidth = 1;
    pen.fillText(this.data.level, EDGE.left + 6, y - 6);
  }

  // Draws them and says which one lies under the finger.
  days({ pen, xOf, yOf }, points) {
    let near = null;
    for (const [h, light] of points) {
      pen.beginPath();
      pen.arc(xOf(h), yOf(light), 2, 0, 7);
      if (h < this.data.run_in_h) pen.stroke();
      else pen.fill();
      const away = this.at ? Math.hypot(this.at.x - xOf(h), this.at.y - yOf(light)) : Infinity;
      if (away < 14 && away < (near?.away ?? Infinity)) near = { away, h, light };
    }
    return near ? `${shown(near.h)} h: ${shown(near.light)} mW/cm²` : "";
  }

  upright({ pen, base, xOf }, hours, label, width, down) {
    pen.lineWidth = width;
    pen.beginPath();
    pen.moveTo(xOf(hours), EDGE.top);
    pen.lineTo(xOf(hours), base);
    pen.stroke();
    pen.lineWidth = 1;
    const left = xOf(hours) - pen.measureText(label).width - 12 < EDGE.left;
    pen.textAlign = left ? "left" : "right";
    pen.fillText(label, xOf(hours) + (left ? 5 : -5), EDGE.top + down);
    pen.textAlign = "left";
  }

  ending(place) {
    const { pen, base, right, xOf } = place;
    const [middle, low, high] = this.data.end;
    pen.setLineDash([9, 5]);
    this.upright(place, middle, this.data.date, 1, 30);
    pen.setLineDash([]);
    pen.lineWidth = 4;
    pen.beginPath();
    pen.moveTo(xOf(low ?? middle), base - 3);
    pen.lineTo(high === null ? right : xOf(high), base - 3);
    pen.stroke();
    pen.lineWidth = 1;
  }

  onCurve({ xOf }) {
    const { line } = this.data;
    const [h, light, low, high] = line.reduce((a, b) =>
      (Math.abs(xOf(b[0]) - this.at.x) < Math.abs(xOf(a[0]) - this.at.x) ? b : a));
    const light3 = [light, low, high].map((value) => marked(value.toFixed(3)));
    return `${h.toFixed(0)} h: ${light3[0]} (${light3[1]} – ${light3[2]}) mW/cm²`;
  }
}


const KINDS = { heat: Heat, scatter: Scatter, weeks: Weeks, life: Life };
for (const canvas of document.querySelectorAll("canvas[data-plot]")) {
  const plot = new KINDS[canvas.dataset.plot](canvas);
  plot.data = JSON.parse(canvas.dataset.values);
  plot.readout = canvas.parentElement.querySelector("[data-readout]");
  plot.wish();
}
