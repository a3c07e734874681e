// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// plastic is a wedge of an invented plastic.
var plastic = material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}

// legsOf returns the waves of a path: letters L, T and H (for SH).
func legsOf(path string) (modes []material.Mode, first Polarisation, skips []Polarisation) {
	var out []Polarisation
	for _, letter := range path {
		switch letter {
		case 'L':
			modes, out = append(modes, material.L), append(out, qL)
		case 'T':
			modes, out = append(modes, material.T), append(out, qSV)
		default:
			modes, out = append(modes, material.T), append(out, sH)
		}
	}
	return modes, out[0], out[1:]
}

// skipOptions returns options for a path without its first leg.
func skipOptions(path string) (Polarisation, *Options) {
	_, pol, skips := legsOf(path)
	return pol, &Options{Skips: skips, Spacing: 1e-3}
}

// weldOptions returns options for a path in a weld. Few rays leave the region and come back.
func weldOptions(path string) (Polarisation, *Options) {
	pol, options := skipOptions(path)
	options.Region = r2.Box{Min: r2.Vec{X: -65e-3, Y: -1e-3}, Max: r2.Vec{X: 50e-3, Y: 31e-3}}
	return pol, options
}

// TestSkipsIsotropic compares the times of skips in isotropic parts with package wedge: plates, in
// contact and behind a wedge, and a pipe. The grains do not report that their medium is uniform.
func TestSkipsIsotropic(t *testing.T) {
	curves := check.Must(NewSlownessCurves(check.Must(parent.Anisotropic())))
	grain := check.Must(NewGrains(curves, constant(0.4)))
	plain := check.Must(NewIsotropic(parent))
	plate := check.Must(wedge.NewPlate(&plastic, parent, 20e-3))
	contact := check.Must(wedge.NewPlate(nil, parent, 20e-3))
	pipe := check.Must(wedge.NewPipe(&plastic, parent, 150e-3, 20e-3))
	for _, row := range []struct {
		name     string
		setup    *wedge.Setup
		medium   Medium
		from, to r3.Vec
		paths    string
	}{
		{"wedge", plate, plain, mm(-25, -12), mm(18, 9), "TT LT TLL"},
		{"wedge, graded", plate, grain, mm(-25, -12), mm(18, 9), "TT"},
		{"contact", contact, plain, mm(-21, 0), mm(5, 13), "TL TTT"},
		{"contact, back to the element", contact, plain, mm(4, 0), mm(4, 0), "LL"},
		{"pipe", pipe, plain, mm(-25, -12), mm(12, 14), "TT"},
	} {
		p := &Part{Coupling: row.setup.Coupling, Entry: row.setup.Entry, Back: row.setup.Back, Media: []Medium{row.medium}}
		for _, name := range strings.Fields(row.paths) {
			modes, _, _ := legsOf(name)
			want := check.Must(row.setup.Path(modes)).Solve(row.from, row.to)
			pol, options := skipOptions(name)
			rays := check.Must(p.Rays(pol, row.from, row.to, options))
			if len(rays) != 1 || !(math.Abs(rays[0].Time-want.Time) <= 1e-16) {
				t.Errorf("%s, %s: rays %+v, want one with %v s", row.name, name, rays, want.Time)
				continue
			}
			end := len(rays[0].Points) - 1
			for k, q := range want.Points { // the entry and the points of reflection
				if least := nearestOf(rays[0].Points, q); !(least <= 2e-8) {
					t.Errorf("%s, %s: point %d of the ray is %v m away", row.name, name, k, least)
				}
			}
			if gap := distance(rays[0].Points[end], row.to); !(gap <= 2*arrived) {
				t.Errorf("%s, %s: the ray ends %v m from the point", row.name, name, gap)
			}
		}
	}
}

// nearestOf returns the distance of q from the nearest of some places.
func nearestOf(places []r3.Vec, q r3.Vec) float64 {
	least := math.Inf(1)
	for _, p := range places {
		least = min(least, distance(p, q))
	}
	return least
}

