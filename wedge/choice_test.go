// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// curvedCase is a strongly curved entry surface under a layer of water, with an element and points.
type curvedCase struct {
	name   string
	path   *Path
	from   r3.Vec
	points []r3.Vec
	// The surface for the search by brute force: points in small steps along it, and the side of a
	// place, positive on the far side.
	along []r3.Vec
	side  func(q r3.Vec) float64
}

// randomCurved returns a random case. The invented radii are from 3 to 30 mm.
func randomCurved(rng *rand.Rand, count int) curvedCase {
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	coupling, part := water, steel
	modes := []material.Mode{material.Mode(rng.IntN(2))}
	if rng.IntN(4) == 0 { // the part is slower
		coupling = material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
		part = material.Isotropic{Density: 950, Longitudinal: within(1600, 2400), Transverse: 1000}
		modes[0] = material.L
	}
	const step = 10e-6
	c := curvedCase{from: r3.Vec{X: within(-8e-3, 8e-3), Z: -within(8e-3, 30e-3)}}
	var entry Surface
	deep := 0.0 // z of the deepest place of the surface
	if kind := rng.IntN(3); kind == 0 {
		c.name = "profile"
		deep = within(0.3e-3, 2e-3)
		pace, phase := within(200, 700), within(0, 2*math.Pi)
		second, turn := within(0, 0.4)*deep, within(0, 2*math.Pi)
		var row []r3.Vec
		for x := -50e-3; x <= 50e-3; x += 0.5e-3 {
			z := deep*math.Sin(pace*x+phase) + second*math.Sin(1.7*pace*x+turn)
			row = append(row, r3.Vec{X: x, Z: z})
		}
		deep += second
		entry = check.Must(NewProfile(row))
		for x := -49e-3; x <= 49e-3; x += step {
			c.along = append(c.along, entry.At(x, 0).P)
		}
		c.side = func(q r3.Vec) float64 { return q.Z - entry.At(q.X, 0).P.Z }
	} else {
		radius, curvature := within(10e-3, 30e-3), Convex
		c.name = "convex cylinder"
		centre := r3.Vec{X: within(-4e-3, 4e-3), Z: radius}
		sign := 1.0
		if kind == 1 {
			c.name, curvature, sign, centre.Z = "concave cylinder", Concave, -1, -radius
			// The element lies in the bore.
			r, turn := radius*math.Sqrt(within(0, 0.8)), within(0, 2*math.Pi)
			c.from = r3.Vec{X: centre.X + r*math.Sin(turn), Z: centre.Z + r*math.Cos(turn)}
		}
		entry = check.Must(NewCylinder(centre, r3.Vec{Y: 1}, radius, curvature))
		for u := -math.Pi * radius; u <= math.Pi*radius+step; u += step {
			c.along = append(c.along, entry.At(u, 0).P)
		}
		c.side = func(q r3.Vec) float64 { return sign * (radius - math.Hypot(q.X-centre.X, q.Z-centre.Z)) }
	}
	setup := &Setup{Coupling: &coupling, Part: part, Entry: entry}
	c.path = check.Must(setup.Path(modes))
	for len(c.points) < count {
		q := r3.Vec{X: within(-15e-3, 15e-3), Z: within(-deep, 40e-3)}
		if c.side(q) > 0.2e-3 {
			c.points = append(c.points, q)
		}
	}
	return c
}

