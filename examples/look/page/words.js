// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Numbers and words of the page.

const minus = "\u2212";

// fixed returns a number with a number of decimals and a true minus sign.
export function fixed(value, decimals) {
  const text = Math.abs(value).toFixed(decimals);
  return (value < 0 && Number(text) !== 0 ? minus : "") + text;
}

// signed is fixed with a plus sign.
export function signed(value, decimals) {
  const text = fixed(value, decimals);
  return text.startsWith(minus) ? text : "+" + text;
}

// mm returns a length in m as millimetres with two decimals, without the unit.
export const mm = (metres) => fixed(metres * 1e3, 2);

// plural returns a count with its noun.
export const plural = (n, noun) => `${n} ${noun}${n === 1 ? "" : "s"}`;

const waves = { L: "longitudinal", T: "transverse" };
const skips = ["straight", "with one skip", "with two skips"];

// way describes a path, such as TT, in words.
function way(path) {
  const modes = [...path].map((m) => waves[m]);
  const wave = new Set(modes).size === 1 ? modes[0] : modes.join(", then ");
  return `${wave}, ${skips[path.length - 1] ?? `with ${path.length - 1} skips`}`;
}

// viewWords describes a view, such as TT-T, in a sentence.
export function viewWords(view) {
  const [there, back] = view.split("-");
  if (there === back) {
    return `There and back: ${way(there)}.`;
  }
  return `There: ${way(there)}. Back: ${way([...back].join(""))}.`;
}
