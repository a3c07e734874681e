// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Section is a joint as regions between flat surfaces, for ray tracing through the weld.
type Section struct {
	Entry wedge.Surface // of Joint.Plate
	Back  wedge.Surface // far surface of the lowest plate; nil below the web of a tee
	// Regions are the regions in order: a place belongs to the first region that holds it. The last
	// region is the rest of the section; its Boundary is nil.
	Regions []Region
}

// Region is a region of the section of a joint.
type Region struct {
	Name string
	Zone Zone // WeldMetal, Parent, or Outside for a void
	// Boundary is the boundary of the region, extruded, with the region on its near side.
	Boundary wedge.Surface
	Faces    []Face // fusion faces of a region of weld metal
	sinks    []sink
}

// narrowest is the width of the narrowest gap that is a region, in m.
const narrowest = 20e-6

// Section returns the joint as regions. Caps and root beads are left out; the surfaces of a butt
// joint are flat. Weld metal from two sides is two regions. They meet at the middle of the root
// faces, or at the end of the bevels under a web.
//
// It is an error if the plates of a butt joint do not have the same surfaces on both sides of the
// weld. It is also an error if faces touch that are not welded. Waves do not pass there, but a void
// without a width is no region: give the joint a gap of at least 20 µm.
func (j *Joint) Section() (*Section, error) {
	if math.IsNaN(j.far) {
		return nil, fmt.Errorf("joint: plates %+v and %+v: want the same surfaces on both sides",
			j.Plate, *j.Other)
	}
	if j.touching {
		return nil, fmt.Errorf("joint: faces that touch and are not welded: want a gap of at least %v m", narrowest)
	}
	entry, err := wedge.HorizontalPlane(j.Top)
	if err != nil {
		return nil, err
	}
	s := &Section{Entry: entry}
	if !math.IsInf(j.far, 1) {
		if s.Back, err = wedge.HorizontalPlane(j.far); err != nil {
			return nil, err
		}
	}
	rest := Region{Name: "parent metal", Zone: Parent}
	for _, r := range j.regions {
		out := Region{Name: r.name, Zone: r.zone, Faces: r.faces, sinks: r.sinks}
		if r.boundary == nil {
			rest = out
			continue
		}
		if out.Boundary, err = newBoundary(r.boundary, r.closed); err != nil {
			return nil, fmt.Errorf("joint: %s: %w", r.name, err)
		}
		s.Regions = append(s.Regions, out)
	}
	s.Regions = append(s.Regions, rest)
	return s, nil
}

// region is a region of a joint.
type region struct {
	name string
	zone Zone
	// boundary is closed, or goes on straight beyond its ends. The region lies to the left of the
	// way along an open boundary, as one looks at the section with z down. It is nil for the rest
	// of the section.
	boundary []curve
	closed   bool
	faces    []Face
	sinks    []sink
}

func (r region) shifted(d r2.Vec) region {
	r.boundary, r.faces, r.sinks = slices.Clone(r.boundary), slices.Clone(r.faces), slices.Clone(r.sinks)
	for i, c := range r.boundary {
		r.boundary[i] = c.shifted(d)
	}
	for i := range r.faces {
		r.faces[i].curve = r.faces[i].shifted(d)
	}
	for i := range r.sinks {
		r.sinks[i].curve = r.sinks[i].shifted(d)
	}
	return r
}

// addDeposit adds a closed region of weld metal. Besides its fusion faces, heat left it through the
// line to the weld on the other side, if the line has a length.
func (j *Joint) addDeposit(metal outline, faces []Face, middle curve) {
	r := region{name: metal.name, zone: WeldMetal, boundary: metal.curves, closed: true, faces: slices.Clone(faces)}
	for _, c := range append(curves(faces), middle) {
		if c.from == c.to {
			continue
		}
		out := right(r2.Unit(c.tangent(0.5)))
		if metal.contains(r2.Add(c.At(0.5), r2.Scale(10*tolerance, out))) {
			out = r2.Scale(-1, out)
		}
		r.sinks = append(r.sinks, sink{c, out})
	}
	j.regions = append(j.regions, r)
}

// curves returns the curves of faces.
func curves(faces []Face) []curve {
	var out []curve
	for _, f := range faces {
		out = append(out, f.curve)
	}
	return out
}

// addGap adds the region of a gap that is not welded.
func (j *Joint) addGap(o outline, width float64) {
	if j.touching = width < narrowest; !j.touching {
		j.addVoid(o)
	}
}

// addVoid adds a closed region that no wave enters.
func (j *Joint) addVoid(o outline) {
	j.regions = append(j.regions, region{name: o.name, boundary: o.curves, closed: true})
}

// regions returns the regions of a butt joint: the plates, and the weld metal between them. The
// metal of a joint that is welded from both sides is divided at the middle of the root faces.
func (b Butt) regions(l, r side) []region {
	out := []region{
		region{name: "left plate", zone: Parent, boundary: backwards(l.all())},
		region{name: "right plate", zone: Parent, boundary: r.all()},
	}
	up, low := b.grooves()
	switch waist := (curve{from: l.middle, to: r.middle}); {
	case low == 0:
		return append(out, deposit("weld metal", l.faces, r.faces, curve{from: l.end(), to: r.end()}, 1))
	case up == 0 && b.RootFace <= tolerance:
		return append(out, deposit("weld metal", l.faces, r.faces, curve{from: l.start(), to: r.start()}, -1))
	default:
		far := r2.Vec{X: extent}
		upper := deposit("upper weld metal", cut(l.faces, waist.from.Y, -1), cut(r.faces, waist.to.Y, -1), waist, 1)
		upper.boundary = line(r2.Sub(waist.from, far), r2.Add(waist.to, far))
		lower := deposit("lower weld metal", cut(l.faces, waist.from.Y, 1), cut(r.faces, waist.to.Y, 1), waist, -1)
		return append(out, upper, lower)
	}
}

// deposit returns the region of weld metal between faces. Besides them, heat left it through the
// root, downwards for the sign +1.
func deposit(name string, left, right []Face, root curve, down float64) region {
	r := region{name: name, zone: WeldMetal, faces: slices.Concat(left, right)}
	for _, c := range curves(left) {
		r.sinks = append(r.sinks, sink{c, r2.Vec{X: -1}})
	}
	for _, c := range curves(right) {
		r.sinks = append(r.sinks, sink{c, r2.Vec{X: 1}})
	}
	if root.from != root.to {
		r.sinks = append(r.sinks, sink{root, r2.Vec{Y: down}})
	}
	return r
}

// cut returns the parts of faces above the depth z for the sign -1, below it for the sign +1. Only
// straight faces reach across this depth.
func cut(faces []Face, z, sign float64) []Face {
	var out []Face
	for _, f := range faces {
		from, to := sign*(f.from.Y-z), sign*(f.to.Y-z)
		if max(from, to) <= tolerance {
			continue
		}
		if min(from, to) < -tolerance {
			at := f.At(from / (from - to))
			if from < 0 {
				f.from = at
			} else {
				f.to = at
			}
		}
		out = append(out, f)
	}
	return out
}
