// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// How fast images come.

// Rate counts the images of the last second.
export class Rate {
  constructor(output) {
    this.output = output;
    this.arrivals = [];
  }

  // add counts an image with the times in ms that the server took.
  add({ plan, sum }, step) {
    const now = performance.now();
    this.arrivals = this.arrivals.filter((t) => now - t < 1000);
    this.arrivals.push(now);
    const pace = this.perSecond;
    this.output.textContent =
      (pace > 5 ? `${pace.toFixed(0)} images a second; ` : "") +
      `plan ${plan.toFixed(0)} ms, sum ${sum.toFixed(0)} ms, pixels of ${(step * 1e3).toFixed(2)} mm`;
  }

  // perSecond is the rate between the first and the last image of the last second.
  get perSecond() {
    const n = this.arrivals.length;
    return n < 2 ? 0 : ((n - 1) * 1000) / (this.arrivals[n - 1] - this.arrivals[0]);
  }
}
