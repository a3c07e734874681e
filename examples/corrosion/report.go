// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/sizing/thickness"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

const mm = 1e-3

// report prints the summary beside the truth.
func report(w io.Writer, plate *synth.Part, m *thickness.Map, s *thickness.Summary) error {
	fmt.Fprintf(w, "area %.0f mm², thickness read on %.1f %%\n", s.Area/mm/mm, 100*s.Coverage)
	for _, a := range s.States {
		fmt.Fprintf(w, "  %-12s %4d cells\n", a.State, a.Cells)
	}
	d := s.Thickness
	fmt.Fprintf(w, "mean %.2f mm, minimum %.2f ± %.2f mm (95 %%) at s = %.0f, x = %.1f mm; two neighbours share %.2f mm\n",
		d.Mean/mm, d.Minimum.Thickness/mm, 1.96*d.Minimum.Uncertainty/mm, d.Minimum.S/mm, d.Minimum.X/mm, d.Confirmed/mm)
	fmt.Fprintf(w, "below %.1f mm: %.0f mm², possibly %.0f mm²\n", limit/mm, d.Below/mm/mm, d.PossiblyBelow/mm/mm)
	fmt.Fprintf(w, "\npits, true   s      x  diameter   left | read   s      x   extent s × x  left\n")
	for _, f := range plate.Flaws {
		pit := f.(synth.Pit)
		left, err := plate.Remaining(pit.X, pit.S)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "       %7.1f %6.1f %9.1f %6.2f |", pit.S/mm, pit.X/mm, pit.Diameter/mm, left/mm)
		if at := nearest(s.Pits, pit); at != nil {
			fmt.Fprintf(w, " %7.1f %6.1f  %5.1f × %-5.1f %6.2f\n", at.Deepest.S/mm, at.Deepest.X/mm,
				(at.S[1]-at.S[0])/mm, (at.X[1]-at.X[0])/mm, at.Deepest.Thickness/mm)
		} else {
			fmt.Fprintln(w, " not seen")
		}
	}
	for _, g := range s.Gaps {
		fmt.Fprintf(w, "gap of %d cells: s %.1f to %.1f mm, x %.1f to %.1f mm\n", g.Cells, g.S[0]/mm, g.S[1]/mm, g.X[0]/mm, g.X[1]/mm)
	}
	compare(w, plate, m)
	return nil
}

// nearest returns the pit of the map whose deepest cell is nearest to a true pit, or nil if it lies
// more than a beam beside it.
func nearest(pits []thickness.Pit, of synth.Pit) *thickness.Pit {
	const beam = 2 * mm
	var best *thickness.Pit
	least := of.Diameter/2 + beam
	for i := range pits {
		at := pits[i].Deepest
		if d := math.Hypot(at.X-of.X, at.S-of.S); d <= least {
			best, least = &pits[i], d
		}
	}
	return best
}

// compare prints how far the readings lie from the truth, where the truth is the same in the whole
// beam: in cells whose neighbours within a beam's width have nearly the same true thickness.
func compare(w io.Writer, plate *synth.Part, m *thickness.Map) {
	n, held, sum := 0, 0, 0.0
	for i, x := range m.Readings {
		if !x.State.Counts() || !level(plate, m, i) {
			continue
		}
		d := x.Thickness - trueAt(plate, m, i)
		n++
		sum += d
		if math.Abs(d) <= 1.96*x.Uncertainty {
			held++
		}
	}
	fmt.Fprintf(w, "\n%d cells away from the rims of pits: mean error %.3f mm, %.1f %% within the uncertainty of 95 %%\n",
		n, sum/float64(n)/mm, 100*float64(held)/float64(n))
}

// level reports whether the true thickness within 3 mm of a cell differs by at most 0.1 mm.
func level(plate *synth.Part, m *thickness.Map, cell int) bool {
	const reach = 3 * mm
	s, x, here := m.S[cell/len(m.X)], m.X[cell%len(m.X)], trueAt(plate, m, cell)
	for ds := -reach; ds <= reach; ds += reach / 4 {
		for dx := -reach; dx <= reach; dx += reach / 4 {
			left, err := plate.Remaining(x+dx, s+ds)
			if err != nil || math.Abs(left-here) > 0.1*mm {
				return false
			}
		}
	}
	return true
}

// chart returns the picture of the map: s to the right, x down.
func chart(plate *synth.Part, m *thickness.Map, s *thickness.Summary) *picture.Map {
	p := &picture.Map{
		Title:   "Corroded plate: what is left of the wall",
		Caption: "L waves, 5 MHz, beams of 8 elements focused at every depth; first back-wall echo. Invented part.",
		From:    r2.Vec{X: m.S[0] - step/2, Y: m.X[0] - pitch/2},
		To:      r2.Vec{X: m.S[len(m.S)-1] + step/2, Y: m.X[len(m.X)-1] + pitch/2},
		Across:  "s along the scan / mm", Down: "x along the array / mm",
		Columns: len(m.S), Rows: len(m.X), Quantity: "thickness / mm", Low: 5, High: 12.2,
		Reasons: []string{"not scanned", "no echo", "another state without a thickness"},
	}
	for j := range m.X {
		for i := range m.S {
			x := m.Readings[i*len(m.X)+j]
			value, reason := x.Thickness/mm, uint8(2)
			switch {
			case x.State == thickness.NotScanned:
				reason = 0
			case x.State == thickness.NoEcho:
				reason = 1
			}
			if !x.State.Counts() {
				value = math.NaN()
			}
			p.Values, p.Reason = append(p.Values, value), append(p.Reason, reason)
		}
	}
	for _, f := range plate.Flaws {
		pit := f.(synth.Pit)
		p.Reflectors = append(p.Reflectors, picture.Circle(pit.S, pit.X, pit.Diameter/2))
	}
	least := s.Thickness.Minimum
	p.Marks = []picture.Mark{{
		At: r2.Vec{X: least.S, Y: least.X}, Label: fmt.Sprintf("minimum %.2f mm", least.Thickness/mm),
	}}
	return p
}
