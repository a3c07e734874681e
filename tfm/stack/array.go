// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"

	"github.com/isochron-imaging/isochron/internal/disk"
)

// array is a file with a header and frames of a fixed size.
type array struct {
	file    *os.File
	start   int64 // of the first frame
	size    int64 // of a frame; 0 if all frames share the file
	mapping *disk.Mapping
	buffers sync.Pool // of *[]byte, if the file is not mapped
}

// at returns where a frame begins, counted from the first frame of the file.
func (a *array) at(i int) int64 { return a.start + int64(i)*a.size }

// create opens or creates the file, with room for a number of frames. begin is what precedes them.
func (a *array) create(name string, begin []byte, size, frames int) (err error) {
	if a.file, err = os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666); err != nil {
		return err
	}
	a.start, a.size = int64(len(begin)), int64(size)
	if _, err := a.file.WriteAt(begin, 0); err != nil {
		return err
	}
	return a.file.Truncate(a.at(frames))
}

// open opens the file for reading, and maps it if the system can. Its header and its length must be
// the expected ones.
func (a *array) open(name string, header []byte, size, frames int) (err error) {
	if a.file, err = os.Open(name); err != nil {
		return err
	}
	a.start, a.size = int64(len(header)), int64(size)
	found := make([]byte, len(header))
	if _, err := io.ReadFull(a.file, found); err != nil {
		return fmt.Errorf("header of %s: %w", name, err)
	}
	if !bytes.Equal(found, header) {
		return fmt.Errorf("header %.100q of %s: want %.100q", found, name, header)
	}
	info, err := a.file.Stat()
	if err != nil {
		return err
	}
	if info.Size() != a.at(frames) {
		return fmt.Errorf("%s of %d bytes: want %d for %d frames", name, info.Size(), a.at(frames), frames)
	}
	if m, err := disk.Map(a.file, info.Size()); err == nil {
		a.mapping = m
	}
	return nil
}

// view calls use with the bytes of a frame, in mapped memory if there is one. A fault of this
// memory is an error.
func (a *array) view(i int, use func(frame []byte)) error {
	if a.mapping != nil {
		frame := a.mapping.Bytes()[a.at(i):a.at(i+1)]
		if err := a.mapping.Guard(func() { use(frame) }); err != nil {
			return err
		}
		return a.mapping.Check()
	}
	buffer, ok := a.buffers.Get().(*[]byte)
	if !ok {
		b := make([]byte, a.size)
		buffer = &b
	}
	defer a.buffers.Put(buffer)
	if _, err := a.file.ReadAt(*buffer, a.at(i)); err != nil {
		return err
	}
	use(*buffer)
	return nil
}

// close closes the file, if it is open.
func (a *array) close() (err error) {
	if a.mapping != nil {
		err = a.mapping.Close()
		a.mapping = nil
	}
	if a.file != nil {
		err = errors.Join(err, a.file.Close())
		a.file = nil
	}
	return err
}

// readFile returns the text of a table or a journal.
func readFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readAll(f)
}

// readAll reads a table or a journal to its end.
func readAll(f *os.File) ([]byte, error) {
	info, err := f.Stat()
	if err == nil && info.Size() > maxTable {
		err = fmt.Errorf("%s of %d bytes: want %d at most", f.Name(), info.Size(), maxTable)
	}
	if err != nil {
		return nil, err
	}
	return io.ReadAll(f)
}
