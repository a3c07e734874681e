// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// mesh returns points of a section at a spacing, from x = −24 to 24 mm and down to 30 mm. No point
// lies on a face.
func mesh(spacing float64) []r3.Vec {
	var out []r3.Vec
	for z := 0.47e-3; z < 30e-3; z += spacing {
		for x := -24.3e-3; x < 24.3e-3; x += spacing {
			out = append(out, r3.Vec{X: x, Z: z})
		}
	}
	return out
}

// aimed returns the aim of an element, and a function that finds all rays to a point.
func aimed(
	p *Part, pol Polarisation, element r3.Vec, points []r3.Vec, options *Options,
) (*aim, func(i int) []solution) {
	o := check.Must(p.check(pol, []r3.Vec{element}, points, options, true))
	a := newAim(element, newPointIndex(points, &o), &o)
	return a, func(i int) []solution { return a.fan.rays(a.candidates[i], points[i]) }
}

// sameTimes reports whether the rays have the given times.
func sameTimes(rays []solution, want []float64, tolerance float64) bool {
	if len(rays) != len(want) {
		return false
	}
	for i := range rays {
		if !(math.Abs(rays[i].time-want[i]) <= tolerance) {
			return false
		}
	}
	return true
}

// TestFanFindsAllArrivalsOfABlock treats weld metal of one orientation as graded. Shooting finds
// all rays that Block finds, in all folds, with the same times to rounding. Exceptions are pairs
// of rays that nearly coincide at a caustic.
func TestFanFindsAllArrivalsOfABlock(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	cases := []struct {
		metal    string
		coupling *material.Isotropic
		entry    wedge.Surface
		axis     float64
	}{
		{weldMetals[0], nil, plane(0), 1.2},
		{weldMetals[1], polystyrene, plane(0), 0.3},
		{weldMetals[2], nil, plane(0), math.Pi / 2},
		{weldMetals[2], polystyrene, check.Must(wedge.NewCylinder(r3.Vec{Z: 80e-3}, r3.Vec{Y: 1},
			80e-3, wedge.Convex)), math.Pi / 2},
	}
	points := mesh(2.9e-3)
	for _, row := range cases {
		curves, _ := metal(t, row.metal)
		block := &Block{Coupling: row.coupling, Entry: row.entry, Curves: curves, Axis: row.axis}
		part := block.part(check.Must(NewGrains(curves, constant(row.axis))))
		element := r3.Vec{X: -3e-3}
		if row.coupling != nil {
			element = r3.Vec{X: -15e-3, Z: -14e-3}
		}
		_, rays := aimed(part, qSV, element, points, nil)
		several, off := 0, 0
		for i, q := range points {
			var want []float64
			for _, r := range check.Must(block.Rays(qSV, element, q)) {
				want = append(want, r.Time)
			}
			if len(want) > 1 {
				several++
			}
			got := rays(i)
			if sameTimes(got, want, 1e-16) {
				continue
			}
			off++
			if math.Abs(float64(len(got)-len(want))) > 2 ||
				!(math.Abs(got[0].time-want[0]) <= 0.2e-9) {
				t.Errorf("%s about %v to %v: %d rays, want %v s", row.metal, row.axis, q, len(got),
					want)
			}
		}
		if several < len(points)/8 || off > 1 {
			t.Errorf("%s: %d points with several arrivals, %d not as the block has them, of %d",
				row.metal, several, off, len(points))
		}
	}
}

