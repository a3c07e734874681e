// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// TestWatch takes an invented scan in which gain drifts by 0.8 dB a frame
// from frame 15, element 3 dies at frame 12, and element 7 loses its coupling from frame 20 to 25.
func TestWatch(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name, reason string
		noise, clip  float64
		pairs        []fmc.Pair
		want         []string
	}{
		{"full", "initial pulses tell what is lost", 0.05, 0, nil,
			[]string{"frame 12: dead: element 3", "frame 17: gain drift", "frame 20: uncoupled: element 7", "frame 26: recovered: element 7"}},
		{"half", "so does the half matrix", 0.05, 0, fmc.HalfPairs(10),
			[]string{"frame 12: dead: element 3", "frame 17: gain drift", "frame 20: uncoupled: element 7", "frame 26: recovered: element 7"}},
		{"clipped pulses", "then noise tells the gain", 0.05, 3, nil,
			[]string{"frame 12: dead: element 3", "frame 17: gain drift", "frame 20: uncoupled: element 7", "frame 26: recovered: element 7"}},
		{"no own traces", "then it is not known whether an element is dead or uncoupled", 0.05, 0, others(10),
			[]string{"frame 12: no echo: element 3", "frame 17: gain drift", "frame 20: no echo: element 7", "frame 26: recovered: element 7"}},
		{"neither noise nor own traces", "then nothing tells the gain", 0, 0, others(10),
			[]string{"frame 12: no echo: element 3", "frame 20: no echo: element 7", "frame 26: recovered: element 7"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			if testing.Short() && row.name != "half" {
				t.Skip("one scan is enough for a short run")
			}
			w, err := health.NewWatch(nil)
			if err != nil {
				t.Fatal(err)
			}
			rng := source(31)
			var got []string
			for frame := range 27 {
				faults := make(map[int]fault)
				if frame >= 12 {
					faults[3] = fault{transmit: -1, receive: -1}
				}
				if frame >= 20 && frame <= 25 {
					faults[7] = fault{loss: 0.9}
				}
				c := plate{elements: 10, noise: row.noise, pairs: row.pairs, faults: faults, clip: row.clip}.capture(t, rng)
				gain := math.Pow(10, 0.8*float64(max(0, frame-14))/20)
				for k := range c.Data {
					c.Data[k] *= float32(gain)
				}
				r, err := w.Add(frame, c)
				if err != nil {
					t.Fatal(err)
				}
				for _, f := range r.Findings {
					text := f.String()
					got = append(got, fmt.Sprintf("frame %d: %s", r.Frame, text[:strings.LastIndex(text, ": ")]))
				}
			}
			if diff := cmp.Diff(row.want, got); diff != "" {
				t.Errorf("%s: want (-) and got (+):\n%s", row.reason, diff)
			}
		})
	}
}

// others returns the pairs of different elements.
func others(n int) []fmc.Pair {
	var pairs []fmc.Pair
	for _, p := range fmc.FullPairs(n) {
		if p.Tx != p.Rx {
			pairs = append(pairs, p)
		}
	}
	return pairs
}

// TestWatchSteady wants no finding in a steady scan of the reference captures.
func TestWatchSteady(t *testing.T) {
	t.Parallel()
	names := references
	if !long {
		names = names[:1]
	}
	for i, name := range names {
		c := reference(t, name)
		clean := append([]float32(nil), c.Data...)
		echo := echoPeak(t, name)
		w, err := health.NewWatch(&health.Options{References: 2})
		if err != nil {
			t.Fatal(err)
		}
		rng := source(uint64(60 + i))
		for frame := range 6 {
			for k, v := range clean {
				c.Data[k] = v + float32(0.03*echo*rng.NormFloat64())
			}
			r, err := w.Add(frame, c)
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Findings) > 0 {
				t.Errorf("%s: %v", name, r.Findings)
			}
		}
	}
}

func TestWatchErrors(t *testing.T) {
	for _, o := range []health.Options{{References: -1}, {Limits: health.Limits{GainDrift: math.NaN()}}, {Limits: health.Limits{Lost: -2}}} {
		if _, err := health.NewWatch(&o); err == nil {
			t.Errorf("options %+v were taken", o)
		}
	}
	c := plate{elements: 4, noise: 0.05}.capture(t, source(1))
	other := plate{elements: 5, noise: 0.05}.capture(t, source(1))
	w, err := health.NewWatch(nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Add(4, c); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		frame   int
		capture *fmc.Capture
		want    string
	}{{4, c, "frame 4 after frame 4"}, {5, nil, "no capture"}, {5, other, "25 pairs of 5 elements"}} {
		if _, err := w.Add(row.frame, row.capture); err == nil || !strings.Contains(fmt.Sprint(err), row.want) {
			t.Errorf("error %v: want one with %q", err, row.want)
		}
	}
}
