// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"
	"runtime"
	"strconv"
	"strings"
	"sync"
)

// A basis says what kind of outside value a check has.
type basis string

const (
	published  basis = "published"   // printed in a standard, a handbook, a paper, a textbook
	closedForm basis = "closed form" // a formula that the source states, evaluated by hand or below
	identity   basis = "identity"    // a law that holds for all arguments, such as reciprocity
	calculated basis = "calculated"  // by general-purpose numerics outside the library
	fullWave   basis = "full wave"   // a capture of testdata, made without rays
	stated     basis = "stated"      // in a file of the user
)

// A check compares one result of the library with a value from outside the library.
type check struct {
	quantity string
	basis    basis
	source   string // the name of a work in works.go, then the place in the work
	expected string // as the source prints it, in unit
	unit     string // "" for a number without a unit
	// limit is the largest deviation, in unit. 0 stands for half a unit of the last digit of
	// expected: the rounding of the source.
	limit float64
	got   func() (float64, error) // the result of the library, in unit
}

// A group holds the checks of one package.
type group struct {
	title  string // the package and its subject
	checks []check
}

// A row is a check with its outcome.
type row struct {
	check
	value, deviation float64
	allowed          float64 // the limit in force
	err              error
}

// holds reports whether the deviation is within the limit. A deviation of NaN is not.
func (r *row) holds() bool { return r.err == nil && math.Abs(r.deviation) <= r.allowed }

// verdict returns the verdict in one word.
func (r *row) verdict() string {
	if r.holds() {
		return "holds"
	}
	return "FAILS"
}

// section is a group with its outcomes.
type section struct {
	title string
	rows  []row
}

// evaluate computes all checks on all cores. The result does not depend on the number of cores.
func evaluate(groups []group) []section {
	sections := make([]section, len(groups))
	var all []*row
	for i, g := range groups {
		sections[i] = section{g.title, make([]row, len(g.checks))}
		for k, c := range g.checks {
			sections[i].rows[k].check = c
			all = append(all, &sections[i].rows[k])
		}
	}
	var wait sync.WaitGroup
	next := make(chan *row)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for r := range next {
				r.compute()
			}
		})
	}
	for _, r := range all {
		next <- r
	}
	close(next)
	wait.Wait()
	return sections
}

// compute sets the outcome of r.
func (r *row) compute() {
	want, err := strconv.ParseFloat(r.expected, 64)
	if err != nil {
		r.err = fmt.Errorf("expected %q: want a number", r.expected)
		return
	}
	if r.allowed = r.limit; r.allowed == 0 {
		r.allowed = lastDigit(r.expected)/2 + 1e-9*lastDigit(r.expected)
	}
	if r.value, r.err = r.got(); r.err == nil {
		r.deviation = r.value - want
	}
}

// lastDigit returns the value of one unit of the last digit of a printed number.
func lastDigit(printed string) float64 {
	mantissa, exponent, _ := strings.Cut(strings.ToLower(printed), "e")
	power, _ := strconv.Atoi(exponent)
	if _, decimals, ok := strings.Cut(mantissa, "."); ok {
		power -= len(decimals)
	}
	return math.Pow(10, float64(power))
}

// once returns a function that calls f at most once.
func once[T any](f func() (T, error)) func() (T, error) { return sync.OnceValues(f) }

// exactly returns a result that cannot fail.
func exactly(f func() float64) func() (float64, error) {
	return func() (float64, error) { return f(), nil }
}
