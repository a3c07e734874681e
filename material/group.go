// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// An Arrival is a plane wave whose energy travels in a given direction.
type Arrival struct {
	PlaneWave

	// Caustic reports that the slowness surface is flat at this wave in at
	// least one direction: neighbouring phase directions send their energy the
	// same way, as at the edge of a fold of the wave surface or from a ring of
	// phase directions about an axis of symmetry. Ray theory then gives no
	// finite amplitude.
	Caustic bool
}

// ErrNoArrival is returned by [Christoffel.FirstArrival] for a direction that no
// quasi-longitudinal energy takes.
var ErrNoArrival = errors.New("material: no quasi-longitudinal arrival in this direction (inside a cone of conical refraction)")

// Bounds of the search for arrivals.
const (
	// arrivalMisfit is the largest angle between the group velocity of an
	// arrival and the direction asked for, in radians. Newton's method ends
	// near 1e-15 except next to acoustic axes, where eigenvectors lose digits.
	arrivalMisfit = 1e-8

	// arrivalSeparation is the least angle between the phase directions of two
	// arrivals of one sheet, in radians. At a caustic, a double root, Newton's
	// method finds a phase direction to 1e-8 only.
	arrivalSeparation = 1e-6

	// causticRatio is the ratio of the principal curvatures (in the sense of
	// planeDerivatives) below which an arrival lies on a caustic.
	causticRatio = 1e-6

	// conicalSpread is the spread of the group velocities over the
	// polarisations of an acoustic axis, as a fraction of the phase speed,
	// above which the sheets meet in a cone and not tangentially.
	conicalSpread = 1e-5
)

// FirstArrival returns the wave whose energy travels along the direction d and
// arrives first: that of the quasi-longitudinal sheet, which is always one and
// no more, because that sheet of the slowness surface is convex. Only the
// direction of d counts; a zero vector or one that is not finite is an error.
//
// The phase direction is where v, as a homogeneous function of the direction,
// is least on the plane at unit distance across d (Fermat's principle for plane
// waves); Newton's method with a line search reaches that from anywhere. The
// group velocity is along d to 1e-8 rad, usually to rounding.
//
// The one exception is a solid so anisotropic that the two fastest waves share
// an acoustic axis of the conical kind. For d inside the cone of its group
// velocities the error is [ErrNoArrival]. No common metal is of this kind.
func (c *Christoffel) FirstArrival(d r3.Vec) (PlaneWave, error) {
	u, err := unitDirection("group direction", d)
	if err != nil {
		return PlaneWave{}, err
	}
	n := c.leastAcross(u)
	a, ok := c.arrivalAt(n, u, QL)
	if !ok {
		return PlaneWave{}, ErrNoArrival
	}
	return a.PlaneWave, nil
}

// GroupSolver finds every arrival in a group direction. Make it with
// [NewGroupSolver]. It is immutable and may be shared between goroutines.
//
// The quasi-longitudinal sheet gives one arrival ([Christoffel.FirstArrival]). A
// quasi-transverse sheet gives one or, where the wave surface folds, more: they
// are all the stationary points of v on the plane across the direction. The
// solver holds a scan of both quasi-transverse sheets, cells of phase directions
// about 2° wide with the group directions that each cell covers. Newton's method
// starts in every cell that may hold the wanted direction. Where the sheets meet
// or nearly meet it starts from the polarisations between as well.
//
// A fold so small that it lies inside one cell can be missed, and so can two
// arrivals that are about to merge. In 24000 random directions of 400 random
// solids, more anisotropic than most metals, every count had the parity that the
// topology of the sheets demands and a search twice as wide found no more; the
// tests hold the arrivals to those found from a finer mesh.
type GroupSolver struct {
	christoffel *Christoffel
	cells       []groupCell
}

// NewGroupSolver scans the sheets of m, 12000 to 21000 cells of 80 bytes for the
// solids of [Crystals], in some tens of milliseconds. The error is that of [Anisotropic.Validate].
func NewGroupSolver(m Anisotropic) (*GroupSolver, error) {
	c, err := NewChristoffel(m)
	if err != nil {
		return nil, err
	}
	return &GroupSolver{c, scanSheets(c)}, nil
}