// TestSkipsOfUniformMetal compares all rays in a plate of uniform weld metal with a scan over the
// wave normals on the first leg. The energy on the second leg must go from the wall to the point, so
// its waves are known, and one of them must have the same slowness along the wall.
func TestSkipsOfUniformMetal(t *testing.T) {
	const thickness, axis = 20e-3, 1.1
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	p := &Part{Entry: plane(0), Back: plane(thickness), Media: []Medium{check.Must(NewUniform(curves, axis))}}
	several := 0
	for _, row := range []struct {
		path     string
		from, to r3.Vec
	}{
		{"TT", mm(-14, 0), mm(12, 8)},
		{"LT", mm(-14, 0), mm(2, 11)},
		{"TL", mm(-6, 0), mm(14, 12)},
		{"HH", mm(-14, 0), mm(12, 8)},
	} {
		if !long && row.path != "TT" {
			continue
		}
		pol, options := skipOptions(row.path)
		const steps = 2000
		want, _ := snell(steps, func(i int) float64 { return math.Pi * float64(i) / steps }, func(normal float64) (out []scannedWave) {
			speed, direction := curves.group(pol, normal-axis)
			if direction += axis; !(math.Sin(direction) > 0.02) {
				return nil
			}
			wall := r3.Vec{X: row.from.X + thickness/math.Tan(direction), Z: thickness}
			along := math.Cos(normal) / curves.phase(pol, normal-axis)
			time := distance(row.from, wall) / speed
			for _, a := range curves.arrivals(options.Skips[0], math.Atan2(row.to.Z-wall.Z, row.to.X-wall.X)-axis) {
				phase := a.Phase + axis
				out = append(out, scannedWave{
					phase, math.Cos(phase)/curves.phase(options.Skips[0], a.Phase) - along, time + distance(wall, row.to)/a.Speed})
			}
			return out
		})
		rays := check.Must(p.Rays(pol, row.from, row.to, options))
		if len(rays) != len(want) || len(rays) == 0 {
			t.Errorf("%s to %v: %d rays, want %d", row.path, row.to, len(rays), len(want))
			continue
		}
		if len(rays) > 1 {
			several++
		}
		for i, r := range rays {
			if !(math.Abs(r.Time-want[i]) <= 1e-15) {
				t.Errorf("%s to %v: ray %d takes %v s, want %v", row.path, row.to, i, r.Time, want[i])
			}
		}
	}
	if several == 0 && long {
		t.Error("no point has several rays: the test has not met its case")
	}
}

// TestSkipsAreLeastTime compares the first qL skip through a weld with the least sum of two direct
// times: see checkLeastSkip.
func TestSkipsAreLeastTime(t *testing.T) {
	if !long {
		t.Skip("many bent rays")
	}
	checkLeastSkip(t, "LL", mm(-35, 0), mm(6, 14))
}

// checkLeastSkip compares the first ray with the least sum of two direct times, which bending finds:
// from the element to a place on the wall, and from the point to this place.
func checkLeastSkip(t *testing.T, path string, from, to r3.Vec) {
	t.Helper()
	p := weldCase(t, nil, 1)
	pol, options := weldOptions(path)
	options.Tolerance = 1e-13
	rays := check.Must(p.Rays(pol, from, to, options))
	down := *p
	down.Entry = plane(to.Z) // the way back starts here
	direct := &Options{Spacing: 1e-3, Tolerance: 1e-13}
	sum := func(x float64) float64 {
		wall := r3.Vec{X: x, Z: 30e-3}
		return check.Must(p.Ray(pol, from, wall, direct)).Time + check.Must(down.Ray(pol, to, wall, direct)).Time
	}
	least, at := math.Inf(1), 0.0
	for x := from.X; x <= to.X; x += 4e-3 {
		if time := sum(x); time < least {
			least, at = time, x
		}
	}
	for h := 2e-3; h > 1e-5; h /= 4 { // the vertex of a parabola
		before, here, after := sum(at-h), sum(at), sum(at+h)
		at += max(-h, min(h, h/2*(before-after)/(before-2*here+after)))
		least = min(least, sum(at))
	}
	if len(rays) == 0 || !(math.Abs(rays[0].Time-least) <= 1e-12) {
		t.Errorf("%s: rays %v, want first %v s", path, rays, least)
	}
}

// TestInterpolatedSkips compares an interpolated table of skips with the table of single rays.
func TestInterpolatedSkips(t *testing.T) { checkInterpolatedSkips(t, "LL") }

func checkInterpolatedSkips(t *testing.T, path string) {
	t.Helper()
	p := weldCase(t, &plastic, 1)
	pol, options := weldOptions(path)
	g := wedge.Grid{Origin: mm(-6, 8), Step: r3.Vec{X: 2e-3, Y: 1, Z: 2e-3}, Cols: 7, Rows: 8, Slices: 1}
	elements := []r3.Vec{mm(-60, -14)}
	got := check.Must(p.Interpolate(context.Background(), pol, elements, g, &Options{Skips: options.Skips}))
	want := check.Must(p.Times(context.Background(), pol, elements, g.Points(), options))
	served := 0
	for i, s := range want.Seconds {
		if math.IsNaN(float64(s)) {
			continue
		}
		served++
		if !(math.Abs(float64(got.Seconds[i]-s)) <= 0.6e-9) {
			t.Errorf("to %v: %v s, want %v", g.Point(i), got.Seconds[i], s)
		}
	}
	if served < g.Len()*9/10 {
		t.Errorf("only %d of %d points have a time", served, g.Len())
	}
}

