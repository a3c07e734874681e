// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// ErrUndetermined is wrapped by the errors of data that do not determine what is sought.
var ErrUndetermined = errors.New("the data do not determine it")

// Shape is the shape of an entry surface.
type Shape uint8

// The shapes of an entry surface.
const (
	AnyShape Shape = iota // the simplest of the other shapes that the echoes agree with
	Plane
	Circle // the outside or the inside of a pipe, across its axis
	Profile
)

// String returns the name of the shape.
func (s Shape) String() string {
	if int(s) < len(shapeNames) {
		return shapeNames[s]
	}
	return fmt.Sprintf("Shape(%d)", uint8(s))
}

var shapeNames = []string{"any shape", "plane", "circle", "profile"}

// SurfaceOptions modifies [FindSurface]. Nil stands for the zero value.
type SurfaceOptions struct {
	Shape Shape // to fit; the zero value lets the echoes decide
	// Offset is the time that the instrument adds to every echo, s, with its standard uncertainty.
	// The uncertainty covers all errors of the times that neighbouring echoes share. Such errors
	// shift the surface, and no scatter shows them. An uncertainty of 0 stands for a fortieth of
	// the period of the centre frequency.
	Offset calibrate.Estimate
	// MaxIncidence is the largest angle of incidence at which echoes are used, rad, above 0 and
	// below π/2. Beyond the first critical angle (14.5° from water to steel) the phase of the echo
	// changes. 0 stands for 10°.
	MaxIncidence float64
	// Alike is the largest deviation between two shapes that does not matter, m, finite, at least
	// 0. A simpler shape is taken if it lies within this distance of the profile, even if the
	// echoes tell them apart. The value 0 stands for a twentieth of the wavelength in the coupling.
	Alike float64
	// Pick says which echoes of the traces are candidates.
	Pick *calibrate.PickOptions
}

const (
	minElements = 5     // that must show the front surface
	leastLength = 1e-10 // m; a smaller scatter of lengths is the rounding of the times
	leastShare  = 0.2   // of the usual strongest echo; weaker arrivals are noise, as of dead elements
	rejection   = 4     // robust standard deviations beyond which an echo is an outlier
	significant = 0.01  // probability below which a simpler shape is rejected
)

// finder is the state of [FindSurface].
type finder struct {
	o          SurfaceOptions
	speed      calibrate.Estimate
	wavelength float64
	elements   []r3.Vec
	order      []int // of the elements, by x
	arrivals   []calibrate.Arrival
	front      []float64 // distance of the front echo of each element in pulse-echo, m; NaN for none
}

// echo is a measured echo of the front surface. Both directions of a pair are one echo.
type echo struct {
	transmit, receive int
	count             int     // of measured directions, 1 or 2
	length            float64 // of the path, the mean of the directions, m
	bounce            bounce
}

// distance returns half the length of the path of an arrival.
func (f *finder) distance(a calibrate.Arrival) float64 {
	return (a.Time - f.o.Offset.Value) * f.speed.Value / 2
}

// FindSurface finds the entry surface of a part in a capture of a linear array in a liquid. The
// elements of the capture lie in the section y = 0, with different x, above the surface; their z
// need not be measured from anything. The speed of the liquid is given in m/s, above 0, with its
// standard uncertainty.
//
// The error wraps [ErrUndetermined] if fewer than half of the elements show an echo of the surface,
// or if the echoes do not agree on a surface. Captures of events must be decoded first.
func FindSurface(c *fmc.Capture, speed calibrate.Estimate, options *SurfaceOptions) (*Surface, error) {
	f, err := newFinder(c, speed, options)
	if err != nil {
		return nil, err
	}
	if f.front, err = f.track(); err != nil {
		return nil, err
	}
	profile, err := f.fit(f.startSpline(), nil)
	if err != nil {
		return nil, err
	}
	switch f.o.Shape {
	case Profile:
		return f.surface(Profile, profile)
	case Plane, Circle:
		simple, err := f.fit(f.startArc(f.o.Shape), profile.echoes)
		if err != nil {
			return nil, err
		}
		simple.compare(profile)
		return f.surface(f.o.Shape, simple)
	}
	for _, shape := range []Shape{Plane, Circle} {
		simple, err := f.fit(f.startArc(shape), profile.echoes)
		if errors.Is(err, ErrUndetermined) {
			continue // a shape that cannot be fitted is not the shape of the surface
		}
		if err != nil {
			return nil, err
		}
		simple.compare(profile)
		if simple.probability >= significant || simple.deviation <= f.o.Alike {
			return f.surface(shape, simple)
		}
	}
	return f.surface(Profile, profile)
}

