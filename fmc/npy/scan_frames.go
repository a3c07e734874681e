// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"fmt"
	"io"
	"os"
)

// frameStore gives the bytes of the frames of a scan, which are valid until the
// next call.
type frameStore interface {
	frame(i int) ([]byte, error)
	close() error
}

// mappedFrames are those of a file that is mapped into memory.
type mappedFrames struct {
	file  []byte
	start int // of frame 0
	size  int // of each frame
}

func (m *mappedFrames) frame(i int) ([]byte, error) {
	from := m.start + i*m.size
	return m.file[from : from+m.size], nil
}

func (m *mappedFrames) close() error { return unmap(m.file) }

// fileFrames are those of a file that is read one frame at a time.
type fileFrames struct {
	file  *os.File
	start int64
	buf   []byte // of one frame
}

func (f *fileFrames) frame(i int) ([]byte, error) {
	_, err := f.file.ReadAt(f.buf, f.start+int64(i)*int64(len(f.buf)))
	if err == io.EOF {
		err = arrayError("file was cut short: %w", io.ErrUnexpectedEOF)
	}
	return f.buf, err
}

func (f *fileFrames) close() error { return f.file.Close() }

// streamFrames are those that arrive on a stream, one after the other.
type streamFrames struct {
	r      io.Reader
	closer io.Closer // nil if r is the caller's
	header header
	count  int // of all frames
	size   int // of each frame
	held   int // the frame in buf; -1 before the first
	part   io.LimitedReader
	buf    bytes.Buffer
	err    error // of r, which cannot be read any more
}

func (s *streamFrames) frame(i int) ([]byte, error) {
	if i < s.held {
		return nil, fmt.Errorf("frame %d after frame %d: want ascending order from a stream", i, s.held)
	}
	for s.held < i && s.err == nil {
		s.err = s.advance()
	}
	return s.buf.Bytes(), s.err
}

// advance reads the next frame. Memory grows as bytes arrive, and is kept.
func (s *streamFrames) advance() error {
	s.buf.Reset()
	s.part = io.LimitedReader{R: s.r, N: int64(s.size)}
	n, err := s.buf.ReadFrom(&s.part)
	if err == nil && n < int64(s.size) {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return arrayError("samples of %d bytes in frame %d of %d: %w", s.size, s.held+1, s.count, err)
	}
	s.held++
	if s.held < s.count-1 {
		return nil
	}
	return s.header.checkEnd(s.r)
}

func (s *streamFrames) close() error {
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}
