// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Small images of the usual views, to choose from.

import { ask } from "./server.js";
import { colour } from "./raster.js";
import { make } from "./svg.js";

const pixels = 4000; // of a sketch

// Sketches draws a small image of each usual view.
export class Sketches {
  constructor(parent, views, whole, picked) {
    Object.assign(this, { views, whole });
    const wide = whole.x1 - whole.x0;
    const deep = whole.z1 - whole.z0;
    this.step = Math.sqrt((wide * deep) / pixels);
    this.entries = views.map((view) => {
      const input = make("input", { type: "radio", name: "sketch", value: view });
      const canvas = make("canvas");
      canvas.style.aspectRatio = `${wide} / ${deep}`;
      input.addEventListener("change", () => picked(view));
      parent.append(make("label", {}, input, canvas, view));
      return { view, input, canvas, image: null };
    });
  }

  // choose marks the view that the figure shows, if it is a usual one.
  choose(view) {
    this.entries.forEach((e) => (e.input.checked = e.view === view));
  }

  // renew asks for the images at a setting, one after the other.
  async renew(setting, painted) {
    this.stop();
    const control = new AbortController();
    this.control = control;
    try {
      for (const entry of this.entries) {
        entry.image = await ask("image", { ...setting, ...this.whole, view: entry.view, step: this.step }, control.signal);
        painted();
      }
    } catch {
      // Another setting is on its way, or the figure tells what is wrong with this one.
    }
  }

  stop() {
    this.control?.abort();
  }

  paint(palette, levels) {
    for (const { canvas, image } of this.entries) {
      if (image) {
        colour(canvas, image, palette, levels);
      }
    }
  }
}
