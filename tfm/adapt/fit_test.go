// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mat"
)

// TestAgreeing has outliers amid echoes that agree within some micrometres.
func TestAgreeing(t *testing.T) {
	const elements = 4
	r := &fitted{model: &mixed{elements: elements, solution: *mat.NewVecDense(elements, nil)}}
	var want []int
	for i, off := range []float64{1e-3, 4e-6, -3e-6, -2e-3, 2e-6, -4e-6, 3e-6} {
		r.echoes = append(r.echoes, echo{transmit: i % elements, receive: elements - 1, length: 20e-3 + off, bounce: bounce{x: float64(i), length: 20e-3}})
		if off < 1e-4 && off > -1e-4 {
			want = append(want, i)
		}
	}
	var got []int
	for _, e := range r.agreeing() {
		got = append(got, int(e.bounce.x))
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("echoes that agree (-want +got):\n%s", diff)
	}
}
