// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package report makes the record of a measurement, as JSON, as a table and as a page to print. A
// record is the flaw list of a capture with everything that is needed to measure it again.
//
//	input, err := npy.ReadFile("testdata/weld32.json", nil)
//	settings := &report.Settings{Background: 12}
//	for _, view := range []string{"T-T", "TT-T"} {
//		settings.Views = append(settings.Views, report.ViewSettings{Name: view, Grid: report.NewGrid(grid)})
//	}
//	measured, err := report.Measure(ctx, "weld32", input, settings, nil)
//	err = measured.Record.WriteJSON(file)
//	err = measured.Record.WriteCSV(table)
//	err = measured.Record.WritePage(page, nil) // pictures and A-scans by their names
//
//	record, err := report.Read(file) // years later
//	differences, err := report.Repeat(ctx, record, input, nil)
//	for _, d := range differences {
//		fmt.Println(d) // flaws[0].length_m was 0.0024, is 0.0025
//	}
//
// # How a record is made
//
// [Measure] images the capture in each view (package tfm), finds the indications (package sizing),
// and lists the flaws (package sizing/flaw). In each view
//
//  1. the reference of 0 dB is the strongest indication that is no echo of a wall, or what
//     [Settings.Reference] says;
//  2. the floor follows the noise of the image, or is [Settings.Floor];
//  3. an indication that does not exceed the median amplitude at its depth by [Settings.Background]
//     is left out, unless it is the echo of a wall;
//  4. each indication is compared with the picture of a point at its place (package tfm/quality).
//
// The caller adds the calibration and the check of the scan (package fmc/scan). The caller also
// adds the flaw list of the whole scan ([ScanFlaw]), and the pictures and A-scans of the record
// ([NewFile]).
//
// # What is kept
//
// SCHEMA.md, in the folder of this package, lists each field with its unit. A record holds the
// set-up in full, and the hash of the samples in their place: keep the capture too. It holds all
// settings, all indications with their flags, and the hash of each image. The [Environment] holds
// the release of this module, the toolchain, the architecture and the instructions.
//
// # What repeating means
//
// A number is repeated bit for bit if samples, set-up, settings and [Environment] are equal, and
// the kernel of each view ([View.Kernel]). It does not depend on the number of cores. On another
// processor, release or toolchain the last digits may differ, because sums are rounded in another
// order. [Repeat] then lists each field that differs, the environment first, with both values.
//
// [Read] is strict: it refuses other versions, and unknown, missing and repeated fields, so that no
// two readers see different numbers in one record.
//
// # The page
//
// [Record.WritePage] writes one HTML file with all pictures inside and without scripts. It has a
// style for A4 paper. A reader without sight finds a text for each picture, and headers in each
// table. The lines for names and signatures are empty.
//
// # What it does not hold
//
// The geometry of a weld ([flaw.Options]) and the sides, gaps and voids of a [wedge.Setup] are not
// in the set-up of a capture. So a record does not hold them. A record of a capture of events
// has indications and no flaws.
//
// # Cautions
//
// A record tells how numbers were computed. It does not prove that the set-up was right or that the
// part is sound. It has no electronic signature, so it does not prove who made it. Interpretation
// is the work of trained and authorised personnel under the written procedure, and local codes
// decide what is acceptable. How long records and captures must be kept is set by the code and the
// contract.
//
// The functions may be called at the same time, as long as no record is changed.
//
// # For contributors
//
// measure.go and reading.go make a record. check.go has the ranges of its fields. compare.go
// compares JSON texts leaf by leaf, for [Compare] and for the strict reader. page.go, setup.go,
// words.go and chart.go prepare what page.html shows. A new field needs a row in SCHEMA.md, and a
// new Version. After a change of the page, open it, and print it to look at the breaks.
package report
