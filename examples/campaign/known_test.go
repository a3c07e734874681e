// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// TestKnown reads single flaws of the campaign again.
func TestKnown(t *testing.T) {
	for _, row := range []struct {
		name   string // with the reason
		number int
		method flaw.Method
		is     tips.Reading
		long   bool // whether the row is run with the build tag long alone
	}{
		{"a free crack of 1.3 mm must not reach the wall: it was read as 9.9 mm", 11, flaw.NoMethod, tips.Unresolved, false},
		{"a free crack of 5.1 mm must not reach the wall: it was read as 10.7 mm", 73, flaw.NoMethod, tips.Unresolved, true},
		{"a hole explains both spots of the tip, but the tip explains them better", 442, flaw.FromTipAndWall, tips.Measured, false},
		{"the same, with a fit of the hole of 0.91", 451, flaw.FromTipAndWall, tips.Measured, true},
	} {
		t.Run(row.name, func(t *testing.T) {
			if testing.Short() && row.number != 11 || row.long && !long {
				t.Skip("two views of a wedge")
			}
			s := newScene(1, row.number)
			ctx := context.Background()
			r := check.Must(s.read(ctx, check.Must(s.rig.reference(ctx))))
			if r.kind != string(flaw.Planar) || r.method != string(row.method) || r.is != string(row.is) {
				t.Fatalf("%s, %s, %s: want planar, %s, %s", r.kind, r.method, r.is, row.method, row.is)
			}
			if row.is == tips.Measured {
				check.Within(t, "length, mm", r.readLength, r.length, min(r.lengthU, 0.1))
			}
		})
	}
}
