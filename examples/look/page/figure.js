// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The figure of the image: raster, lines over it, pointer and keys.

import { Frame } from "./section.js";
import { Overlay } from "./overlay.js";
import { Palette, Raster, levelAt } from "./raster.js";
import { make } from "./svg.js";
import { fixed, mm } from "./words.js";

const get = (id) => document.getElementById(id);
const dark = window.matchMedia("(prefers-color-scheme: dark)");

// Figure shows an image. windowMoved is called when the user zooms or shifts, pointMoved when the
// reading point moves. The owner may set recoloured, which is called when the colours change, and
// pointed, which is called with the number of the indication under the pointer, or with null.
export class Figure {
  constructor(about, { windowMoved, pointMoved }) {
    Object.assign(this, { about, windowMoved, pointMoved, recoloured: () => {}, pointed: () => {} });
    this.stage = get("stage");
    this.raster = new Raster(get("raster"));
    this.overlay = new Overlay(get("overlay"), { point: (id) => this.pointed(id), leave: () => this.pointed(null) });
    this.frame = new Frame(about.window);
    this.point = { x: this.frame.centre.x, z: this.frame.centre.z };
    Object.assign(this, { image: null, ghosts: [], indications: [], chosen: new Set(), flaw: null, beam: null });
    this.choosePalettes();
    this.listen();
    this.resize();
  }

  get window() {
    return this.frame.window;
  }

  // step returns the step in m for about a number of pixels in the whole section.
  step(pixels) {
    const { x0, x1, z0, z1 } = this.about.window;
    return Math.sqrt(((x1 - x0) * (z1 - z0)) / pixels);
  }

  get levels() {
    return { top: Number(get("top").value), span: Number(get("span").value) };
  }

  choosePalettes() {
    this.palettes = this.about.palettes.map((p) => new Palette(p));
    get("palette").append(...this.palettes.map((p) => make("option", { value: p.key }, p.label)));
    const suit = () => {
      get("palette").value = dark.matches ? "dusk" : "ink";
      this.recolour();
    };
    dark.addEventListener("change", suit);
    get("palette").addEventListener("change", () => this.recolour());
    for (const id of ["top", "span"]) {
      get(id).addEventListener("input", () => this.recolour());
    }
    get("outlines").addEventListener("change", () => this.draw());
    suit();
  }

  recolour() {
    this.palette = this.palettes.find((p) => p.key === get("palette").value);
    this.stage.classList.toggle("ground-dark", this.palette.ground === "dark");
    this.stage.classList.toggle("ground-light", this.palette.ground === "light");
    const { top, span } = this.levels;
    for (const [id, value] of Object.entries({ top, span })) {
      get(`${id}-value`).textContent = `${fixed(value, 0)} dB`;
      get(id).setAttribute("aria-valuetext", `${value} decibels`);
    }
    this.draw();
    this.recoloured();
  }

  resize() {
    this.frame.resize(this.stage.clientWidth, Math.max(260, Math.min(560, window.innerHeight * 0.58)));
    this.stage.style.height = `${this.frame.size.height}px`;
    this.draw();
  }

  // show shows an image. Its indications, if it has a list, come by showIndications.
  show(image) {
    this.image = image;
    this.stage.classList.remove("old");
    get("fault").hidden = true;
    this.draw();
    this.read(this.point);
  }

  // wait takes away what does not belong to another set-up or view.
  wait() {
    this.indications = [];
    this.beam = null;
    this.ghosts = [];
  }

  fail(text) {
    this.stage.classList.add("old");
    get("fault").hidden = false;
    get("fault").textContent = `No image: ${text}.`;
  }

  showIndications(list) {
    this.indications = list;
    this.draw();
  }

  showBeam(line) {
    this.beam = line;
    this.draw();
  }

  showGhosts(list) {
    this.ghosts = list;
    this.draw();
  }

  choose(chosen, flaw) {
    this.chosen = chosen;
    this.flaw = flaw;
    this.draw();
  }

  // placePoint moves the reading point, within the whole section, and does no more.
  placePoint({ x, z }) {
    const { x0, x1, z0, z1 } = this.about.window;
    this.point = { x: Math.min(x1, Math.max(x0, x)), z: Math.min(z1, Math.max(z0, z)) };
  }

  // setPoint moves the reading point, and shows what belongs to it.
  setPoint(point) {
    this.placePoint(point);
    const before = this.frame.centre;
    this.frame.show(this.point);
    if (this.frame.centre.x !== before.x || this.frame.centre.z !== before.z) {
      this.windowMoved();
    }
    this.draw();
    this.read(this.point);
    this.pointMoved(this.point);
  }