func TestSkipErrors(t *testing.T) {
	medium := check.Must(NewIsotropic(parent))
	plate := &Part{Entry: plane(0), Back: plane(20e-3), Media: []Medium{medium}}
	for _, row := range []struct {
		name  string
		part  *Part
		first Polarisation
		skips []Polarisation
		words string
	}{
		{"no back wall", &Part{Entry: plane(0), Media: []Medium{medium}}, qL, []Polarisation{qL}, "back wall"},
		{"unknown wave", plate, qL, []Polarisation{qL, 3}, "skip 1"},
		{"from qSV to SH", plate, qSV, []Polarisation{sH}, "SH after skip 0 of qSV"},
		{"from SH to qL", plate, sH, []Polarisation{qL}, "qL after skip 0 of SH"},
		{"too many", plate, qL, make([]Polarisation, 9), "9 skips"},
		{"too many zones", &Part{Entry: plane(0), Back: plane(20e-3), Media: slices.Repeat([]Medium{medium}, 100),
			Faces: slices.Repeat([]wedge.Surface{plane(9e-3)}, 99)}, qL, []Polarisation{qL, qL}, "100 zones on 3 legs"},
	} {
		_, err := row.part.Rays(row.first, r3.Vec{}, mm(1, 1), &Options{Skips: row.skips})
		t.Run(row.name, func(t *testing.T) { check.Error(t, err, "graded: ", row.words) })
	}
}

// TestSkipAmplitudesIsotropic compares with package wedge, in an isotropic plate behind a wedge and in
// contact. A wedge lies behind the entry surface at a skip off it.
func TestSkipAmplitudesIsotropic(t *testing.T) {
	for _, row := range []struct {
		coupling *material.Isotropic
		from, to r3.Vec
		paths    string
	}{
		{&plastic, mm(-25, -12), mm(18, 9), "TT LT TLT"},
		{nil, mm(-21, 0), mm(5, 13), "TL TTT"},
	} {
		setup := check.Must(wedge.NewPlate(row.coupling, parent, 20e-3))
		p := &Part{Coupling: row.coupling, Entry: setup.Entry, Back: setup.Back,
			Media: []Medium{check.Must(NewIsotropic(parent))}}
		for _, name := range strings.Fields(row.paths) {
			modes, _, _ := legsOf(name)
			path := check.Must(setup.Path(modes))
			ray := path.Solve(row.from, row.to)
			acoustics := setup.Acoustics(path)
			acoustics.Dimension = wedge.Section
			want := check.Must(check.Must(wedge.NewAmplitudes(path, acoustics)).Along(&ray))
			pol, options := skipOptions(name)
			options.Tolerance = 1e-14
			a := amplitudes(t, p, pol, row.from, row.to, &Acoustics{Contact: material.LiquidFilm}, options)[0]
			x, z := displaced(a.Value(), a.Departure, a.Arrival, want.Departure)
			wantX, wantZ := displaced(want.Value(), want.Departure, want.Arrival, want.Departure)
			if !(cmplx.Abs(x-wantX)+cmplx.Abs(z-wantZ) <= 1e-6*cmplx.Abs(want.Value())) || a.Caustics != 0 {
				t.Errorf("%s: displacement (%v, %v), %d caustics, package wedge (%v, %v)", name, x, z, a.Caustics, wantX, wantZ)
			}
		}
	}
}

// TestSkipsReverse checks the way back through a weld: see checkReverse.
func TestSkipsReverse(t *testing.T) {
	if !long {
		t.Skip("large fans")
	}
	if rays := checkReverse(t, weldCase(t, nil, 1), "TT", "TT", 1); rays < 2 {
		t.Errorf("%d rays: the test has not met its case", rays)
	}
}

