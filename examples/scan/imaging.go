// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/examples/internal/scanfile"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// scanned is the scan of a weld.
type scanned struct {
	name     string
	file     *npy.ScanReader
	record   *npy.Record
	setup    *wedge.Setup
	truth    *scanfile.Truth // without flaws if it is not known
	frames   []fmc.Frame     // without samples
	pitch    float64         // from frame to frame, m
	path     scan.Line       // of the array: s is the y of the part
	outlines *joint.Outlines // of the weld
	grid     tfm.Grid
	plans    []*tfm.Plan
	views    []string
}

// open opens a scan and plans its views. The weld is the weld of the invented scan: a single V in the
// thickness of the part, with its centre line 34 mm from the array.
func open(ctx context.Context, o options) (*scanned, error) {
	file, err := npy.OpenScan(o.scan, nil)
	if err != nil {
		return nil, err
	}
	s := &scanned{name: o.scan, file: file, record: file.Record(), frames: file.Frames(), views: strings.Split(o.views, ",")}
	first, last := s.frames[0], s.frames[len(s.frames)-1]
	if s.pitch = (last.Position - first.Position) / float64(last.Index-first.Index); !(s.pitch > 0) {
		return nil, fmt.Errorf("%s: positions %v to %v m: want a scan of at least two frames with ascending positions", o.scan, first.Position, last.Position)
	}
	if s.setup, err = s.record.Geometry(); err != nil {
		return nil, err
	}
	if s.truth, err = scanfile.ReadTruth(o.scan); err != nil {
		return nil, err
	}
	edge := joint.Edge{Upper: joint.Bevel{Angle: 0.5236}} // 30°
	weld, err := joint.Butt{Thickness: s.record.Thickness, Gap: 2 * mm, RootFace: 1 * mm, Left: edge, Right: edge}.Joint()
	if err != nil {
		return nil, err
	}
	if s.outlines, err = weld.Shifted(r2.Vec{X: 34 * mm}).Outlines(0.02 * mm); err != nil {
		return nil, err
	}
	if s.grid, err = tfm.NewSection(24*mm, 44*mm, 0.2*mm, s.record.Thickness+0.2*mm, 0.1*mm); err != nil {
		return nil, err
	}
	for _, view := range s.views {
		plan, err := tfm.PlanView(ctx, s.record.Capture, s.setup, view, s.grid, nil)
		if err != nil {
			return nil, err
		}
		s.plans = append(s.plans, plan)
	}
	return s, nil
}

// check reads all frames once and judges the scan. The gate holds the echo of the back wall below the
// array, which shows the coupling, if the record begins early enough.
func (s *scanned) check(ctx context.Context) (*scan.Report, error) {
	file, err := npy.OpenScan(s.name, nil)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	first, last := s.frames[0], s.frames[len(s.frames)-1]
	options := &scan.Options{Grid: scan.Grid{Along: scan.Axis{From: first.Position, Step: s.pitch, Steps: last.Index - first.Index + 1}}}
	if gate := s.backWall(); s.record.Capture.FirstSample <= gate.From {
		options.Gates = []scan.Gate{{Name: "back wall", Gate: gate}}
	}
	return scan.Check(ctx, file.Next, options)
}

// backWall returns the times of the longitudinal echo of the back wall that the elements receive from
// straight below, with the width of the pulse.
func (s *scanned) backWall() health.Gate {
	c := s.record.Capture
	low, high := c.Array.Elements[0].Z, c.Array.Elements[0].Z
	for _, e := range c.Array.Elements {
		low, high = min(low, e.Z), max(high, e.Z)
	}
	there := 2 * s.record.Thickness / s.record.Part.Longitudinal
	pulse := 2 / c.Array.CentreFrequency
	if s.record.Coupling == nil {
		return health.Gate{From: there - pulse, To: there + pulse}
	}
	v := s.record.Coupling.Longitudinal
	return health.Gate{From: there - 2*high/v - pulse, To: there - 2*low/v + pulse}
}

// source returns the frames from an index to before another index, as int16.
func (s *scanned) source(from, to int) stream.Source {
	next := 0
	return func(ctx context.Context, f *stream.Frame) error {
		for next < len(s.frames) && s.frames[next].Index < from {
			next++
		}
		if next == len(s.frames) || s.frames[next].Index >= to {
			return io.EOF
		}
		samples, err := s.file.Int16(next)
		if err != nil {
			return err
		}
		at := s.frames[next]
		f.Index, f.Time, f.Position, f.Across = at.Index, at.Time, at.Position, at.Across
		f.Int16 = append(f.Int16[:0], samples...)
		next++
		return nil
	}
}

// frame returns a capture of its own with the samples of the frame of an index.
func (s *scanned) frame(index int) (*fmc.Capture, error) {
	file, err := npy.OpenScan(s.name, nil)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	at := slices.IndexFunc(s.frames, func(f fmc.Frame) bool { return f.Index == index })
	f, err := file.Frame(at)
	return f.Capture, err
}

// image images the frames into a stack. Levels are stored in dB relative to one unit of the samples,
// so that they need no calibration.
func (s *scanned) image(ctx context.Context, name string, o stack.Options, progress io.Writer) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
		return err
	}
	layout := &stack.Layout{Frames: s.frames[len(s.frames)-1].Index + 1, Pitch: s.pitch, Values: stack.Int16}
	for _, view := range s.views {
		layout.Views = append(layout.Views, stack.View{Name: view, Reference: 1})
	}
	to := o.To
	if to == 0 {
		to = layout.Frames
	}
	o.Progress = remaining(progress)
	report, err := stack.Image(ctx, name, s.plans, layout, s.source(o.From, to), &o)
	fmt.Fprintf(progress, "\r%40s\r", "")
	if err != nil {
		return err
	}
	if report.Refused > 0 {
		return errors.New("frames were refused: read why in " + name)
	}
	return nil
}

// remaining shows how many frames are done, and the time that the others need.
func remaining(w io.Writer) func(done, frames int) {
	start, shown := time.Now(), time.Now()
	return func(done, frames int) {
		if time.Since(shown) < time.Second/5 {
			return
		}
		shown = time.Now()
		left := time.Since(start) / time.Duration(done) * time.Duration(frames-done)
		fmt.Fprintf(w, "\r%d of %d frames, %.0f s left   ", done, frames, left.Seconds())
	}
}
