// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// acrylic is a wedge of acrylic, with the speed of a handbook, from memory.
var acrylic = &material.Isotropic{Density: 1180, Longitudinal: 2730}

// TestRaysFromFarEntries compares all rays of random pairs with a dense scan. The scan goes over
// the place of entry and shares nothing with the fan: see scanned. Many of the rays enter far
// beyond the element and the point.
func TestRaysFromFarEntries(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	rng := rand.New(rand.NewPCG(3, 14))
	far, total := 0, 0
	for _, name := range append([]string{"zinc"}, weldMetals...) {
		curves, _ := metal(t, name)
		for range 3 {
			axis := rng.Float64() * math.Pi
			element := r3.Vec{X: -10e-3 + 20e-3*rng.Float64(), Z: -2e-3 - 18e-3*rng.Float64()}
			q := r3.Vec{X: -20e-3 + 40e-3*rng.Float64(), Z: 1e-3 + 29e-3*rng.Float64()}
			p := &Part{Coupling: acrylic, Entry: plane(0),
				Media: []Medium{check.Must(NewUniform(curves, axis))}}
			want, entries := scanned(curves, axis, element, q)
			rays := check.Must(p.Rays(qSV, element, q, nil))
			if len(rays) != len(want) {
				t.Errorf("%s about %v from %v to %v: %d rays, the scan has %v s", name, axis, element,
					q, len(rays), want)
				continue
			}
			total += len(want)
			for i, r := range rays {
				if !(math.Abs(r.Time-want[i]) <= 1e-12) {
					t.Errorf("%s about %v from %v to %v: ray %d takes %v s, want %v", name, axis,
						element, q, i, r.Time, want[i])
				}
				margin := max(math.Abs(element.X-q.X), q.Z) / 10
				if x := entries[i]; x < min(element.X, q.X)-margin ||
					x > max(element.X, q.X)+margin {
					far++
				}
			}
		}
	}
	if total < 12 || far == 0 {
		t.Errorf("%d rays, %d enter far away: the test has not met its case", total, far)
	}
}

// scanned returns the times and the entries of all rays through a plane coupling, by a scan over
// the entry, to 0.4 m on both sides of the point, in steps from 20 µm above the point to 2 mm. For
// each entry the direction of the energy to the point is given, and so are the waves of this
// direction. Snell's law holds where the slowness along the surface is the same on both sides.
func scanned(curves *SlownessCurves, axis float64, element, q r3.Vec) (times, entries []float64) {
	const steps = 2600
	place := func(i int) float64 { return q.X + 5e-3*math.Sinh(5.2*(2*float64(i)/steps-1)) }
	return snell(steps, place, func(x float64) []scannedWave {
		lead := math.Hypot(x-element.X, element.Z)
		along := (x - element.X) / lead / acrylic.Longitudinal
		var out []scannedWave
		length := math.Hypot(q.X-x, q.Z)
		for _, a := range curves.arrivals(qSV, math.Atan2(q.Z, q.X-x)-axis) {
			phase := a.Phase + axis
			out = append(out, scannedWave{phase,
				math.Cos(phase)/curves.phase(qSV, a.Phase) - along,
				lead/acrylic.Longitudinal + length/a.Speed})
		}
		return out
	})
}

// scannedWave is a wave that comes to a point, and the error of Snell's law on its way.
type scannedWave struct{ phase, misfit, time float64 }

