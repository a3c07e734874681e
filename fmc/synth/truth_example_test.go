// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/synth"
)

// The true flaws of the stored scan of testdata.
func ExampleReadTruth() {
	truth, err := synth.ReadTruth("../../testdata/scan/weld16.truth.json")
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range truth.Planar {
		from, to := f.Span()
		fmt.Printf("planar flaw from s = %.1f to %.1f mm\n", from*1e3, to*1e3)
	}
	fmt.Println(len(truth.Pores), "cluster of pores")
	// Output:
	// planar flaw from s = 7.8 to 22.0 mm
	// planar flaw from s = 37.4 to 49.1 mm
	// 1 cluster of pores
}
