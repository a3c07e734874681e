// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package disk

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Mapping is a file that is mapped into memory, for reading only. Mapped memory is read only within
// the method Guard, which turns the fault of a file that was cut short into an error.
type Mapping struct {
	file  *os.File // stays open, to see whether it is cut short
	bytes []byte
}

// Map maps the first size bytes of f, from 1 to the length of f, into memory. Some files cannot be
// mapped, as on some network drives: they can still be read. The mapping uses f, which must stay
// open until Close.
func Map(f *os.File, size int64) (*Mapping, error) {
	if int64(int(size)) != size {
		return nil, fmt.Errorf("file of %d bytes: too large for the addresses of this machine", size)
	}
	bytes, err := unix.Mmap(int(f.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_SHARED)
	if err != nil {
		return nil, os.NewSyscallError("mmap", err)
	}
	return &Mapping{f, bytes}, nil
}

// Bytes returns the mapped memory. To read it may fault, except within Guard.
func (m *Mapping) Bytes() []byte { return m.bytes }

// Guard calls read, which reads from the mapping in this goroutine alone. If the file has ended or
// the disk fails, the system raises a fault that would kill the program. Guard returns it as an
// error.
func (m *Mapping) Guard(read func()) (err error) {
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
func (m *Mapping) faulted(fault any) error {
	at, ok := fault.(interface{ Addr() uintptr })
	if !ok || !m.holds(at.Addr()) {
		return nil
	}
	if err := m.Check(); err != nil {
		return err
	}
	return ErrRead
}

// holds reports whether an address lies in the mapping.
func (m *Mapping) holds(address uintptr) bool {
	start := uintptr(unsafe.Pointer(unsafe.SliceData(m.bytes)))
	return address >= start && address-start < uintptr(len(m.bytes))
}

// Check reports whether the file was cut short. A fault does not always occur: in the last page of
// the mapping, bytes that the file has lost are read as zeros.
func (m *Mapping) Check() error {
	var info unix.Stat_t
	if err := unix.Fstat(int(m.file.Fd()), &info); err != nil {
		return os.NewSyscallError("fstat", err)
	}
	if info.Size < int64(len(m.bytes)) {
		return fmt.Errorf("file was cut short: %w", io.ErrUnexpectedEOF)
	}
	return nil
}

// Close removes the mapping. It does not close the file.
func (m *Mapping) Close() error { return unix.Munmap(m.bytes) }

// SyncFolder brings the names of the files in a folder to the disk.
func SyncFolder(name string) error {
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