// TestShotRaysAreBentRays compares bending and shooting, which share only the media. Where bending
// finds a ray of a weld, shooting finds a ray with the same time within both tolerances, and
// nowhere else. On the edge of a shadow a bent ray may lie up to 10 µm outside the part.
func TestShotRaysAreBentRays(t *testing.T) {
	if !long {
		t.Skip("hundreds of rays by two ways")
	}
	points := mesh(2.2e-3)
	for _, row := range []struct {
		p       *Part
		element r3.Vec
		pol     Polarisation
		allowed float64 // s, at the tolerance of 100 ps
	}{
		{weldCase(t, polystyrene, 1), r3.Vec{X: -45e-3, Z: -14e-3}, qL, 20e-12},
		{weldCase(t, nil, 1), r3.Vec{X: -30e-3}, sH, 20e-12},
		{weldCase(t, polystyrene, 0.7), r3.Vec{X: -45e-3, Z: -14e-3}, sH,
			100e-12}, // kinked at the centre line
	} {
		bent := check.Must(row.p.Times(context.Background(), row.pol, []r3.Vec{row.element}, points,
			nil))
		_, rays := aimed(row.p, row.pol, row.element, points, nil)
		edge := 0
		for i, q := range points {
			got, want := rays(i), float64(bent.Seconds[i])
			switch {
			case math.IsNaN(want) && len(got) == 0:
			case !math.IsNaN(want) && len(got) == 0:
				edge++
			case !(math.Abs(got[0].time-want) <= row.allowed):
				t.Errorf("%v to %v: %v s, bending has %v", row.pol, q, got[0].time, want)
			}
		}
		if edge > len(points)/200 {
			t.Errorf("%v: %d of %d points have a bent ray but none that was shot", row.pol, edge,
				len(points))
		}
	}
}

// TestCoverageOfAWeld checks that most points of a weld get a qSV time. The other points, under
// the cap, lie in a shadow: a fan of half the spacing has no ray there either. The two fans find
// the same rays, except for a few rays next to caustics.
func TestCoverageOfAWeld(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	for _, row := range []struct {
		name     string
		coupling *material.Isotropic
		element  r3.Vec
		least    float64 // share of points with a time
	}{
		{"wedge", polystyrene, r3.Vec{X: -45e-3, Z: -14e-3}, 0.92},
		{"contact", nil, r3.Vec{X: -30e-3}, 0.89},
	} {
		p := weldCase(t, row.coupling, 1)
		points := mesh(2.2e-3)
		_, rays := aimed(p, qSV, row.element, points, nil)
		o := check.Must(p.check(qSV, []r3.Vec{row.element}, points, nil, true))
		fine, again := aimed(p, qSV, row.element, points, &Options{Spacing: o.Spacing / 2})
		served, dark, off := 0, 0, 0
		for i, q := range points {
			var want []float64
			for _, s := range again(i) {
				want = append(want, s.time)
			}
			got := rays(i)
			if !sameTimes(got, want, 1e-12) {
				off++
			}
			if len(got) > 0 {
				served++
			} else if nearest(fine.fan, q) > 0.1e-3 {
				dark++
			}
		}
		share := float64(served) / float64(len(points))
		t.Logf("%s: %.1f %% of %d points have a time, %d lie in the shadow, "+
			"%d differ in a finer fan", row.name, 100*share, len(points), dark, off)
		if !(share >= row.least) || off > 1+len(points)/300 {
			t.Errorf("%s: %.3f of the points have a time, want %v; %d differ in a finer fan",
				row.name, share, row.least, off)
		}
		if missing := len(points) - served; !(float64(dark) >= 0.9*float64(missing)) {
			t.Errorf("%s: only %d of %d points without a time are more than 0.1 mm from all rays",
				row.name, dark, missing)
		}
	}
}

// nearest returns the distance of a point from the nearest sample of all rays.
func nearest(f *fan, q r3.Vec) float64 {
	least := math.Inf(1)
	for _, s := range f.strips {
		p := &s.a.pieces[s.pieceA]
		for k := p.first; k < p.end(); k++ {
			if time := float64(k) * f.step; time >= p.enter && time <= p.leave {
				least = min(least, distance(p.sample(k).at(0), q))
			}
		}
	}
	return least
}

