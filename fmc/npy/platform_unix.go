// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package npy

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// mapFile maps the first size bytes of f, at least one, into memory, for
// reading only. It returns nil where that cannot be done, as on some network
// drives: the file can still be read then.
func mapFile(f *os.File, size int64) []byte {
	if int64(int(size)) != size {
		return nil
	}
	b, err := unix.Mmap(int(f.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_SHARED)
	if err != nil {
		return nil
	}
	return b
}

// unmap ends what mapFile began.
func unmap(b []byte) error { return unix.Munmap(b) }

// syncFolder brings the names in a folder to the disk.
func syncFolder(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOTSUP) {
		err = nil // a file system that has no such call
	}
	return errors.Join(err, f.Close())
}