// Arrivals appends to dst the waves whose energy travels along the direction d,
// the first to arrive first, and returns the extended slice. Only the direction
// of d counts; a zero vector or one that is not finite is an error. A phase
// direction may lie up to 90° from d, on any side: the angle of d from an axis
// of symmetry can exceed 90° where the phase direction's does not.
//
// Along an acoustic axis where two sheets touch, both waves are listed, with
// the same phase direction. Three things are left out or merged:
//
//   - the flat lid of a cone of internal conical refraction, whose energy all
//     comes from one phase direction; only its rim belongs to the wave surface;
//   - arrivals of one sheet whose phase directions lie within 1e-6 rad: they are
//     one, marked Caustic;
//   - arrivals of one sheet on caustics with the same group speed, above all the
//     ring of phase directions about an axis of rotational symmetry that all send
//     their energy along that axis: one stands for all, marked Caustic.
//
// A call with room in dst for the result allocates nothing.
func (s *GroupSolver) Arrivals(dst []Arrival, d r3.Vec) ([]Arrival, error) {
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
	slices.SortFunc(dst[first:], func(a, b Arrival) int {
		return cmp.Or(cmp.Compare(b.GroupSpeed(), a.GroupSpeed()), cmp.Compare(a.Sheet, b.Sheet))
	})
	return dst, nil
}

// search appends to dst the quasi-transverse arrivals along the unit vector d that
// Newton's method finds from the cells and that are not in dst[first:]. A wide
// search starts in the cells whose range, made twice as large, holds d.
func (s *GroupSolver) search(dst []Arrival, first int, d r3.Vec, wide bool) []Arrival {
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
		// The wave of −n sends its energy the other way.
		n, p, ok := c.stationaryNear(r3.Scale(math.Copysign(1, along), cell.normal), cell.polarisation, d)
		if !ok || known(dst[first:], n, p) {
			continue
		}
		from, to := c.sheetsOf(n, p)
		for sheet := from; sheet < to; sheet++ {
			if a, ok := c.arrivalAt(n, d, sheet); ok && !slices.ContainsFunc(dst[first:], a.sameAs) {
				dst = append(dst, a)
			}
		}
	}
	return dst
}

// known reports, at little cost, whether one of the arrivals has the phase
// direction n and the polarisation p. On an acoustic axis, where p may be turned,
// it may not recognise an arrival.
func known(arrivals []Arrival, n, p r3.Vec) bool {
	for i := range arrivals {
		a := &arrivals[i]
		if r3.Norm2(r3.Sub(a.Normal, n)) < arrivalSeparation*arrivalSeparation && math.Abs(r3.Dot(a.Polarisation, p)) > 0.99 {
			return true
		}
	}
	return false
}

// missedArrival reports whether the arrivals, the quasi-longitudinal one
// included, cannot be all. On the plane across the direction v of one sheet
// grows without bound, so that its minima and maxima outnumber its saddle points
// by one and the stationary points are odd in number. Where the two
// quasi-transverse sheets meet in a cone one point may be wanting in each. Both
// sheets together therefore have an even number of arrivals, unless some coincide.
func missedArrival(arrivals []Arrival) bool {
	for _, a := range arrivals {
		if a.Caustic || a.Degenerate {
			return false
		}
	}
	return len(arrivals)%2 == 0
}

// sameAs reports whether a and b are one arrival, or two of a ring.
func (a Arrival) sameAs(b Arrival) bool {
	if a.Sheet != b.Sheet {
		return false
	}
	if r3.Norm(r3.Sub(a.Normal, b.Normal)) < arrivalSeparation {
		return true
	}
	return a.Caustic && b.Caustic && math.Abs(a.GroupSpeed()-b.GroupSpeed()) <= 1e-9*a.GroupSpeed()
}

// sheetsOf returns the range from, to of the sheets on which the wave of phase
// direction n polarised along p lies: one, or all that meet there.
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

// arrivalAt returns the wave of the given sheet and phase direction, if it is an
// arrival along the unit vector d.
func (c *Christoffel) arrivalAt(n, d r3.Vec, sheet Sheet) (Arrival, bool) {
	w := c.phase(n)[sheet]
	misfit := math.Atan2(r3.Norm(r3.Cross(w.Group, d)), r3.Dot(w.Group, d))
	if !(misfit <= arrivalMisfit) {
		return Arrival{}, false
	}
	if w.Degenerate {
		return Arrival{PlaneWave: w}, !c.conical(n, sheet)
	}
	e1, e2 := planeAcross(d)
	curvature := c.planeDerivatives(n, e1, e2, sheet).curvature
	large, small, _ := curvature.principal()
	return Arrival{w, math.Abs(small) <= causticRatio*math.Abs(large)}, true
}

// conical reports whether the group velocities of the polarisations that share
// the speed of the given sheet along the acoustic axis n differ.
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