func newFinder(c *fmc.Capture, speed calibrate.Estimate, options *SurfaceOptions) (*finder, error) {
	if c == nil {
		return nil, errors.New("adapt: surface of no capture: want a capture")
	}
	f := &finder{speed: speed}
	if options != nil {
		f.o = *options
	}
	if f.o.MaxIncidence == 0 {
		f.o.MaxIncidence = 10 * math.Pi / 180
	}
	switch {
	case !number.Positive(speed.Value):
		return nil, fmt.Errorf("adapt: speed of the coupling %v m/s: want a finite value above 0", speed.Value)
	case !(speed.Uncertainty >= 0 && number.Finite(speed.Uncertainty)):
		return nil, fmt.Errorf("adapt: uncertainty of the speed of the coupling %v m/s: want a finite value of at least 0", speed.Uncertainty)
	case !number.Finite(f.o.Offset.Value):
		return nil, fmt.Errorf("adapt: offset %v s: want a finite value", f.o.Offset.Value)
	case !(f.o.Offset.Uncertainty >= 0 && number.Finite(f.o.Offset.Uncertainty)):
		return nil, fmt.Errorf("adapt: uncertainty of the offset %v s: want a finite value of at least 0", f.o.Offset.Uncertainty)
	case !(f.o.MaxIncidence > 0 && f.o.MaxIncidence < math.Pi/2):
		return nil, fmt.Errorf("adapt: largest angle of incidence %v rad: want above 0 and below π/2", f.o.MaxIncidence)
	case !(f.o.Alike >= 0 && number.Finite(f.o.Alike)):
		return nil, fmt.Errorf("adapt: deviation that does not matter %v m: want a finite value of at least 0", f.o.Alike)
	case f.o.Shape > Profile:
		return nil, fmt.Errorf("adapt: shape %v: want AnyShape, Plane, Circle or Profile", f.o.Shape)
	}
	var err error
	if f.arrivals, err = calibrate.Pick(c, f.o.Pick); err != nil {
		return nil, err
	}
	f.wavelength = speed.Value / c.Array.CentreFrequency
	if f.o.Offset.Uncertainty == 0 {
		f.o.Offset.Uncertainty = 1 / c.Array.CentreFrequency / 40
	}
	if f.o.Alike == 0 {
		f.o.Alike = f.wavelength / 20
	}
	f.elements = c.Array.Elements
	for i, e := range f.elements {
		if e.Y != 0 {
			return nil, fmt.Errorf("adapt: element %d at y = %v m: want 0, an array in the section", i, e.Y)
		}
		f.order = append(f.order, i)
	}
	slices.SortFunc(f.order, func(a, b int) int {
		if f.elements[a].X < f.elements[b].X {
			return -1
		}
		return 1
	})
	for k := 1; k < len(f.order); k++ {
		if a, b := f.order[k-1], f.order[k]; f.elements[a].X == f.elements[b].X {
			return nil, fmt.Errorf("adapt: elements %d and %d at the same x = %v m: want a linear array along x", a, b, f.elements[a].X)
		}
	}
	return f, nil
}

