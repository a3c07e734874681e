// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/sizing/thickness"
)

// ThicknessMap returns the picture of a map of thicknesses in mm: X of a point is the position s
// along the scan, and Y is x along the array. Its colours run from the least to the largest
// thickness that counts. Cells without such a thickness have the name of their state as a reason;
// the names after the fifth are "other". The rows and the columns of the map are evenly spaced,
// two of each at least, and one thickness counts at least.
//
// The caller may set Title, Caption, Low, High, Reflectors and Marks.
func ThicknessMap(m *thickness.Map) (*Map, error) {
	if m == nil {
		return nil, errors.New("picture: no thicknesses, nil: want a map")
	}
	if len(m.Readings) != len(m.S)*len(m.X) {
		return nil, fmt.Errorf("picture: %d readings in %d rows and %d columns: want one a cell", len(m.Readings), len(m.S), len(m.X))
	}
	s, err := pitch("S", m.S)
	if err != nil {
		return nil, err
	}
	x, err := pitch("X", m.X)
	if err != nil {
		return nil, err
	}
	p := &Map{
		From:   r2.Vec{X: m.S[0] - s/2, Y: m.X[0] - x/2},
		To:     r2.Vec{X: m.S[len(m.S)-1] + s/2, Y: m.X[len(m.X)-1] + x/2},
		Across: "s along the scan / mm", Down: "x along the array / mm",
		Columns: len(m.S), Rows: len(m.X), Quantity: "thickness / mm",
		Low: math.Inf(1), High: math.Inf(-1),
	}
	for column := range m.X {
		for row := range m.S {
			reading := m.Readings[row*len(m.X)+column]
			value, reason := reading.Thickness*1e3, 0
			if reading.State.Counts() {
				p.Low, p.High = min(p.Low, value), max(p.High, value)
			} else {
				value, reason = math.NaN(), p.indexOf(reading.State.String())
			}
			p.Values, p.Reason = append(p.Values, value), append(p.Reason, uint8(reason))
		}
	}
	if !(p.Low <= p.High) {
		return nil, errors.New("picture: no reading of the map counts as a thickness: want at least one")
	}
	if p.Low == p.High { // a colour bar has two ends
		p.Low, p.High = p.Low-0.5, p.High+0.5
	}
	return p, nil
}

// indexOf returns the index of a reason, which it adds if it is new.
func (p *Map) indexOf(name string) int {
	if i := slices.Index(p.Reasons, name); i >= 0 {
		return i
	}
	if len(p.Reasons) >= len(reasonColours)-1 {
		name = "other"
	}
	if i := slices.Index(p.Reasons, name); i >= 0 {
		return i
	}
	p.Reasons = append(p.Reasons, name)
	return len(p.Reasons) - 1
}

// pitch returns the distance of evenly spaced places.
func pitch(name string, places []float64) (float64, error) {
	if len(places) < 2 {
		return 0, fmt.Errorf("picture: %d places in %s: want at least 2", len(places), name)
	}
	step := (places[len(places)-1] - places[0]) / float64(len(places)-1)
	for i, at := range places {
		if want := places[0] + float64(i)*step; !(math.Abs(at-want) <= 0.01*step) {
			return 0, fmt.Errorf("picture: %s[%d] = %v m: want evenly spaced places, here %v m", name, i, at, want)
		}
	}
	return step, nil
}
