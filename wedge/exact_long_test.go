// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package wedge_test

import (
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/wedge/exact"
)

// TestExactTablesLong interpolates the tables that TestExactTables leaves out.
func TestExactTablesLong(t *testing.T) {
	for _, p := range exact.Problems() {
		if p.Index == 0 && strings.Contains(p.Name, "ellipse") {
			t.Run(p.Name, func(t *testing.T) { compareInterpolated(t, p) })
		}
	}
}
