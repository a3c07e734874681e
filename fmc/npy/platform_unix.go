// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package npy

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// syncFolder brings the names of the files in a folder to the disk.
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
