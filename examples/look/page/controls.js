// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The sliders of the set-up.

import { make } from "./svg.js";
import { fixed, signed } from "./words.js";

// Controls holds one slider for each value that may change.
export class Controls {
  constructor(parent, list, changed) {
    this.sliders = list.map((c) => new Slider(c, changed));
    parent.append(...this.sliders.map((s) => s.label));
  }

  // values returns the setting in SI units, for a question to the server.
  get values() {
    return Object.fromEntries(this.sliders.map((s) => [s.control.key, s.value]));
  }

  get changed() {
    return this.sliders.some((s) => s.changed);
  }

  reset() {
    this.sliders.forEach((s) => s.reset());
  }

  // mute marks the speeds that a view does not use.
  mute(view) {
    for (const s of this.sliders) {
      const letter = { longitudinal: "L", transverse: "T" }[s.control.key];
      const skips = view.split("-").some((path) => path.length > 1);
      s.idle((letter && !view.includes(letter)) || (s.control.key === "thickness" && !skips));
    }
  }
}

// Slider is a value of the set-up. The slider itself counts steps from the recorded value, so that
// this value is one of its places.
class Slider {
  constructor(control, changed) {
    this.control = control;
    const { label, min, max, value, step } = control;
    this.output = make("output");
    this.input = make("input", {
      type: "range",
      id: control.key,
      min: Math.round((min - value) / step),
      max: Math.round((max - value) / step),
      step: 1,
      value: 0,
      ariaLabel: label,
    });
    this.label = make("label", { className: "slider", htmlFor: control.key }, make("span", {}, label), this.output, this.input);
    this.input.addEventListener("input", () => {
      this.show();
      changed();
    });
    this.input.addEventListener("dblclick", () => {
      this.reset();
      changed();
    });
    this.show();
  }

  get value() {
    return this.control.value + Number(this.input.value) * this.control.step;
  }

  get changed() {
    return Number(this.input.value) !== 0;
  }

  reset() {
    this.input.value = 0;
    this.show();
  }

  idle(yes) {
    this.label.classList.toggle("idle", yes);
    this.unused = yes;
    this.show();
  }

  // show writes the value, and how far it is from the recorded one.
  show() {
    const { unit, scale, value, step } = this.control;
    const decimals = Math.max(0, -Math.floor(Math.log10(step * scale) + 1e-9));
    const space = unit === "°" ? "" : "\u00a0";
    const now = fixed(this.value * scale, decimals) + space + unit;
    let change = this.unused ? "not in this view" : "as recorded";
    if (this.changed) {
      const difference = this.value - value;
      change = unit === "m/s" ? `${signed((100 * difference) / value, 1)}\u00a0%` : signed(difference * scale, decimals) + space + unit;
    }
    this.output.replaceChildren(`${now} `, make(this.changed ? "b" : "span", { className: "aside" }, `(${change})`));
    this.input.setAttribute("aria-valuetext", `${now}, ${change}`);
  }
}