// start returns a point of the surface for each element that shows it, from the echoes in
// pulse-echo alone, in ascending order of x.
func (f *finder) start() (points []r3.Vec) {
	var seen []int
	for _, e := range f.order {
		if !math.IsNaN(f.front[e]) {
			seen = append(seen, e)
		}
	}
	for k, e := range seen {
		// The slope is the slope of the straight line through up to nine distances.
		var n, sx, sd, sxx, sxd float64
		for _, i := range seen[max(0, k-4):min(len(seen), k+5)] {
			x, d := f.elements[i].X-f.elements[e].X, f.front[i]-f.front[e]
			n, sx, sd, sxx, sxd = n+1, sx+x, sd+d, sxx+x*x, sxd+x*d
		}
		slope := (n*sxd - sx*sd) / (n*sxx - sx*sx)
		x, z := specular(f.elements[e].X, f.elements[e].Z, f.front[e], min(0.95, max(-0.95, slope)))
		points = append(points, r3.Vec{X: x, Z: z})
	}
	slices.SortFunc(points, func(a, b r3.Vec) int {
		if a.X < b.X {
			return -1
		}
		return 1
	})
	return points
}

// startArc returns the straight line or the circle near the first points of the surface.
func (f *finder) startArc(shape Shape) curve {
	points := f.start()
	a := &arc{x0: (points[0].X + points[len(points)-1].X) / 2, p: make([]float64, int(shape)+1)}
	a.p[0], a.p[1] = line(points, a.x0)
	if shape == Circle {
		// The curvature follows from the projection on the second Legendre polynomial.
		half := (points[len(points)-1].X - points[0].X) / 2
		var sum float64
		for _, p := range points {
			x := (p.X - a.x0) / half
			sum += (p.Z - a.p[0] - a.p[1]*(p.X-a.x0)) * (3*x*x - 1) / 2
		}
		// The mean square of (3x² - 1)/2 over -1 to 1 is 1/5, and κa²x²/2 holds it κa²/3 times.
		a.p[2] = 15 * sum / float64(len(points)) / (half * half)
	}
	return a
}

// line returns the depth at x0 and the slope of the straight line through points.
func line(points []r3.Vec, x0 float64) (z, slope float64) {
	var n, sx, sz, sxx, sxz float64
	for _, p := range points {
		x := p.X - x0
		n, sx, sz, sxx, sxz = n+1, sx+x, sz+p.Z, sxx+x*x, sxz+x*p.Z
	}
	slope = (n*sxz - sx*sz) / (n*sxx - sx*sx)
	return (sz - slope*sx) / n, slope
}

// startSpline returns the spline near the first points of the surface. Its knots are as close as
// the elements.
func (f *finder) startSpline() curve {
	points := f.start()
	from, to := points[0].X, points[len(points)-1].X
	first, last := f.elements[f.order[0]], f.elements[f.order[len(f.order)-1]]
	spacing := (last.X - first.X) / float64(len(f.order)-1)
	from, to = from-2*spacing, to+2*spacing
	intervals := max(4, math.Ceil((to-from)/spacing))
	s := &spline{from: from, spacing: (to - from) / intervals, p: make([]float64, int(intervals)+3)}
	// Beyond the ends it continues with the slopes there: a kink could focus the echo.
	n := len(points)
	_, slopeFirst := line(points[:min(n, 4)], 0)
	_, slopeLast := line(points[max(0, n-4):], 0)
	for i := range s.p {
		x := s.from + float64(i-1)*s.spacing
		k, _ := slices.BinarySearchFunc(points, x, func(p r3.Vec, x float64) int {
			if p.X < x {
				return -1
			}
			return 1
		})
		switch {
		case k == 0:
			s.p[i] = points[0].Z + slopeFirst*(x-points[0].X)
		case k == n:
			s.p[i] = points[n-1].Z + slopeLast*(x-points[n-1].X)
		default:
			a, b := points[k-1], points[k]
			s.p[i] = a.Z + (b.Z-a.Z)*(x-a.X)/(b.X-a.X)
		}
	}
	return s
}
