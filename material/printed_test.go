// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// sameAsPrinted reports got unless it rounds to the digits of printed: the
// tolerance is half a unit of the last digit and a hair for the rounding of the
// check itself.
func sameAsPrinted(t *testing.T, what string, got float64, printed string) {
	t.Helper()
	want, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		t.Fatal(err)
	}
	digits := 0
	if _, fraction, ok := strings.Cut(printed, "."); ok {
		digits = len(fraction)
	}
	tol := 0.5*math.Pow10(-digits) + 1e-14*math.Abs(want)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.*f, printed %s", what, digits+2, got, printed)
	}
}

// sameWithin reports got unless it lies within tol of want.
func sameWithin(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, tol)
	}
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
func radians(degrees float64) float64 { return degrees * math.Pi / 180 }