// TestShotRaysReverse checks that each ray has a ray on the way back. The way back starts on the
// back wall, whose far side is above.
func TestShotRaysReverse(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	there := weldCase(t, nil, 1)
	back := *there
	back.Entry, back.Back = check.Must(wedge.NewPlane(r3.Vec{Z: 30e-3},
		r3.Vec{Z: -1})), check.Must(wedge.NewPlane(r3.Vec{}, r3.Vec{Z: -1}))
	region := r2.Box{Min: r2.Vec{X: -45e-3, Y: -1e-3}, Max: r2.Vec{X: 45e-3, Y: 31e-3}}
	several := 0
	for _, ends := range [][2]r3.Vec{
		{{X: -30e-3}, {X: 16e-3, Z: 30e-3}},
		{{X: 4e-3}, {X: 18e-3, Z: 30e-3}},
		{{X: 15e-3}, {X: 5e-3, Z: 30e-3}},
	} {
		a := check.Must(there.Rays(qSV, ends[0], ends[1], &Options{Region: region}))
		b := check.Must(back.Rays(qSV, ends[1], ends[0], &Options{Region: region}))
		if len(a) != len(b) || len(a) == 0 {
			t.Errorf("%v: %d rays there, %d back", ends, len(a), len(b))
			continue
		}
		if len(a) > 1 {
			several++
		}
		for i := range a {
			if !(math.Abs(a[i].Time-b[i].Time) <= 2e-12) || !(a[i].Error <= 10e-12) {
				t.Errorf("%v: ray %d takes %v s there, %v s back; error %v s", ends, i, a[i].Time,
					b[i].Time, a[i].Error)
			}
		}
	}
	if several == 0 {
		t.Error("no ends with several rays: the test has not met its case")
	}
}

// TestShotRayObeysTheRayEquations marches qSV rays of a graded weld metal by Runge and Kutta's
// method with 400 steps (see march). A ray marched from its start for its time must end at the
// point.
func TestShotRayObeysTheRayEquations(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	curves, _ := metal(t, "weld metal type 308")
	texture := grainLaw{vee, 1.2, 1}
	p := &Part{Entry: plane(0), Media: []Medium{check.Must(NewGrains(curves, texture))}}
	element := r3.Vec{X: -14e-3}
	points := mesh(5e-3)
	_, rays := aimed(p, qSV, element, points, &Options{Tolerance: 1e-13})
	total := 0
	for i, to := range points {
		for _, s := range rays(i) {
			total++
			end := march(curves, texture, qSV, element, s.launch, s.time)
			if gap := distance(end, to); !(gap <= 15e-9) {
				t.Errorf("to %v: the ray marched for %v s ends %.2g m away", to, s.time, gap)
			}
		}
	}
	if total < len(points) {
		t.Errorf("%d rays to %d points: the test has not met its case", total, len(points))
	}
}

// TestShotInALinearGradient compares shot transverse rays with the closed form of
// TestLinearGradient.
func TestShotInALinearGradient(t *testing.T) {
	const c0, g = 3230., 1e4 // m/s, 1/s
	m := check.Must(NewLinear(solid(2*c0, c0), r3.Vec{}, r3.Vec{Z: g / c0}))
	p := &Part{Entry: plane(0), Media: []Medium{m}}
	for _, to := range []r3.Vec{{X: 40e-3, Z: 50e-3}, {X: -5e-3, Z: 3e-3}, {Z: 50e-3},
		{X: 60e-3, Z: 1e-3}} {
		want := 2 * math.Asinh(g*r3.Norm(to)/(2*math.Sqrt(c0*(c0+g*to.Z)))) / g
		for _, row := range []struct{ tolerance, allowed float64 }{{0, 1e-12}, {1e-14, 1e-16}} {
			r := check.Must(p.Ray(qSV, r3.Vec{}, to, &Options{Tolerance: row.tolerance}))
			if r.Status != wedge.OK || !(math.Abs(r.Time-want) <= row.allowed) ||
				!(math.Abs(r.Time-want) <= r.Error+1e-18) {
				t.Errorf("to %v: %v, %v s, misses %v s by %.2g s, error %.2g s", to, r.Status,
					r.Time, want, r.Time-want, r.Error)
			}
			if last := r.Points[len(r.Points)-1]; r.Points[0] != (r3.Vec{}) ||
				!(distance(last, to) <= 2*arrived) {
				t.Errorf("to %v: the ray goes from %v to %v", to, r.Points[0], last)
			}
		}
	}
}

