// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !unix

package disk

import (
	"errors"
	"os"
)

// Mapping is a file that is mapped into memory. There is none on this platform.
type Mapping struct{}

// Map returns an error: on this platform files are read and not mapped.
func Map(*os.File, int64) (*Mapping, error) { return nil, errors.ErrUnsupported }

// Bytes returns nil.
func (m *Mapping) Bytes() []byte { return nil }

// Guard calls read.
func (m *Mapping) Guard(read func()) error {
	read()
	return nil
}

// Check returns nil.
func (m *Mapping) Check() error { return nil }

// Close returns nil.
func (m *Mapping) Close() error { return nil }

// SyncFolder does nothing: the platform chooses when a rename reaches the disk.
func SyncFolder(string) error { return nil }
