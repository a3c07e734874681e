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
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// inspection is one run of the program.
type inspection struct {
	options   *options
	record    *npy.Record
	setup     *wedge.Setup
	fullScale float32 // the modulus at which the receiver clips, 0 if no trace shows one
	views     []wedge.View
	why       string        // reason for the views
	echoes    *ghost.Echoes // made for the first view that has indications
	stages    *stages
}

// result holds the envelope of a view and what was found in it.
type result struct {
	view     wedge.View
	envelope *tfm.Envelope

	reference   float64 // amplitude of 0 dB
	what        string  // name of the reference
	walls       []echo
	indications []sizing.Indication
	explained   []string // name of the echo that explains each indication, empty if none does
	ghosts      []ghost.Ghost
}

// inspect images the capture of the options and writes the results. It writes nothing before all
// results are complete.
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
	for i, v := range in.views {
		if err := in.report(ctx, &r, &files, v, grids[i]); err != nil {
			return fmt.Errorf("view %v: %w", v, err)
		}
	}
	r.notes = append(r.notes, outside(in.record.Truth, grids)...)
	if err := files.Add("indications.json", r.writeJSON); err != nil {
		return err
	}
	if err := files.Add("indications.csv", r.writeCSV); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := files.Commit(); err != nil {
		return fmt.Errorf("-out: %w", err)
	}
	in.print(out, &r)
	return nil
}

// report adds a view to a report, and its picture to the files. A view that shows nothing gives a
// note if another view shows something, and otherwise the error errBlank.
func (in *inspection) report(ctx context.Context, r *report, files *output.Files, v wedge.View,
	g tfm.Grid) error {
	shown, err := in.view(ctx, v, g)
	if errors.Is(err, errBlank) && len(r.notes)+1 < len(in.views) {
		r.notes = append(r.notes, fmt.Sprintf("view %v: %v", v, err))
		r.add(&result{view: v, envelope: &tfm.Envelope{Grid: g}})
		return nil
	}
	if err != nil {
		return err
	}
	if err := in.explain(ctx, shown); err != nil {
		return err
	}
	r.add(shown)
	in.stages.begin("draw " + v.String())
	defer in.stages.end()
	return files.Add(v.String()+".png", func(w io.Writer) error { return in.draw(w, shown) })
}

// print prints the set-up, the table of the indications and the times of the stages.
func (in *inspection) print(w io.Writer, r *report) {
	fmt.Fprintf(w, "%s: %s\n%s\n", r.Capture, in.title(), in.describe())
	fmt.Fprintf(w, "views: %s, %s\n\n", strings.Join(r.Origin.Views, " and "), in.why)
	r.print(w)
	fmt.Fprintln(w)
	in.stages.print(w)
	fmt.Fprintf(w, "\npictures and tables in %s\n", in.options.out)
}

// name returns the name of the capture.
func (in *inspection) name() string {
	return strings.TrimSuffix(filepath.Base(in.options.capture), ".json")
}

// title returns the title of the capture as one line.
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
	in.fullScale = fullScaleOf(in.record.Capture)
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
	options := &sizing.Options{Floor: in.options.floor, Reference: r.reference}
	found, err := sizing.Find(r.envelope, options)
	if err != nil {
		return nil, err
	}
	if r.walls, found, err = in.recognise(ctx, v, found); err != nil {
		return nil, err
	}
	for _, f := range found {
		if in.exceedsBackground(r.envelope, f) {
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
	options := &tfm.Options{Band: in.band(), FullScale: in.fullScale, Progress: in.stages.progress}
	plan, err := tfm.PlanView(ctx, in.record.Capture, in.setup, v.String(), g, options)
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
