// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Conditioning prepares a raw capture for imaging, step by step. It reports saturated traces,
// averages frames, removes the offset, filters, blanks the dead zone and compensates for the
// spreading of the waves. It draws a trace before and after, and both spectra.
//
//	go run ./examples/conditioning
//
// The capture is the block with side-drilled holes of testdata, a full-wave simulation. The added
// faults of the receiver are invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

func main() {
	var out string
	command.Command{
		Name: "conditioning",
		About: "Conditioning prepares a raw capture for imaging. It draws a trace and its spectrum\n" +
			"before and after.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", ".", "the `folder` for the pictures conditioning-*.png")
		},
		Run: func(ctx context.Context, w, _ io.Writer) error {
			return run(ctx, w, "testdata/block16.json", out)
		},
	}.Main()
}

// The pictures show the trace from element tx to element rx.
const tx, rx = 4, 11

func run(ctx context.Context, w io.Writer, name, out string) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	source := newReceiver(record.Capture, 16)
	raw, mean, err := average(ctx, w, source)
	if err != nil {
		return err
	}
	chain, err := steps(mean)
	if err != nil {
		return err
	}
	apply := func(c *fmc.Capture) (trace []float32, err error) {
		conditioned := *c
		conditioned.Data = make([]float32, len(c.Data))
		err = chain.Apply(&conditioned, c)
		trace, _ = conditioned.Between(tx, rx)
		return trace, err
	}
	before, _ := raw.Between(tx, rx)
	after, err := apply(mean)
	if err != nil {
		return err
	}
	// The same steps, on the capture without faults.
	clean, _ := record.Capture.Between(tx, rx)
	want, err := apply(record.Capture)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "trace %d→%d after the dead zone: "+
		"the faults are %.1f dB below the echo of the back wall raw, %.1f dB conditioned\n",
		tx, rx, below(raw, before, clean), below(raw, after, want))
	shown := panels{
		title:  fmt.Sprintf("element %d to element %d, aluminium, 40 mm", tx, rx),
		raw:    raw,
		before: before,
		after:  after,
		chain:  chain,
	}
	if err := shown.write(out); err != nil {
		return err
	}
	for _, name := range []string{tracesName, spectraName} {
		fmt.Fprintln(w, "wrote", filepath.Join(out, name))
	}
	return nil
}

// average returns the first frame of a source, and the mean of all frames. It reports the clipped
// samples of the first frame, because the mean does not show them.
func average(ctx context.Context, w io.Writer, source fmc.FrameSource) (
	raw, mean *fmc.Capture, err error) {
	var sum *condition.Average
	for frame, err := range fmc.Frames(ctx, source) {
		if err != nil {
			return nil, nil, err
		}
		if sum == nil {
			first := *frame.Capture // the source uses its memory again
			first.Data = append([]float32(nil), first.Data...)
			raw = &first
			if sum, err = condition.NewAverage(raw); err != nil {
				return nil, nil, err
			}
			if err := reportSaturation(w, raw); err != nil {
				return nil, nil, err
			}
		}
		if err := sum.Add(frame.Capture); err != nil {
			return nil, nil, err
		}
	}
	average := *raw
	average.Data = make([]float32, len(raw.Data))
	if err := sum.Mean(&average); err != nil {
		return nil, nil, err
	}
	fmt.Fprintf(w, "averaged %d frames: random noise falls by %.1f dB\n",
		sum.Count(), 10*math.Log10(float64(sum.Count())))
	return raw, &average, nil
}

// reportSaturation prints the number of clipped traces, and how many of them are clipped after the
// dead zone, where the echoes are.
func reportSaturation(w io.Writer, raw *fmc.Capture) error {
	clipped, err := condition.AppendSaturations(nil, raw, -fullScale, fullScale)
	if err != nil {
		return err
	}
	echoes := 0
	for _, s := range clipped {
		for k, v := range raw.Trace(s.Index) {
			if raw.Time(k) > deadZone && (v <= -fullScale || v >= fullScale) {
				echoes++
				break
			}
		}
	}
	fmt.Fprintf(w, "%d of %d traces saturated, %d of them after the dead zone\n",
		len(clipped), len(raw.Pairs), echoes)
	return nil
}

// steps returns the chain for captures like c.
func steps(c *fmc.Capture) (*condition.Chain, error) {
	return condition.NewChain(c,
		// The offset is the mean after the last echo.
		condition.OffsetRemoval{From: backWall + 3e-6, To: math.Inf(1)},
		// The default band is the band of the array. The filter spreads clipped samples, so that
		// the window comes after it.
		condition.BandPass{},
		condition.Gain{Start: 2e-6, Spreading: 0.5}, // the simulation has two dimensions
		condition.Window{From: deadZone, To: math.Inf(1), Rise: 0.5e-6},
	)
}
