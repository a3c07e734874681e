// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"path/filepath"
	"sync"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/tfm"
)

// capture reads a capture of testdata.
func capture(name string) *npy.Record {
	return check.Must(npy.ReadFile(filepath.Join("..", "..", "testdata", name+".json"), nil))
}

// settings returns settings for views on a grid in mm.
func settings(x0, x1, z0, z1, step float64, views ...string) *report.Settings {
	grid := check.Must(tfm.NewSection(x0*1e-3, x1*1e-3, z0*1e-3, z1*1e-3, step*1e-3))
	s := &report.Settings{Floor: -24, Background: 12, Section: true}
	for _, v := range views {
		s.Views = append(s.Views, report.ViewSettings{Name: v, Grid: report.NewGrid(grid)})
	}
	return s
}

// holes returns a measurement of block16, on a window with its four holes. Tests must not change
// it.
var holes = sync.OnceValue(func() *report.Measurement {
	s := settings(-12, 12, 5, 42, 0.25, "L-L")
	return check.Must(report.Measure(background, "block16", capture("block16"), s, nil))
})

// text returns the JSON form of a record.
func text(t *testing.T, r *report.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := r.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// copied returns a copy of the record of holes that a test may change.
func copied(t *testing.T) *report.Record {
	t.Helper()
	return check.Must(report.Read(bytes.NewReader(text(t, holes().Record))))
}
