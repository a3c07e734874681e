// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRaysInCircle checks the rays that a circle reflects from a point inside to its mirror image
// through the centre (Alhazen's problem). Two rays by the ends of the diameter have the length 2R.
// Two rays by the ends of the perpendicular have the length 2·√(R² + d²), and are the longest.
func TestRaysInCircle(t *testing.T) {
	const radius, d, c = 40e-3, 9e-3, 3240.0
	mirror := check.Must(NewCylinder(r3.Vec{}, r3.Vec{Y: 1}, radius, Concave))
	p := check.Must(NewPath([]Leg{{Speed: c}, {Speed: c}}, []Crossing{{Surface: mirror, From: Near, Reflects: true}}))
	got := check.Must(p.Rays(r3.Vec{X: -d}, r3.Vec{X: d}, nil))
	if len(got) != 4 {
		t.Fatalf("%d rays, want 4", len(got))
	}
	for i, a := range got {
		want, index := 2*radius/c, 0
		if i >= 2 {
			want, index = 2*math.Hypot(radius, d)/c, 1
		}
		if !(math.Abs(a.Time-want) <= 1e-12*want) || a.Index != index || a.Caustic {
			t.Errorf("ray %d: %v s, index %d, caustic %v; want %v s, index %d",
				i, a.Time, a.Index, a.Caustic, want, index)
		}
	}
}

// TestRaysAtFocus follows the ray along the axis of a concave mirror. The image at the distance b
// of a source at the distance a satisfies 1/a + 1/b = 2/R. Before the image the ray is quicker than
// its neighbours, in the image it lies on a caustic, beyond the image it is slower than its
// neighbours. The radius of the wavefront is the distance from the image.
func TestRaysAtFocus(t *testing.T) {
	const radius, a, c = 100e-3, 80e-3, 5920.0
	b := 1 / (2/radius - 1/a)
	mirror := check.Must(NewCylinder(r3.Vec{Z: -radius}, r3.Vec{Y: 1}, radius, Concave)) // vertex at 0
	p := check.Must(NewPath([]Leg{{Speed: c}, {Speed: c}}, []Crossing{{Surface: mirror, From: Near, Reflects: true}}))
	for _, test := range []struct {
		distance float64
		index    int
		caustic  bool
	}{{0.5 * b, 0, false}, {0.99 * b, 0, false}, {b, -1, true}, {1.01 * b, 1, false}, {1.5 * b, 1, false}} {
		found := false
		for _, ray := range check.Must(p.Rays(r3.Vec{Z: -a}, r3.Vec{Z: -test.distance}, nil)) {
			if x := ray.Points[1]; math.Abs(x.X) > 2e-5 || x.Z < -radius {
				continue
			}
			found = true
			// At the image the time is constant up to the third order, so the tolerance of the
			// solver allows a larger error of the crossing and of the radius.
			if ray.Caustic != test.caustic || !test.caustic && ray.Index != test.index {
				t.Errorf("%v m: index %d, caustic %v; want %d, %v",
					test.distance, ray.Index, ray.Caustic, test.index, test.caustic)
			}
			if want := test.distance - b; !(math.Abs(ray.Radius-want) <= 1e-6) {
				t.Errorf("%v m: wavefront radius %v m, want %v", test.distance, ray.Radius, want)
			}
		}
		if !found {
			t.Errorf("%v m: no ray along the axis", test.distance)
		}
	}
}

