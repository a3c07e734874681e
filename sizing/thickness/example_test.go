// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/thickness"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// The wall of a plate of 25 mm with a notch, from one frame.
func Example() {
	ctx := context.Background()
	record, err := npy.ReadFile("../../testdata/notch32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	like := ascan.Beam{Mode: material.L, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}
	beams, err := ascan.Linear(like, 32, 12, 4) // of 12 elements, 4 elements apart
	if err != nil {
		log.Fatal(err)
	}
	plan, err := ascan.NewPlan(ctx, record.Capture, setup, beams, nil)
	if err != nil {
		log.Fatal(err)
	}
	traces, err := plan.Traces(ctx, record.Capture)
	if err != nil {
		log.Fatal(err)
	}
	var x []float64
	for _, line := range plan.Lines() {
		x = append(x, line.Exit.X)
	}
	m, err := thickness.NewMap([]float64{0}, x)
	if err != nil {
		log.Fatal(err)
	}
	reader := &thickness.Reader{
		Least: 4e-3, Most: 28e-3, Reference: 1e6, Threshold: -20,
		Errors: thickness.Errors{Speed: 15, Method: 0.03e-3},
	}
	if err := m.Read(reader, 0, 0, traces); err != nil {
		log.Fatal(err)
	}
	for j, r := range m.Readings {
		fmt.Printf("x = %4.1f mm: %v, %.1f mm\n", 1e3*m.X[j], r.State, 1e3*r.Thickness)
	}
	budget, err := reader.Budget(m.Readings[2])
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(budget.In(1e3, "mm").Result(0.95))
	// Output:
	// x = -6.0 mm: measured, 24.9 mm
	// x = -3.6 mm: measured, 25.0 mm
	// x = -1.2 mm: measured, 25.0 mm
	// x =  1.2 mm: measured, 25.0 mm
	// x =  3.6 mm: measured, 25.0 mm
	// x =  6.0 mm: measured, 24.9 mm
	// 24.98 ± 0.14 mm (k = 1.96, 95 %)
}
