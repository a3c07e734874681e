// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/wedge"
)

// options are the flags, lengths in metres.
type options struct {
	capture string
	views   []wedge.View
	x, z    *span // nil: chosen from the capture
	step    float64
	floor   float64 // dB
	out     string
}

// span is a range of an axis.
type span struct{ from, to float64 }

const (
	defaultViews = "T-T,TT-T"
	defaultStep  = 0.1 // mm
	defaultFloor = -20 // dB
	defaultFile  = "testdata/weld32.json"
)

func newFlagSet(o *options) (fs *flag.FlagSet, views, x, z *string, step *float64) {
	fs = flag.NewFlagSet("inspect", flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.StringVar(&o.capture, "capture", defaultFile, "the capture: its `FILE.json`, with the .npy that it names beside it")
	views = fs.String("view", defaultViews, "the `views`, separated by commas: a letter L or T a leg in the part,\ntransmit path, hyphen, receive path")
	x = fs.String("x", "", "the `range` along the surface in mm, such as 8:32 (default: from the set-up)")
	z = fs.String("z", "", "the `range` in depth in mm, such as 2:17 (default: from the set-up)")
	step = fs.Float64("step", defaultStep, "the distance of pixels in `mm`, above 0")
	fs.Float64Var(&o.floor, "floor", defaultFloor, "the lowest level of an indication in `dB` from the view's highest peak,\nbelow 0")
	fs.StringVar(&o.out, "out", "", "the `folder` to write to (default: one named after the capture,\nin the working folder)")
	return fs, views, x, z, step
}

// parseFlags reads the arguments. Its error is [flag.ErrHelp], or one line.
func parseFlags(args []string) (*options, error) {
	var o options
	fs, views, x, z, step := newFlagSet(&o)
	if err := fs.Parse(args); err != nil {
		return nil, err
	}
	if fs.NArg() > 0 {
		return nil, fmt.Errorf("argument %q: want flags only; -h lists them", fs.Arg(0))
	}
	var err error
	if o.views, err = parseViews(*views); err != nil {
		return nil, err
	}
	if o.x, err = parseSpan("x", *x); err != nil {
		return nil, err
	}
	if o.z, err = parseSpan("z", *z); err != nil {
		return nil, err
	}
	if !(*step > 0) || math.IsInf(*step, 0) {
		return nil, fmt.Errorf("-step %v: want a finite value above 0 mm", *step)
	}
	o.step = *step * 1e-3
	if !(o.floor < 0) || math.IsInf(o.floor, 0) {
		return nil, fmt.Errorf("-floor %v: want a finite value below 0 dB", o.floor)
	}
	if o.capture == "" {
		return nil, errors.New("-capture: want the name of a file")
	}
	if o.out == "" {
		o.out = strings.TrimSuffix(filepath.Base(o.capture), ".json")
	}
	return &o, nil
}

func parseViews(names string) ([]wedge.View, error) {
	var views []wedge.View
	var seen []string
	for name := range strings.SplitSeq(names, ",") {
		v, err := wedge.ParseView(strings.TrimSpace(name))
		if err != nil {
			return nil, fmt.Errorf("-view %s: %w", names, err)
		}
		if slices.Contains(seen, v.String()) {
			return nil, fmt.Errorf("-view %s: %v comes twice", names, v)
		}
		seen = append(seen, v.String())
		views = append(views, v)
	}
	return views, nil
}

// parseSpan reads a range in mm, such as 8:32; an empty one is nil.
func parseSpan(name, text string) (*span, error) {
	if text == "" {
		return nil, nil
	}
	from, to, found := strings.Cut(text, ":")
	a, err1 := strconv.ParseFloat(from, 64)
	b, err2 := strconv.ParseFloat(to, 64)
	if !found || err1 != nil || err2 != nil || !(a < b) || math.IsInf(a, 0) || math.IsInf(b, 0) {
		return nil, fmt.Errorf("-%s %s: want two numbers of mm in ascending order, such as 8:32", name, text)
	}
	return &span{a * 1e-3, b * 1e-3}, nil
}

// usage returns the text of -h.
func usage() string {
	var b bytes.Buffer
	fmt.Fprint(&b, `Inspect images a capture of an ultrasonic array by the total focusing method and
reports the indications that it finds.

Usage, from the top folder of the project:

  go run ./examples/inspect [flags]

Flags:

`)
	var o options
	fs, _, _, _, _ := newFlagSet(&o)
	fs.SetOutput(&b)
	fs.PrintDefaults()
	fmt.Fprint(&b, `
It prints a table of the indications and the time that each stage took, and writes
into the folder of -out:

  VIEW.png          a picture of each view: levels in dB below the view's highest
                    peak, the surfaces of the part in grey, the reflectors that
                    the set-up tells of in blue, the indications numbered in green
  indications.json  the indications of all views, lengths in m, angles in radians
  indications.csv   the same as a table

A view names the legs inside the part: T-T goes down and comes back directly as a
transverse wave, TT-T skips once off the back wall on the way in, L-L uses the
longitudinal wave. The receiving path is read towards the array.

An indication is numbered from the strongest down. Its level is relative to the
highest peak of its view; its extents are those of the area within 6 dB of its own
peak; its tilt is that of the area's long axis from the vertical, positive where
the top leans to +x.

Sizes from amplitudes are estimates. What to do about an indication is for the code
and the procedure that apply, and for qualified people, to say.

Exit codes: 0 done, 2 bad flags or files.
`)
	return b.String()
}
