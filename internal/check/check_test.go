// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package check

import (
	"errors"
	"math"
	"testing"
)

// recorder is a test that notes whether it was failed.
type recorder struct {
	testing.TB
	failed bool
}

func (r *recorder) Helper()               {}
func (r *recorder) Errorf(string, ...any) { r.failed = true }
func (r *recorder) Fatalf(string, ...any) { r.failed = true }

func TestWithin(t *testing.T) {
	for _, test := range []struct {
		name                 string
		got, want, tolerance float64
		fails                bool
	}{
		{"equal", 1, 1, 0, false},
		{"at the tolerance", 1.5, 1, 0.5, false},
		{"beyond it", 1.5, 1, 0.25, true},
		{"below", 0.5, 1, 0.25, true},
		{"NaN", math.NaN(), 1, math.Inf(1), true},
		{"want of NaN", 1, math.NaN(), 1, true},
	} {
		r := &recorder{TB: t}
		Within(r, test.name, test.got, test.want, test.tolerance)
		if r.failed != test.fails {
			t.Errorf("%s: failed is %v", test.name, r.failed)
		}
	}
}

func TestPrinted(t *testing.T) {
	for _, test := range []struct {
		name    string
		got     float64
		printed string
		fails   bool
	}{
		{"rounds to the digits", 1.2349, "1.23", false},
		{"half a unit of the last digit", 1.225, "1.23", false},
		{"rounds to other digits", 1.2351, "1.23", true},
		{"a whole number", 1482.4, "1482", false},
		{"below 0", -1.2351, "-1.23", true},
		{"NaN", math.NaN(), "1.23", true},
		{"no number", 1.23, "one", true},
	} {
		r := &recorder{TB: t}
		Printed(r, test.name, test.got, test.printed)
		if r.failed != test.fails {
			t.Errorf("%s: failed is %v", test.name, r.failed)
		}
	}
}

func TestError(t *testing.T) {
	for _, test := range []struct {
		name  string
		err   error
		words []string
		fails bool
	}{
		{"all words", errors.New("depth 3 m"), []string{"depth", "3"}, false},
		{"a word is missing", errors.New("depth 3 m"), []string{"depth", "4"}, true},
		{"no error", nil, nil, true},
	} {
		r := &recorder{TB: t}
		func() {
			defer func() { _ = recover() }() // the recorder goes on where Fatalf would end the test
			Error(r, test.err, test.words...)
		}()
		if r.failed != test.fails {
			t.Errorf("%s: failed is %v", test.name, r.failed)
		}
	}
}

func TestMust(t *testing.T) {
	if got := Must(3, nil); got != 3 {
		t.Errorf("%v, want 3", got)
	}
	defer func() {
		if recover() == nil {
			t.Error("no panic on an error")
		}
	}()
	Must(3, errors.New("bad"))
}