// firstByScan returns the least time of the rays to q through a point of the surface, by a scan of
// the surface for minima and maxima of the time, and the number of rays. The times from the element
// to the points are given. It is unsure where a ray grazes the surface or two rays merge.
func (c *curvedCase) firstByScan(q r3.Vec, before []float64) (first float64, count int, sure bool) {
	first, sure = math.Inf(1), true
	slow := 1 / c.path.legs[1].Speed
	at := func(i int) float64 { return before[i] + slow*r3.Norm(r3.Sub(q, c.along[i])) }
	t0, t1 := at(0), at(1)
	for i := 1; i+1 < len(c.along); i++ {
		t2 := at(i + 1)
		bend := t2 - 2*t1 + t0
		turns := (t1 < t0) == (t1 <= t2)
		top := t1 - (t2-t0)*(t2-t0)/(8*bend)
		merging := math.Abs(bend) < 3e-16 && math.Abs(t2-t0) < 3e-15
		t0, t1 = t1, t2
		if merging {
			sure = false
		}
		if !turns {
			continue
		}
		p := c.along[i]
		worst := math.Inf(-1)
		for k := 1; k < 200; k++ {
			share := float64(k) / 200
			worst = max(worst, c.side(between(c.from, p, share)), -c.side(between(p, q, share)))
		}
		// The sines of the angles between the surface and both legs.
		tangent := r3.Unit(r3.Sub(c.along[i+1], c.along[i-1]))
		grazing := min(r3.Norm(r3.Cross(tangent, r3.Unit(r3.Sub(p, c.from)))),
			r3.Norm(r3.Cross(tangent, r3.Unit(r3.Sub(q, p)))))
		if worst > 3e-6 {
			continue
		}
		if worst > -3e-7 || grazing < 0.03 {
			sure = false
		}
		first = min(first, top)
		count++
	}
	return first, count, sure
}

// TestTimesHoldFirst compares tables over strongly curved surfaces with the least times of a fine
// scan of the surface. No ray that exists is missing, and no later ray takes the place of the first.
func TestTimesHoldFirst(t *testing.T) {
	pairs, each := curvedPairs, 15
	if testing.Short() {
		pairs = 450
	}
	rng := rand.New(rand.NewPCG(101, 102))
	several, later, missing, extra, unsure, moved := 0, 0, 0, 0, 0, 0
	for range pairs / each {
		c := randomCurved(rng, each)
		table := check.Must(c.path.Times(background, []r3.Vec{c.from}, c.points, nil))
		shuffled, order := make([]r3.Vec, each), rng.Perm(each)
		for i, k := range order {
			shuffled[i] = c.points[k]
		}
		other := check.Must(c.path.Times(background, []r3.Vec{c.from}, shuffled, nil))
		before := make([]float64, len(c.along))
		for i, p := range c.along {
			before[i] = r3.Norm(r3.Sub(p, c.from)) / c.path.legs[0].Speed
		}
		for i, k := range order {
			if math.Float32bits(other.Seconds[i]) != math.Float32bits(table.Seconds[k]) {
				moved++
			}
		}
		for i, q := range c.points {
			first, count, sure := c.firstByScan(q, before)
			if !sure {
				unsure++
				continue
			}
			if count > 1 {
				several++
			}
			got := float64(table.Seconds[i])
			switch {
			case count == 0 && !math.IsNaN(got):
				extra++
				t.Logf("%s, %v to %v: %v s, no ray by the scan", c.name, c.from, q, got)
			case count > 0 && math.IsNaN(got):
				missing++
				t.Logf("%s, %v to %v: no ray, %v s by the scan", c.name, c.from, q, first)
			case count > 0 && !(math.Abs(got-first) <= 1e-12+got*0x1p-24):
				later++
				t.Logf("%s, %v to %v: %v s, %v s by the scan of %d rays", c.name, c.from, q, got, first, count)
			}
		}
	}
	t.Logf("%d pairs: %d with several rays, %d unsure; later %d, missing %d, extra %d, moved with the order %d",
		pairs, several, unsure, later, missing, extra, moved)
	if later+missing+extra+moved > 0 || several < pairs/10 || unsure > pairs/10 {
		t.Fail()
	}
}

// acousticsOf returns the acoustics of a case: water on steel.
func acousticsOf(t *testing.T) (setup *Setup, path *Path, a *Amplitudes) {
	t.Helper()
	setup = &Setup{Coupling: &water, Part: steel, Entry: check.Must(NewProfile(waves(1e-3, 500)))}
	path = check.Must(setup.Path([]material.Mode{material.L}))
	return setup, path, check.Must(NewAmplitudes(path, setup.Acoustics(path)))
}