  // read writes the position and the level of a point.
  read(point, pointer = false) {
    const level = this.image ? levelAt(this.image, point) : null;
    const value = level === null ? "no level" : `${fixed(level, 1)} dB`;
    this.reading = `x ${mm(point.x)} mm, depth ${mm(point.z)} mm, ${value}`;
    get("cursor").textContent = `${pointer ? "Pointer" : "Reading point"}: ${this.reading}`;
  }

  draw() {
    const { frame, palette, levels, about, image } = this;
    if (!this.raster || !palette) {
      return;
    }
    this.raster.draw(frame, image, palette, levels);
    const outlines = get("outlines").checked;
    const chosen = this.indications.filter((i) => this.chosen.has(i.id));
    this.overlay.draw({
      frame,
      palette,
      levels,
      surfaces: outlines ? (image?.head.surfaces ?? []) : [],
      known: outlines ? (about.known ?? []) : [],
      ghosts: this.ghosts,
      indications: this.indications,
      contour: chosen.flatMap((i) => i.contour),
      chosen: this.chosen,
      flaw: this.flaw,
      beam: this.beam,
      point: this.point,
    });
  }

  zoom(factor, about) {
    this.frame.magnify(factor, about);
    this.draw();
    this.windowMoved();
  }

  listen() {
    get("closer").addEventListener("click", () => this.zoom(1.5, this.point));
    get("wider").addEventListener("click", () => this.zoom(1 / 1.5, this.point));
    get("whole").addEventListener("click", () => this.zoom(0, this.point));
    this.stage.addEventListener("keydown", (e) => this.key(e));
    this.listenToPointer();
  }

  listenToPointer() {
    const { stage } = this;
    let down = null;
    const place = (e) => {
      const box = stage.getBoundingClientRect();
      return [e.clientX - box.left, e.clientY - box.top];
    };
    stage.addEventListener("pointerdown", (e) => {
      const at = place(e);
      if (e.button === 0 && this.frame.holds(...at)) {
        down = { at, point: this.frame.point(...at), moved: false };
        stage.setPointerCapture(e.pointerId);
      }
    });
    stage.addEventListener("pointermove", (e) => {
      const at = place(e);
      if (down && Math.hypot(at[0] - down.at[0], at[1] - down.at[1]) > 4) {
        down.moved = true;
      }
      if (down?.moved) {
        const now = this.frame.point(...at);
        this.frame.moveTo(this.frame.centre.x + down.point.x - now.x, this.frame.centre.z + down.point.z - now.z);
        this.draw();
        this.windowMoved();
      } else if (this.frame.holds(...at)) {
        this.read(this.frame.point(...at), true);
      }
    });
    stage.addEventListener("pointerup", () => {
      if (down && !down.moved) {
        this.setPoint(down.point);
      }
      down = null;
    });
    stage.addEventListener("pointercancel", () => (down = null));
    stage.addEventListener("pointerleave", () => this.read(this.point));
    stage.addEventListener(
      "wheel",
      (e) => {
        const at = place(e);
        if (document.activeElement === stage && this.frame.holds(...at)) {
          e.preventDefault();
          this.zoom(Math.exp(-0.002 * e.deltaY), this.frame.point(...at));
        }
      },
      { passive: false },
    );
  }

  // key acts on a key, and speaks the new reading.
  key(e) {
    const step = (this.image?.head.step ?? 1e-4) * (e.shiftKey ? 10 : 1);
    const { x, z } = this.point;
    const actions = {
      ArrowLeft: () => this.setPoint({ x: x - step, z }),
      ArrowRight: () => this.setPoint({ x: x + step, z }),
      ArrowUp: () => this.setPoint({ x, z: z - step }),
      ArrowDown: () => this.setPoint({ x, z: z + step }),
      Enter: () => this.image?.head.peak && this.setPoint(this.image.head.peak),
      "+": () => this.zoom(1.5, this.point),
      "-": () => this.zoom(1 / 1.5, this.point),
      0: () => this.zoom(0, this.point),
    };
    const action = actions[e.key];
    if (action && !e.ctrlKey && !e.metaKey && !e.altKey) {
      e.preventDefault();
      action();
      clearTimeout(this.speaking);
      this.speaking = setTimeout(() => (get("spoken").textContent = this.reading), 400);
    }
  }
}
