// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// inspection is the work in hand.
type inspection struct {
	options *options
	record  *npy.Record
	setup   *wedge.Setup
	views   []wedge.View
	why     string // the views were chosen
	stages  *stages
}

// result is what a view shows.
type result struct {
	view     wedge.View
	envelope *tfm.Envelope

	reference   float64 // amplitude of 0 dB
	what        string  // the reference is
	walls       []echo
	indications []sizing.Indication
}

// inspect does what the options ask for. Nothing is written before all is computed.
func inspect(ctx context.Context, o *options, out, progress io.Writer) error {
	in := &inspection{options: o, stages: &stages{out: progress}}
	files := output.Files{Folder: o.out}
	if err := files.Spare(o.capture); err != nil {
		return fmt.Errorf("-out: %w", err)
	}
	if err := in.open(); err != nil {
		return err
	}
	grids, err := in.grids()
	if err != nil {
		return err
	}
	r := report{Capture: in.name(), Origin: in.origin()}
	blank := 0
	for i, v := range in.views {
		shown, err := in.view(ctx, v, grids[i])
		if errors.Is(err, errBlank) && blank+1 < len(in.views) {
			// The other views may show something.
			blank++
			r.notes = append(r.notes, fmt.Sprintf("view %v: %v", v, err))
			r.add(&result{view: v, envelope: &tfm.Envelope{Grid: grids[i]}})
			continue
		}
		if err == nil {
			in.stages.begin("draw " + v.String())
			err = files.Add(v.String()+".png", func(w io.Writer) error { return in.draw(w, shown) })
			in.stages.end()
		}
		if err != nil {
			return fmt.Errorf("view %v: %w", v, err)
		}
		r.add(shown)
	}
	if err := errors.Join(files.Add("indications.json", r.writeJSON), files.Add("indications.csv", r.writeCSV)); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := files.Commit(); err != nil {
		return fmt.Errorf("-out: %w", err)
	}
	fmt.Fprintf(out, "%s: %s\n%s\nviews: %s, %s\n\n", r.Capture, in.title(), in.describe(), strings.Join(r.Origin.Views, " and "), in.why)
	r.print(out)
	fmt.Fprintln(out)
	in.stages.print(out)
	fmt.Fprintf(out, "\npictures and tables in %s\n", o.out)
	return nil
}

// name returns the name of the capture.
func (in *inspection) name() string {
	return strings.TrimSuffix(filepath.Base(in.options.capture), ".json")
}

// title returns the title of the capture on one line.
func (in *inspection) title() string { return command.OneLine(in.record.Title) }

// open reads the capture and chooses the views.
func (in *inspection) open() (err error) {
	in.stages.begin("read")
	defer in.stages.end()
	if in.record, err = npy.ReadFile(in.options.capture, &in.options.reading); err != nil {
		return err
	}
	if in.setup, err = in.record.Geometry(); err != nil {
		return err
	}
	in.views, in.why = in.options.views, "as -view asks"
	if in.views == nil {
		in.views, in.why = chooseViews(in.record)
	}
	return nil
}

// view images one view and sizes its indications.
func (in *inspection) view(ctx context.Context, v wedge.View, g tfm.Grid) (*result, error) {
	r := &result{view: v}
	image, err := in.image(ctx, v, g)
	if err != nil {
		return nil, err
	}
	if err := in.checkCoarse(v, image); err != nil {
		return nil, err
	}
	in.stages.begin("size " + v.String())
	defer in.stages.end()
	r.envelope = image.Envelope(nil)
	if r.reference, r.what, err = in.measureReference(ctx, v, r.envelope); err != nil {
		return nil, err
	}
	found, err := sizing.Find(r.envelope, &sizing.Options{Floor: in.options.floor, Reference: r.reference})
	if err != nil {
		return nil, err
	}
	if r.walls, found, err = in.recognise(ctx, v, found); err != nil {
		return nil, err
	}
	for _, f := range found {
		if in.stands(r.envelope, f) {
			f.ID = len(r.indications) + 1
			r.indications = append(r.indications, f)
		}
	}
	for i := range r.walls {
		r.walls[i].ID = i + 1
	}
	return r, nil
}

// image images one view.
func (in *inspection) image(ctx context.Context, v wedge.View, g tfm.Grid) (*tfm.Image, error) {
	in.stages.begin("plan " + v.String())
	plan, err := tfm.PlanView(ctx, in.record.Capture, in.setup, v.String(), g, &tfm.Options{Band: in.band(), Progress: in.stages.progress})
	in.stages.end()
	if err != nil {
		return nil, err
	}
	in.stages.begin("image " + v.String())
	defer in.stages.end()
	return plan.Image(ctx, in.record.Capture)
}

// band returns the band of the image.
func (in *inspection) band() tfm.Band {
	c := in.record.Capture
	return tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
}
