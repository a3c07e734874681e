// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestDepthErrors compares with an independent calculation: half spacing 50 mm, 5950 m/s, errors of
// 10 ns, 0.5 mm and 20 m/s.
func TestDepthErrors(t *testing.T) {
	p := Pitch{HalfSpacing: 50e-3, Speed: 5950}
	u := Errors{Time: 10e-9, HalfSpacing: 0.5e-3, Speed: 20}
	for _, c := range []struct{ depth, absolute, lateral float64 }{
		{5, 5.289, 0.300}, {10, 2.653, 0.1605}, {20, 1.344, 0.1300},
	} {
		time := p.Time(c.depth*1e-3, 0)
		after := time - 2*p.HalfSpacing/p.Speed
		check.Within(t, "depth, mm", p.Depth(time)*1e3, c.depth, 1e-9)
		check.Within(t, "depth after the lateral wave, mm", p.DepthAfterLateral(after)*1e3, c.depth, 1e-9)
		check.Within(t, "error of the depth, mm", p.DepthError(time, u)*1e3, c.absolute, 5.1e-4)
		check.Within(t, "error after the lateral wave, mm", p.DepthAfterLateralError(after, u)*1e3, c.lateral, 5.1e-4)
	}
}

// TestDepthDerivatives compares the errors of one quantity at a time with finite differences.
func TestDepthDerivatives(t *testing.T) {
	p := Pitch{HalfSpacing: 30e-3, Speed: 5920}
	const depth, share = 8e-3, 1e-6
	time := p.Time(depth, 0)
	after := time - 2*p.HalfSpacing/p.Speed
	faster, wider := p, p
	faster.Speed *= 1 + share
	wider.HalfSpacing *= 1 + share
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"time", p.DepthError(time, Errors{Time: time * share}), p.Depth(time*(1+share)) - depth},
		{"speed", p.DepthError(time, Errors{Speed: p.Speed * share}), faster.Depth(time) - depth},
		{"spacing", p.DepthError(time, Errors{HalfSpacing: p.HalfSpacing * share}), depth - wider.Depth(time)},
		{"time after", p.DepthAfterLateralError(after, Errors{Time: after * share}), p.DepthAfterLateral(after*(1+share)) - depth},
		{"speed after", p.DepthAfterLateralError(after, Errors{Speed: p.Speed * share}), faster.DepthAfterLateral(after) - depth},
		{"spacing after", p.DepthAfterLateralError(after, Errors{HalfSpacing: p.HalfSpacing * share}), wider.DepthAfterLateral(after) - depth},
	} {
		check.Within(t, c.name, c.got/c.want, 1, 2e-4)
	}
}

// TestOffset compares with an independent calculation: a tip at a depth of 10 mm off the middle,
// read as if it were in the middle, for a half spacing of 50 mm.
func TestOffset(t *testing.T) {
	p := Pitch{HalfSpacing: 50e-3, Speed: 5950}
	for _, c := range []struct{ offset, read float64 }{{5, 10.048408}, {10, 10.197726}, {20, 10.864345}} {
		read := p.Depth(p.Time(10e-3, c.offset*1e-3))
		check.Within(t, "depth that is read, mm", read*1e3, c.read, 1e-6)
		check.Within(t, "true depth, mm", p.Locus(read, c.offset*1e-3)*1e3, 10, 1e-9)
	}
}

// TestDeadZones checks the zone at the lateral wave against its definition: the echo at its edge
// starts when the lateral wave ends. At the wall, a tip as far below the wall as the zone is high
// has the time of the end of the wall's echo. The tip whose echo ends when the wall's echo begins
// is a little higher, as the documentation says.
func TestDeadZones(t *testing.T) {
	p := Pitch{HalfSpacing: 40e-3, Speed: 5920}
	const pulse, wall = 0.4e-6, 30e-3
	check.Within(t, "after the lateral wave, µs", (p.Time(p.NearDeadZone(pulse), 0)-2*p.HalfSpacing/p.Speed)*1e6, 0.4, 1e-9)
	zone := p.BackDeadZone(wall, pulse)
	check.Within(t, "after the wall, µs", (p.Time(wall+zone, 0)-p.Time(wall, 0))*1e6, 0.4, 1e-9)
	if free := wall - p.Depth(p.Time(wall, 0)-pulse); !(free > zone && free < 1.2*zone) {
		t.Errorf("height of a tip that is not hidden %v m, want a little above %v m", free, zone)
	}
	if got := p.Depth(13e-6); !math.IsNaN(got) {
		t.Errorf("depth for a time before the lateral wave: %v, want NaN", got)
	}
}

// TestNoAnswer checks that a result without an answer is NaN.
func TestNoAnswer(t *testing.T) {
	p := Pitch{HalfSpacing: 50e-3, Speed: 5950}
	results := map[string]float64{
		"depth before the lateral wave": p.Depth(16e-6),
		"depth at a negative time":      p.Depth(-40e-6),
		"depth by the lateral wave":     p.DepthAfterLateral(-1e-6),
		"depth long before it":          p.DepthAfterLateral(-100e-6),
	}
	for name, bad := range map[string]Pitch{
		"zero": {}, "negative spacing": {-50e-3, 5950}, "negative speed": {50e-3, -5950}, "both negative": {-50e-3, -5950},
		"infinite spacing": {math.Inf(1), 5950}, "speed NaN": {50e-3, math.NaN()},
	} {
		results["time, "+name] = bad.Time(10e-3, 0)
		results["depth, "+name] = bad.Depth(20e-6)
		results["depth after the lateral wave, "+name] = bad.DepthAfterLateral(1e-6)
		results["locus, "+name] = bad.Locus(10e-3, 5e-3)
		results["dead zone at the back, "+name] = bad.BackDeadZone(20e-3, 1e-6)
		results["dead zone in front, "+name] = bad.NearDeadZone(1e-6)
	}
	for name, got := range results {
		if !math.IsNaN(got) {
			t.Errorf("%s: %v, want NaN", name, got)
		}
	}
}
