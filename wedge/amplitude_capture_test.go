// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// holeEcho is the pulse-echo signal of one hole at one element of a reference capture.
type holeEcho struct {
	element  int
	measured complex128 // analytic signal at the time of the hole's near face, phase relative to the pulse
	ray      complex128 // there and back along the ray to its centre
}

// ratio returns the measured amplitude divided by the amplitude of the ray.
func (e holeEcho) ratio() float64 { return cmplx.Abs(e.measured) / cmplx.Abs(e.ray) }

const degree = math.Pi / 180

// holeEchoes returns, for each hole of a reference capture, the pulse-echo signals at the elements
// with a clear echo at the time of the near face of the hole.
func holeEchoes(t *testing.T, name string, mode material.Mode) [][]holeEcho {
	t.Helper()
	r, err := npy.ReadFile("../testdata/"+name+".json", nil)
	if err != nil {
		t.Fatal(err)
	}
	setup, err := r.Geometry()
	if err != nil {
		t.Fatal(err)
	}
	path, err := setup.Path([]material.Mode{mode})
	if err != nil {
		t.Fatal(err)
	}
	array := r.Capture.Array
	axis := r3.Sub(array.Elements[1], array.Elements[0])
	acoustics := setup.Acoustics(path)
	acoustics.Dimension, acoustics.Frequency = wedge.Section, array.CentreFrequency
	acoustics.Source = &wedge.Source{Width: array.Width, Normal: r3.Cross(axis, r3.Vec{Y: 1}), Axis: axis}
	amplitudes, err := wedge.NewAmplitudes(path, acoustics)
	if err != nil {
		t.Fatal(err)
	}
	arrivals, err := calibrate.Pick(r.Capture, &calibrate.PickOptions{Most: 20, Least: 1e-3})
	if err != nil {
		t.Fatal(err)
	}
	speed := setup.Part.Speed(mode)
	var echoes [][]holeEcho
	for _, hole := range r.Truth.Holes {
		var of []holeEcho
		for e, element := range array.Elements {
			ray := path.Solve(element, r3.Vec{X: hole.X, Z: hole.Z})
			a, err := amplitudes.Along(&ray)
			if err != nil {
				t.Fatal(err)
			}
			face := 2 * (ray.Time - hole.Diameter/2/speed)
			stands := func(v calibrate.Arrival) bool {
				return v.Transmit == e && v.Receive == e && math.Abs(v.Time-face) <= 0.04e-6
			}
			if k := slices.IndexFunc(arrivals, stands); k >= 0 {
				phase := cmplx.Phase(analyticAt(t, r.Capture, e, face))
				of = append(of, holeEcho{e, cmplx.Rect(arrivals[k].Amplitude, phase), a.Value() * a.Value()})
			}
		}
		echoes = append(echoes, of)
	}
	return echoes
}

// analyticAt returns the analytic signal of a pulse-echo trace at a time. Its phase is relative to
// a carrier of the centre frequency.
func analyticAt(t *testing.T, c *fmc.Capture, element int, at float64) complex128 {
	t.Helper()
	frequency := c.Array.CentreFrequency
	transform, err := tfm.NewAnalytic(c.Samples, c.SampleRate, tfm.DefaultBand(frequency, c.Array.Bandwidth, c.SampleRate))
	if err != nil {
		t.Fatal(err)
	}
	trace, _ := c.Between(element, element)
	signal := make([]complex64, c.Samples)
	if err := transform.Transform(signal, trace); err != nil {
		t.Fatal(err)
	}
	baseband := func(k int) complex128 {
		return complex128(signal[k]) * cmplx.Exp(complex(0, -2*math.Pi*frequency*(c.Time(k)-at)))
	}
	sample, share := math.Modf((at - c.FirstSample) * c.SampleRate)
	k := int(sample)
	return baseband(k)*complex(1-share, 0) + baseband(k+1)*complex(share, 0)
}

// TestAmplitudesOfHoles compares with the full-wave capture of four equal side-drilled holes, at
// distances from 8 to 31 mm. An echo is the square of the ray amplitude times the backscattering of
// the hole, which is the same for all holes and directions and is not compared. The comparison
// covers the spreading of the rays in two dimensions and the directivity of the elements.
func TestAmplitudesOfHoles(t *testing.T) {
	var levels []float64
	for i, echoes := range holeEchoes(t, "block16", material.L) {
		if len(echoes) < 6 {
			t.Fatalf("hole %d: %d echoes, want at least 6", i, len(echoes))
		}
		levels = append(levels, 20*math.Log10(medianRatio(echoes)))
		t.Logf("hole %d: %.2f dB, median of %d elements", i, levels[i]-levels[0], len(echoes))
	}
	if apart := slices.Max(levels) - slices.Min(levels); !(apart <= 1.5) {
		t.Errorf("amplitudes of the holes miss by up to %.2f dB of each other: want 1.5 dB at most",
			apart)
	}
}

func medianRatio(echoes []holeEcho) float64 {
	var ratios []float64
	for _, e := range echoes {
		ratios = append(ratios, e.ratio())
	}
	return number.Median(ratios)
}

// TestAmplitudesThroughWedge compares with a full-wave capture through a contact wedge: the echo of
// one hole as transverse waves. The rays leave the contact face at angles from 48° to 72°. Their
// amplitudes differ by 13 dB. Their phases differ by 90°, because the contact face is beyond its
// critical angle for longitudinal waves. Beyond element 24 another echo overlaps.
func TestAmplitudesThroughWedge(t *testing.T) {
	echoes := holeEchoes(t, "sdh32", material.T)[0]
	echoes = slices.DeleteFunc(echoes, func(e holeEcho) bool { return e.element > 24 })
	if len(echoes) < 20 {
		t.Fatalf("%d echoes, want at least 20", len(echoes))
	}
	middle := medianRatio(echoes)
	// The analytic signal has the opposite time factor, so its phase is minus the phase of the ray.
	// The phase of the hole remains in the product.
	turn := func(e holeEcho) complex128 { return e.measured * e.ray / complex(cmplx.Abs(e.ray), 0) }
	mean := complex128(0)
	for _, e := range echoes {
		mean += turn(e)
	}
	worst, worstPhase := 0.0, 0.0
	for _, e := range echoes {
		off := 20 * math.Log10(e.ratio()/middle)
		phase := cmplx.Phase(turn(e) / mean)
		worst, worstPhase = max(worst, math.Abs(off)), max(worstPhase, math.Abs(phase))
		if !(math.Abs(off) <= 2) {
			t.Errorf("element %d: amplitude %.2f dB from that of its ray: want within 2 dB",
				e.element, off)
		}
		if !(math.Abs(phase) <= 25*degree) {
			t.Errorf("element %d: phase %.0f° from that of its ray: want within 25°",
				e.element, phase/degree)
		}
	}
	first, last := echoes[0], echoes[len(echoes)-1]
	if change := math.Abs(cmplx.Phase(last.measured / first.measured)); !(change >= 75*degree) {
		t.Errorf("measured phases differ by %.0f° only: the comparison shows nothing",
			change/degree)
	}
	t.Logf("%d elements within %.2f dB and %.0f°", len(echoes), worst, worstPhase/degree)
}
