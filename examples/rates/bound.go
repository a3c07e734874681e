// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"strings"

	"github.com/isochron-imaging/isochron/tfm"
)

// limits compares the sum of a case on one core with its ceilings. Each limit is a time as a share
// of the time of the sum.
type limits struct {
	read       float64 // to read all tables and traces once from the cache that holds them
	arithmetic float64 // to do four multiply-adds a sample: two parts of two neighbours
	near       float64 // for as many samples in the second cache
}

// limitsOf returns the limits of a case in a precision.
func (k *kernel) limitsOf(name, precision string) limits {
	image, _ := k.of(key{name, toImage, precision, false})
	small, _ := k.of(key{near.name, toImage, precision, false})
	multiply, _ := k.of(key{Job: multiplyAdds})
	level := len(readSizes) - 1
	for i, size := range readSizes {
		// A cache is a little larger than what was read from it.
		if image.Bytes <= 2*size {
			level = i
			break
		}
	}
	read, _ := k.of(key{Job: readNames[level]})
	return limits{
		read:       float64(image.Bytes) / read.rate() / image.sum,
		arithmetic: 4 * image.Units / multiply.rate() / image.sum,
		near:       small.sum / small.Units * image.Units / image.sum,
	}
}

// bound returns a line on what bounds the sum of the first case with the kernel k in single
// precision.
func bound(k *kernel, cases string) string {
	name, _, _ := strings.Cut(cases, ",")
	l := k.limitsOf(name, tfm.Single.String())
	return fmt.Sprintf("What bounds it (case %s, %s, %s): the multiply-adds alone would take %.0f %% of the time of the sum, "+
		"reading tables and traces once %.0f %%, and the same kernel in the second cache %.0f %%. So %s.",
		name, k.Kernel, tfm.Single, 100*l.arithmetic, 100*l.read, 100*l.near, l.verdict())
}

// verdict names the bound.
func (l limits) verdict() string {
	switch {
	case l.read > 0.7:
		return "reading memory bounds it"
	case l.arithmetic > 0.7:
		return "multiply-adds bound it"
	case l.near > 0.7:
		return "the instructions that find the samples bound it, not the memory"
	}
	return "the way from the third cache or from memory bounds it"
}
