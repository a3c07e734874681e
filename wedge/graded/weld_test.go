// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// veeWeld is an invented V weld, 30 mm deep, 6 mm wide at the root, 40 mm wide at the cap.
var (
	veeEdge = joint.Edge{Upper: joint.Bevel{Angle: math.Atan(17. / 30)}}
	veeButt = joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: veeEdge, Right: veeEdge}
	veeWeld = check.Must(veeButt.Joint())
	vee     = check.Must(newGroove(metalOf(veeWeld)[0]))
)

// Short names of the polarisations.
const (
	qL  = QuasiLongitudinal
	qSV = QuasiShearVertical
	sH  = ShearHorizontal
)

// parent is an austenitic steel with the speeds of a handbook, from memory.
var parent = material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}

// constant is a texture with the same angle everywhere. Its medium does not report that it is
// uniform.
type constant float64

func (c constant) At(r3.Vec) Grain { return Grain{Angle: float64(c), Factor: 1} }

// TestHomogeneousWeldMetal treats weld metal of one orientation as graded. Its rays are straight;
// their time is the length divided by the group speed.
func TestHomogeneousWeldMetal(t *testing.T) {
	curves, _ := metal(t, weldMetals[0])
	p := &Part{Entry: plane(0), Media: []Medium{check.Must(NewGrains(curves, constant(1.1)))}}
	for _, pol := range []Polarisation{qL, sH} {
		for i := range 17 {
			angle := (5 + 10*float64(i)) * degrees
			to := r3.Scale(30e-3, heading(angle))
			want := 30e-3 / curves.arrivals(pol, angle-1.1)[0].Speed
			r := check.Must(p.Ray(pol, r3.Vec{}, to, &Options{Spacing: 1e-3}))
			if !(math.Abs(r.Time-want) <= 1e-16) {
				t.Errorf("%v at %v°: %v, %v s, want %v", pol, angle/degrees, r.Status, r.Time, want)
			}
		}
	}
}

// weldCase returns a weld in contact or behind a wedge.
func weldCase(t testing.TB, coupling *material.Isotropic, eta float64) *Part {
	t.Helper()
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	return check.Must(NewWeld(coupling, parent, curves, grainLaw{vee, 1, eta}, veeWeld))
}

// polystyrene is a wedge of cross-linked polystyrene, with the speed of a handbook, from memory.
var polystyrene = &material.Isotropic{Density: 1050, Longitudinal: 2330}

// TestReciprocity checks that the way back takes the same time. It starts on a plane through the
// point, whose far side is above.
func TestReciprocity(t *testing.T) {
	p := weldCase(t, nil, 1)
	region := r2.Box{Min: r2.Vec{X: -60e-3, Y: -1e-3}, Max: r2.Vec{X: 60e-3, Y: 31e-3}}
	for _, pol := range []Polarisation{qL, sH} {
		for _, ends := range [][2]r3.Vec{
			{{X: -40e-3}, {X: 9e-3, Z: 25e-3}},
			{{X: -30e-3}, {X: 2e-3, Z: 12e-3}},
			{{X: -8e-3}, {X: 14e-3, Z: 30e-3}},
			{{X: 5e-3}, {X: -25e-3, Z: 25e-3}},
		} {
			a, b := ends[0], ends[1]
			there := check.Must(p.Ray(pol, a, b, &Options{Region: region}))
			upwards := *p
			upwards.Entry, upwards.Back = check.Must(wedge.NewPlane(b, r3.Vec{Z: -1})), nil
			back := check.Must(upwards.Ray(pol, b, a, &Options{Region: region}))
			if there.Status != wedge.OK || !(math.Abs(there.Time-back.Time) <= 1e-12) {
				t.Errorf("%v between %v and %v: %v %v s there, %v %v s back", pol, a, b,
					there.Status, there.Time, back.Status, back.Time)
			}
		}
	}
}

