// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// reference determines 0 dB. The zero value stands for the strongest indication of the view that is
// no wall.
type reference struct {
	level float64     // amplitude in the unit of the image; 0 if not given
	at    *[2]float64 // (x, z) of a reflector in m; nil if not given
}

// parseReference reads the text of -reference.
func parseReference(text string) (r reference, err error) {
	if text == "" {
		return r, nil
	}
	wrong := fmt.Errorf("-reference %s: want a level above 0 in the unit of the image, "+
		"or a position x,z in mm such as 16,15.9", text)
	x, z, position := strings.Cut(text, ",")
	a, err1 := strconv.ParseFloat(x, 64)
	if err1 != nil || math.IsInf(a, 0) || math.IsNaN(a) {
		return r, wrong
	}
	if !position {
		if !(a > 0) {
			return r, wrong
		}
		return reference{level: a}, nil
	}
	b, err2 := strconv.ParseFloat(z, 64)
	if err2 != nil || math.IsInf(b, 0) || math.IsNaN(b) {
		return r, wrong
	}
	return reference{at: &[2]float64{a * 1e-3, b * 1e-3}}, nil
}

// deepest is the lowest level of a reference, in dB relative to the highest peak.
const deepest = -60

// nearby is the largest distance between a peak and the position of -reference, in m.
const nearby = 1e-3

// errBlank is the error of a view that shows nothing.
var errBlank = errors.New("the image is empty: no sample of the record reaches it")

// measureReference returns the amplitude of 0 dB in a view, and the name of the reference.
func (in *inspection) measureReference(ctx context.Context, v wedge.View, e *tfm.Envelope) (
	amplitude float64, what string, err error) {
	r := in.options.reference
	peak, _ := e.Peak()
	if peak == 0 {
		return 0, "", errBlank
	}
	if r.level > 0 {
		return r.level, "a level of " + number(r.level), nil
	}
	if r.at != nil {
		return reflectorAt(e, r.at[0], r.at[1])
	}
	return in.strongest(ctx, v, e)
}

// strongest returns the amplitude of the strongest indication that is no wall. If there is none
// down to the level deepest, it returns the highest peak.
func (in *inspection) strongest(ctx context.Context, v wedge.View, e *tfm.Envelope) (
	amplitude float64, what string, err error) {
	for floor := in.options.floor; ; floor = max(deepest, 2*floor) {
		found, err := sizing.Find(e, &sizing.Options{Floor: floor})
		if err != nil {
			return 0, "", err
		}
		_, rest, err := in.recognise(ctx, v, found)
		if err != nil {
			return 0, "", err
		}
		for _, f := range rest {
			if in.exceedsBackground(e, f) {
				return f.Amplitude, "the strongest indication", nil
			}
		}
		if floor <= deepest {
			peak, _ := e.Peak()
			return float64(peak), "the highest peak, because only walls exceed the background", nil
		}
	}
}

// reflectorAt returns the amplitude of the strongest reflector near a position.
func reflectorAt(e *tfm.Envelope, x, z float64) (amplitude float64, what string, err error) {
	found, err := sizing.Find(e, &sizing.Options{Floor: deepest})
	if err != nil {
		return 0, "", err
	}
	nearest := math.Inf(1)
	for _, f := range found { // the strongest first
		distance := math.Hypot(f.X-x, f.Z-z)
		if distance <= nearby {
			what = fmt.Sprintf("the reflector at x = %.2f mm, z = %.2f mm", f.X*1e3, f.Z*1e3)
			return f.Amplitude, what, nil
		}
		nearest = min(nearest, distance)
	}
	return 0, "", fmt.Errorf("-reference %v,%v: no peak within %v mm of it; the nearest is %.1f mm away",
		x*1e3, z*1e3, nearby*1e3, nearest*1e3)
}

// number returns a number with four digits.
func number(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
