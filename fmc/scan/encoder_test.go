// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"github.com/isochron-imaging/isochron/internal/check"
)

func TestEncoder(t *testing.T) {
	e := Encoder{CountsPerMetre: -10e3, Zero: 500} // 0.1 mm a count, counts fall
	for count, want := range map[int64]float64{500: 0, 400: 10e-3, 510: -1e-3} {
		check.Within(t, "position", check.Must(e.Positions([]int64{count}))[0], want, 1e-15)
	}
}

// TestEncoderBacklash: rows worked by hand, at 1 mm a count and 2.5 mm of backlash.
func TestEncoderBacklash(t *testing.T) {
	tests := []struct {
		name   string
		sign   float64
		counts []int64
		want   []float64 // mm
	}{
		{"forward", 1, []int64{0, 1, 1, 3}, []float64{0, 1, 1, 3}},
		{"a reversal", 1, []int64{0, 5, 5, 4, 3}, []float64{0, 5, 5, 1.5, 0.5}},
		{"and forward again", 1, []int64{0, 5, 4, 5, 6}, []float64{0, 5, 1.5, 5, 6}},
		{"begins backward", 1, []int64{0, -1, -1, 1}, []float64{0, -1, -1, 3.5}},
		{"counts fall", -1, []int64{0, -5, -4}, []float64{0, 5, 1.5}},
		{"stands still", 1, []int64{7, 7}, []float64{7, 7}},
		{"none", 1, nil, []float64{}},
	}
	for _, test := range tests {
		e := Encoder{CountsPerMetre: test.sign * 1e3, Backlash: 2.5e-3}
		got, err := e.Positions(test.counts)
		if err != nil {
			t.Fatal(err)
		}
		for i := range got {
			got[i] *= 1e3
		}
		if diff := cmp.Diff(test.want, got, cmpopts.EquateApprox(0, 1e-9)); diff != "" {
			t.Errorf("%s: positions (-want +got):\n%s", test.name, diff)
		}
	}
}

// TestEncoderPlay: an array moves at random, and the encoder follows it with play (the hysteresis
// of a gear). The position is within a count of the truth while the encoder follows, and within the
// play while it does not.
func TestEncoderPlay(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const play, count = 1e-3, 0.1e-3
	e := Encoder{CountsPerMetre: 1 / count, Backlash: play}
	truth, shaft, velocity := 0.0, 0.0, 1.0
	var truths []float64
	var counts []int64
	for i := range 2000 {
		if i > 5 && rng.Float64() < 0.02 {
			velocity = -velocity
		}
		truth += velocity * 0.2e-3
		shaft = min(max(shaft, truth), truth+play) // pushed forward by the front, back by the back
		truths = append(truths, truth)
		counts = append(counts, int64(math.Round(shaft/count)))
	}
	follows := 0
	for i, got := range check.Must(e.Positions(counts)) {
		tolerance := play + count
		if i > 0 && counts[i] != counts[i-1] {
			tolerance = count
			follows++
		}
		if !(math.Abs(got-truths[i]) <= tolerance) {
			t.Fatalf("reading %d: %v m, want %v m within %v m", i, got, truths[i], tolerance)
		}
	}
	if follows < 1000 {
		t.Errorf("the encoder follows in %d readings only", follows)
	}
}

func TestEncoderRefuses(t *testing.T) {
	good := Encoder{CountsPerMetre: 1e3}
	for _, test := range []struct {
		e    Encoder
		want string
	}{
		{Encoder{}, "0 counts per metre"},
		{Encoder{CountsPerMetre: math.NaN()}, "NaN counts per metre"},
		{Encoder{CountsPerMetre: math.Inf(-1)}, "-Inf counts per metre"},
		{Encoder{CountsPerMetre: 1e3, Backlash: -1}, "backlash -1 m"},
		{Encoder{CountsPerMetre: 1e3, Backlash: math.NaN()}, "backlash NaN m"},
	} {
		_, err := test.e.Positions(nil)
		check.Error(t, err, test.want)
	}
	_, err := good.Positions([]int64{math.MaxInt64})
	check.Error(t, err, "count 9223372036854775807")
	_, err = good.Positions([]int64{1, math.MinInt64})
	check.Error(t, err, "count -9223372036854775808", "reading 1")
}
