// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The indications and the flaws: their tables, their marks, and the links between both.

import { Table, flawCells, indicationCells } from "./tables.js";
import { fixed, plural } from "./words.js";

const near = 0.4e-3; // m between an indication of the image and the same indication of a flaw

// Findings fills both tables, and marks in the figure what is pointed at in a table, and the other
// way round.
export class Findings {
  constructor(figure) {
    this.figure = figure;
    this.all = []; // of the image
    this.indications = []; // that show
    this.name = ""; // of their view
    const picked = ({ x, z }) => figure.setPoint({ x, z });
    this.indicationTable = new Table(document.getElementById("indications"), indicationCells, {
      pointed: (i) => this.point(i && [i], null),
      picked,
    });
    this.flawTable = new Table(document.getElementById("flaws"), flawCells, {
      pointed: (f) => this.point(f && this.of(f), f),
      picked,
    });
    figure.pointed = (id) => this.point(id === null ? null : this.indications.filter((i) => i.id === id), null);
  }

  waitForIndications() {
    this.indicationTable.busy(true);
  }

  waitForFlaws() {
    this.flawTable.busy(true);
    caption("flaws", "Flaws: the list comes when the set-up rests, and takes a few seconds.");
  }

  showIndications(list, view) {
    this.all = list;
    this.name = view;
    this.limit();
    this.indicationTable.busy(false);
  }

  // limit shows the indications that the colours show.
  limit() {
    const { top, span } = this.figure.levels;
    const low = top - span;
    this.indications = this.all.filter((i) => i.level >= low);
    this.indicationTable.fill(this.indications);
    this.figure.showIndications(this.indications);
    const count = this.indications.length === 0 ? "No indications" : plural(this.indications.length, "indication");
    caption("indications", `${count} of view ${this.name} above ${fixed(low, 0)} dB.`);
  }

  showFlaws(list, views) {
    this.flawTable.fill(list);
    this.flawTable.busy(false);
    caption(
      "flaws",
      `${plural(list.length, "flaw")} from the views ${views.join(", ")}. ±: for 95 %, from the picture alone; ` +
        "errors of speeds, wedge and probe position add to it.",
    );
  }

  failFlaws(text) {
    this.flawTable.fill([]);
    this.flawTable.busy(false);
    caption("flaws", `No flaws: ${text}.`);
  }

  // of returns the indications of the image that belong to a flaw.
  of(flaw) {
    const seen = flaw.indications.filter((s) => s.view === this.name);
    return this.indications.filter((i) => seen.some((s) => Math.hypot(s.x - i.x, s.z - i.z) < near));
  }

  // point marks indications and a flaw, in the tables and in the figure.
  point(indications, flaw) {
    const chosen = new Set((indications ?? []).map((i) => i.id));
    this.indicationTable.choose((i) => chosen.has(i.id));
    this.flawTable.choose((f) => f === flaw || (!flaw && this.of(f).some((i) => chosen.has(i.id))));
    this.figure.choose(chosen, flaw);
  }
}

function caption(id, text) {
  document.getElementById(`${id}-caption`).textContent = text;
}
