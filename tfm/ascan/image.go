// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// Image converts the A-scans of neighbouring beams to an image over a grid of one slice: a sector
// image or a linear image at its true place in the part.
//
// A pixel lies between two neighbouring beams of the list. Its amplitude is interpolated linearly
// between the amplitudes of both beams at the feet of the perpendiculars from the pixel. Only the
// leg with the given number is drawn: leg 1 before the first skip, leg 2 after it, and so on, each
// at its true place. For leg 0 the beams go on straight through the back wall, as if the part had
// none, so that all legs are drawn one below the other.
//
// Pixels that no beam passes are [tfm.Blank]. Where beams of the list overlap, the larger amplitude
// counts. Amplitudes at the place of a pixel are not the amplitudes of [tfm.Plan.Image]: only the
// axes of the beams are focused as the laws say.
func Image(g tfm.Grid, traces []*Trace, leg int) (*tfm.Envelope, error) {
	if err := g.Validate(); err != nil {
		return nil, err
	}
	if g.Slices != 1 {
		return nil, fmt.Errorf("ascan: image over a grid of %d slices: want 1", g.Slices)
	}
	if leg < 0 || len(traces) < 2 {
		return nil, fmt.Errorf("ascan: image of leg %d of %d beams: want a leg of at least 0, and at least 2 beams", leg, len(traces))
	}
	beams := make([]shown, len(traces))
	for i, t := range traces {
		if err := t.validate(); err != nil {
			return nil, err
		}
		if t.Line == nil {
			return nil, fmt.Errorf("ascan: image of A-scan %d, of a pair: want beams only", i)
		}
		beams[i] = shown{trace: t, envelope: t.Envelope(nil)}
	}
	image := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len()), States: make([]tfm.State, g.Len())}
	for i := range image.States {
		image.States[i] = tfm.Blank
	}
	for r := range g.Rows {
		for i := range beams {
			beams[i].cross(g.Y(r), leg)
		}
		for i := range beams[1:] {
			fill(image, r, &beams[i], &beams[i+1])
		}
	}
	return image, nil
}

// shown is a beam of an image, and where it crosses the present row.
type shown struct {
	trace    *Trace
	envelope []float64
	crosses  bool
	leg      Leg
	along    r3.Vec  // unit vector of the leg
	x        float64 // of the crossing, m
}

// cross finds where the leg of a beam crosses the depth z.
func (b *shown) cross(z float64, leg int) {
	line := b.trace.Line
	b.crosses = false
	if leg > len(line.Legs) {
		return
	}
	b.leg = line.Legs[max(leg, 1)-1]
	s, ok := b.leg.depth(z)
	b.crosses = ok || leg == 0 && s >= 0 && s <= line.Length()
	b.along = r3.Unit(r3.Sub(b.leg.To, b.leg.From))
	b.x = b.leg.From.X + (s-b.leg.SoundPath)*b.along.X
}

// at returns the amplitude at the foot of the perpendicular from p to the beam, if the record holds
// it.
func (b *shown) at(p r3.Vec) (amplitude float64, ok bool) {
	s := b.leg.SoundPath + r3.Dot(r3.Sub(p, b.leg.From), b.along)
	at := b.trace.sample(b.trace.Line.Time(s))
	if !(at >= 0 && at < float64(len(b.envelope)-1)) {
		return 0, false
	}
	k := int(at)
	return b.envelope[k] + (at-float64(k))*(b.envelope[k+1]-b.envelope[k]), true
}

// fill sets the pixels of a row between two beams.
func fill(image *tfm.Envelope, row int, a, b *shown) {
	if !a.crosses || !b.crosses {
		return
	}
	if a.x > b.x {
		a, b = b, a
	}
	g := image.Grid
	for c := max(0, int((a.x-g.Origin.X)/g.Step.X)); c < g.Cols && g.X(c) <= b.x; c++ {
		i := row*g.Cols + c
		near, nearHeld := a.at(g.Point(i))
		far, farHeld := b.at(g.Point(i))
		if g.X(c) < a.x || !nearHeld || !farHeld {
			continue
		}
		share := 0.0
		if b.x > a.x {
			share = (g.X(c) - a.x) / (b.x - a.x)
		}
		image.Data[i] = max(image.Data[i], float32((1-share)*near+share*far))
		image.States[i] = 0
	}
}
