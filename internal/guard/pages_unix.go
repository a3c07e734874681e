// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package guard

import (
	"testing"

	"golang.org/x/sys/unix"
)

// Pages says whether this system has unreadable pages.
const Pages = true

func mapPages(tb testing.TB, size int) []byte {
	tb.Helper()
	pages, err := unix.Mmap(-1, 0, size, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_PRIVATE|unix.MAP_ANON)
	if err != nil {
		tb.Fatalf("mapping %d bytes: %v", size, err)
	}
	return pages
}

func forbid(tb testing.TB, pages []byte) {
	tb.Helper()
	if err := unix.Mprotect(pages, unix.PROT_NONE); err != nil {
		tb.Fatalf("protecting %d bytes: %v", len(pages), err)
	}
}

func unmapPages(tb testing.TB, pages []byte) {
	tb.Helper()
	if err := unix.Munmap(pages); err != nil {
		tb.Errorf("unmapping %d bytes: %v", len(pages), err)
	}
}
