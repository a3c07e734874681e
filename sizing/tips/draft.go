// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// draft is a flaw that is being put together from several views.
type draft struct {
	method   Method
	reading  Reading
	assumed  bool     // no echo shows the foot on the wall
	ends     [2]place // the upper end first
	evidence []Evidence
}

// newDraft returns the draft of a pair.
func newDraft(p *pair) *draft {
	return &draft{
		method: TwoTips, reading: Measured,
		ends:     [2]place{p.spots[0].place(p.at[0]), p.spots[1].place(p.at[1])},
		evidence: []Evidence{p.evidence},
	}
}

// maxApart is the largest distance between the same end in two views, in standard deviations.
const maxApart = 4

// add appends a draft, or joins it to the draft of the same flaw in another view.
func (f *finder) add(d *draft) {
	for _, other := range f.drafts {
		if other.method == d.method && other.ends[0].apart(d.ends[0]) <= maxApart && other.ends[1].apart(d.ends[1]) <= maxApart {
			for i := range other.ends {
				other.ends[i] = other.ends[i].join(d.ends[i])
			}
			other.assumed = other.assumed && d.assumed
			other.evidence = append(other.evidence, d.evidence...)
			return
		}
	}
	f.drafts = append(f.drafts, d)
}

// flaw returns the finished flaw.
func (d *draft) flaw(height func(r3.Vec) float64) Flaw {
	f := Flaw{Method: d.method, LengthIs: d.reading, Evidence: d.evidence}
	if d.assumed {
		f.Method, f.LengthIs = OneTip, LowerBound
		f.stop(d.ends[0], height)
		return f
	}
	f.lay(d.ends[0], d.ends[1], height)
	f.Ends[1].OnWall = d.method == TipAndWall || d.method == FaceAndWall
	return f
}

// near reports whether the point (x, z) lies within a distance of the line between the ends.
func (d *draft) near(x, z, distance float64) bool {
	a, b := d.ends[0], d.ends[1]
	dx, dz := b.x-a.x, b.z-a.z
	t := ((x-a.x)*dx + (z-a.z)*dz) / (dx*dx + dz*dz)
	t = min(1, max(0, t))
	return math.Hypot(x-a.x-t*dx, z-a.z-t*dz) <= distance
}
