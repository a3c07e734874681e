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
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/wedge"
)

// options holds the values of the flags, with lengths in metres.
type options struct {
	capture    string
	weld       string       // file of a weld, empty for the weld of the set-up
	views      []wedge.View // nil: chosen from the set-up
	x, z       *span        // nil: chosen from the set-up
	step       float64
	coarse     bool    // accept a step that may miss peaks
	floor      float64 // dB, below 0
	background float64 // dB, 0 for none
	lowest     float64 // the lowest level of the colours in dB
	reference  report.Reference
	ghosts     string // one of the constants ghosts…
	out        string
	section    bool    // waves spread in a section
	page       string  // name of the file of the page; empty for none
	memory     float64 // bytes
	reading    npy.ReadOptions
}

// span is a range of an axis.
type span struct{ from, to float64 }

const (
	defaultStep       = 0.1 // mm
	lowestFloor       = -30 // dB; of a floor that follows the noise
	defaultBackground = 12  // dB
	defaultRange      = -30 // dB
	defaultMemory     = 4   // GB
	defaultFile       = "testdata/weld32.json"
)

// flags holds the flags as the user gives them.
type flags struct {
	options
	viewNames, xRange, zRange, referenceText string
	stepMM, memoryGB                         float64
}

// declare declares the flags.
func (f *flags) declare(fs *flag.FlagSet) {
	fs.StringVar(&f.capture, "capture", defaultFile,
		"the capture: its `FILE.json`, with the .npy that it names\n"+
			"beside it")
	fs.StringVar(&f.weld, "weld", "",
		"the weld with columnar grains: a `FILE.json` (default: the weld of the set-up, if\n"+
			"it has one). The grains then bend the rays of all views")
	fs.StringVar(&f.viewNames, "view", "",
		"the `views`, separated by commas. A view is a transmit path, a hyphen and a\n"+
			"receive path, with a letter L or T for each leg in the part\n"+
			"(default: from the set-up)")
	fs.StringVar(&f.xRange, "x", "",
		"the `range` along the surface in mm, such as 8:32 (default: from the set-up)")
	fs.StringVar(&f.zRange, "z", "",
		"the `range` in depth in mm, such as 2:17 (default: from the set-up)")
	fs.Float64Var(&f.stepMM, "step", defaultStep,
		"the distance between pixels in `mm`, above 0")
	fs.BoolVar(&f.coarse, "coarse", false,
		"accept a step so coarse that peaks may lie between pixels")
	fs.Float64Var(&f.floor, "floor", 0,
		"the lowest level of an indication in `dB` relative to the reference, below 0\n"+
			"(default: from the noise of each view, -30 at the lowest)")
	fs.Float64Var(&f.background, "background", defaultBackground,
		"the smallest level of an indication in `dB` above the background at its depth,\n"+
			"0 or above; 0 switches the check off")
	fs.Float64Var(&f.lowest, "range", defaultRange,
		"the lowest level that the colours show in `dB`, below 0")
	fs.StringVar(&f.referenceText, "reference", "",
		"the `level` of 0 dB: an amplitude in the unit of the image, such as 1250, or\n"+
			"the position x,z in mm of a reflector in the image, such as 16,15.9\n"+
			"(default: the strongest indication of the view that is no wall)")
	fs.StringVar(&f.ghosts, "ghosts", ghostsExplaining,
		"which predicted `lines` of ghosts the pictures show: explaining for the echoes\n"+
			"that explain an indication, walls for all echoes of surfaces too,\n"+
			"or none")
	fs.StringVar(&f.out, "out", "",
		"the `folder` for the files (default: a folder with the name of the capture,\n"+
			"in the working folder)")
	fs.BoolVar(&f.section, "section", false,
		"the capture is a two-dimensional simulation, such as those of testdata: its\n"+
			"waves spread in a section, and not in space")
	fs.StringVar(&f.page, "report", "",
		"write the flaw list as a page to this `file`, in HTML with all pictures inside")
	fs.BoolVar(&f.reading.AllowImplausible, "implausible", false,
		"image a capture even if values of its set-up are implausible. Such values\n"+
			"probably have a wrong unit")
	fs.Float64Var(&f.memoryGB, "memory", defaultMemory,
		"the largest memory in `GB`, above 0")
}

// parse checks the flags and returns the options.
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
	if err := f.checkNumbers(); err != nil {
		return nil, err
	}
	if !slices.Contains([]string{ghostsExplaining, ghostsWalls, ghostsNone}, o.ghosts) {
		return nil, fmt.Errorf("-ghosts %s: want %s, %s or %s", o.ghosts, ghostsExplaining, ghostsWalls, ghostsNone)
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

// checkNumbers reports the first number that is out of range.
func (f *flags) checkNumbers() error {
	for _, number := range []struct {
		name  string
		value float64
		ok    bool
		want  string
	}{
		{"step", f.stepMM, f.stepMM > 0, "above 0 mm"},
		{"floor", f.floor, f.floor <= 0, "not above 0 dB"},
		{"background", f.background, f.background >= 0, "not below 0 dB"},
		{"range", f.lowest, f.lowest < 0, "below 0 dB"},
		{"memory", f.memoryGB, f.memoryGB > 0, "above 0 GB"},
	} {
		if !number.ok || math.IsInf(number.value, 0) {
			return fmt.Errorf("-%s %v: want a finite value %s",
				number.name, number.value, number.want)
		}
	}
	return nil
}

// parseViews reads names of views, separated by commas. No name gives nil.
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

// parseSpan reads a range in mm, such as 8:32. An empty text gives nil.
func parseSpan(name, text string) (*span, error) {
	if text == "" {
		return nil, nil
	}
	from, to, found := strings.Cut(text, ":")
	a, err1 := strconv.ParseFloat(from, 64)
	b, err2 := strconv.ParseFloat(to, 64)
	if !found || err1 != nil || err2 != nil || !(a < b) || math.IsInf(a, 0) || math.IsInf(b, 0) {
		return nil, fmt.Errorf("-%s %s: want two numbers of mm in ascending order, such as 8:32",
			name, text)
	}
	return &span{a * 1e-3, b * 1e-3}, nil
}