// TestNeighbouringPathsAreSlower checks Fermat's principle: the time along a path near the ray,
// summed over fine steps, is not less.
func TestNeighbouringPathsAreSlower(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	p := weldCase(t, polystyrene, 1)
	r := check.Must(p.Ray(qL, r3.Vec{X: -45e-3, Z: -12e-3}, r3.Vec{X: 8e-3, Z: 20e-3},
		&Options{Tolerance: 1e-13}))
	if r.Status != wedge.OK {
		t.Fatal(r.Status)
	}
	own := walk(p, qL, r.Points)
	if !(math.Abs(own-r.Time) <= 1e-10) {
		t.Errorf("time along the polyline %v s, of the ray %v s", own, r.Time)
	}
	bumps := 100
	if testing.Short() {
		bumps = 40
	}
	for range bumps {
		// A smooth bump of up to 0.3 mm, entry point included.
		size, waves := 0.3e-3*(2*random.Float64()-1), 1+random.IntN(4)
		bent := make([]r3.Vec, len(r.Points))
		for i, q := range r.Points {
			share := float64(i) / float64(len(r.Points)-1)
			q.X += size * math.Sin(math.Pi*float64(waves)*share)
			if i > 1 {
				q.Z += 0.5 * size * math.Sin(math.Pi*float64(waves)*share)
			}
			bent[i] = q
		}
		if other := walk(p, qL, bent); !(other >= r.Time-1e-13) {
			t.Errorf("bump of %v m with %d waves: %v s, less than the ray's %v s", size, waves,
				other, r.Time)
		}
	}
}

// walk returns the time along a polyline in 64 steps per segment. Each step lies in the medium at
// its middle. Steps that cross a face are halved until they are negligibly short.
func walk(p *Part, pol Polarisation, line []r3.Vec) float64 {
	zone := func(q r3.Vec) int {
		if p.Entry.Depth(q) < 0 {
			return -1
		}
		return p.zone(q)
	}
	var over func(a, b r3.Vec) float64
	over = func(a, b r3.Vec) float64 {
		at, step := middle(a, b), r3.Sub(b, a)
		if zone(a) != zone(b) && r3.Norm(step) > 1e-10 {
			return over(a, at) + over(at, b)
		}
		if zone(at) < 0 {
			return p.lead().Travel(pol, at, step).Time
		}
		return p.Media[zone(at)].Travel(pol, at, step).Time
	}
	var sum float64
	for i := 1; i < len(line); i++ {
		step := r3.Scale(1./64, r3.Sub(line[i], line[i-1]))
		for k := range 64 {
			a := r3.Add(line[i-1], r3.Scale(float64(k), step))
			sum += over(a, r3.Add(a, step))
		}
	}
	return sum
}

// TestBentRayObeysTheRayEquations marches bent rays by an independent method. Let F be the time
// over a step. The slowness p = ∂F/∂step then changes along the ray by ∂F/∂place. The wave starts
// at the start of a bent ray and is marched by Runge and Kutta's method. It must arrive at the end
// of the ray after the time of the ray.
func TestBentRayObeysTheRayEquations(t *testing.T) {
	if !long {
		t.Skip("some hundreds of marched rays")
	}
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	texture := grainLaw{vee, 1.2, 1}
	m := check.Must(NewGrains(curves, texture))
	p := &Part{Entry: plane(0), Media: []Medium{m}}
	for _, pol := range []Polarisation{qL, sH} {
		for _, to := range []r3.Vec{{X: 12e-3, Z: 28e-3}, {X: 3e-3, Z: 15e-3},
			{X: -16e-3, Z: 9e-3}} {
			r := check.Must(p.Ray(pol, r3.Vec{X: -14e-3}, to, &Options{Tolerance: 1e-15}))
			if r.Status != wedge.OK {
				t.Fatalf("%v to %v: %v", pol, to, r.Status)
			}
			// The time is known; the phase angle is the only unknown.
			miss := func(phase float64) float64 {
				end := march(curves, texture, pol, r.Points[0], phase, r.Time)
				d := r3.Sub(end, to)
				chord := r3.Sub(to, r.Points[0])
				return (chord.X*d.Z - chord.Z*d.X) / r3.Norm(chord)
			}
			first := m.Travel(pol, middle(r.Points[0], r.Points[1]),
				r3.Sub(r.Points[1], r.Points[0])).Slowness
			guess := math.Atan2(first.Z, first.X)
			low, high := guess-0.05, guess+0.05
			if miss(low)*miss(high) > 0 {
				t.Fatalf("%v to %v: no bracket around the phase angle", pol, to)
			}
			phase := rootOf(miss, low, high, miss(low))
			end := march(curves, texture, pol, r.Points[0], phase, r.Time)
			if gap := r3.Norm(r3.Sub(end, to)); !(gap <= 1e-9) {
				t.Errorf("%v to %v: the ray marched for its time ends %.2g m away", pol, to, gap)
			}
		}
	}
}

