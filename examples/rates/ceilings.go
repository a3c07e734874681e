// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"runtime"
	"unsafe"
)

// loops reach the ceilings of one core.
type loops struct {
	width string // what the loops work on
	// read loads lines of 64 bytes from src on. The number of lines is a multiple of 8.
	read func(src *byte, lines int)
	// multiplyAdd does 12 independent multiply-adds of lanes values in each turn.
	multiplyAdd func(turns int)
	lanes       int
}

// plain is the loops in Go, whose compiler uses no vectors.
var plain = loops{"single values, in Go", readPlain, multiplyAddPlain, 1}

func readPlain(src *byte, lines int) {
	words := unsafe.Slice((*[8]uint64)(unsafe.Pointer(src)), lines)
	all := uint64(0)
	for i := range words {
		w := &words[i]
		all |= w[0] | w[1] | w[2] | w[3] | w[4] | w[5] | w[6] | w[7]
	}
	runtime.KeepAlive(all) // so that the compiler keeps the loop
}

func multiplyAddPlain(turns int) {
	var a, b, c, d, e, f, g, h, i, j, k, l float32
	by := float32(turns)
	for range turns {
		a, b, c, d = a*by+by, b*by+by, c*by+by, d*by+by
		e, f, g, h = e*by+by, f*by+by, g*by+by, h*by+by
		i, j, k, l = i*by+by, j*by+by, k*by+by, l*by+by
	}
	runtime.KeepAlive(a + b + c + d + e + f + g + h + i + j + k + l)
}

// The sizes fit into the first, second and third cache of usual processors. The last one exceeds
// them.
var (
	readSizes = []int{16 << 10, 256 << 10, 6 << 20, 128 << 20}
	readNames = []string{"first cache", "second cache", "third cache", "memory"}
)

// multiplyAdds is the name of the task that measures multiply-adds.
const multiplyAdds = "multiply-adds"

// ceilings returns the tasks that measure the ceilings of one core: multiply-adds in registers,
// and reads of memory of each size.
func ceilings(l loops) (tasks []task) {
	const turns = 10_000
	tasks = append(tasks, task{
		subject: subject{Key: key{Job: multiplyAdds}, Units: float64(12 * turns * l.lanes)},
		do:      func() error { l.multiplyAdd(turns); return nil },
	})
	for i, size := range readSizes {
		memory := make([]byte, size)
		for k := range memory {
			memory[k] = 1 // makes the system provide every page
		}
		times := max(1, 8<<20/size) // so that looking at the clock does not count
		tasks = append(tasks, task{
			subject: subject{Key: key{Job: readNames[i]}, Units: float64(times * size)},
			do: func() error {
				for range times {
					l.read(&memory[0], size/64)
				}
				return nil
			},
		})
	}
	return tasks
}