// snell returns the times and the places of the waves that obey Snell's law, in the order of
// arrival. It scans the places from 0 to steps. A wave is followed from place to place by its
// phase.
func snell(steps int, place func(i int) float64, waves func(x float64) []scannedWave) (times, places []float64) {
	last := waves(place(0))
	for i := 1; i <= steps; i++ {
		next := waves(place(i))
		for _, a := range last {
			for _, b := range next {
				if math.Abs(math.Remainder(a.phase-b.phase, 2*math.Pi)) > 0.02 ||
					a.misfit*b.misfit > 0 {
					continue
				}
				// The change of sign is halved down to rounding.
				low, high := place(i-1), place(i)
				wa, wb := a, b
				for range 45 {
					m := (low + high) / 2
					var at *scannedWave
					for _, w := range waves(m) {
						if math.Abs(math.Remainder(w.phase-(wa.phase+wb.phase)/2, 2*math.Pi)) <= 0.02 {
							at = &w
						}
					}
					if at == nil {
						break
					}
					if at.misfit*wa.misfit > 0 {
						low, wa = m, *at
					} else {
						high, wb = m, *at
					}
				}
				times, places = append(times, wb.time), append(places, high)
			}
		}
		last = next
	}
	for i := range times { // in the order of arrival
		for j := i; j > 0 && times[j] < times[j-1]; j-- {
			times[j], times[j-1] = times[j-1], times[j]
			places[j], places[j-1] = places[j-1], places[j]
		}
	}
	return times, places
}

// TestRaysThatBowOut checks qL rays of an array in contact with a weld that bow out of the
// rectangle around element and point by more than a tenth. Shooting must find the ray of bending.
func TestRaysThatBowOut(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	curves, _ := metal(t, "weld metal type 308")
	p := check.Must(NewWeld(nil, parent, curves, grainLaw{vee, 1, 1}, veeWeld))
	q := r3.Vec{X: -3e-3, Z: 26e-3}
	for _, x := range []float64{-20e-3, -3e-3, -0.6e-3, 20e-3} {
		element := r3.Vec{X: x} // at ±20 mm on the edge of the weld, which belongs to two zones
		bent := check.Must(p.Ray(qL, element, q, nil))
		rays := check.Must(p.Rays(qL, element, q, nil))
		if len(rays) != 1 || !(math.Abs(rays[0].Time-bent.Time) <= 20e-12) {
			t.Errorf("from %v m: rays %v, bending has %v, %v s", x, rays, bent.Status, bent.Time)
		}
	}
}

// TestLimits checks that a search that ends at a limit says so.
func TestLimits(t *testing.T) {
	curves, _ := metal(t, "weld metal type 308")
	p := &Part{Coupling: acrylic, Entry: plane(0), Media: []Medium{check.Must(NewUniform(curves, 0))}}
	element, q := r3.Vec{Z: -10e-3}, r3.Vec{X: 15e-3, Z: 20e-3}
	narrow := &Options{Region: r2.Box{Min: r2.Vec{X: 14e-3, Y: -1e-3},
		Max: r2.Vec{X: 16e-3, Y: 25e-3}}}
	if r := check.Must(p.Ray(qSV, element, q, narrow)); r.Status != wedge.LimitMet ||
		!math.IsNaN(r.Time) || !errors.Is(r.Status.Err(), wedge.ErrNoRay) {
		t.Errorf("region without the entry: %v, %v s, want %v", r.Status, r.Time, wedge.LimitMet)
	}
	if r := check.Must(p.Ray(qSV, element, q, nil)); r.Status != wedge.OK {
		t.Errorf("default region: %v", r.Status)
	}
	if !long {
		return // the layers take a second
	}
	// A ray through 34 layers crosses more faces than a shot ray may.
	layered := &Part{Entry: plane(0)}
	for i := range 34 {
		layered.Media = append(layered.Media,
			check.Must(NewIsotropic(solid(5900+float64(i), 3200))))
		if i > 0 {
			layered.Faces = append(layered.Faces, plane(0.5e-3*float64(i)))
		}
	}
	deep := r3.Vec{X: 1e-3, Z: 16.7e-3}
	coarse := &Options{Spacing: 2e-3}
	if rays, err := layered.Rays(qL, r3.Vec{}, deep, coarse); !errors.Is(err, ErrLimit) {
		t.Errorf("34 layers: %d rays, error %v, want %v", len(rays), err, ErrLimit)
	}
	if _, err := layered.Times(context.Background(), qSV, []r3.Vec{{}}, []r3.Vec{deep},
		coarse); !errors.Is(err, ErrLimit) {
		t.Errorf("table through 34 layers: error %v, want %v", err, ErrLimit)
	}
}
