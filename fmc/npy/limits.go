// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import "fmt"

// MaxSamples is the limit of samples where no option is [LimitSamples]: 1 GiB as
// float32.
const MaxSamples = 1 << 28

// LimitSamples is the option to read captures, and frames of a scan, of at most so
// many samples, at least 1, instead of [MaxSamples]. A trace of fewer than 16 samples
// counts as 16, because its pair takes memory too.
//
//	record, err := npy.ReadFile(name, npy.LimitSamples(1e6))
//
// A sample takes 4 bytes. What is allocated to read a capture, or all frames of a
// scan, is less than 8 bytes for each sample of the limit, counting also what is free
// again. In addition there are 1 MiB and what the set-up takes: see [MaxSetup].
type LimitSamples int

func (LimitSamples) readOption() {}

// checkLimit checks the size of a capture, or of a frame of a scan, against the limit.
func (d *description) checkLimit(h header) error {
	most := MaxSamples
	for _, option := range d.options {
		if limit, ok := option.(LimitSamples); ok {
			most = int(limit)
		}
	}
	if most < 1 {
		return fmt.Errorf("limit of %d samples: want at least 1", most)
	}
	samples := h.shape[len(h.shape)-1]
	if traces := h.count() / max(len(d.frames), 1) / samples; traces > most/max(samples, 16) {
		return arrayError("capture of %d traces of %d samples: want %d samples in all at most, where a trace counts as 16 or more; LimitSamples allows others", traces, samples, most)
	}
	return nil
}