// TestMeetProfile compares the first of several places where a ray meets a span with two turning
// points with a fine scan of the curve, in both directions.
func TestMeetProfile(t *testing.T) {
	// The natural cubic spline through these points has a maximum and a minimum in its middle span.
	p := check.Must(newProfile([]r3.Vec{mm(-20, -30), mm(-5, 0), mm(5, 0), mm(20, 30)}))
	height := func(x float64) float64 { z, _, _ := p.curve(x); return z }
	for _, row := range []struct {
		name string
		from r3.Vec
		x    float64 // direction
	}{
		{"towards +x, level, above the trough", mm(-4, 0.5), 1},
		{"towards -x, level, below the crest", mm(4.9, -0.5), -1},
		{"towards +x, from before the span", mm(-9, -0.7), 1},
		{"towards -x, from beyond the span", mm(9, 0.7), -1},
	} {
		from := flat(row.from)
		for slope := -0.6; slope <= 0.6; slope += 0.05 {
			norm := math.Hypot(1, slope)
			got, ok := p.meet(from, point{row.x / norm, row.x * slope / norm})
			line := func(x float64) float64 { return from.z + (x-from.x)*slope - height(x) }
			const step = 2e-6
			want, found := 0., false
			for x := from.x; math.Abs(x-from.x) < 60e-3; x += row.x * step {
				if (line(x) < 0) != (line(x+row.x*step) < 0) {
					want, found = x+row.x*step/2, true
					break
				}
			}
			if found != ok && (found || math.Abs(got-from.x) < 60e-3) || found && !(math.Abs(got-want) <= step) {
				t.Errorf("%s, slope %.2f: met at %v m, %v; by a scan at %v m, %v",
					row.name, slope, got, ok, want, found)
			}
		}
	}
}

// TestMeetProfileSteeply sends rays that are steeper than the profile anywhere, hardly steeper or
// nearly vertical. Each meets the profile once, ahead or behind. The step of x by which the search
// ends is 1e-16 m.
func TestMeetProfileSteeply(t *testing.T) {
	p := check.Must(newProfile([]r3.Vec{mm(-20, -30), mm(-5, 0), mm(5, 0), mm(20, 30)}))
	for _, more := range []float64{1e-6, 1e-3, 0.1, 10, 1e6, 1e9} {
		for _, x := range []float64{-60e-3, -20e-3, -19.9e-3, -5e-3, 1e-3, 4e-3, 20e-3, 30e-3} {
			z, _, _ := p.curve(x)
			for _, off := range []float64{-20e-3, -1e-3, -1e-7, 1e-7, 1e-3, 20e-3} {
				for _, dx := range []float64{-1, 1} {
					for _, dz := range []float64{-1, 1} {
						from, slope := point{x, z + off}, dz*dx*p.steep*(1+more)
						norm := math.Hypot(1, slope)
						got, ok := p.meet(from, point{dx / norm, dx * slope / norm})
						if want := off*dz < 0; ok != want {
							t.Errorf("from %v m beside the curve at %v m, %v steeper, towards (%v, %v): met %v, want %v", off, x, more, dx, dz, ok, want)
						}
						curve, _, _ := p.curve(got)
						line := from.z + (got-x)*slope
						if ok && !((got-x)*dx > 0 && math.Abs(curve-line) <= 1e-14+4e-16*math.Abs(slope)) {
							t.Errorf("from %v m beside the curve at %v m, %v steeper, towards (%v, %v): met at %v m, where the curve is at %v m and the ray at %v m",
								off, x, more, dx, dz, got, curve, line)
						}
					}
				}
			}
		}
	}
}

// TestMeetPlane checks that a ray meets a plane ahead, and no plane behind it or parallel to it.
func TestMeetPlane(t *testing.T) {
	plane := check.Must(HorizontalPlane(10e-3))
	for _, row := range []struct {
		name string
		from r3.Vec
		d    point
		want bool
	}{
		{"ahead", mm(0, 0), point{0.6, 0.8}, true},
		{"behind", mm(0, 20), point{0.6, 0.8}, false},
		{"beside", mm(0, 0), point{1, 0}, false},
		{"from the plane itself", mm(0, 10), point{0.6, 0.8}, false},
	} {
		path := check.Must(NewPath([]Leg{{Speed: 1}, {Speed: 1}}, []Crossing{{Surface: plane, From: Near}}))
		station := newSection(path).stations[0]
		if got := station.hit(flat(row.from), row.d); got != row.want {
			t.Errorf("%s: met %v, want %v", row.name, got, row.want)
		}
		if row.want && !(math.Abs(station.z-10e-3) <= 1e-15 && math.Abs(station.x-7.5e-3) <= 1e-15) {
			t.Errorf("%s: met at %v, %v m, want 7.5 and 10 mm", row.name, station.x, station.z)
		}
	}
}

