// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"os"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/disk"
)

// mappedFrames are the frames of a file that is mapped into memory. Mapped memory is read only
// within the method guard.
type mappedFrames struct {
	file    *os.File
	mapping *disk.Mapping // of the whole file
	start   int           // of frame 0
	size    int           // of a frame
	at      int           // of the next byte to read
}

// mapFrames maps a file, whose size has been checked, into memory, for reading only. It returns nil
// if the file cannot be mapped, as on some network drives and platforms: the file can still be read
// then.
func mapFrames(f *os.File, h header, frame int) frameStore {
	mapping, err := disk.Map(f, h.length+int64(h.count())*int64(h.size()))
	if err != nil {
		return nil
	}
	return &mappedFrames{file: f, mapping: mapping, start: int(h.length), size: frame}
}

func (m *mappedFrames) seek(i int) error {
	m.at = m.start + i*m.size
	return nil
}

func (m *mappedFrames) Read(p []byte) (n int, err error) {
	err = m.guard(func() { n = copy(p, m.mapping.Bytes()[m.at:]) })
	m.at += n
	return n, err
}

// view returns the bytes of frame i. To read them may fault.
func (m *mappedFrames) view(i int) []byte {
	from := m.start + i*m.size
	return m.mapping.Bytes()[from : from+m.size]
}

func (m *mappedFrames) setInt16(c *fmc.Capture, view []int16) (err error) {
	if fault := m.guard(func() { err = c.SetInt16(view) }); fault != nil {
		return fault
	}
	return err
}

// guard calls read, which reads from the mapping in this goroutine alone. A fault of the memory is
// an error.
func (m *mappedFrames) guard(read func()) error { return faultOf(m.mapping.Guard(read)) }

// check reports whether the file was cut short.
func (m *mappedFrames) check() error { return faultOf(m.mapping.Check()) }

// faultOf returns an error of the mapping as an error of the array.
func faultOf(err error) error {
	if err == nil {
		return nil
	}
	return arrayError("%w", err)
}

func (m *mappedFrames) close() error { return errors.Join(m.mapping.Close(), m.file.Close()) }
