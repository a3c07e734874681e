// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

// TestWall states wrong sample rates and time zeros for full-wave captures of plates of known
// thickness and speed, at 3 % noise, and wants both measured.
func TestWall(t *testing.T) {
	t.Parallel()
	names := []string{"block16", "notch32"}
	if !long {
		names = names[:1]
	}
	for i, name := range names {
		record, err := npy.ReadFile("../../testdata/"+name+".json", nil)
		if err != nil {
			t.Fatal(err)
		}
		c := record.Capture
		echo := float64(assess(t, c, nil).EchoPeak)
		rng := source(uint64(70 + i))
		for k := range c.Data {
			c.Data[k] += float32(0.03 * echo * rng.NormFloat64())
		}
		options := &health.Options{Wall: health.WallTimes(c, record.Thickness, record.Part.Longitudinal)}
		for _, row := range []struct {
			name        string
			share, late float64 // of the stated rate; of the stated time zero, s
			found       bool
		}{
			{"as it is", 1, 0, false},
			{"rate a quarter too high", 1.25, 0, true},
			{"rate a quarter too low", 0.75, 0, true},
			{"rate a tenth too high", 1.1, 0, true},
			{"time zero late by a microsecond", 1, 1e-6, false},
		} {
			if testing.Short() && row.share == 1 {
				continue
			}
			stated := *c
			stated.SampleRate *= row.share
			stated.FirstSample = c.FirstSample/row.share + row.late
			r := assess(t, &stated, options)
			if got := float64(r.Rate) * row.share; !(math.Abs(got-1) <= 0.03) {
				t.Errorf("%s, %s: rate %v ± %v of the stated one: want %v", name, row.name, r.Rate, r.RateError, 1/row.share)
			}
			// The cosine of the echo is a fifth of a microsecond long.
			if got := float64(r.TimeZero); !(math.Abs(got-row.late) <= 0.25e-6) {
				t.Errorf("%s, %s: time zero %v s: want %v", name, row.name, got, row.late)
			}
			if found := len(r.Findings) > 0 && strings.Contains(r.String(), "sample rate"); found != row.found {
				t.Errorf("%s, %s: finding of the sample rate: %v, want %v", name, row.name, found, row.found)
			}
		}
	}
}

func TestWallErrors(t *testing.T) {
	c := plate{elements: 3, noise: 0.1}.capture(t, source(1))
	for _, times := range [][]float64{{1}, {1, 1, 1, 1, 1, 1, 1, 1, -1}, {1, 1, 1, 1, 1, 1, 1, 1, math.Inf(1)}} {
		if _, err := health.Assess(c, &health.Options{Wall: times}); err == nil || !strings.Contains(err.Error(), "wall") {
			t.Errorf("error %v for times %v: want one of the wall", err, times)
		}
	}
}