// extreme is a stationary time found by a scan.
type extreme struct {
	time  float64
	index int
}

// scan returns the minima and maxima of the time through one surface by values at closely spaced
// points of the surface. It returns only the extremes of rays that exist. It reports whether it is
// sure of them: no ray is close to an obstacle or to another ray.
func scan(p *Path, from, to r3.Vec, u0, u1, step float64) (found []extreme, sure bool) {
	c := p.crossings[0]
	at := func(u float64) float64 { return timeThrough(p, from, to, []float64{u, from.Y}) }
	sure = true
	t0, t1 := at(u0-step), at(u0)
	for u := u0; u < u1; u += step {
		t2 := at(u + step)
		index := 0 // a minimum
		if t1 > t0 {
			index = 1 // a maximum
		}
		turns := (t1 < t0) == (t1 <= t2)
		bend := (t2 - 2*t1 + t0) / (step * step)
		top := t1 - (t2-t0)*(t2-t0)/(8*step*step*bend) // of the parabola through the three
		if turns && math.Abs(bend) < 1e-7 {
			sure = false // two rays merge near here
		}
		t0, t1 = t1, t2
		if !turns {
			continue
		}
		q := c.Surface.At(u, from.Y).P
		worst := math.Inf(-1)
		for i := 1; i < 400; i++ {
			share := float64(i) / 400
			worst = max(worst, c.Surface.Depth(between(from, q, share)))
			if !c.Reflects {
				worst = max(worst, -c.Surface.Depth(between(q, to, share)))
			} else {
				worst = max(worst, c.Surface.Depth(between(q, to, share)))
			}
		}
		if worst > 3e-6 {
			continue
		}
		if worst > -3e-7 {
			sure = false
		}
		found = append(found, extreme{top, index})
	}
	return found, sure
}

// TestRaysAgainstScan compares the rays through random wavy surfaces with the extremes of a fine
// scan of the time over the surface: their number, times and indices.
func TestRaysAgainstScan(t *testing.T) {
	cases := scannedPaths
	if testing.Short() {
		cases = 20
	}
	rng := rand.New(rand.NewPCG(13, 14))
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	several, unsure := 0, 0
	for i := range cases {
		height, pace, phase := within(0, 1e-3), within(200, 900), within(0, 2*math.Pi)
		var points []r3.Vec
		for x := -60e-3; x <= 60e-3; x += 0.5e-3 {
			points = append(points, r3.Vec{X: x, Z: height * math.Sin(pace*x+phase)})
		}
		surface := check.Must(NewProfile(points))
		reflects := rng.IntN(2) == 1
		from := r3.Vec{X: within(-8e-3, 8e-3), Z: -within(8e-3, 20e-3)}
		to := r3.Vec{X: within(-8e-3, 8e-3), Z: within(8e-3, 20e-3)}
		if reflects {
			to.Z = -to.Z
		}
		p := check.Must(NewPath([]Leg{{Speed: within(1000, 7000)}, {Speed: within(1000, 7000)}},
			[]Crossing{{Surface: surface, Reflects: reflects}}))
		p.addWall(0, bound{surface, Near})
		p.addWall(1, bound{surface, p.crossings[0].after()})
		want, sure := scan(p, from, to, -55e-3, 55e-3, 10e-6)
		if !sure {
			unsure++
			continue
		}
		got := check.Must(p.Rays(from, to, &RaysOptions{Step: 50e-6, Reach: 60e-3}))
		inside := got[:0]
		for _, a := range got {
			if math.Abs(a.Points[1].X) < 55e-3 {
				inside = append(inside, a)
			}
		}
		if len(inside) != len(want) {
			t.Errorf("case %d: %d rays, the scan has %d", i, len(inside), len(want))
			continue
		}
		if len(want) > 1 {
			several++
		}
		for _, w := range want {
			best, index := math.Inf(1), -1
			for _, a := range inside {
				if d := math.Abs(a.Time - w.time); d < best {
					best, index = d, a.Index
				}
			}
			if !(best <= 1e-13) || index != w.index {
				t.Errorf("case %d: the scan's time %v s of index %d is %v s off a ray of index %d",
					i, w.time, w.index, best, index)
			}
		}
		for k := 1; k < len(inside); k++ {
			if !(inside[k].Time >= inside[k-1].Time) {
				t.Errorf("case %d: ray %d comes before the one before", i, k)
			}
		}
	}
	t.Logf("%d cases, %d with several rays, %d left out since the scan is not sure",
		cases, several, unsure)
	if several < cases/25 || unsure > cases/10 {
		t.Errorf("%d of %d cases have several rays, %d are unsure", several, cases, unsure)
	}
}

