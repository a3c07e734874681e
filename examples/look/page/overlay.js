// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The lines, marks and axes over the image.

import { draw, haloed, path } from "./svg.js";
import { ticks } from "./section.js";
import { fixed } from "./words.js";

// Overlay is the SVG over the raster. The scene says what to draw:
//   frame, palette, levels, surfaces, known, ghosts, indications, flaw, contour, beam, point, chosen.
export class Overlay {
  constructor(svg, { point, leave }) {
    this.svg = svg;
    this.pointed = point; // is called with the number of an indication under the pointer
    this.left = leave;
  }

  draw(scene) {
    const { frame } = scene;
    const { width, height } = frame.size;
    const { left, top, width: w, height: h } = frame.plot;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren(
      draw("defs", {}, draw("clipPath", { id: "inside" }, draw("rect", { x: left, y: top, width: w, height: h }))),
      axes(frame),
      bar(frame, scene.palette, scene.levels),
      draw("g", { "clip-path": "url(#inside)" }, ...this.inside(scene)),
    );
  }

  inside(scene) {
    const { frame } = scene;
    const line = (points) => path(points.map(([x, z]) => [frame.x(x), frame.y(z)]));
    const all = [];
    for (const points of scene.surfaces) {
      all.push(...haloed(line(points), "surface"));
    }
    for (const points of scene.known) {
      all.push(...haloed(line(points), "known"));
    }
    for (const ghost of scene.ghosts) {
      all.push(draw("g", {}, draw("title", {}, ghost.echo), ...ghost.lines.flatMap((points) => haloed(line(points), "ghost"))));
    }
    all.push(...labels(scene));
    if (scene.beam) {
      all.push(draw("path", { d: line(scene.beam), class: "axis-line" }));
    }
    if (scene.flaw?.ends) {
      all.push(...haloed(line(scene.flaw.ends), "flaw"));
    }
    for (const [x, z] of scene.contour) {
      all.push(draw("circle", { cx: frame.x(x).toFixed(1), cy: frame.y(z).toFixed(1), r: 1.2, class: "contour" }));
    }
    all.push(...scene.indications.map((i) => this.mark(frame, i, scene.chosen.has(i.id))));
    all.push(...ring(frame, scene.point));
    return all;
  }

  // mark returns the cross of an indication with its number.
  mark(frame, { id, x, z }, chosen) {
    const px = frame.x(x);
    const py = frame.y(z);
    const d = `M${px - 4} ${py - 4}l8 8m0 -8l-8 8`;
    const group = draw(
      "g",
      { class: chosen ? "mark chosen" : "mark", "data-id": id },
      ...haloed(d, "cross"),
      draw("text", { x: px + 8, y: py - 5 }, String(id)),
      draw("circle", { cx: px, cy: py, r: 11, class: "target" }),
    );
    group.addEventListener("pointerenter", () => this.pointed(id));
    group.addEventListener("pointerleave", () => this.left());
    return group;
  }
}

// ring returns the reading point.
function ring(frame, { x, z }) {
  const px = frame.x(x);
  const py = frame.y(z);
  const d = `M${px - 7} ${py}a7 7 0 1 0 14 0a7 7 0 1 0 -14 0M${px - 13} ${py}h6m14 0h6M${px} ${py - 13}v6m0 14v6`;
  return [draw("path", { d, class: "ring halo" }), draw("path", { d, class: "ring" })];
}

// labels returns the numbers of the ghosts, beside the first point of each that shows.
function labels({ frame, ghosts }) {
  const all = [];
  ghosts.forEach((ghost, i) => {
    const seen = ghost.lines.flat().find(([x, z]) => frame.holds(frame.x(x) + 20, frame.y(z) - 12));
    if (seen) {
      all.push(draw("text", { x: frame.x(seen[0]) + 4, y: frame.y(seen[1]) - 5, class: "ghost-label" }, `G${i + 1}`));
    }
  });
  return all;
}

// axes returns both axes in mm.
function axes(frame) {
  const { left, top, width, height } = frame.plot;
  const group = draw("g", {}, draw("rect", { x: left, y: top, width, height, class: "axis" }));
  const { x0, x1, z0, z1 } = frame.window;
  const base = top + height;
  for (const v of ticks(x0 * 1e3, x1 * 1e3, width / 60)) {
    const x = frame.x(v * 1e-3);
    group.append(draw("path", { d: `M${x} ${base}v5`, class: "axis" }));
    group.append(draw("text", { x, y: base + 18, "text-anchor": "middle" }, number(v)));
  }
  for (const v of ticks(z0 * 1e3, z1 * 1e3, height / 45)) {
    const y = frame.y(v * 1e-3);
    group.append(draw("path", { d: `M${left} ${y}h-5`, class: "axis" }));
    group.append(draw("text", { x: left - 8, y: y + 4, "text-anchor": "end" }, number(v)));
  }
  group.append(draw("text", { x: left + width / 2, y: base + 34, "text-anchor": "middle" }, "x / mm"));
  const middle = top + height / 2;
  group.append(
    draw("text", { x: 12, y: middle, "text-anchor": "middle", transform: `rotate(-90 12 ${middle})` }, "depth / mm"),
  );
  return group;
}

// bar returns the colour bar.
function bar(frame, palette, { top: high, span }) {
  const { left, top, width, height } = frame.plot;
  const x = left + width + 16;
  const n = palette.colours.length;
  const stops = palette.colours.map((c, i) => draw("stop", { offset: 1 - i / (n - 1), "stop-color": c })).reverse();
  const group = draw(
    "g",
    {},
    draw("linearGradient", { id: "ramp", x1: 0, y1: 0, x2: 0, y2: 1 }, ...stops),
    draw("rect", { x, y: top, width: 14, height, fill: "url(#ramp)", class: "bar" }),
    draw("rect", { x, y: top, width: 14, height, class: "axis" }),
  );
  for (const v of ticks(high - span, high, height / 40)) {
    const y = top + ((high - v) / span) * height;
    group.append(draw("path", { d: `M${x + 14} ${y}h4`, class: "axis" }));
    group.append(draw("text", { x: x + 22, y: y + 4 }, number(v)));
  }
  const middle = top + height / 2;
  group.append(
    draw("text", { x: x + 62, y: middle, "text-anchor": "middle", transform: `rotate(-90 ${x + 62} ${middle})` }, "level / dB"),
  );
  return group;
}

// number returns a tick with as many decimals as it needs.
const number = (v) => fixed(v, Math.min(3, (String(v).split(".")[1] ?? "").length));