// TestShotTimesOfWorkers checks that the table of shot rays is the same for any number of workers,
// and that it holds the times of Ray.
func TestShotTimesOfWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	p := weldCase(t, polystyrene, 1)
	elements := []r3.Vec{{X: -47e-3, Z: -14e-3}, {X: -43e-3, Z: -12e-3}}
	points := append(mesh(6e-3), r3.Vec{Z: -1e-3}, r3.Vec{Z: 31e-3})
	one := check.Must(p.Times(context.Background(), qSV, elements, points,
		&Options{Arrival: 1, Workers: 1, Spacing: 1e-3}))
	three := check.Must(p.Times(context.Background(), qSV, elements, points,
		&Options{Arrival: 1, Workers: 3, Spacing: 1e-3}))
	missing := 0
	for i, s := range one.Seconds {
		if math.Float32bits(s) != math.Float32bits(three.Seconds[i]) {
			t.Fatalf("time %d: %v s with one worker, %v with three", i, s, three.Seconds[i])
		}
		if math.IsNaN(float64(s)) {
			missing++
		}
	}
	if missing != one.Missing || missing == 0 || missing > len(one.Seconds)*3/4 {
		t.Errorf("%d of %d times missing, says %d", missing, len(one.Seconds), one.Missing)
	}
	for i, q := range points {
		s := float64(one.Seconds[i])
		if math.IsNaN(s) {
			continue
		}
		// One point has another region, and so another fan.
		r := check.Must(p.Ray(qSV, elements[0], q, &Options{Arrival: 1}))
		if !(math.Abs(r.Time-s) <= 2e-12) {
			t.Errorf("to %v: %v s in the table, %v s of the ray", q, s, r.Time)
		}
		break
	}
}

// TestShotDegenerateEnds checks points on surfaces and faces, points that no ray can reach, and
// media that carry no such wave.
func TestShotDegenerateEnds(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	p := weldCase(t, polystyrene, 1)
	element := r3.Vec{X: -45e-3, Z: -14e-3}
	width, _ := vee.halfWidth(20e-3)
	table := []struct {
		name string
		to   r3.Vec
		rays int
	}{
		{"above the part", r3.Vec{Z: -1e-3}, 0},
		{"beyond the back wall", r3.Vec{Z: 31e-3}, 0},
		{"on the back wall, also by the edge of the weld", r3.Vec{X: -20e-3, Z: 30e-3}, 2},
		{"on the fusion face", r3.Vec{X: -width, Z: 20e-3}, 1},
		{"a nanometre before it", r3.Vec{X: -width - 1e-9, Z: 20e-3}, 1},
		{"on the entry surface", r3.Vec{X: -40e-3}, 1},
		{"in the shadow of the cap", r3.Vec{Z: 1e-3}, 0},
	}
	var points []r3.Vec
	for _, row := range table {
		points = append(points, row.to)
	}
	_, found := aimed(p, qSV, element, points, &Options{Spacing: 1e-3})
	for i, row := range table {
		rays := found(i)
		if len(rays) != row.rays || len(rays) > 0 && !(rays[0].time > 0) {
			t.Errorf("%s: %d rays, want %d", row.name, len(rays), row.rays)
		}
	}
	fluid := check.Must(NewIsotropic(material.Isotropic{Density: 1000, Longitudinal: 1480}))
	wet := &Part{Coupling: polystyrene, Entry: plane(0), Media: []Medium{fluid}}
	if rays := check.Must(wet.Rays(qSV, element, r3.Vec{Z: 1e-2}, nil)); len(rays) != 0 {
		t.Errorf("%d transverse rays in a fluid", len(rays))
	}
	contact := weldCase(t, nil, 1)
	if rays := check.Must(contact.Rays(qSV, r3.Vec{}, r3.Vec{}, nil)); len(rays) != 0 {
		t.Errorf("%d rays of no length", len(rays))
	}
	// The speeds fall to 0 within the region.
	steep := check.Must(NewLinear(parent, r3.Vec{}, r3.Vec{Z: -40}))
	ending := &Part{Entry: plane(0), Media: []Medium{steep}}
	if rays := check.Must(ending.Rays(qSV, r3.Vec{}, r3.Vec{X: 1e-3, Z: 40e-3},
		nil)); len(rays) != 0 {
		t.Errorf("%d rays beyond the medium", len(rays))
	}
	if r := check.Must(ending.Ray(qSV, r3.Vec{}, r3.Vec{X: 1e-3, Z: 10e-3},
		nil)); r.Status != wedge.OK {
		t.Errorf("ray where the speed falls: %v", r.Status)
	}
}

