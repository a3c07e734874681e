// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"io"
	"os"

	"github.com/isochron-imaging/isochron/examples/internal/scanfile"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
)

const mm = 1e-3

// record computes the scan of an invented weld and stores it with the true flaws.
func record(ctx context.Context, o options) error {
	const step, seed, least = 1 * mm, 4, 90 // frames that hold all three flaws
	if o.frames < least {
		return fmt.Errorf("-frames %d: want at least %d", o.frames, least)
	}
	if err := o.another(); err != nil {
		return err
	}
	length := float64(o.frames) * step
	part, recording, err := synth.ButtWeld(o.elements, length, seed)
	if err != nil {
		return err
	}
	// The longitudinal wave that returns from the back wall below the array shows the coupling.
	part.Scene.Walls = [][]material.Mode{{material.L, material.L}}
	const start, longer = 5e-6, 8e-6 // longer: up to the far side of the weld
	recording.Samples += int((recording.FirstSample - start + longer) * recording.SampleRate)
	recording.FirstSample = start
	pass := synth.Pass{
		Positions: synth.Steps(0, step, o.frames),
		Patches:   []synth.Patch{{From: 0.6 * length, To: 0.66 * length, Loss: 9}},
		Noise:     0.002, Bits: 14, Seed: seed,
	}
	scan, err := synth.NewScan(ctx, part, pass, recording)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(o.out, 0o777); err != nil {
		return err
	}
	file, err := scanfile.Record(part, scan, "invented weld, computed from the ray model")
	if err != nil {
		return err
	}
	if err := scanfile.Write(ctx, o.scan, file, without(scan, o.frames*3/10)); err != nil {
		return err
	}
	return scanfile.NewTruth("true flaws of the invented weld", part, pass.Patches).Write(o.scan)
}

// another returns an error if the folder holds another scan with its stack, which a new scan would
// replace without being able to continue the stack.
func (o options) another() error {
	if _, err := os.Stat(o.stackName()); err != nil {
		return nil
	}
	old, err := npy.OpenScan(o.scan, nil)
	if err != nil {
		return nil // no scan, or a damaged one
	}
	defer old.Close()
	frames, elements := old.Frames(), len(old.Record().Capture.Array.Elements)
	if n := frames[len(frames)-1].Index + 1; n != o.frames || elements != o.elements {
		return fmt.Errorf("%s holds %d frames of %d elements, and a stack of them: want another folder, or remove %s", o.scan, n, elements, o.stackName())
	}
	return nil
}

// without returns the frames of a scan without three of them.
func without(scan *synth.Scan, lost int) fmc.FrameSource {
	before, after := scan.Source(0, lost), scan.Source(lost+3, scan.Len())
	return func(ctx context.Context) (fmc.Frame, error) {
		frame, err := before(ctx)
		if err == io.EOF {
			return after(ctx)
		}
		return frame, err
	}
}
