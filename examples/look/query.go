// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// maxQuery is the greatest length of a query in bytes. The longest query of the page has 500.
const maxQuery = 2000

// query reads the values of a request one by one. It keeps the first error.
type query struct {
	values url.Values
	err    error
}

// parseQuery reads the text behind the question mark of an address.
func parseQuery(raw string) *query {
	q := &query{}
	if len(raw) > maxQuery {
		q.err = fmt.Errorf("a query of %d bytes: want at most %d", len(raw), maxQuery)
		return q
	}
	q.values, q.err = url.ParseQuery(raw)
	for name, all := range q.values {
		if q.err == nil && len(all) > 1 {
			q.err = fmt.Errorf("%q stands %d times: want once", name, len(all))
		}
	}
	return q
}

// take returns the text of a name, and removes it.
func (q *query) take(name string) (text string, ok bool) {
	if q.err != nil || !q.values.Has(name) {
		return "", false
	}
	text = q.values.Get(name)
	q.values.Del(name)
	return text, true
}

// number returns the number of a name in a range, or the fallback if the name is missing.
func (q *query) number(name string, fallback, least, most float64) float64 {
	text, ok := q.take(name)
	if !ok {
		return fallback
	}
	v, err := finite(text)
	if err == nil && !(least <= v && v <= most) {
		err = fmt.Errorf("%v: want %.6g to %.6g", v, least, most)
	}
	if err != nil {
		q.err = fmt.Errorf("%s: %w", name, err)
		return fallback
	}
	return v
}

// numbers returns n finite numbers of a name, separated by commas, or nil if the name is missing.
func (q *query) numbers(name string, n int) (all []float64) {
	text, ok := q.take(name)
	if !ok {
		return nil
	}
	parts := strings.Split(text, ",")
	if len(parts) != n {
		q.err = fmt.Errorf("%s: %d numbers: want %d", name, len(parts), n)
		return nil
	}
	for _, part := range parts {
		v, err := finite(part)
		if err != nil {
			q.err = fmt.Errorf("%s: %w", name, err)
			return nil
		}
		all = append(all, v)
	}
	return all
}

// choice returns the text of a name, one of a list, or the first of the list if the name is
// missing.
func (q *query) choice(name string, list []string) string {
	text, ok := q.take(name)
	if !ok {
		return list[0]
	}
	if !slices.Contains(list, text) {
		q.err = fmt.Errorf("%s: %.20q: want one of %s", name, text, strings.Join(list, ", "))
	}
	return text
}

// done returns the first error. A name that nobody read is an error.
func (q *query) done() error {
	if q.err == nil && len(q.values) > 0 {
		for name := range q.values {
			q.err = fmt.Errorf("%.20q: no such value", name)
		}
	}
	return q.err
}

// finite reads a finite number.
func finite(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%.20q: want a number", text)
	}
	return v, nil
}
