// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import "github.com/isochron-imaging/isochron/internal/vector"

// weights multiplies the first and the last samples of each trace. The samples between stay as they
// are.
type weights struct{ lead, tail []float32 }

func (weights) margin() int { return 0 }

func (w weights) run(_ int, trace, _ []float32) {
	vector.Multiply(trace[:len(w.lead)], w.lead)
	vector.Multiply(trace[len(trace)-len(w.tail):], w.tail)
}