// TestBranches compares the branches under a strongly curved surface with [Path.Rays], which
// searches for each pair by itself, and the strongest and the nearest rays with a choice among them.
func TestBranches(t *testing.T) {
	_, p, amplitudes := acousticsOf(t)
	elements := lineElements(3, 3e-3, -12e-3)
	rng := rand.New(rand.NewPCG(111, 112))
	var points []r3.Vec
	for range 25 {
		points = append(points, mm(20*rng.Float64()-10, 2+18*rng.Float64()))
	}
	branches := check.Must(p.Branches(background, elements, points, nil))
	first := check.Must(p.Times(background, elements, points, nil))
	strongest := check.Must(p.Times(background, elements, points, &TimesOptions{Choice: Strongest(amplitudes)}))
	// The reference is a little later than the first ray, so it is nearest to a later ray somewhere.
	reference := check.Must(p.Times(background, elements, points, nil))
	for i := range reference.Seconds {
		reference.Seconds[i] += 0.3e-6
	}
	nearest := check.Must(p.Times(background, elements, points, &TimesOptions{Choice: Nearest(reference)}))
	for k := 1; k < len(branches.Times); k++ {
		if branches.Times[k].MadeFor.Equal(branches.Times[0].MadeFor) {
			t.Errorf("tables 0 and %d have the same source", k)
		}
	}
	factors := map[int]complex64{0: 1, 1: -1i, 2: -1, 3: 1i} // exp(−iπ/2·index)
	several, weaker, later, folded := 0, 0, 0, 0
	for e, from := range elements {
		for i, q := range points {
			at := e*len(points) + i
			rays := check.Must(p.Rays(from, q, &RaysOptions{Step: 50e-6, Reach: 60e-3}))
			for k, table := range branches.Times {
				v, a := float64(table.Seconds[at]), branches.Amplitudes[k][at]
				if k >= len(rays) {
					if !math.IsNaN(v) || a != 0 {
						t.Errorf("pair %d: ray %d of %v s, amplitude %v; want %d rays", at, k, v, a, len(rays))
					}
					continue
				}
				// Rays of one time may change places.
				if !(math.Abs(v-rays[k].Time) <= 1e-12+v*0x1p-24) || !slices.ContainsFunc(rays, func(r StationaryRay) bool {
					return factors[r.Index] == a && math.Abs(r.Time-v) <= 1e-12+v*0x1p-24
				}) {
					t.Errorf("pair %d, ray %d: %v s, amplitude %v, want %v s, index %d", at, k, v, a, rays[k].Time, rays[k].Index)
				}
				folded += rays[k].Index
			}
			if len(rays) > len(branches.Times) {
				t.Errorf("pair %d: %d rays in %d tables", at, len(rays), len(branches.Times))
			}
			if len(rays) < 2 {
				continue
			}
			several++
			is := func(name string, got float32, want float64) {
				t.Helper()
				if !(math.Abs(float64(got)-want) <= 1e-12+want*0x1p-24) {
					t.Errorf("pair %d, %s: %v s, want %v", at, name, got, want)
				}
			}
			is("first", first.Seconds[at], rays[0].Time)
			strong, near, most := 0, 0, 0.0
			for k := range rays {
				if size := cmplx.Abs(check.Must(amplitudes.Along(&rays[k].Ray)).Value()); size > most {
					strong, most = k, size
				}
				if math.Abs(rays[k].Time-float64(reference.Seconds[at])) < math.Abs(rays[near].Time-float64(reference.Seconds[at])) {
					near = k
				}
			}
			is("strongest", strongest.Seconds[at], rays[strong].Time)
			is("nearest", nearest.Seconds[at], rays[near].Time)
			weaker += min(strong, 1)
			later += min(near, 1)
		}
	}
	if several < 15 || weaker < 3 || later < 3 || folded < 3 {
		t.Errorf("%d pairs with several rays; the strongest is later in %d, the nearest in %d; %d caustics: too few to tell", several, weaker, later, folded)
	}
	if strongest.MadeFor.Equal(first.MadeFor) || nearest.MadeFor.Equal(first.MadeFor) {
		t.Error("tables of other rays say that they hold the first rays")
	}
}

