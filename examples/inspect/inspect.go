// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/report"
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
	files     outputs
	contents  map[string][]byte // of the files of the flaw record
}

// result holds the envelope of a view and what was found in it.
type result struct {
	view     wedge.View
	shown    *report.View
	envelope *tfm.Envelope // nil if the view shows nothing

	walls       []report.Indication
	indications []sizing.Indication
	explained   []string // name of the echo that explains each indication, empty if none does
	ghosts      []ghost.Ghost
}

// inspect images the capture of the options and writes the results. It writes nothing before all
// results are complete.
func inspect(ctx context.Context, o *options, out, progress io.Writer) error {
	in := &inspection{
		options: o, stages: &stages{out: progress}, files: outputs{folder: o.out}, contents: map[string][]byte{},
	}
	if err := in.files.spare(o.capture); err != nil {
		return fmt.Errorf("-out: %w", err)
	}
	if err := in.open(); err != nil {
		return err
	}
	grids, err := in.grids()
	if err != nil {
		return err
	}
	measured, err := in.measure(ctx, grids)
	if err != nil {
		return err
	}
	s := &summary{Capture: in.name(), Origin: in.origin(), Flaws: newFlawReports(measured.Record)}
	for i := range in.views {
		if err := in.show(ctx, s, measured, i, grids[i]); err != nil {
			return fmt.Errorf("view %v: %w", in.views[i], err)
		}
	}
	s.notes = append(s.notes, outside(in.record.Truth, grids)...)
	if in.record.Weld != nil {
		s.notes = append(s.notes, "images follow the grains of the weld; ghosts, kinds of flaws and uncertainties "+
			"are judged along straight rays in the parent metal")
	}
	if err := in.addTraces(ctx, measured.Record); err != nil {
		return err
	}
	if err := in.write(ctx, s, measured.Record); err != nil {
		return err
	}
	in.print(out, s)
	return nil
}

// measure images and reads all views.
func (in *inspection) measure(ctx context.Context, grids []tfm.Grid) (*report.Measurement, error) {
	settings := &report.Settings{
		Floor: in.options.floor, Background: in.options.background, Reference: in.options.reference,
		FullScale: in.fullScale, Coarse: in.options.coarse, Section: in.options.section,
	}
	if in.options.floor == 0 {
		settings.Lowest = lowestFloor
	}
	for i, v := range in.views {
		settings.Views = append(settings.Views, report.ViewSettings{Name: v.String(), Grid: report.NewGrid(grids[i])})
	}
	m, err := report.Measure(ctx, in.name(), in.record, settings, &report.Options{Progress: in.stages.progress})
	if errors.Is(err, report.ErrCoarse) {
		return nil, fmt.Errorf("-step %.4g: %w, or -coarse to accept it", in.options.step*1e3, err)
	}
	in.stages.end()
	return m, err
}

// show adds a view to a summary, and its picture to the files. A view that shows nothing gives a
// note.
func (in *inspection) show(ctx context.Context, s *summary, m *report.Measurement, i int, g tfm.Grid) error {
	r := &result{view: in.views[i], shown: &m.Record.Views[i], envelope: m.Envelopes[i]}
	if r.shown.Blank {
		s.notes = append(s.notes, fmt.Sprintf("view %v: %v", r.view, report.ErrBlank))
		s.add(r, g)
		return nil
	}
	for _, f := range r.shown.Indications {
		if f.Wall != "" {
			r.walls = append(r.walls, f)
		} else {
			r.indications = append(r.indications, f.Indication)
		}
	}
	if err := in.explain(ctx, r); err != nil {
		return err
	}
	s.add(r, g)
	in.stages.begin("draw " + r.view.String())
	defer in.stages.end()
	var picture bytes.Buffer
	if err := in.draw(&picture, r); err != nil {
		return err
	}
	return in.keep(m.Record, r.view.String()+".png", in.figure(r), in.alternative(r), picture.Bytes())
}

// keep adds a file to the files and to the flaw record.
func (in *inspection) keep(r *report.Record, name, caption, alternative string, content []byte) error {
	r.Files = append(r.Files, report.NewFile(name, caption, alternative, content))
	in.contents[name] = content
	return in.files.add(name, func(w io.Writer) error {
		_, err := w.Write(content)
		return err
	})
}

// write writes all files.
func (in *inspection) write(ctx context.Context, s *summary, r *report.Record) error {
	for _, file := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{"indications.json", s.writeJSON},
		{"indications.csv", s.writeCSV},
		{"flaws.csv", r.WriteCSV},
		{"record.json", r.WriteJSON},
	} {
		if err := in.files.add(file.name, file.write); err != nil {
			return err
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if in.options.page != "" {
		page := func(w io.Writer) error { return r.WritePage(w, in.contents) }
		if err := writeOutput(in.options.page, page); err != nil {
			return fmt.Errorf("-report: %w", err)
		}
	}
	if err := in.files.commit(); err != nil {
		return fmt.Errorf("-out: %w", err)
	}
	return nil
}

// print prints the set-up, the flaws, the table of the indications and the times of the stages.
func (in *inspection) print(w io.Writer, s *summary) {
	fmt.Fprintf(w, "%s: %s\n%s\n", s.Capture, in.title(), in.describe())
	fmt.Fprintf(w, "views: %s, %s\n\n", strings.Join(s.Origin.Views, " and "), in.why)
	s.printFlaws(w)
	fmt.Fprintln(w)
	s.print(w)
	fmt.Fprintln(w)
	in.stages.print(w)
	fmt.Fprintf(w, "\npictures and tables in %s\n", in.options.out)
	if in.options.page != "" {
		fmt.Fprintf(w, "report in %s\n", in.options.page)
	}
}

// name returns the name of the capture.
func (in *inspection) name() string {
	return strings.TrimSuffix(filepath.Base(in.options.capture), ".json")
}

// title returns the title of the capture as one line.
func (in *inspection) title() string { return oneLine(in.record.Title) }

// open reads the capture and chooses the views.
func (in *inspection) open() (err error) {
	in.stages.begin("read")
	defer in.stages.end()
	if in.record, err = npy.ReadFile(in.options.capture, &in.options.reading); err != nil {
		return err
	}
	if in.options.weld != "" {
		if in.record.Weld, err = npy.ReadWeld(in.options.weld); err != nil {
			return fmt.Errorf("-weld: %w", err)
		}
	}
	if in.setup, err = in.record.Geometry(); err != nil {
		return err
	}
	in.fullScale = fullScaleOf(in.record.Capture)
	in.views, in.why = in.options.views, "as -view asks"
	if in.views == nil {
		in.views, in.why = in.record.UsualViews(), reason(in.record)
	}
	return nil
}

// band returns the band of the image.
func (in *inspection) band() tfm.Band {
	c := in.record.Capture
	return tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
}
