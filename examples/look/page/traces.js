// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The traces below the image: of the pair that adds most to the reading point, and of a beam.

import { Channel } from "./server.js";
import { Plot } from "./plot.js";
import { make } from "./svg.js";
import { fixed, mm } from "./words.js";

const shown = 12; // µs of a trace

// Traces draws both figures. question returns the values that all questions have; showLine draws the
// axis of the beam.
export class Traces {
  constructor(get, question, showLine) {
    Object.assign(this, { get, question, showLine, pair: null, scan: null, gatesChanged: () => {} });
    this.pairPlot = new Plot(get("pair"), { x: "time / µs", y: "amplitude" });
    this.beamPlot = new Plot(get("beam"), { x: "sound path / mm", y: "height / %" });
    this.gates = [
      new Gate("near", "Gate 1, about the point:", [-2, 2, 20]),
      new Gate("fixed", "Gate 2, standing:", [10, 40, 20]),
    ];
    get("gates").append(...this.gates.map((g) => g.row));
    this.gates.forEach((g) => g.row.addEventListener("change", () => this.gatesChanged()));
    this.pairs = new Channel("pair", (answer) => this.showPair(answer), (error) => this.failPair(error.message));
    this.beams = new Channel("beam", (answer) => this.showBeam(answer), (error) => this.failBeam(error.message));
  }

  // follow asks for the trace of the best pair at a point.
  follow(point) {
    this.pairs.send({ ...this.question(), ...point });
  }

  // beam asks for the beam through a point.
  beam(point) {
    const values = { ...this.question(), ...point };
    for (const gate of this.gates) {
      if (gate.value) {
        values[gate.key] = gate.value;
      }
    }
    this.beams.send(values);
  }

  draw() {
    this.pair ? this.showPair(this.pair) : this.pairPlot.clear();
    this.scan ? this.showBeam(this.scan) : this.beamPlot.clear();
  }

  showPair(answer) {
    this.pair = answer;
    const { head, numbers } = answer;
    const now = head.time * 1e6;
    // The figure stands still while the time of flight moves in its middle third.
    const from = (Math.floor((3 * now) / shown) * shown) / 3 - shown / 3;
    const at = (i) => (head.first + i / head.rate) * 1e6;
    const n = numbers.length / 2;
    const hull = (i) => Math.hypot(numbers[2 * i], numbers[2 * i + 1]);
    let most = 0;
    for (let i = 0; i < n; i++) {
      if (at(i) >= from && at(i) <= from + shown) {
        most = Math.max(most, hull(i));
      }
    }
    const p = this.pairPlot;
    p.begin({ from, to: from + shown }, { from: -1.05 * most || -1, to: 1.05 * most || 1 });
    p.curve(n, at, hull, "hull");
    p.curve(n, at, (i) => -hull(i), "hull");
    p.curve(n, at, (i) => numbers[2 * i], "signal");
    p.upright(now, "time of flight");
    this.get("pair-caption").textContent =
      `The trace that adds most to the reading point, with its envelope: ${head.event ? "event" : "element"} ${head.tx} sends, element ${head.rx} receives. ` +
      `The set-up predicts its echo at ${fixed(now, 2)} µs. It is one of ${head.pairs} that the pixel sums, ` +
      `and gives ${fixed(100 * head.share, 1)} % of the amplitude.`;
  }

  failPair(text) {
    this.pair = null;
    this.pairPlot.clear("no trace");
    this.get("pair-caption").textContent = `${text}.`;
  }

  showBeam(answer) {
    this.scan = answer;
    const { head, numbers } = answer;
    const n = numbers.length / 2;
    const at = (i) => (head.first + i * head.step) * 1e3;
    const focus = head.sound_path * 1e3;
    const to = Math.min(at(n - 1), Math.ceil((focus * 1.5) / 10) * 10);
    let most = 100;
    for (let i = 0; i < n; i++) {
      if (at(i) > 0.1 * to && at(i) < to) {
        most = Math.max(most, numbers[2 * i + 1]);
      }
    }
    const p = this.beamPlot;
    p.begin({ from: 0, to }, { from: 0, to: Math.min(most * 1.05, 250) });
    p.curve(n, at, (i) => numbers[2 * i + 1], "signal");
    p.upright(focus, "point");
    head.gates.forEach((g) => p.level(g.start * 1e3, g.end * 1e3, g.threshold, g.name, g.key === "fixed"));
    this.showLine(head.line);
    this.get("beam-caption").textContent =
      `The A-scan of a beam of all elements, focused at the reading point: ${head.wave} wave, leg ${head.leg}, ` +
      `${fixed((head.angle * 180) / Math.PI, 1)}°. ` +
      (head.equal ? "" : "It goes there and back on the receiving path of the view. ") +
      "100 % is 0 dB of the image.";
    for (const gate of this.gates) {
      gate.show(head.gates.find((g) => g.key === gate.key));
    }
  }

  failBeam(text) {
    this.scan = null;
    this.beamPlot.clear("no beam");
    this.showLine(null);
    this.get("beam-caption").textContent = `${text}.`;
    this.gates.forEach((g) => g.show(null));
  }
}

// Gate is a gate with its fields: start and end in mm of sound path, threshold in %.
class Gate {
  constructor(key, label, values) {
    this.key = key;
    const words = ["from", "to", "at"];
    const units = [" mm ", " mm ", " % "];
    this.inputs = values.map((value, i) =>
      make("input", { type: "number", value, step: i === 2 ? 1 : 0.1, ariaLabel: `${label} ${words[i]}` }),
    );
    this.output = make("output");
    const fields = this.inputs.flatMap((input, i) => [` ${words[i]} `, input, units[i]]);
    this.row = make("p", {}, label, ...fields, this.output);
  }

  // value returns the gate in SI units, for a question to the server, or null if it is not possible.
  get value() {
    const [from, to, height] = this.inputs.map((i) => Number(i.value));
    return from < to && height > 0 ? [from * 1e-3, to * 1e-3, height].join(",") : null;
  }

  show(gate) {
    if (!gate) {
      this.output.textContent = "";
    } else if (gate.height === null) {
      this.output.textContent = "→ no echo so high";
    } else {
      const place = gate.x === null ? "" : `, x ${mm(gate.x)}, depth ${mm(gate.z)}`;
      const edge = gate.at_edge ? ", cut by the gate" : "";
      this.output.textContent = `→ ${fixed(gate.height, 0)} % at ${mm(gate.sound_path)} mm${place}${edge}`;
    }
  }
}
