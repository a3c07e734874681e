// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Curves over an axis, for the traces.

import { draw, path } from "./svg.js";
import { ticks } from "./section.js";
import { fixed } from "./words.js";

const margin = { left: 44, right: 8, top: 16, bottom: 34 };

// Plot is a small figure with two axes. Its size follows its element.
export class Plot {
  constructor(svg, { x, y }) {
    Object.assign(this, { svg, labels: { x, y } });
  }

  // clear shows a text in place of curves.
  clear(text = "") {
    const { width, height } = this.measure();
    this.svg.replaceChildren(draw("text", { x: width / 2, y: height / 2, "text-anchor": "middle" }, text));
  }

  measure() {
    const { width, height } = this.svg.getBoundingClientRect();
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    return { width, height };
  }

  // begin empties the figure, and sets the ranges { from, to } of its axes.
  begin(x, y) {
    const { width, height } = this.measure();
    const w = Math.max(1, width - margin.left - margin.right); // 1 while the page has no layout yet
    const h = Math.max(1, height - margin.top - margin.bottom);
    this.range = x;
    this.x = (v) => margin.left + ((v - x.from) / (x.to - x.from)) * w;
    this.y = (v) => margin.top + ((y.to - v) / (y.to - y.from)) * h;
    this.inside = draw("g", { "clip-path": `url(#${this.svg.id}-inside)` });
    const frame = { x: margin.left, y: margin.top, width: w, height: h };
    this.svg.replaceChildren(
      draw("clipPath", { id: `${this.svg.id}-inside` }, draw("rect", frame)),
      this.inside,
      draw("path", { d: `M${margin.left} ${margin.top}v${h}h${w}`, class: "axis" }),
    );
    const text = (attributes, t) => this.svg.append(draw("text", attributes, t));
    for (const v of ticks(x.from, x.to, w / 55)) {
      this.svg.append(draw("path", { d: `M${this.x(v)} ${margin.top + h}v4`, class: "axis" }));
      text({ x: this.x(v), y: margin.top + h + 16, "text-anchor": "middle" }, fixed(v, 0));
    }
    for (const v of ticks(y.from, y.to, h / 22)) {
      this.svg.append(draw("path", { d: `M${margin.left} ${this.y(v)}h-4`, class: "axis" }));
      text({ x: margin.left - 6, y: this.y(v) + 4, "text-anchor": "end" }, fixed(v, 0));
    }
    text({ x: margin.left + w / 2, y: height - 3, "text-anchor": "middle" }, this.labels.x);
    const middle = margin.top + h / 2;
    text({ x: 10, y: middle, "text-anchor": "middle", transform: `rotate(-90 10 ${middle})` }, this.labels.y);
  }

  // curve draws the values value(i) at the places place(i), for those places that show.
  curve(n, place, value, name) {
    const points = [];
    const { from, to } = this.range;
    const step = place(1) - place(0);
    const first = Math.max(0, Math.floor((from - place(0)) / step));
    const end = Math.min(n, Math.ceil((to - place(0)) / step) + 1);
    for (let i = first; i < end; i++) {
      points.push([this.x(place(i)), this.y(value(i))]);
    }
    this.inside.append(draw("path", { d: path(points), class: name }));
  }

  // upright marks a place with a line and a word above it.
  upright(at, word) {
    const x = this.x(at);
    this.inside.append(draw("path", { d: `M${x} ${margin.top}V1000`, class: "now" }));
    this.svg.append(draw("text", { x, y: 11, "text-anchor": "middle", class: "now-label" }, word));
  }

  // level draws a gate: a line at a height, with a word above it or below.
  level(from, to, height, word, below) {
    const y = this.y(height);
    const d = `M${this.x(from)} ${y}H${this.x(to)}`;
    this.inside.append(draw("path", { d, class: "gate" }));
    const x = Math.max(this.x(from), margin.left) + 3;
    this.inside.append(draw("text", { x, y: below ? y + 14 : y - 5, class: "gate-label" }, word));
  }
}
