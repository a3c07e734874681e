// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// The limits of the search for arrivals.
const (
	// arrivalMisfit is the largest angle in radians between the group velocity of an arrival and
	// the given direction. Newton's method ends near 1e-15, except next to acoustic axes, where
	// eigenvectors are less accurate.
	arrivalMisfit = 1e-8

	// arrivalSeparation is the smallest angle in radians between the phase directions of two
	// arrivals of one sheet. At a caustic, a double root, the phase direction of Newton's method
	// has an error of 1e-8.
	arrivalSeparation = 1e-6

	// causticRatio is the ratio of the principal curvatures (see planeDerivatives) below which an
	// arrival lies on a caustic.
	causticRatio = 1e-6

	// conicalSpread is a spread of the group velocities over the polarisations of an acoustic axis,
	// as a fraction of the phase speed. Above it the sheets meet in a cone; below it they touch
	// tangentially.
	conicalSpread = 1e-5
)

// GroupSolver finds every arrival in a group direction: every plane wave whose energy travels in
// that direction. Make it with [NewGroupSolver]. It does not change afterwards, and goroutines may
// share it.
//
// The quasi-longitudinal sheet gives one arrival, because that sheet of the slowness surface is
// convex. A quasi-transverse sheet gives one arrival, or more where the wave surface folds. The
// tests compare the arrivals with the arrivals on a finer mesh. A fold that is much smaller than 2°
// of phase direction can be missed, and so can two arrivals that are about to merge.
type GroupSolver struct {
	christoffel *Christoffel
	cells       []groupCell
}

// NewGroupSolver returns the solver for m. It scans the quasi-transverse sheets in some tens of
// milliseconds; the solids of [FindCrystal] need 12000 to 21000 cells of 80 bytes. The error is the
// error of [Anisotropic.Validate].
func NewGroupSolver(m Anisotropic) (*GroupSolver, error) {
	c, err := NewChristoffel(m)
	if err != nil {
		return nil, err
	}
	return &GroupSolver{c, scanSheets(c)}, nil
}

// Arrivals appends to dst the waves whose energy travels along the direction d, the fastest first,
// and returns the extended slice. Only the direction of d matters. The error names a zero vector,
// or a vector that is not finite. A phase direction lies up to 90° from d, on any side. The angle
// of d from an axis of symmetry can therefore exceed 90° while the phase direction does not.
//
// Along an acoustic axis on which two sheets touch, the result has both waves, with the same phase
// direction. The result leaves out or merges:
//
//   - the flat part of a cone of internal conical refraction: its energy all comes from one phase
//     direction, and only the rim of the part belongs to the wave surface. A solid whose two
//     fastest waves share such an acoustic axis has no quasi-longitudinal arrival inside the cone;
//     no common metal is of this kind;
//   - arrivals of one sheet whose phase directions differ by less than 1e-6 rad: one arrival stands
//     for them, marked Caustic;
//   - arrivals of one sheet on caustics with the same group speed. The usual case is the ring of
//     phase directions about an axis of rotational symmetry that send their energy along the axis:
//     one arrival stands for the ring, marked Caustic.
//
// A call allocates no memory if dst has room for the result.
func (s *GroupSolver) Arrivals(dst []PlaneWave, d r3.Vec) ([]PlaneWave, error) {
	u, err := unitDirection("group direction", d)
	if err != nil {
		return dst, err
	}
	c, first := s.christoffel, len(dst)
	if a, ok := c.arrivalAt(c.leastAcross(u), u, QL); ok {
		dst = append(dst, a)
	}
	dst = s.search(dst, first, u, false)
	if missedArrival(dst[first:]) {
		dst = s.search(dst, first, u, true)
	}
	slices.SortFunc(dst[first:], func(a, b PlaneWave) int {
		return cmp.Or(cmp.Compare(b.GroupSpeed(), a.GroupSpeed()), cmp.Compare(a.Sheet, b.Sheet))
	})
	return dst, nil
}

