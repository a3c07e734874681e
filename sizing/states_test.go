// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestFindStates puts states beside a hill, in it and away from it.
func TestFindStates(t *testing.T) {
	for _, test := range []struct {
		name, reason string
		state        tfm.State
		fromCol      int  // the columns from here on have the state
		blank        bool // whether their amplitudes are 0
		want         tfm.State
	}{
		{"cut", "half the hill is where no ray comes to", tfm.NoRay | tfm.Blank, 30, true, tfm.NoRay | tfm.Blank},
		{"beside", "the contour ends at the pixel before the first blank one", tfm.AfterRecord | tfm.Blank, 36, true, tfm.AfterRecord | tfm.Blank},
		{"within", "the pixels show a part of the pairs", tfm.BeforeRecord, 31, false, tfm.BeforeRecord},
		{"away", "the area, of half-width 5, and its neighbours lie before", tfm.Blank, 37, true, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			env := draw(t, 60, 60, 1e-4, blob{x: 30e-4, z: 30e-4, length: 10.2e-4, width: 10.2e-4, height: 1})
			env.States = make([]tfm.State, len(env.Data))
			for i := range env.Data {
				if i%env.Cols >= test.fromCol {
					env.States[i] = test.state
					if test.blank {
						env.Data[i] = 0
					}
				}
			}
			in := one(t, env)
			if in.States != test.want || in.Complete() != (test.want == 0) || in.Edge {
				t.Errorf("states %q, complete %v, edge %v: want states %q (%s)", in.States, in.Complete(), in.Edge, test.want, test.reason)
			}
		})
	}
	env := draw(t, 20, 60, 1e-4, blob{x: 0, z: 30e-4, length: 10.2e-4, width: 10.2e-4, height: 1})
	if in := one(t, env); in.Complete() {
		t.Error("an indication at the edge of the image is complete")
	}
	env.States = make([]tfm.State, 3)
	_, err := sizing.Find(env, nil)
	if err == nil || !strings.Contains(err.Error(), "3 states: want 1200") {
		t.Errorf("error %v, want one of 3 states", err)
	}
}
