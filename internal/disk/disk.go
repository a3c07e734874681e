// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package disk maps files into memory, locks files and brings names of files to the disk.
package disk

import (
	"errors"
	"os"
)

// ErrRead is the error of mapped memory that cannot be read.
var ErrRead = errors.New("file cannot be read: its disk failed, or it was cut short and is whole again")

// ErrLocked is the error of a file that another process has locked.
var ErrLocked = errors.New("file is locked by another process")

// Finish brings what was written to f to the disk and closes f.
func Finish(f *os.File) error { return errors.Join(f.Sync(), f.Close()) }
