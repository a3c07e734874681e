// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// flawReport is a flaw in indications.json. Uncertainties are half-widths of intervals of 95 %.
type flawReport struct {
	ID          int             `json:"id"`
	Kind        flaw.Kind       `json:"kind"`
	Method      flaw.Method     `json:"method"`
	X           float64         `json:"x_m"` // of the centre
	Z           float64         `json:"z_m"`
	Ends        *[2][2]float64  `json:"ends_m"` // x and z of both ends; null if they are not known
	Length      float64         `json:"length_m"`
	LengthU     float64         `json:"length_u_m"`
	LengthIs    tips.Reading    `json:"length_is"`
	Tilt        float64         `json:"tilt_rad"`
	TiltU       float64         `json:"tilt_u_rad"` // π/2 if the direction is not known
	Views       []string        `json:"views"`
	Indications []flawReference `json:"indications"`
	ExplainedBy string          `json:"explained_by,omitempty"`
}

// flawReference names an indication, or the echo of a wall, of a view.
type flawReference struct {
	View string `json:"view"`
	ID   int    `json:"id"`
}

// newFlawReports returns the flaws of a record.
func newFlawReports(r *report.Record) []flawReport {
	list := []flawReport{}
	for _, f := range r.Flaws {
		one := flawReport{
			ID: f.ID, Kind: f.Kind, Method: f.Method, X: f.X, Z: f.Z, Ends: f.Ends,
			Length: f.Length, LengthU: f.LengthU, LengthIs: f.LengthIs, Tilt: f.Tilt, TiltU: f.TiltU,
			Views: f.Views, ExplainedBy: f.Explained,
		}
		for _, in := range f.Indications {
			one.Indications = append(one.Indications, flawReference{in.View, in.ID})
		}
		list = append(list, one)
	}
	return list
}

// printFlaws writes the table of flaws for people, in millimetres and degrees.
func (r *summary) printFlaws(w io.Writer) {
	if len(r.Flaws) == 0 {
		fmt.Fprintln(w, "no flaws")
		return
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "flaw\tkind\tread from\tx/mm\tz/mm\tlength/mm\ttilt/°\tviews")
	for _, f := range r.Flaws {
		method := string(f.Method)
		if f.Method == flaw.NoMethod || f.Kind == flaw.Geometry {
			method = "-"
		}
		fmt.Fprintf(t, "%d\t%s\t%s\t%.2f\t%.2f\t%s\t%s\t%s\n",
			f.ID, f.Kind, method, f.X*1e3, f.Z*1e3, f.length(), f.tilt(), strings.Join(f.Views, ", "))
	}
	t.Flush()
	for _, f := range r.Flaws {
		if f.ExplainedBy != "" {
			fmt.Fprintf(w, "flaw %d is explained by the %s\n", f.ID, f.ExplainedBy)
		}
	}
	fmt.Fprintln(w, "±: for 95 %, from the picture; errors of speeds, wedge and probe position add to it")
}

// length returns the length of a flaw with its uncertainty.
func (f *flawReport) length() string {
	text := fmt.Sprintf("%.2f ± %.2f", f.Length*1e3, f.LengthU*1e3)
	switch {
	case f.Kind == flaw.Geometry:
		return "-"
	case f.LengthIs == tips.LowerBound:
		return "≥ " + text
	case f.LengthIs == tips.Unresolved:
		return "not resolved"
	}
	return text
}

// tilt returns the tilt of a flaw with its uncertainty.
func (f *flawReport) tilt() string {
	if f.TiltU >= math.Pi/2 || f.Kind == flaw.Geometry {
		return "-"
	}
	return fmt.Sprintf("%.0f ± %.0f", degrees(f.Tilt)+0, degrees(f.TiltU))
}

// addTraces adds the A-scan of a beam through each planar flaw and each point to the files:
// through its strongest indication in the first of its views with one wave on equal paths. The
// beam has this wave and the number of its legs.
func (in *inspection) addTraces(ctx context.Context, r *report.Record) error {
	if in.record.Capture.Events != nil {
		return nil
	}
	in.stages.begin("A-scans")
	defer in.stages.end()
	for i := range r.Flaws {
		f := &r.Flaws[i]
		if f.Kind != flaw.Planar && f.Kind != flaw.Point {
			continue
		}
		for _, name := range f.Views {
			if ok, err := in.addTrace(ctx, r, f, name); err != nil {
				return fmt.Errorf("flaw %d: beam of the A-scan: %w", f.ID, err)
			} else if ok {
				break
			}
		}
	}
	return nil
}

// addTrace adds the A-scan of a flaw in a view. It reports whether there is one.
func (in *inspection) addTrace(ctx context.Context, r *report.Record, f *flaw.Flaw, name string) (bool, error) {
	view, err := wedge.ParseView(name)
	if err != nil {
		return false, err
	}
	mode, legs := view.Transmit[0], len(view.Transmit)
	for _, m := range slices.Concat(view.Transmit, view.Receive) {
		if m != mode {
			return false, nil
		}
	}
	if len(view.Receive) != legs {
		return false, nil
	}
	array := in.record.Capture.Array
	strongest := slices.IndexFunc(f.Indications, func(in flaw.Reference) bool { return in.View == name })
	peak := f.Indications[strongest]
	at := r3.Vec{X: peak.X, Y: array.Elements[0].Y, Z: peak.Z}
	beam, err := ascan.Aim(in.setup, array, ascan.Beam{Mode: mode}, at, legs)
	if errors.Is(err, wedge.ErrNoRay) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	plan, err := ascan.NewPlan(ctx, in.record.Capture, in.setup, []ascan.Beam{beam}, nil)
	if err != nil {
		return false, err
	}
	traces, err := plan.Traces(ctx, in.record.Capture)
	if err != nil {
		return false, err
	}
	text, err := json.Marshal(traces[0])
	if err != nil {
		return false, err
	}
	caption := fmt.Sprintf("A-scan of a beam of all elements through indication %d of view %s, flaw %d: %v wave, leg %d, "+
		"refraction angle %.1f°, focused at the sound path of %.1f mm.", peak.ID, name, f.ID, mode, legs, degrees(beam.Angle), beam.Transmit.SoundPath*1e3)
	alternative := fmt.Sprintf("Amplitude over sound path around the %.1f mm of flaw %d.", beam.Transmit.SoundPath*1e3, f.ID)
	return true, in.keep(r, fmt.Sprintf("flaw-%d.json", f.ID), caption, alternative, text)
}
