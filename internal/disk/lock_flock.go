// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix && !solaris && !aix

package disk

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// Lock locks f against Lock in other processes and by other files of this process. The lock ends
// when f is closed, also by the end of the process. If f is locked already, the error is ErrLocked.
// A file system without locks is no error.
func Lock(f *os.File) error {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return ErrLocked
	}
	return nil
}