// TestRaysAgainstStarts compares the rays through two and three surfaces with the rays that the
// general solver finds from a lattice of starts on the first and on the last surface. Strongly
// curved surfaces, with skips, have several rays.
func TestRaysAgainstStarts(t *testing.T) {
	cases := startedPaths
	if testing.Short() {
		cases = 40
	}
	rng := rand.New(rand.NewPCG(15, 16))
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	several := 0
	for i := range cases {
		var p *Path
		var from, to r3.Vec
		if i%2 == 0 {
			// Through a surface, off a round back wall.
			radius := within(22e-3, 35e-3)
			entry := check.Must(NewPlane(r3.Vec{}, r3.Vec{X: within(-.05, .05), Z: 1}))
			back := check.Must(NewCylinder(r3.Vec{X: within(-1e-3, 1e-3), Z: 30e-3 - radius}, r3.Vec{Y: 1}, radius, Concave))
			part := within(3000, 6000)
			p = check.Must(NewPath([]Leg{{Speed: within(3000, 6000)}, {Speed: part}, {Speed: part}},
				[]Crossing{{Surface: entry}, {Surface: back, Reflects: true}}))
			from, to = r3.Vec{X: within(-2e-3, 2e-3), Z: -within(8e-3, 20e-3)}, r3.Vec{X: within(-2e-3, 2e-3), Z: within(1e-3, 8e-3)}
		} else {
			var row []r3.Vec
			p, from, row = randomSection(rng)
			to = row[0]
		}
		if !p.startsAt(from) || !p.endsAt(to) {
			continue
		}
		got := check.Must(p.Rays(from, to, &RaysOptions{Reach: 60e-3, Step: 50e-6}))
		if len(got) > 1 {
			several++
		}
		s := newSolver(p)
		s.aim(from, to)
		starts := func(visit func()) {
			for x := -25.0; x <= 25; x += 2.5 {
				for y := -25.0; y <= 25; y += 2.5 {
					for k := range p.crossings {
						at := r3.Vec{X: x * 1e-3, Z: 10e-3 * float64(k)}
						if k > 0 {
							at.X = y * 1e-3
						}
						if i%2 == 0 && k > 0 {
							at.Z = 30e-3
						}
						s.place(k, at)
					}
					visit()
				}
			}
		}
		starts(func() {
			if !s.refine() || s.checkSides() != OK || s.checkWalls() != OK {
				return
			}
			var r Ray
			r.record(s)
			if i%2 == 0 && p.crossings[0].Surface.Depth(r.Points[2]) < 0 {
				return // a reflection off the far half of the circle, above the entry surface
			}
			if w := r3.Norm(r3.Sub(r.Points[2], r.Points[1])); i%2 == 0 && w < 1e-6 {
				return // stuck in the corner of the two surfaces, where a leg has no length
			}
			for _, a := range got {
				if math.Abs(a.Time-r.Time) <= 1e-13 {
					return
				}
			}
			for _, q := range r.Points {
				if r3.Norm(r3.Sub(q, from)) > 55e-3 {
					return
				}
			}
			t.Errorf("case %d: a ray of %v s by way of %v is not among the %d rays",
				i, r.Time, r.Points, len(got))
		})
		for _, a := range got {
			for k := range p.crossings {
				if residual := snellResidual(&a.Ray, k, p.legs[k].Speed, p.legs[k+1].Speed); !(residual*p.legs[k].Speed <= 1e-10) {
					t.Errorf("case %d: Snell's law broken by %g at crossing %d", i, residual, k)
				}
			}
		}
	}
	t.Logf("%d of %d cases have several rays", several, cases)
	if several < cases/25 {
		t.Errorf("only %d of %d cases have several rays", several, cases)
	}
}

