// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package check holds helpers for the tests of several packages.
package check

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// Must returns v, and panics on an error. It is for values that a test needs but does not test.
func Must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// Within fails the test unless got differs from want by at most tolerance. NaN fails.
func Within(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v ± %v", what, got, want, tolerance)
	}
}

// Printed fails the test unless got rounds to the digits of printed, a number in decimal digits. The
// tolerance is half a unit of the last digit, and 1e-14 of the number for the rounding of the check.
func Printed(t testing.TB, what string, got float64, printed string) {
	t.Helper()
	want, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	_, fraction, _ := strings.Cut(printed, ".")
	if !(math.Abs(got-want) <= 0.5*math.Pow10(-len(fraction))+1e-14*math.Abs(want)) {
		t.Errorf("%s is %.*f, printed %s", what, len(fraction)+2, got, printed)
	}
}

// Error fails the test unless err is an error whose text contains each of the words.
func Error(t testing.TB, err error, words ...string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want one that says %q", words)
	}
	for _, word := range words {
		if !strings.Contains(err.Error(), word) {
			t.Errorf("error %q does not say %q", err, word)
		}
	}
}
