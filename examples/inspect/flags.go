// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"flag"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/wedge"
)

// options are what the flags ask for, lengths in metres.
type options struct {
	capture    string
	views      []wedge.View // nil: chosen from the set-up
	x, z       *span        // nil: chosen from the set-up
	step       float64
	coarse     bool    // accept a step that may miss peaks
	floor      float64 // dB
	background float64 // dB, 0 for none
	lowest     float64 // the lowest level of the colours in dB
	reference  reference
	out        string
	memory     float64 // bytes
	reading    npy.ReadOptions
}

// span is a range of an axis.
type span struct{ from, to float64 }

const (
	defaultStep       = 0.1 // mm
	defaultFloor      = -20 // dB
	defaultBackground = 12  // dB
	defaultRange      = -30 // dB
	defaultMemory     = 4   // GB
	defaultFile       = "testdata/weld32.json"
)

// flags are the flags as they are given.
type flags struct {
	options
	viewNames, xRange, zRange, referenceText string
	stepMM, memoryGB                         float64
}

func (f *flags) declare(fs *flag.FlagSet) {
	fs.StringVar(&f.capture, "capture", defaultFile, "the capture: its `FILE.json`, with the .npy that it names beside it")
	fs.StringVar(&f.viewNames, "view", "", "the `views`, separated by commas: a letter L or T a leg in the part,\ntransmit path, hyphen, receive path (default: from the set-up)")
	fs.StringVar(&f.xRange, "x", "", "the `range` along the surface in mm, such as 8:32 (default: from the set-up)")
	fs.StringVar(&f.zRange, "z", "", "the `range` in depth in mm, such as 2:17 (default: from the set-up)")
	fs.Float64Var(&f.stepMM, "step", defaultStep, "the distance of pixels in `mm`, above 0")
	fs.BoolVar(&f.coarse, "coarse", false, "accept a step so coarse that peaks may lie between pixels")
	fs.Float64Var(&f.floor, "floor", defaultFloor, "the lowest level of an indication in `dB` from the reference, below 0")
	fs.Float64Var(&f.background, "background", defaultBackground, "the least level of an indication in `dB` above the background at its depth,\nnot below 0; 0 asks for none")
	fs.Float64Var(&f.lowest, "range", defaultRange, "the lowest level that the colours show in `dB`, below 0")
	fs.StringVar(&f.referenceText, "reference", "", "what 0 dB is: a `level` in the unit of the image, such as 1250, or the\nposition x,z in mm of a reflector in the image, such as 16,15.9\n(default: the view's strongest indication that is no wall)")
	fs.StringVar(&f.out, "out", "", "the `folder` to write to (default: one named after the capture,\nin the working folder)")
	fs.BoolVar(&f.reading.AllowImplausible, "implausible", false, "image a capture even if values of its set-up are implausible, and so\nwere probably given in a wrong unit")
	fs.Float64Var(&f.memoryGB, "memory", defaultMemory, "the memory in `GB` that the work may take, above 0")
}

// parse reads the flags.
func (f *flags) parse() (*options, error) {
	o := &f.options
	var err error
	if o.views, err = parseViews(f.viewNames); err != nil {
		return nil, err
	}
	if o.x, err = parseSpan("x", f.xRange); err != nil {
		return nil, err
	}
	if o.z, err = parseSpan("z", f.zRange); err != nil {
		return nil, err
	}
	if o.reference, err = parseReference(f.referenceText); err != nil {
		return nil, err
	}
	for _, number := range []struct {
		name  string
		value float64
		ok    bool
		want  string
	}{
		{"step", f.stepMM, f.stepMM > 0, "above 0 mm"},
		{"floor", o.floor, o.floor < 0, "below 0 dB"},
		{"background", o.background, o.background >= 0, "not below 0 dB"},
		{"range", o.lowest, o.lowest < 0, "below 0 dB"},
		{"memory", f.memoryGB, f.memoryGB > 0, "above 0 GB"},
	} {
		if !number.ok || math.IsInf(number.value, 0) {
			return nil, fmt.Errorf("-%s %v: want a finite value %s", number.name, number.value, number.want)
		}
	}
	o.step, o.memory = f.stepMM*1e-3, f.memoryGB*1e9
	if o.capture == "" {
		return nil, errors.New("-capture: want the name of a file")
	}
	if o.out == "" {
		o.out = strings.TrimSuffix(filepath.Base(o.capture), ".json")
	}
	return o, nil
}

func parseViews(names string) ([]wedge.View, error) {
	if names == "" {
		return nil, nil
	}
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

const about = `
Inspect images a capture of an ultrasonic array by the total focusing method and
reports the indications that it finds.`

const notes = `
It prints a table of the indications and the time that each stage took, and writes
into the folder of -out, all of these files or, on any error, none:

  VIEW.png          a picture of each view: levels in dB, the surfaces of the part
                    in grey, the reflectors that the set-up tells of in blue, the
                    indications numbered in green, echoes of walls in pale grey;
                    where the record holds nothing the picture is plain grey
  indications.json  the indications and the walls of all views, and where they come
                    from; lengths in m, angles in radians
  indications.csv   the indications as a table

A view names the legs inside the part: T-T goes down and comes back directly as a
transverse wave, TT-T skips once off the back wall on the way in, L-L uses the
longitudinal wave. The receiving path is read towards the array. Without -view, an
array whose beam enters the part as a longitudinal wave uses L-L, one beyond the
first critical angle T-T and TT-T.

An indication is numbered from the strongest down. Its extents are those of the area
within 6 dB of its own peak; its tilt is that of the area's long axis from the
vertical, positive where the top leans to +x. The tilt of a spot that is not several beam
widths long is that of the focus, not of a flaw.

An echo counts as that of a wall where the view's rays can be mirrored by the wall
towards the array, and where the 6 dB area lies along the wall within the length of a
pulse. It has a letter W, no number, and does not set 0 dB. A flaw that rises less from
the wall than the pulse is long cannot be told from the wall in such a view: look at
the wall from the side, by T-T or TT-T with a wedge.

An indication has an s where pixels of its area may not show all that lies there: no ray
reaches them, the record ends before their echo, or they lie too far apart.

The background of an indication is the median amplitude within 1.5 mm of its depth,
apart from itself. Of speckle only one spot in 65,000 rises 12 dB above its median.

Sizes from amplitudes are estimates. A spot as small as the beam says nothing about the
size of a smooth crack, of which a tip alone may show. What to do about an indication is
for the code and the procedure that apply, and for qualified people, to say.`
