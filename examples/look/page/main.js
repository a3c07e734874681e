// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The page: what happens when something changes.

import { Channel, ask } from "./server.js";
import { Controls } from "./controls.js";
import { Figure } from "./figure.js";
import { Findings } from "./findings.js";
import { Rate } from "./rate.js";
import { Sketches } from "./sketches.js";
import { Traces } from "./traces.js";
import { make } from "./svg.js";
import { fixed, mm, viewWords } from "./words.js";

const get = (id) => document.getElementById(id);
const restAfter = 200; // ms without a change, until the slow questions are asked
const pace = 30; // ms for an image while something moves

const { head: about } = await ask("about", {}).catch((error) => {
  get("loading").textContent = `The capture does not come: ${error.message}.`;
  throw error;
});
const state = { view: about.usual[0], pixels: 12_000 };

get("title").textContent = about.name;
get("facts").textContent = `${about.title}: ${about.facts}; ${about.traces} traces.`;
document.title = `${about.name}: look at a capture`;

const controls = new Controls(get("controls"), about.controls, moved);
const figure = new Figure(about, { windowMoved: looked, pointMoved });
const sketches = new Sketches(get("sketches"), about.usual, about.window, chooseView);
const traces = new Traces(get, question, (line) => figure.showBeam(line));
const findings = new Findings(figure);
figure.recoloured = () => {
  sketches.paint(figure.palette, figure.levels);
  findings.limit();
};
const rate = new Rate(get("rate"));

const images = new Channel("image", imageCame, (error) => {
  figure.fail(error.message);
  appear();
});
const flaws = new Channel("flaws", ({ head }) => findings.showFlaws(head, about.usual), (error) => findings.failFlaws(error.message));
const ghosts = new Channel("ghosts", ({ head }) => showGhosts(head), (error) => say(`No ghosts: ${error.message}.`));

// question returns the values that all questions have.
function question() {
  return { ...controls.values, view: state.view };
}

// askImage asks for an image of the window, of about a number of pixels. Pixels of more than a quarter
// of the wavelength would lose peaks, and would not be faster: their delays are too far apart.
function askImage(pixels, find) {
  const w = figure.window;
  const area = (w.x1 - w.x0) * (w.z1 - w.z0);
  const least = Math.min(60_000, area / (about.wavelength / 4) ** 2);
  const step = Math.sqrt(area / Math.max(pixels, least));
  images.send({ ...question(), ...w, step, find: find ? "yes" : "no" }, { slow: find });
}

let fine;
let rest;

// looked draws a quick image of what the figure shows now, and a fine one when nothing has moved for a
// while.
function looked() {
  askImage(state.pixels, false);
  findings.waitForIndications();
  clearTimeout(fine);
  fine = setTimeout(() => askImage(60_000, true), restAfter);
}

// moved follows a change of the set-up.
function moved() {
  looked();
  findings.waitForFlaws();
  figure.wait();
  [flaws, ghosts, sketches].forEach((slow) => slow.stop());
  clearTimeout(rest);
  rest = setTimeout(rested, restAfter);
}

// rested asks for what takes long.
function rested() {
  findings.waitForFlaws();
  traces.beam(figure.point);
  sketches.renew(controls.values, () => sketches.paint(figure.palette, figure.levels));
  flaws.send(controls.values, { slow: true });
  askGhosts();
}

// askGhosts asks for ghosts, if they are to show. A coarse grid is enough for lines.
function askGhosts() {
  figure.showGhosts([]);
  say("");
  if (get("ghosts").checked) {
    const step = Math.max(about.wavelength / 2.5, figure.step(20_000));
    ghosts.send({ ...question(), ...about.window, ...figure.point, step }, { slow: true });
    say("Ghosts: on their way.");
  } else {
    ghosts.stop();
  }
}

function showGhosts(list) {
  figure.showGhosts(list);
  const names = list.map(({ echo, level }, i) => `G${i + 1} ${echo} (${fixed(level, 0)} dB)`);
  say(
    names.length === 0
      ? "Ghosts: no other echo of the surfaces, or of the reading point, focuses in this view."
      : `Ghosts, with the level of their focus for an echo of full strength: ${names.join("; ")}.`,
  );
}

// say writes the text about ghosts below the image.
function say(text) {
  get("ghosts-caption").textContent = text;
}

// imageCame shows an image. The number of pixels while something moves follows the time that an
// image takes, so that a fast computer shows smaller pixels.
function imageCame(answer, { slow }) {
  appear();
  rate.add(answer.times, answer.head.step);
  if (!slow) {
    const took = answer.times.plan + answer.times.sum;
    state.pixels = Math.min(30_000, Math.max(2000, state.pixels * Math.min(1.2, Math.max(0.7, pace / 1.5 / took))));
  }
  if (!state.placed && answer.head.indications?.length) {
    // The reading point begins on the indication that is 0 dB, which is no echo of a wall.
    const away = (i) => Math.abs(i.level);
    figure.setPoint(answer.head.indications.reduce((a, b) => (away(b) < away(a) ? b : a)));
  }
  figure.show(answer);
  if (answer.head.indications) {
    findings.showIndications(answer.head.indications, state.view);
  }
  caption(answer.head);
  traces.follow(figure.point); // once for each image
}

// appear shows the page, which is hidden until the first image.
function appear() {
  get("loading").hidden = true;
  get("main").classList.remove("waiting");
}

function caption({ peak, blank }) {
  get("image-caption").textContent =
    `View ${state.view}, focused at every pixel. ` +
    (peak ? `The highest level lies at x ${mm(peak.x)} mm, depth ${mm(peak.z)} mm. ` : "Nothing echoes here. ") +
    "0 dB is the strongest indication with the set-up as recorded. " +
    (about.known ? "Orange: reflectors that are known to be there. " : "") +
    (blank ? "Grey: no ray leads there, or the record ends before the echo." : "");
}

function pointMoved(point) {
  state.placed = true;
  traces.follow(point);
  traces.beam(point);
  if (get("ghosts").checked) {
    askGhosts();
  }
}

function chooseView(view) {
  state.view = view;
  get("view").value = view;
  get("view-words").textContent = viewWords(view);
  sketches.choose(view);
  controls.mute(view);
  figure.wait();
  looked();
  traces.beam(figure.point);
  askGhosts();
}

get("view").append(...about.views.map((v) => make("option", { value: v }, v)));
get("view").addEventListener("change", (e) => chooseView(e.target.value));
get("recorded").addEventListener("click", () => {
  controls.reset();
  moved();
});
get("ghosts").addEventListener("change", askGhosts);
traces.gatesChanged = () => traces.beam(figure.point);
window.addEventListener("resize", () => {
  figure.resize();
  traces.draw();
});

chooseView(state.view);
rested();