// search appends to dst the quasi-transverse arrivals along the unit vector d that Newton's method
// finds from the cells and that are not in dst[first:]. A wide search doubles the range of every
// cell.
func (s *GroupSolver) search(dst []PlaneWave, first int, d r3.Vec, wide bool) []PlaneWave {
	c := s.christoffel
	for i := range s.cells {
		cell := &s.cells[i]
		along := r3.Dot(cell.group, d)
		limit := cell.cosine
		if wide {
			limit = 2*limit*limit - 1
		}
		if math.Abs(along) < limit {
			continue
		}
		// The wave of −n sends its energy in the opposite direction.
		normal := r3.Scale(math.Copysign(1, along), cell.normal)
		n, p, ok := c.stationaryNear(normal, cell.polarisation, d)
		if !ok || known(dst[first:], n, p) {
			continue
		}
		from, to := c.sheetsOf(n, p)
		for sheet := from; sheet < to; sheet++ {
			a, ok := c.arrivalAt(n, d, sheet)
			if ok && !slices.ContainsFunc(dst[first:], a.sameAs) {
				dst = append(dst, a)
			}
		}
	}
	return dst
}

// known reports, at little cost, whether one of the arrivals has the phase direction n and the
// polarisation p. On an acoustic axis, where p may be turned, it can miss an arrival.
func known(arrivals []PlaneWave, n, p r3.Vec) bool {
	for i := range arrivals {
		a := &arrivals[i]
		near := r3.Norm2(r3.Sub(a.Normal, n)) < arrivalSeparation*arrivalSeparation
		if near && math.Abs(r3.Dot(a.Polarisation, p)) > 0.99 {
			return true
		}
	}
	return false
}

// missedArrival reports whether the arrivals, with the quasi-longitudinal one, are certainly
// incomplete. On the plane across the direction, v of one sheet grows without bound. Its minima and
// maxima therefore outnumber its saddle points by one, and the number of stationary points is odd.
// Where the two quasi-transverse sheets meet in a cone, each sheet can lack one point. Both
// quasi-transverse sheets together therefore have an even number of arrivals, unless some arrivals
// coincide.
func missedArrival(arrivals []PlaneWave) bool {
	for _, a := range arrivals {
		if a.Caustic || a.Degenerate {
			return false
		}
	}
	return len(arrivals)%2 == 0
}

// sameAs reports whether w and b are one arrival, or two arrivals of one ring.
func (w PlaneWave) sameAs(b PlaneWave) bool {
	if w.Sheet != b.Sheet {
		return false
	}
	if r3.Norm(r3.Sub(w.Normal, b.Normal)) < arrivalSeparation {
		return true
	}
	return w.Caustic && b.Caustic && math.Abs(w.GroupSpeed()-b.GroupSpeed()) <= 1e-9*w.GroupSpeed()
}

// sheetsOf returns the range from, to of the sheets on which the wave of phase direction n and
// polarisation p lies: one sheet, or all sheets that meet there.
func (c *Christoffel) sheetsOf(n, p r3.Vec) (from, to Sheet) {
	squares, own := c.between(n, n).eigen()
	best := 0
	for s := range own {
		if math.Abs(r3.Dot(own[s], p)) > math.Abs(r3.Dot(own[best], p)) {
			best = s
		}
	}
	first, after := cluster(&squares, best)
	return Sheet(first), Sheet(after)
}

// arrivalAt returns the wave of the given sheet and phase direction n. It reports whether that wave
// is an arrival along the unit vector d.
func (c *Christoffel) arrivalAt(n, d r3.Vec, sheet Sheet) (PlaneWave, bool) {
	w := c.phase(n)[sheet]
	misfit := math.Atan2(r3.Norm(r3.Cross(w.Group, d)), r3.Dot(w.Group, d))
	if !(misfit <= arrivalMisfit) {
		return PlaneWave{}, false
	}
	if w.Degenerate {
		return w, !c.conical(n, sheet)
	}
	e1, e2 := planeAcross(d)
	curvature := c.planeDerivatives(n, e1, e2, sheet).curvature
	large, small, _ := curvature.principal()
	w.Caustic = math.Abs(small) <= causticRatio*math.Abs(large)
	return w, true
}

// conical reports whether the polarisations that share the speed of the given sheet along the
// acoustic axis n have different group velocities.
func (c *Christoffel) conical(n r3.Vec, sheet Sheet) bool {
	squares, p := c.between(n, n).eigen()
	from, to := cluster(&squares, int(sheet))
	limit := conicalSpread * squares[sheet]
	mean := c.meanForm(p[from:to], n)
	for i := from; i < to; i++ {
		if r3.Norm(r3.Sub(c.meanForm(p[i:i+1], n), mean)) > limit {
			return true
		}
		for j := from; j < i; j++ {
			mixed := c.between(p[i], p[j])
			if r3.Norm(mixed.mulVec(n)) > limit {
				return true
			}
		}
	}
	return false
}
