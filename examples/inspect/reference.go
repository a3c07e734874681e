// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/sizing/report"
)

// parseReference reads the text of -reference.
func parseReference(text string) (r report.Reference, err error) {
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
		return report.Reference{Amplitude: a}, nil
	}
	b, err2 := strconv.ParseFloat(z, 64)
	if err2 != nil || math.IsInf(b, 0) || math.IsNaN(b) {
		return r, wrong
	}
	return report.Reference{At: &[2]float64{a * 1e-3, b * 1e-3}}, nil
}

// number returns a number with four digits.
func number(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