// hollow is a medium that ends at a depth.
type hollow struct {
	Medium
	depth float64
}

func (h hollow) Phase(pol Polarisation, at r3.Vec, normal float64) PhaseSpeed {
	if at.Z > h.depth {
		return PhaseSpeed{Speed: math.NaN()}
	}
	return h.Medium.Phase(pol, at, normal)
}

func (h hollow) Uniform() bool { return false }

// TestShotWhereTheMediumEnds checks that rays end where the medium ends.
func TestShotWhereTheMediumEnds(t *testing.T) {
	part := &Part{Entry: plane(0), Media: []Medium{hollow{check.Must(NewIsotropic(parent)), 12e-3}}}
	for _, row := range []struct {
		to   r3.Vec
		rays int
	}{{r3.Vec{X: 5e-3, Z: 9e-3}, 1}, {r3.Vec{X: 5e-3, Z: 12.1e-3}, 0}, {r3.Vec{X: 5e-3, Z: 20e-3},
		0}} {
		if rays := check.Must(part.Rays(qSV, r3.Vec{}, row.to, nil)); len(rays) != row.rays {
			t.Errorf("to %v: %d rays, want %d", row.to, len(rays), row.rays)
		}
	}
}

// TestPhaseDerivatives compares the derivatives of phase speeds with differences. It also compares
// the group velocity that follows from Phase with the time of Travel.
func TestPhaseDerivatives(t *testing.T) {
	curves, _ := metal(t, weldMetals[1])
	for name, m := range map[string]Medium{
		"isotropic": check.Must(NewIsotropic(parent)),
		"linear":    check.Must(NewLinear(parent, r3.Vec{X: 1e-3}, r3.Vec{X: 2, Z: -5})),
		"uniform":   check.Must(NewUniform(curves, 0.4)),
		"law":       check.Must(NewGrains(curves, grainLaw{vee, 1.3, 0.8})),
		"table": check.Must(NewGrains(curves,
			check.Must(lawTable(grainLaw{vee, 1.3, 1}, 1e-3).Texture()))),
	} {
		at := r3.Vec{X: 4.3e-3, Z: 11.7e-3}
		for pol := qL; pol <= sH; pol++ {
			for angle := 0.1; angle < 6; angle += 0.7 {
				w := m.Phase(pol, at, angle)
				difference := func(step r3.Vec, turn float64) float64 {
					return (m.Phase(pol, r3.Add(at, step), angle+turn).Speed - m.Phase(pol,
						r3.Sub(at, step), angle-turn).Speed) / 2
				}
				const h = 1e-6
				for _, row := range []struct{ got, want float64 }{
					{w.ByAngle, difference(r3.Vec{}, h) / h},
					{w.Place.X, difference(r3.Vec{X: h}, 0) / h},
					{w.Place.Z, difference(r3.Vec{Z: h}, 0) / h},
				} {
					if !(math.Abs(row.got-row.want) <= 1e-2+1e-5*math.Abs(row.want)) {
						t.Errorf("%s, %v at %v rad: derivative %v, differences %v", name, pol,
							angle, row.got, row.want)
					}
				}
				if pol == qSV {
					continue // its Travel may be another wave of the direction
				}
				group := r3.Add(r3.Scale(w.Speed, heading(angle)),
					r3.Scale(w.ByAngle, heading(angle+math.Pi/2)))
				if time := m.Travel(pol, at, group).Time; !(math.Abs(time-1) <= 1e-9) {
					t.Errorf("%s, %v at %v rad: %v s for the way of a second", name, pol, angle,
						time)
				}
			}
		}
	}
}
