// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package guard

import (
	"strings"
	"testing"
	"unsafe"
)

// peek reads the byte at an offset from the first byte of s. The offset may lie outside s.
//
//go:nocheckptr
func peek[T any](s []T, offset int) byte {
	return *(*byte)(unsafe.Add(unsafe.Pointer(unsafe.SliceData(s)), offset))
}

// poke writes the byte at an offset from the first byte of s.
//
//go:nocheckptr
func poke[T any](s []T, offset int) {
	*(*byte)(unsafe.Add(unsafe.Pointer(unsafe.SliceData(s)), offset)) = 1
}

var sink byte

// TestAccess reads and writes at both ends of buffers. Their sizes are near a page, and far from
// it.
func TestAccess(t *testing.T) {
	if !Pages {
		t.Skip("this system has no unreadable pages")
	}
	for _, side := range Sides {
		t.Run(side.String(), func(t *testing.T) {
			m := New(t, side)
			for _, n := range []int{1, 2, 511, 512, 513, 5000} {
				m.Reset()
				src := make([]float64, n)
				for i := range src {
					src[i] = float64(i + 1)
				}
				one := Copy(m, "one", src)
				rows, stride := Rows(m, "three", src, src, src)
				if got := uintptr(unsafe.Pointer(&rows[2][0])) - uintptr(unsafe.Pointer(&rows[0][0])); got != uintptr(2*stride) {
					t.Fatalf("%d elements: rows %d bytes apart, want 2 × %d", n, got, stride)
				}
				for _, buffer := range append(rows, one) {
					for i, v := range buffer {
						if v != src[i] {
							t.Fatalf("element %d is %v, want %v", i, v, src[i])
						}
					}
					within := func() { sink = peek(buffer, 0) + peek(buffer, 8*n-1) }
					if err := m.Run(within); err != nil {
						t.Errorf("%d elements: %v", n, err)
					}
					outside, want := -1, "bytes before"
					if side == Behind {
						outside, want = 8*n, "bytes behind"
					}
					for name, access := range map[string]func(){
						"read":  func() { sink = peek(buffer, outside) },
						"write": func() { poke(buffer, outside) },
					} {
						if err := m.Run(access); err == nil || !strings.Contains(err.Error(), want) {
							t.Errorf("%d elements: %s outside gives %v, want %q", n, name, err, want)
						}
					}
				}
			}
		})
	}
}

// TestOtherPanic checks that a panic that is not a memory fault passes.
func TestOtherPanic(t *testing.T) {
	for name, run := range map[string]func(func()){
		"Run":     func(do func()) { _ = New(t, Before).Run(do) },
		"Toucher": func(do func()) { Toucher(do) },
	} {
		func() {
			defer func() {
				if r := recover(); r != "other" {
					t.Errorf("%s: panic %v, want the one of the caller", name, r)
				}
			}()
			run(func() { panic("other") })
		}()
	}
}

func TestToucher(t *testing.T) {
	if !Pages {
		t.Skip("this system has no unreadable pages")
	}
	s := Unreadable[int32](t, 3000)
	for name, do := range map[string]func(){
		"guard.peek": func() { sink = peek(s, 4*2999) },
		"guard.poke": func() { poke(s, 0) },
		"":           func() {},
	} {
		// In the name of a generic function, its type parameters follow in brackets.
		if got, _, _ := strings.Cut(Toucher(do), "["); got != name {
			t.Errorf("%q touched the memory, want %q", got, name)
		}
	}
}
