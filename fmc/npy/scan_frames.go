// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"io"
	"os"

	"github.com/isochron-imaging/isochron/fmc"
)

// frameStore yields the bytes of the frames of a scan. There are three: mappedFrames, fileFrames
// and streamFrames.
type frameStore interface {
	seek(i int) error // makes Read begin with frame i
	io.Reader
	check() error // checks a frame that was read to its end
	close() error
}

// viewer is a frameStore whose frames lie in mapped memory.
type viewer interface {
	view(i int) []byte
	setInt16(c *fmc.Capture, view []int16) error // is c.SetInt16; a fault of the memory is an error
	check() error
}

// fileFrames are the frames of a file that is not mapped.
type fileFrames struct {
	file  *os.File
	start int64 // of frame 0
	size  int64 // of a frame
	at    int64 // of the next byte to read
}

func (f *fileFrames) seek(i int) error {
	f.at = f.start + int64(i)*f.size
	return nil
}

func (f *fileFrames) Read(p []byte) (int, error) {
	n, err := f.file.ReadAt(p, f.at)
	f.at += int64(n)
	if err == io.EOF && n < len(p) {
		err = arrayError("file was cut short: %w", io.ErrUnexpectedEOF)
	}
	return n, err
}

func (f *fileFrames) check() error { return nil }
func (f *fileFrames) close() error { return f.file.Close() }

// streamFrames are the frames that arrive one after the other, as from a gzip file.
type streamFrames struct {
	r      io.Reader
	closer io.Closer
	header header
	size   int64 // of a frame
	at     int64 // bytes of samples that were read
	err    error // of r, which cannot be read any more
}

// seek skips the frames before frame i.
func (s *streamFrames) seek(i int) error {
	skip := int64(i)*s.size - s.at
	if skip == 0 {
		return nil
	}
	if skip < 0 {
		return fmt.Errorf(
			"frame %d of a stream that has passed it: want ascending order, each frame once",
			i)
	}
	if _, err := io.CopyN(io.Discard, s, skip); err != nil {
		return arrayError("samples before frame %d: %w", i, eofUnexpected(err))
	}
	return nil
}

func (s *streamFrames) Read(p []byte) (n int, err error) {
	if s.err != nil {
		return 0, s.err
	}
	n, err = s.r.Read(p)
	s.at += int64(n)
	if err != nil && err != io.EOF {
		s.err = arrayError("stream of samples: %w", err)
		err = s.err
	}
	return n, err
}

// check checks that nothing follows the last frame.
func (s *streamFrames) check() error {
	if s.err == nil && s.at == int64(s.header.count())*int64(s.header.size()) {
		s.err = s.header.checkEnd(s.r)
	}
	return s.err
}

func (s *streamFrames) close() error { return s.closer.Close() }
