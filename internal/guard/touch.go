// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package guard

import (
	"os"
	"path"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
	"unsafe"
)

// Unreadable returns a slice of n elements. An access to any of them is a fault.
func Unreadable[T any](tb testing.TB, n int) []T {
	tb.Helper()
	page := os.Getpagesize()
	size := n * int(unsafe.Sizeof(*new(T)))
	pages := mapPages(tb, max(1, (size+page-1)/page)*page)
	forbid(tb, pages)
	tb.Cleanup(func() { unmapPages(tb, pages) })
	return unsafe.Slice((*T)(unsafe.Pointer(&pages[0])), n)
}

// Toucher calls do. It returns the name of the function that first accesses unreadable memory, as
// "package.name", or "" if none does.
func Toucher(do func()) (name string) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		switch r := recover().(type) {
		case nil:
		case fault:
			name = faulting()
		default:
			panic(r)
		}
	}()
	do()
	return ""
}

// faulting returns the name of the function that the fault interrupted. The caller is recovering
// from this fault.
func faulting() string {
	callers := make([]uintptr, 32)
	frames := runtime.CallersFrames(callers[:runtime.Callers(0, callers)])
	interrupted := false
	for {
		frame, more := frames.Next()
		if interrupted {
			return strings.TrimSuffix(path.Base(frame.Function), ".abi0")
		}
		interrupted = frame.Function == "runtime.sigpanic"
		if !more {
			return ""
		}
	}
}
