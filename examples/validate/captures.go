// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"sync"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// A specimen is a capture with its set-up.
type specimen struct {
	*npy.Record
	setup *wedge.Setup
}

var specimens sync.Map // of functions that read a file once, by its name

// read returns a capture by the name of its set-up file. Each file is read once.
func read(name string) (*specimen, error) {
	f, _ := specimens.LoadOrStore(name, sync.OnceValues(func() (*specimen, error) {
		record, err := npy.ReadFile(name, nil)
		if err != nil {
			return nil, err
		}
		setup, err := record.Geometry()
		return &specimen{record, setup}, err
	}))
	return f.(func() (*specimen, error))()
}

// testdata returns the name of a capture of the folder testdata.
func testdata(name string) string { return "testdata/" + name + ".json" }

// envelope returns the envelope of a view of a capture on a section, with lengths in m.
func envelope(name, view string, x0, x1, z0, z1, step float64) (*tfm.Envelope, error) {
	s, err := read(name)
	if err != nil {
		return nil, err
	}
	return picture(s.Capture, s.setup, view, x0, x1, z0, z1, step)
}

// picture returns the envelope of a view of a capture with any set-up.
func picture(c *fmc.Capture, setup *wedge.Setup, view string, x0, x1, z0, z1, step float64) (*tfm.Envelope, error) {
	grid, err := tfm.NewSection(x0, x1, z0, z1, step)
	if err != nil {
		return nil, err
	}
	plan, err := tfm.PlanView(context.Background(), c, setup, view, grid, nil)
	if err != nil {
		return nil, err
	}
	image, err := plan.Image(context.Background(), c)
	if err != nil {
		return nil, err
	}
	return image.Envelope(nil), nil
}

// peakNear returns the strongest indication of a view within some millimetres of a point (mm).
func peakNear(name, view string, x, z, within float64) func() (sizing.Indication, error) {
	return once(func() (sizing.Indication, error) {
		env, err := envelope(testdata(name), view, (x-within)*1e-3, (x+within)*1e-3, (z-within)*1e-3, (z+within)*1e-3, 1e-4)
		if err != nil {
			return sizing.Indication{}, err
		}
		found, err := sizing.Find(env, &sizing.Options{Floor: -20})
		if err == nil && len(found) == 0 {
			err = fmt.Errorf("%s, %s: no indication near (%v, %v) mm", name, view, x, z)
		}
		if err != nil {
			return sizing.Indication{}, err
		}
		return found[0], nil
	})
}
