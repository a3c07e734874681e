// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Levels as colours.

// Palette turns levels into colours. Each entry is an opaque pixel of ImageData.
export class Palette {
  constructor({ key, label, colours }) {
    Object.assign(this, { key, label, colours });
    const bytes = new Uint8ClampedArray(4 * colours.length);
    colours.forEach((c, i) => {
      bytes.set([parseInt(c.slice(1, 3), 16), parseInt(c.slice(3, 5), 16), parseInt(c.slice(5, 7), 16), 255], 4 * i);
    });
    this.pixels = new Uint32Array(bytes.buffer);
    this.ground = bytes[1] > 128 ? "light" : "dark"; // of the lowest level
  }
}

// colour draws the levels of an image on a canvas of its own size, from the level top down to the
// level top - span. A pixel without a level stays transparent.
export function colour(canvas, image, palette, { top, span }) {
  const { columns, rows } = image.head;
  canvas.width = columns;
  canvas.height = rows;
  const context = canvas.getContext("2d");
  const data = context.createImageData(columns, rows);
  const out = new Uint32Array(data.data.buffer);
  const { pixels } = palette;
  const last = pixels.length - 1;
  const scale = last / span;
  const low = top - span;
  const levels = image.numbers;
  for (let i = 0; i < out.length; i++) {
    const v = levels[i];
    if (v === v) {
      const k = (v - low) * scale;
      out[i] = pixels[k <= 0 ? 0 : k >= last ? last : k | 0];
    }
  }
  context.putImageData(data, 0, 0);
}

// levelAt returns the level of the pixel at a point, or null outside the image and where no ray
// leads.
export function levelAt(image, { x, z }) {
  const { columns, rows, x0, z0, step } = image.head;
  const c = Math.round((x - x0) / step);
  const r = Math.round((z - z0) / step);
  if (c < 0 || r < 0 || c >= columns || r >= rows) {
    return null;
  }
  const v = image.numbers[r * columns + c];
  return Number.isNaN(v) ? null : v;
}

// Raster is the canvas of the figure.
export class Raster {
  constructor(canvas) {
    this.canvas = canvas;
    this.source = document.createElement("canvas");
  }

  // draw draws an image in a frame.
  draw(frame, image, palette, levels) {
    const { left, top, width, height } = frame.plot;
    const sharp = window.devicePixelRatio || 1;
    const { canvas } = this;
    canvas.style.left = `${left}px`;
    canvas.style.top = `${top}px`;
    canvas.style.width = `${width}px`;
    canvas.style.height = `${height}px`;
    if (canvas.width !== Math.round(width * sharp) || canvas.height !== Math.round(height * sharp)) {
      canvas.width = Math.round(width * sharp);
      canvas.height = Math.round(height * sharp);
    }
    const context = canvas.getContext("2d");
    context.setTransform(sharp, 0, 0, sharp, 0, 0);
    context.clearRect(0, 0, width, height);
    if (!image) {
      return;
    }
    colour(this.source, image, palette, levels);
    const { columns, rows, x0, z0, step } = image.head;
    context.imageSmoothingEnabled = true;
    context.imageSmoothingQuality = "high";
    context.drawImage(
      this.source,
      frame.x(x0 - step / 2) - left,
      frame.y(z0 - step / 2) - top,
      columns * step * frame.scale,
      rows * step * frame.scale,
    );
  }
}
