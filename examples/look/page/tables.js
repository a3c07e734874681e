// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The tables of indications and flaws.

import { make } from "./svg.js";
import { fixed, mm } from "./words.js";

// Table is a table whose rows can be pointed at. pointed is called with the entry of a row, or null;
// picked with the entry that was clicked.
export class Table {
  constructor(table, cells, { pointed, picked }) {
    Object.assign(this, { table, cells, pointed, picked, rows: [] });
    this.body = table.querySelector("tbody");
    this.names = [...table.querySelectorAll("th")].map((th) => [...th.childNodes].map((n) => n.textContent).join(" "));
  }

  fill(entries) {
    this.rows = entries.map((entry) => ({ entry, row: this.row(entry) }));
    this.body.replaceChildren(...this.rows.map((r) => r.row));
  }

  // busy says whether the entries are still those of another setting.
  busy(yes) {
    this.table.setAttribute("aria-busy", yes);
  }

  row(entry) {
    const cells = this.cells(entry);
    const name = cells.map((cell, i) => `${this.names[i]} ${cell}`).join(", ");
    const row = make("tr", { tabIndex: 0, ariaLabel: name }, ...cells.map((cell) => make("td", {}, cell)));
    row.addEventListener("pointerenter", () => this.pointed(entry));
    row.addEventListener("pointerleave", () => this.pointed(null));
    row.addEventListener("focus", () => this.pointed(entry));
    row.addEventListener("blur", () => this.pointed(null));
    row.addEventListener("click", () => this.picked(entry));
    row.addEventListener("keydown", (e) => {
      if (e.key === "Enter" || e.key === " ") {
        e.preventDefault();
        this.picked(entry);
      }
    });
    return row;
  }

  // choose marks the rows of entries.
  choose(chosen) {
    for (const { entry, row } of this.rows) {
      row.classList.toggle("chosen", chosen(entry));
    }
  }
}

// indicationCells returns the cells of an indication.
export const indicationCells = (i) => [
  String(i.id),
  mm(i.x),
  mm(i.z),
  fixed(i.level, 1),
  mm(i.length) + (i.edge ? " (cut)" : ""),
];

// flawCells returns the cells of a flaw.
export const flawCells = (f) => [
  String(f.id),
  f.kind,
  mm(f.x),
  mm(f.z),
  f.kind === "geometry" ? "–" : length(f),
  f.tilt === null || f.kind === "geometry" ? "–" : `${fixed(degrees(f.tilt), 0)} ± ${fixed(degrees(f.tilt_u), 0)}`,
  f.views.join(", ") + (f.explained ? `; explained by: ${f.explained}` : ""),
];

function length(f) {
  const text = `${mm(f.length)} ± ${mm(f.length_u)}`;
  return { "lower bound": `≥ ${text}`, unresolved: "not resolved" }[f.length_is] ?? text;
}

const degrees = (rad) => (rad * 180) / Math.PI;