func TestChoiceErrors(t *testing.T) {
	setup, p, amplitudes := acousticsOf(t)
	other := check.Must(setup.Path([]material.Mode{material.T}))
	elements, points := lineElements(2, 1e-3, -10e-3), []r3.Vec{mm(0, 10)}
	table := check.Must(p.Times(background, elements, points, nil))
	times := func(p *Path, points []r3.Vec, c Choice) error {
		_, err := p.Times(background, elements, points, &TimesOptions{Choice: c})
		return err
	}
	check.Error(t, times(other, points, Strongest(amplitudes)), "another path")
	check.Error(t, times(p, []r3.Vec{mm(0, 10), mm(1, 10)}, Nearest(table)), "2 × 1 with 2 times", "want 2 × 2")
	check.Error(t, times(p, points, Strongest(nil)), "no amplitudes")
	check.Error(t, times(p, points, Nearest(nil)), "missing table")
	check.Error(t, times(p, points, Nearest(&Times{Elements: 2, Points: 1})), "0 times")
	check.Error(t, times(p, []r3.Vec{{Y: 1e-3, Z: 10e-3}}, Strongest(amplitudes)), "one y")
	_, err := p.Branches(background, elements, points, &TimesOptions{Directions: true})
	check.Error(t, err, "directions")
	_, err = p.Branches(background, elements, []r3.Vec{{Y: 1e-3, Z: 10e-3}}, nil)
	check.Error(t, err, "one y")
}

// TestNearestIdentity checks what a table of nearest rays was made for: tables nearest to different
// times differ, and the last of a sequence does not keep the tables before it.
func TestNearestIdentity(t *testing.T) {
	_, p, _ := acousticsOf(t)
	elements, points := []r3.Vec{mm(0, -10)}, []r3.Vec{mm(0, 10), mm(5, 12), mm(0, -20)}
	nearest := func(to *Times) *Times {
		return check.Must(p.Times(background, elements, points, &TimesOptions{Choice: Nearest(to)}))
	}
	unknown := func(seconds ...float32) *Times { return check.Must(NewTimes(nil, elements, points, seconds)) }
	nan := float32(math.NaN())
	odd := math.Float32frombits(math.Float32bits(nan) + 1) // another pattern of NaN
	a, b := nearest(unknown(8e-6, 9e-6, nan)), nearest(unknown(20e-6, 30e-6, nan))
	if a.MadeFor.Equal(b.MadeFor) {
		t.Error("tables nearest to different times of an unknown path are equal")
	}
	if again := nearest(unknown(8e-6, 9e-6, odd)); !again.MadeFor.Equal(a.MadeFor) {
		t.Error("tables nearest to the same times differ")
	}
	once := nearest(a)
	if twice := nearest(once); len(fmt.Sprint(twice.MadeFor.Path)) > 2*len(fmt.Sprint(once.MadeFor.Path)) {
		t.Error("a table keeps the table before it")
	}
	if second, third := nearest(once), nearest(nearest(once)); !second.MadeFor.Equal(third.MadeFor) {
		t.Error("tables nearest to equal times differ")
	}
}

// TestBranchesSpread checks that the work for one element is cut into tasks, so that all cores work
// and a context can end it.
func TestBranchesSpread(t *testing.T) {
	p := check.Must(NewPath([]Leg{{Speed: 1500}}, nil))
	ctx, stop := context.WithCancel(background)
	share := 0.0
	_, err := p.Branches(ctx, []r3.Vec{{}}, gridPoints(1, 1, 0.1, 100, 100), &TimesOptions{Workers: 1, Progress: func(s float64) {
		share = s
		stop()
	}})
	if !errors.Is(err, context.Canceled) || !(share > 0 && share < 1) {
		t.Errorf("error %v at a share %v of the work, want %v before all is done", err, share, context.Canceled)
	}
}