func TestRaysErrors(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	modes, _ := parseModes("T")
	p := check.Must(plate.Path(modes))
	skew := check.Must(NewPath([]Leg{{Speed: 1}, {Speed: 1}}, []Crossing{{Surface: check.Must(NewPlane(r3.Vec{}, r3.Vec{Y: 0.1, Z: 1}))}}))
	for _, test := range []struct {
		name     string
		path     *Path
		from, to r3.Vec
		options  *RaysOptions
		words    []string
	}{
		{"start in the part", p, mm(0, 1), mm(0, 2), nil, []string{"the start"}},
		{"end in the wedge", p, mm(0, -1), mm(0, -2), nil, []string{"the end"}},
		{"skew", p, mm(0, -1), r3.Vec{Y: 1, Z: 1}, nil, []string{"y = 1", "one section"}},
		{"skew surface", skew, mm(0, -1), mm(0, 1), nil, []string{"extruded along y"}},
		{"a place on the surface", p, mm(0, 0), mm(0, 0), nil, []string{"to itself", "apart"}},
		{"negative step", p, mm(0, -1), mm(0, 1), &RaysOptions{Step: -1}, []string{"step", "-1"}},
		{"reach of NaN", p, mm(0, -1), mm(0, 1), &RaysOptions{Reach: math.NaN()}, []string{"NaN"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := test.path.Rays(test.from, test.to, test.options)
			check.Error(t, err, test.words...)
		})
	}
	contact := check.Must(check.Must(NewPlate(nil, steel, 16e-3)).Path(modes))
	got := check.Must(contact.Rays(mm(0, 0), mm(3, 4), nil))
	if len(got) != 1 || !(math.Abs(got[0].Time-5e-3/3240) <= 1e-15) || got[0].Index != 0 {
		t.Errorf("in contact: %+v, want one ray of 5 mm", got)
	}
}

// FuzzRays checks that any profile and any ends give stationary rays in order of time, or an error.
func FuzzRays(f *testing.F) {
	f.Add(0.5, 1.0, 0.0, -15.0, 5.0, 20.0, 1480.0, 5900.0)
	f.Add(2.0, 0.3, 3.0, -9.0, 3.0, 8.0, 5900.0, 1480.0)
	f.Add(0.0, 0.1, 0.0, 0.0, 0.0, 0.0, 1.0, 1e9)
	f.Fuzz(func(t *testing.T, height, pace, x0, z0, x1, z1, c0, c1 float64) {
		var points []r3.Vec
		for x := -30.0; x <= 30; x++ {
			points = append(points, mm(x, height*math.Sin(pace*x)))
		}
		surface, err := NewProfile(points)
		if err != nil {
			return
		}
		p, err := NewPath([]Leg{{Speed: c0}, {Speed: c1}}, []Crossing{{Surface: surface}})
		if err != nil {
			return
		}
		rays, err := p.Rays(mm(x0, z0), mm(x1, z1), &RaysOptions{Step: 1e-3, Reach: 0.1})
		if err != nil {
			return
		}
		for i, a := range rays {
			if a.Status != OK || !(a.Time >= 0) || i > 0 && a.Time < rays[i-1].Time {
				t.Fatalf("ray %d: %v, %v s", i, a.Status, a.Time)
			}
		}
	})
}