// march returns the place after a time of the wave that starts at the phase angle.
func march(
	c *SlownessCurves, texture Texture, pol Polarisation, at r3.Vec, phase, time float64,
) r3.Vec {
	const steps = 400
	type state struct{ at, slowness r3.Vec }
	rate := func(s state) state {
		g := texture.At(s.at)
		angle := math.Atan2(s.slowness.Z, s.slowness.X)
		speed, direction := c.group(pol, angle-g.Angle)
		velocity := r3.Scale(speed, heading(direction+g.Angle))
		turning := s.slowness.X*velocity.Z - s.slowness.Z*velocity.X
		return state{velocity, r3.Scale(turning, g.AngleGradient)}
	}
	next := func(s, d state, h float64) state {
		return state{r3.Add(s.at, r3.Scale(h, d.at)), r3.Add(s.slowness, r3.Scale(h, d.slowness))}
	}
	s := state{at, r3.Scale(1/c.phase(pol, phase-texture.At(at).Angle), heading(phase))}
	h := time / steps
	for range steps {
		k1 := rate(s)
		k2 := rate(next(s, k1, h/2))
		k3 := rate(next(s, k2, h/2))
		k4 := rate(next(s, k3, h))
		s = next(next(next(next(s, k1, h/6), k2, h/3), k3, h/3), k4, h/6)
	}
	return s.at
}

// TestNoMarchedPointIsMissed marches rays that do not leave the part. The search must find a ray to
// the end of each that takes no longer. It takes less only where rays cross.
func TestNoMarchedPointIsMissed(t *testing.T) {
	if !long {
		t.Skip("hundreds of marched rays")
	}
	curves, _ := metal(t, "weld metal type 308")
	texture := grainLaw{vee, 1.2, 1}
	p := &Part{Entry: plane(0), Back: plane(30e-3),
		Media: []Medium{check.Must(NewGrains(curves, texture))}}
	element := r3.Vec{X: -9e-3}
	for _, pol := range []Polarisation{qL, sH} {
		var ends []r3.Vec
		var times []float64
		for angle := 2.; angle < 180; angle += 5 {
			// The energy of the wave starts downwards at this angle.
			axis := texture.At(element).Angle
			phase := curves.arrivals(pol, angle*degrees-axis)[0].Phase + axis
			for _, time := range []float64{1e-6, 2.5e-6, 4e-6} {
				left := false
				for k := 1; k <= 8; k++ {
					left = left || !p.inside(march(curves, texture, pol, element, phase,
						time*float64(k)/8), 0)
				}
				if !left {
					ends = append(ends, march(curves, texture, pol, element, phase, time))
					times = append(times, time)
				}
			}
		}
		table := check.Must(p.Times(context.Background(), pol, []r3.Vec{element}, ends,
			&Options{Spacing: 0.4e-3}))
		same := 0
		for i, s := range table.Seconds {
			late := float64(s) - times[i]
			if !(late <= 20e-12) {
				t.Errorf("%v to %v: %v s, a ray gets there in %v s", pol, ends[i], s, times[i])
			}
			if math.Abs(late) <= 20e-12 {
				same++
			}
		}
		if !(same >= len(ends)/2) || len(ends) < 60 {
			t.Errorf("%v: %d of %d ends have the time of the marched ray, "+
				"want at least half of at least 60", pol, same, len(ends))
		}
	}
}

