// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/tfm"
)

// A record is written, read back and repeated.
func Example() {
	ctx := context.Background()
	input, err := npy.ReadFile("../../testdata/block16.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-12e-3, 12e-3, 5e-3, 42e-3, 0.25e-3)
	if err != nil {
		log.Fatal(err)
	}
	measured, err := report.Measure(ctx, "block16", input, &report.Settings{
		Views: []report.ViewSettings{{Name: "L-L", Grid: report.NewGrid(grid)}}, Background: 12,
	}, nil)
	if err != nil {
		log.Fatal(err)
	}
	var file bytes.Buffer
	if err := measured.Record.WriteJSON(&file); err != nil {
		log.Fatal(err)
	}

	record, err := report.Read(&file)
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range record.Flaws {
		if f.Kind == flaw.Point {
			fmt.Printf("%s, x %.1f mm, z %.1f mm, views %v\n", f.Kind, f.X*1e3, f.Z*1e3, f.Views)
		}
	}
	differences, err := report.Repeat(ctx, record, input, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(len(differences), "differences")
	// Output:
	// point, x -2.9 mm, z 16.3 mm, views [L-L]
	// point, x 2.8 mm, z 23.3 mm, views [L-L]
	// point, x -8.6 mm, z 9.4 mm, views [L-L]
	// point, x 8.5 mm, z 30.4 mm, views [L-L]
	// 0 differences
}
