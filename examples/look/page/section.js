// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The frame of the image: which part of the section shows where on the page.

const left = 46; // px, for the axis of depth
const bar = 88; // px, for the colour bar
const top = 8;
const bottom = 40;

// Frame maps points (x, z) in m to px of the stage. Both axes have the same scale.
export class Frame {
  constructor(whole) {
    this.whole = whole; // { x0, x1, z0, z1 } in m
    this.centre = { x: (whole.x0 + whole.x1) / 2, z: (whole.z0 + whole.z1) / 2 };
    this.zoom = 1;
    this.resize(800, 500);
  }

  // resize fits the plot into a width and a greatest height in px.
  resize(width, greatest) {
    const { x0, x1, z0, z1 } = this.whole;
    const most = greatest - top - bottom;
    let wide = Math.max(100, width - left - bar);
    const deep = Math.max(100, Math.min(most, (wide * (z1 - z0)) / (x1 - x0)));
    wide = Math.min(wide, Math.max((deep * (x1 - x0)) / (z1 - z0), 100));
    this.plot = { left, top, width: Math.round(wide), height: Math.round(deep) };
    this.size = { width, height: this.plot.height + top + bottom };
    this.scaleOfWhole = Math.min(this.plot.width / (x1 - x0), this.plot.height / (z1 - z0));
  }

  get scale() {
    return this.scaleOfWhole * this.zoom; // px/m
  }

  // window returns the part of the section that shows, in m.
  get window() {
    const w = this.plot.width / this.scale / 2;
    const h = this.plot.height / this.scale / 2;
    const { x, z } = this.centre;
    return { x0: x - w, x1: x + w, z0: z - h, z1: z + h };
  }

  x(metres) {
    return this.plot.left + this.plot.width / 2 + (metres - this.centre.x) * this.scale;
  }

  y(metres) {
    return this.plot.top + this.plot.height / 2 + (metres - this.centre.z) * this.scale;
  }

  // point returns the point (x, z) at a place in px.
  point(px, py) {
    return {
      x: this.centre.x + (px - this.plot.left - this.plot.width / 2) / this.scale,
      z: this.centre.z + (py - this.plot.top - this.plot.height / 2) / this.scale,
    };
  }

  // holds tells whether a place in px is in the plot.
  holds(px, py) {
    const { left: l, top: t, width, height } = this.plot;
    return px >= l && px <= l + width && py >= t && py <= t + height;
  }

  // magnify zooms by a factor, and keeps a point of the section in its place.
  magnify(factor, about) {
    const zoom = Math.min(20, Math.max(1, this.zoom * factor));
    const share = this.zoom / zoom;
    this.zoom = zoom;
    this.moveTo(about.x + (this.centre.x - about.x) * share, about.z + (this.centre.z - about.z) * share);
  }

  // moveTo shifts the plot, within the whole section.
  moveTo(x, z) {
    const w = this.plot.width / this.scale / 2;
    const h = this.plot.height / this.scale / 2;
    this.centre = { x: within(x, this.whole.x0 + w, this.whole.x1 - w), z: within(z, this.whole.z0 + h, this.whole.z1 - h) };
  }

  // show shifts the plot so far that it holds a point.
  show({ x, z }) {
    const { x0, x1, z0, z1 } = this.window;
    this.moveTo(
      this.centre.x + Math.min(0, x - x0) + Math.max(0, x - x1),
      this.centre.z + Math.min(0, z - z0) + Math.max(0, z - z1),
    );
  }
}

// within limits a value to a range, and returns the middle of a range that is empty.
function within(value, low, high) {
  return low > high ? (low + high) / 2 : Math.min(high, Math.max(low, value));
}

// ticks returns round numbers in a range, at most n.
export function ticks(from, to, n) {
  const rough = (to - from) / n;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough);
  const all = [];
  for (let i = Math.ceil(from / step - 1e-9); i * step <= to + 1e-9 * step; i++) {
    all.push(Number((i * step).toPrecision(12)));
  }
  return all;
}