// TestSnellAtTheFusionFaces checks that slownesses agree along each face that the ray crosses.
func TestSnellAtTheFusionFaces(t *testing.T) {
	p := weldCase(t, polystyrene, 1)
	r := check.Must(p.Ray(qL, r3.Vec{X: -55e-3, Z: -12e-3}, r3.Vec{X: 25e-3, Z: 27e-3},
		&Options{Tolerance: 1e-14}))
	if r.Status != wedge.OK {
		t.Fatal(r.Status)
	}
	crossed := 0
	for i := 1; i < len(r.Points)-1; i++ {
		for k, face := range append([]wedge.Surface{p.Entry}, p.Faces...) {
			if math.Abs(face.Depth(r.Points[i])) > 1e-12 {
				continue
			}
			crossed++
			var along [2]float64
			for side := range along {
				a, b := r.Points[i-1+side], r.Points[i+side]
				m := p.Media[p.zone(middle(a, b))]
				if p.Entry.Depth(middle(a, b)) < 0 {
					m = p.lead()
				}
				tr := m.Travel(qL, middle(a, b), r3.Sub(b, a))
				// From the middle of the segment to the face the slowness changes by half of Place.
				s := r3.Add(tr.Slowness, r3.Scale(0.5-float64(side), tr.Place))
				u, v := face.Locate(r.Points[i])
				along[side] = r3.Dot(s, r3.Unit(face.At(u, v).U))
			}
			if !(math.Abs(along[0]-along[1]) <= 1e-6*math.Abs(1./5790)) {
				t.Errorf("surface %d: slowness along it %v before, %v s/m after", k, along[0],
					along[1])
			}
		}
	}
	if crossed != 3 {
		t.Errorf("%d crossings, want the entry surface and two fusion faces", crossed)
	}
}

// TestTimesOfWorkers checks that a table does not depend on the number of workers, and that it
// holds the times of Ray.
func TestTimesOfWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	p := weldCase(t, polystyrene, 1)
	elements := []r3.Vec{{X: -50e-3, Z: -14e-3}, {X: -46e-3, Z: -12e-3}, {X: -42e-3, Z: -10e-3}}
	var points []r3.Vec
	for z := -1.; z < 33; z += 5 {
		for x := -20.; x <= 20; x += 2 {
			points = append(points, r3.Vec{X: x * 1e-3, Z: z * 1e-3})
		}
	}
	one := check.Must(p.Times(context.Background(), qL, elements, points, &Options{Workers: 1}))
	share := 0.0
	four := check.Must(p.Times(context.Background(), qL, elements, points,
		&Options{Workers: 4, Progress: func(s float64) { share = s }}))
	for i := range one.Seconds {
		if math.Float32bits(one.Seconds[i]) != math.Float32bits(four.Seconds[i]) {
			t.Fatalf("time %d: %v s with one worker, %v with four", i, one.Seconds[i],
				four.Seconds[i])
		}
	}
	if share != 1 {
		t.Errorf("share of the work at the end %v, want 1", share)
	}
	missing := 0
	for i, s := range one.Seconds {
		outside := points[i%len(points)].Z < 0 || points[i%len(points)].Z > 30e-3
		if math.IsNaN(float64(s)) {
			missing++
			if !outside {
				t.Errorf("no ray from element %d to %v", i/len(points), points[i%len(points)])
			}
		} else if outside {
			t.Errorf("time %v s outside the part", s)
		}
	}
	if missing == 0 || missing != one.Missing {
		t.Errorf("%d times missing, says %d", missing, one.Missing)
	}
	at := 4*21 + 7
	r := check.Must(p.Ray(qL, elements[1], points[at], nil))
	if got := float64(one.Seconds[len(points)+at]); !(math.Abs(got-r.Time) <= 20e-12) {
		t.Errorf("time of the table %v s, of the ray %v s", got, r.Time)
	}
	if _, err := p.Times(context.Background(), qL, elements, points,
		&Options{Workers: -1}); err == nil || !strings.Contains(err.Error(), "workers -1") {
		t.Errorf("error %v for -1 workers", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Times(ctx, qL, elements, points, nil); err != context.Canceled {
		t.Errorf("error %v after cancelling, want %v", err, context.Canceled)
	}
	if diff := cmp.Diff([2]int{3, len(points)}, [2]int{one.Elements, one.Points}); diff != "" {
		t.Error(diff)
	}
}
