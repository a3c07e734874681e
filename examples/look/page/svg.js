// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Small helpers for SVG and HTML.

const space = "http://www.w3.org/2000/svg";

// draw returns a new SVG element with attributes and children.
export function draw(name, attributes = {}, ...children) {
  const element = document.createElementNS(space, name);
  for (const [key, value] of Object.entries(attributes)) {
    element.setAttribute(key, value);
  }
  element.append(...children);
  return element;
}

// make returns a new HTML element with properties and children.
export function make(name, properties = {}, ...children) {
  const element = Object.assign(document.createElement(name), properties);
  element.append(...children);
  return element;
}

// path returns the text of a polyline through points in px.
export const path = (points) => points.map(([x, y], i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");

// haloed returns a path twice: broad in the colour of the ground, and then as it is.
export const haloed = (d, name) => [draw("path", { d, class: "halo" }), draw("path", { d, class: name })];