// TestBranchesInCircle checks the branches of the rays that a circle reflects; see TestRaysInCircle.
func TestBranchesInCircle(t *testing.T) {
	const radius, d, c = 40e-3, 9e-3, 3240.0
	mirror := check.Must(NewCylinder(r3.Vec{}, r3.Vec{Y: 1}, radius, Concave))
	p := check.Must(NewPath([]Leg{{Speed: c}, {Speed: c}}, []Crossing{{Surface: mirror, From: Near, Reflects: true}}))
	branches := check.Must(p.Branches(background, []r3.Vec{{X: -d}}, []r3.Vec{{X: d}}, nil))
	if len(branches.Times) != 4 {
		t.Fatalf("%d tables, want 4", len(branches.Times))
	}
	for i, table := range branches.Times {
		want, amplitude := 2*radius/c, complex64(1)
		if i >= 2 {
			want, amplitude = 2*math.Hypot(radius, d)/c, -1i // one caustic
		}
		if got := branches.Amplitudes[i][0]; !(math.Abs(float64(table.Seconds[0])-want) <= want*0x1p-23) || got != amplitude {
			t.Errorf("table %d: %v s, amplitude %v; want %v s, %v", i, table.Seconds[0], got, want, amplitude)
		}
	}
	none := check.Must(p.Branches(background, []r3.Vec{{X: -d}}, []r3.Vec{{X: 2 * radius}}, nil))
	if len(none.Times) != 1 || none.Times[0].Missing != 1 || none.Amplitudes[0][0] != 0 {
		t.Errorf("to a point without a ray: %d tables, %d times missing, amplitude %v; want 1, 1, 0",
			len(none.Times), none.Times[0].Missing, none.Amplitudes[0][0])
	}
}

// TestTimesOrder checks that a table has the same bits for any order of the points: where each ray
// starts from its neighbour in a grid, and where it starts from a point anywhere.
func TestTimesOrder(t *testing.T) {
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	wave := &Setup{Coupling: &water, Part: steel, Entry: check.Must(NewProfile(wavy()))}
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	for _, row := range []struct {
		name  string
		setup *Setup
		path  string
	}{{"pipe", pipe, "L"}, {"pipe, skip", pipe, "TT"}, {"profile", wave, "L"}, {"planes", plate, "LT"}} {
		modes, _ := parseModes(row.path)
		p := check.Must(row.setup.Path(modes))
		elements, points := []r3.Vec{mm(-3, -10)}, gridPoints(-6, 2.5, 0.1, 120, 90)
		want := check.Must(p.Times(background, elements, points, nil))
		shuffled, order := make([]r3.Vec, len(points)), rand.New(rand.NewPCG(121, 122)).Perm(len(points))
		for i, k := range order {
			shuffled[i] = points[k]
		}
		got, moved := check.Must(p.Times(background, elements, shuffled, nil)), 0
		for i, k := range order {
			if math.Float32bits(got.Seconds[i]) != math.Float32bits(want.Seconds[k]) {
				moved++
			}
		}
		if moved > 0 || want.Missing > len(points)/2 {
			t.Errorf("%s: %d of %d times change with the order, %d missing", row.name, moved, len(points), want.Missing)
		}
	}
}

// TestUndecided checks which times may round to two float32 values.
func TestUndecided(t *testing.T) {
	below := float32(20e-6)
	middle := (float64(below) + float64(math.Nextafter32(below, 1))) / 2
	w := tracer{doubt: 1e-16}
	for _, row := range []struct {
		time float64
		want bool
	}{{middle, true}, {middle + 0.9e-16, true}, {middle - 0.9e-16, true}, {middle + 1.1e-16, false}, {float64(below), false}} {
		if got := w.undecided(row.time); got != row.want {
			t.Errorf("%v s off the middle: undecided %v, want %v", row.time-middle, got, row.want)
		}
	}
}
