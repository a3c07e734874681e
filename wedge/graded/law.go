// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Preparation is the section of a V weld: two straight fusion faces, mirrored at
// the centre line x = Centre, which go on beyond root and cap.
type Preparation struct {
	Centre    float64 // x of the centre line, m
	Root, Cap float64 // z where the V is narrow and where it is wide, m; not equal
	HalfRoot  float64 // half the width at the root, m, 1e-5 to 1
	Bevel     float64 // angle between each fusion face and the centre line, rad, 0 to 1.4
}

// Validate reports the first field outside its range.
func (p Preparation) Validate() error {
	for _, f := range []struct {
		name             string
		value, low, high float64
		unit             string
	}{
		{"centre of the weld", p.Centre, -1e3, 1e3, " m"},
		{"root of the weld", p.Root, -1e3, 1e3, " m"},
		{"cap of the weld", p.Cap, -1e3, 1e3, " m"},
		{"height of the weld", math.Abs(p.Root - p.Cap), 1e-5, 10, " m"},
		{"half width at the root", p.HalfRoot, 1e-5, 1, " m"},
		{"bevel", p.Bevel, 0, 1.4, " rad"},
	} {
		if err := checkRange(f.name, f.value, f.low, f.high, f.unit); err != nil {
			return err
		}
	}
	return nil
}

// up is the sign of z from the root to the cap.
func (p Preparation) up() float64 { return math.Copysign(1, p.Cap-p.Root) }

// halfWidth returns the distance of the fusion faces from the centre line at the
// depth z, with its derivative. Below the root it falls no more than to a tenth
// of HalfRoot.
func (p Preparation) halfWidth(z float64) (width, byZ float64) {
	slope := math.Tan(p.Bevel) * p.up()
	width = p.HalfRoot + slope*(z-p.Root)
	if least := p.HalfRoot / 10; width < least {
		return least, 0
	}
	return width, slope
}

// faces returns the left fusion face, the centre line and the right fusion face,
// each with its far side towards +x.
func (p Preparation) faces() ([]wedge.Surface, error) {
	sin, cos := math.Sincos(p.Bevel)
	tilt := p.up() * sin
	var out []wedge.Surface
	for _, f := range []struct{ x, nx, nz float64 }{
		{p.Centre - p.HalfRoot, cos, tilt},
		{p.Centre, 1, 0},
		{p.Centre + p.HalfRoot, cos, -tilt},
	} {
		face, err := wedge.NewPlane(r3.Vec{X: f.x, Z: p.Root}, r3.Vec{X: f.nx, Z: f.nz})
		if err != nil {
			return nil, err
		}
		out = append(out, face)
	}
	return out, nil
}

// Law is Ogilvy's law of the grains in a V weld with two parameters,
//
//	tan θ = T (D + h tan α) / |x|^η
//
// where θ is the angle of the grain axis from the plate's surface, x the distance
// from the centre line, h the height above the root, D and α those of the
// [Preparation]. Grains grow towards cap and centre line, on which they stand
// upright. T steers how steeply they leave the fusion face (for η = 1 at the
// angle arctan T all along it), η how fast they turn upright on the way in.
//
// The law is that of J. A. Ogilvy, Computerized ultrasonic ray tracing in
// austenitic steel, NDT International 18(2), 1985, from memory of that paper. For
// η other than 1 it mixes lengths to different powers: x, D and h are then
// in millimetres, common practice, no source.
type Law struct {
	Preparation Preparation
	T           float64 // 0.01 to 100; about 1 is common
	Eta         float64 // 0.1 to 2; 1 makes the law smooth across the centre line
}

// Validate reports the first field outside its range.
func (l Law) Validate() error {
	if err := l.Preparation.Validate(); err != nil {
		return err
	}
	if err := checkRange("T of the grain law", l.T, 0.01, 100, ""); err != nil {
		return err
	}
	return checkRange("eta of the grain law", l.Eta, 0.1, 2, "")
}

// At implements [Texture]. It computes only; [Law.Validate] checks.
func (l Law) At(p r3.Vec) Grain {
	const scale = 1e3 // millimetres in a metre
	x := scale * (p.X - l.Preparation.Centre)
	width, byZ := l.Preparation.halfWidth(p.Z)
	rise := scale * l.T * width
	// The run is |x|^η with the sign of x, so that the angle turns on through
	// π/2 at the centre line; the slope, infinite there for η < 1, is kept
	// finite within a nanometre.
	far := max(math.Abs(x), 1e-6)
	run := math.Copysign(math.Pow(math.Abs(x), l.Eta), x)
	byX := scale * l.Eta * math.Pow(far, l.Eta-1)
	up := l.Preparation.up()
	square := rise*rise + run*run
	// Towards the cap the grains lean to the centre line.
	return Grain{
		Angle: -up * math.Atan2(rise, run),
		AngleGradient: r3.Vec{
			X: up * rise * byX / square,
			Z: -up * run * l.T * scale * byZ / square,
		},
		Factor: 1,
	}
}
