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
	"strings"

	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

// inspection is the work in hand.
type inspection struct {
	options *options
	record  *npy.Record
	setup   *wedge.Setup
	stages  *stages
}

// inspect does what the options ask for.
func inspect(ctx context.Context, o *options, stdout, stderr io.Writer) error {
	in := &inspection{options: o, stages: &stages{out: stderr}}
	if err := in.open(); err != nil {
		return err
	}
	if err := os.MkdirAll(o.out, 0o777); err != nil {
		return fmt.Errorf("-out: %w", err)
	}
	r := report{Capture: in.name()}
	blank := 0
	for _, v := range o.views {
		found, err := in.view(ctx, v)
		if errors.Is(err, errBlank) && blank+1 < len(o.views) {
			// The other views may show something.
			blank++
			r.notes = append(r.notes, fmt.Sprintf("view %v: %v", v, err))
			err = nil
		}
		if err != nil {
			return fmt.Errorf("view %v: %w", v, err)
		}
		r.add(v.String(), found)
	}
	if err := r.write(o.out); err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s: %s\n\n", r.Capture, in.title())
	r.print(stdout)
	fmt.Fprintln(stdout)
	in.stages.print(stdout)
	fmt.Fprintf(stdout, "\npictures and tables in %s\n", o.out)
	return nil
}

// name returns the name of the capture.
func (in *inspection) name() string {
	return strings.TrimSuffix(filepath.Base(in.options.capture), ".json")
}

// title returns the title of the capture on one line.
func (in *inspection) title() string { return strings.Join(strings.Fields(in.record.Title), " ") }

// open reads the capture and lays out the grid.
func (in *inspection) open() (err error) {
	in.stages.begin("read")
	defer in.stages.end()
	if in.record, err = npy.ReadFile(in.options.capture); err != nil {
		return err
	}
	in.setup, err = in.record.Setup.Geometry()
	return err
}

// view images one view, sizes its indications and draws them.
func (in *inspection) view(ctx context.Context, v wedge.View) ([]sizing.Indication, error) {
	g, err := grid(in.options, in.record, v)
	if err != nil {
		return nil, err
	}
	image, err := in.image(ctx, v, g)
	if err != nil {
		return nil, err
	}
	in.stages.begin("size " + v.String())
	envelope := image.Envelope(nil)
	found, err := sizing.Find(envelope, sizing.Options{Floor: in.options.floor})
	in.stages.end()
	if err != nil {
		return nil, err
	}
	in.stages.begin("draw " + v.String())
	defer in.stages.end()
	return found, in.draw(v, envelope, found)
}

// image images one view.
func (in *inspection) image(ctx context.Context, v wedge.View, g tfm.Grid) (*tfm.Image, error) {
	in.stages.begin("times " + v.String())
	transmit, receive, err := in.setup.Paths(v)
	if err != nil {
		return nil, err
	}
	elements, points := in.record.Capture.Array.Elements, g.Points()
	progress := &wedge.TimesOptions{Progress: in.stages.progress}
	tx, err := transmit.Times(ctx, elements, points, progress)
	if err != nil {
		return nil, err
	}
	rx := tx
	if receive != transmit {
		if rx, err = receive.Times(ctx, elements, points, progress); err != nil {
			return nil, err
		}
	}
	in.stages.end()
	in.stages.begin("plan " + v.String())
	plan, err := tfm.NewPlan(in.record.Capture, g, tx, rx, &tfm.Options{Progress: in.stages.progress})
	in.stages.end()
	if err != nil {
		return nil, err
	}
	in.stages.begin("image " + v.String())
	defer in.stages.end()
	return plan.Image(ctx, in.record.Capture)
}

// errBlank is the error of a view that shows nothing at all.
var errBlank = errors.New("the image is empty: no sample of the record reaches it")

// draw writes the picture of one view, down to the floor of the indications or to
// -30 dB, whichever is lower.
func (in *inspection) draw(v wedge.View, envelope *tfm.Envelope, found []sizing.Indication) error {
	peak, _ := envelope.Peak()
	if peak == 0 {
		return errBlank
	}
	levels, err := envelope.Decibels(nil, peak, min(-30, in.options.floor))
	if err != nil {
		return err
	}
	p := picture.Section{
		Title:      fmt.Sprintf("%s: %s, view %v", in.name(), in.title(), v),
		Levels:     levels,
		Part:       outlines(in.setup, envelope.Grid),
		Reflectors: truth(in.record.Setup.Truth),
		Marks:      picture.Marks(found),
	}
	return output.Write(filepath.Join(in.options.out, v.String()+".png"), p.WritePNG)
}
