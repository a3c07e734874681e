// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package npy

import (
	"errors"
	"io"
	"os"
	"runtime/debug"
	"unsafe"

	"golang.org/x/sys/unix"

	"github.com/isochron-imaging/isochron/fmc"
)

// mappedFrames are the frames of a file that is mapped into memory. Mapped memory is read only
// within the method guard, which turns the fault of a file that was cut short into an error.
type mappedFrames struct {
	file    *os.File // stays open, to see whether it is cut short
	mapping []byte   // of the whole file
	start   int      // of frame 0
	size    int      // of a frame
	at      int      // of the next byte to read
}

// mapFrames maps a file, whose size has been checked, into memory, for reading only. It returns nil
// if the file cannot be mapped, as on some network drives: the file can still be read then.
func mapFrames(f *os.File, h header, frame int) frameStore {
	size := h.length + int64(h.count())*int64(h.size())
	if int64(int(size)) != size {
		return nil
	}
	mapping, err := unix.Mmap(int(f.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_SHARED)
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
	err = m.guard(func() { n = copy(p, m.mapping[m.at:]) })
	m.at += n
	return n, err
}

// view returns the bytes of frame i. To read them may fault.
func (m *mappedFrames) view(i int) []byte {
	from := m.start + i*m.size
	return m.mapping[from : from+m.size]
}

func (m *mappedFrames) setInt16(c *fmc.Capture, view []int16) (err error) {
	if fault := m.guard(func() { err = c.SetInt16(view) }); fault != nil {
		return fault
	}
	return err
}

// guard calls read, which reads from the mapping in this goroutine alone. If the file has ended or
// the disk fails, the system raises a fault that would kill the program. guard returns it as an
// error.
func (m *mappedFrames) guard(read func()) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if fault := recover(); fault != nil {
			if err = m.faulted(fault); err == nil {
				panic(fault)
			}
		}
	}()
	read()
	return nil
}

// faulted returns the error of a fault within the mapping, and nil for another panic.
func (m *mappedFrames) faulted(fault any) error {
	at, ok := fault.(interface{ Addr() uintptr })
	if !ok || !m.holds(at.Addr()) {
		return nil
	}
	if err := m.check(); err != nil {
		return err
	}
	return arrayError(
		"file cannot be read: its disk failed, or it was cut short and is whole again")
}

// holds reports whether an address lies in the mapping.
func (m *mappedFrames) holds(address uintptr) bool {
	start := uintptr(unsafe.Pointer(unsafe.SliceData(m.mapping)))
	return address >= start && address-start < uintptr(len(m.mapping))
}

// check reports whether the file was cut short. A fault does not always occur: in the last page of
// the mapping, bytes that the file has lost are read as zeros.
func (m *mappedFrames) check() error {
	var info unix.Stat_t
	if err := unix.Fstat(int(m.file.Fd()), &info); err != nil {
		return os.NewSyscallError("fstat", err)
	}
	if info.Size < int64(len(m.mapping)) {
		return arrayError("file was cut short: %w", io.ErrUnexpectedEOF)
	}
	return nil
}

func (m *mappedFrames) close() error { return errors.Join(unix.Munmap(m.mapping), m.file.Close()) }