// checkReverse checks that all rays from place to place on the entry surface, by the back wall, have
// the same times and amplitudes on the way back, apart from the factor scale of amplitudes. It returns
// the number of rays.
func checkReverse(t *testing.T, p *Part, path, way string, scale float64) int {
	t.Helper()
	a, b := mm(-30, 0), mm(26, 0)
	pol, options := weldOptions(path)
	there := amplitudes(t, p, pol, a, b, nil, options)
	pol, options = weldOptions(way)
	back := amplitudes(t, p, pol, b, a, nil, options)
	if len(there) != len(back) {
		t.Fatalf("%s: %d rays there, %d back", path, len(there), len(back))
	}
	for i := range there {
		if !(math.Abs(there[i].Time-back[i].Time) <= 2e-12) {
			t.Errorf("%s: ray %d takes %v s there, %v s back", path, i, there[i].Time, back[i].Time)
		}
		one, other := cmplx.Abs(there[i].Value()), scale*cmplx.Abs(back[i].Value())
		if !(math.Abs(one-other) <= 5e-4*one) || there[i].Caustics != back[i].Caustics {
			t.Errorf("%s: ray %d has %v with %d caustics there, %v with %d back", path, i, one,
				there[i].Caustics, other, back[i].Caustics)
		}
	}
	return len(there)
}

// TestSkipEnergy checks that the reflected waves at the wall of uniform weld metal carry the energy of
// the incident wave: ρ·v_n·A², with the group velocity v_n across the wall.
func TestSkipEnergy(t *testing.T) {
	const axis, thickness = 1.1, 20e-3
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	medium := check.Must(NewUniform(curves, axis))
	p := &Part{Entry: plane(0), Back: plane(thickness), Media: []Medium{medium}}
	m := marcher{}
	for _, pol := range []Polarisation{qL, qSV} {
		for _, launch := range []float64{75 * degrees, 105 * degrees} {
			m.pol = pol
			rate := m.rate(medium, state{angle: launch})
			wall := state{rate.x * thickness / rate.z, thickness, launch}
			along := math.Cos(launch) / medium.Phase(pol, r3.Vec{}, launch).Speed
			energy := 0.0
			for _, other := range []Polarisation{qL, qSV} {
				m.pol = other
				for _, out := range m.transmitted(medium, r3.Vec{}, math.Pi, -along, math.NaN()) {
					leaving := m.rate(medium, state{angle: out})
					to := r3.Vec{X: wall.x - 10e-3*leaving.x/leaving.z, Z: 10e-3}
					options := &Options{Spacing: 1e-3, Skips: []Polarisation{other}, Tolerance: 1e-14}
					for _, a := range amplitudes(t, p, pol, r3.Vec{}, to, nil, options) {
						if r3.Norm(r3.Sub(a.Departure, pol.direction(launch))) > 1e-6 {
							continue // another ray to the point
						}
						r := cmplx.Abs(a.Coefficients[0])
						energy += r * r * -leaving.z / rate.z
						speeds := medium.Phase(other, r3.Vec{}, out).Speed / medium.Phase(pol, r3.Vec{}, launch).Speed
						if want := math.Sqrt(-leaving.z / rate.z / speeds); !(math.Abs(a.Tubes[0]-want) <= 1e-6) {
							t.Errorf("%v as %v: tube %v, want %v", pol, other, a.Tubes[0], want)
						}
					}
				}
			}
			if !(math.Abs(energy-1) <= 1e-6) {
				t.Errorf("%v at %v°: reflected share %v of the energy", pol, launch/degrees, energy)
			}
		}
	}
}

// TestSkipTubes compares J with the distance by which neighbouring rays miss the point, after a skip in
// a weld.
func TestSkipTubes(t *testing.T) {
	p := weldCase(t, &plastic, 1)
	element, points := mm(-60, -14), []r3.Vec{mm(-8, 20), mm(6, 14)}
	pol, options := weldOptions("LT")
	o := check.Must(p.check(pol, []r3.Vec{element}, points, options, true))
	a := newAim(element, newPointIndex(points, &o), &o)
	rays := 0
	for i, q := range points {
		for _, s := range a.fan.rays(a.candidates[i], q) {
			tube := a.fan.begin(&s, new(Acoustics))
			if err := tube.follow(&s); err != nil {
				t.Fatal(err)
			}
			h := 1e-6
			before, _, ok := a.fan.reach(s.chain, s.launch-h, s.time, q, nil)
			after, _, fine := a.fan.reach(s.chain, s.launch+h, s.time, q, nil)
			if !ok || !fine {
				continue
			}
			rays++
			want := (after - before) / (2 * h)
			if got := tube.front(); !(math.Abs(got-want) <= 1e-3*math.Abs(want)) {
				t.Errorf("to %v: J = %v m, by neighbours %v m", q, got, want)
			}
		}
	}
	if rays < 2 {
		t.Errorf("only %d rays", rays)
	}
}
