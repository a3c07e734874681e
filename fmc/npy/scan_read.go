// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"context"
	"fmt"
	"io"
	"os"

	"github.com/isochron-imaging/isochron/fmc"
)

// ScanReader reads the frames of a scan, in any order by Frame or one after the
// other by Next, which makes it a [fmc.FrameSource]. Open one with [OpenScan] or
// [NewScanReader]. After the first frame it takes no more memory, however many
// frames there are.
//
// It must not be used by two goroutines at once; several readers may read the
// same files.
type ScanReader struct {
	record *Record
	frames []fmc.Frame
	header header
	store  frameStore // nil once closed
	next   int        // the frame that Next returns
	int16s []int16    // a frame that the file does not hold as this machine would
}

// OpenScan opens the scan whose set-up is the .json file name and whose samples
// are in the .npy file, in the same folder, that it names. A single capture is
// opened as a scan of one frame, whose index, time and position are 0. All is
// checked as [ReadFile] does it, but for the values of samples, which Frame
// checks. Options are those of [ReadFile]; the steps and the times of the frames are
// judged as well.
//
// On Unix-like systems a plain file is mapped into memory: frames that are not
// asked for are not read, and a scan may be larger than the memory. The files
// must not be cut short while they are open: reading what is gone from a mapped
// file kills the program (SIGBUS), which Go cannot turn into an error. A scan
// that this package replaces is safe: the old array stays until it is closed. Elsewhere, and where mapping fails, frames
// are read from the file one at a time.
//
// If the array is compressed by gzip, frames can be read in ascending order
// only, and have [MaxInflated] samples each at most.
func OpenScan(name string, options ...ReadOption) (*ScanReader, error) {
	d, array, size, err := openRecord(name)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	d.options = options
	s, err := d.openScan(array, size)
	if err != nil {
		array.Close()
		return nil, fmt.Errorf("npy: %s: %w", array.Name(), err)
	}
	return s, nil
}

// NewScanReader is [OpenScan] for streams: setup yields the .json file, and
// array the .npy file, plain or compressed by gzip. It reads setup to its end,
// and of array the first frame; Frame and Next read on, in ascending order
// only. That nothing follows the last frame is checked when that is read.
// Memory grows as the bytes of the first frame arrive. Close does not close
// array.
func NewScanReader(setup, array io.Reader, options ...ReadOption) (*ScanReader, error) {
	d, err := readDescription(setup)
	if err != nil {
		return nil, fmt.Errorf("npy: set-up: %w", err)
	}
	d.options = options
	s, err := d.streamScan(array, nil)
	if err != nil {
		return nil, fmt.Errorf("npy: array: %w", err)
	}
	return s, nil
}

// openScan opens the scan in a file of the given size.
func (d *description) openScan(f *os.File, size int64) (*ScanReader, error) {
	_, packed, err := inflate(f)
	if err != nil {
		return nil, err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	if packed {
		return d.streamScan(f, f)
	}
	return d.openPlain(f, size, mapFile)
}

// openPlain opens the scan in a file that is not compressed. mapping is
// [mapFile], or returns nil.
func (d *description) openPlain(f *os.File, size int64, mapping func(*os.File, int64) []byte) (*ScanReader, error) {
	h, err := d.scanHeader(f)
	if err != nil {
		return nil, err
	}
	if err := h.validateSize(size); err != nil {
		return nil, err
	}
	frame := h.count() / len(d.frames) * h.size()
	if file := mapping(f, size); file != nil {
		s, err := d.scan(h, &mappedFrames{file: file, start: int(h.length), size: frame})
		if err != nil {
			unmap(file)
			return nil, err
		}
		return s, f.Close() // the mapping stays
	}
	return d.scan(h, &fileFrames{file: f, start: h.length, buf: make([]byte, frame)})
}

// streamScan opens the scan that r yields.
func (d *description) streamScan(r io.Reader, closer io.Closer) (*ScanReader, error) {
	r, packed, err := inflate(r)
	if err != nil {
		return nil, err
	}
	h, err := d.scanHeader(r)
	if err != nil {
		return nil, err
	}
	n := h.count() / len(d.frames)
	if packed && n > MaxInflated {
		return nil, arrayError("%d samples a frame in a gzip file: want %d at most", n, MaxInflated)
	}
	return d.scan(h, &streamFrames{r: r, header: h, closer: closer, count: len(d.frames), size: n * h.size(), held: -1})
}

// scanHeader reads the header of the array. A single capture becomes a scan.
func (d *description) scanHeader(r io.Reader) (header, error) {
	h, err := readHeader(r)
	if err != nil {
		return h, err
	}
	if err := d.validateShape(h.shape); err != nil {
		return h, err
	}
	if d.frames == nil {
		d.frames = make([]fmc.Frame, 1)
	}
	return h, nil
}

// scan returns the reader of the frames in store.
func (d *description) scan(h header, store frameStore) (*ScanReader, error) {
	// The bytes of a frame must be there before memory for one is taken.
	if _, err := store.frame(0); err != nil {
		return nil, err
	}
	r, err := d.record(h, nil)
	if err != nil {
		return nil, err
	}
	s := &ScanReader{record: r, frames: d.frames, header: h, store: store}
	for i := range s.frames {
		s.frames[i].Capture = r.Capture
	}
	return s, nil
}

// Record returns the title and the set-up of the scan, and the capture that
// every frame is read into: its samples are those of the frame read last, zeros
// before the first.
func (s *ScanReader) Record() *Record { return s.record }

// SampleType returns the type of the samples in the file.
func (s *ScanReader) SampleType() SampleType { return s.header.sampleType }

// Len returns the number of frames, at least 1. They are numbered by i from 0
// to Len−1; the index of a frame is above i where frames were lost.
func (s *ScanReader) Len() int { return len(s.frames) }

// At returns frame i without reading its samples: its Capture is that of
// [ScanReader.Record], which holds those of the frame read last. It wants 0 ≤ i <
// Len, and panics outside that like an index into a slice.
func (s *ScanReader) At(i int) fmc.Frame { return s.frames[i] }

// Frame reads frame i, 0 ≤ i < Len. Its capture is valid until the next call
// of Frame or Next and may be changed: the file is not. A sample that is NaN,
// Inf or beyond float32 is an [ErrArray] that wraps [*fmc.SampleError].
func (s *ScanReader) Frame(i int) (fmc.Frame, error) {
	b, err := s.bytes(i)
	if err != nil {
		return fmc.Frame{}, err
	}
	c := s.record.Capture
	if s.header.sampleType == Int16 {
		if view := s.header.int16View(b); view != nil {
			return s.frames[i], c.SetInt16(view)
		}
	}
	c.Data = s.header.appendDecoded(c.Data[:0], b)
	if err := c.CheckSamples(); err != nil {
		return fmc.Frame{}, fmt.Errorf("npy: frame %d: %w: %w", s.frames[i].Index, ErrArray, err)
	}
	return s.frames[i], nil
}

// Int16 returns the samples of frame i, 0 ≤ i < Len, of a scan whose samples
// are int16, in the order of the capture's Data. Where the file is mapped into
// memory and has the byte order of the machine (little-endian on nearly all),
// they are the file itself, not a copy.
//
// They are for reading only: writing to a mapped file kills the program. They
// are valid until the next call of Frame, Next, Int16 or Close.
func (s *ScanReader) Int16(i int) ([]int16, error) {
	if s.header.sampleType != Int16 {
		return nil, fmt.Errorf("npy: int16 samples of a scan of %v", s.header.sampleType)
	}
	b, err := s.bytes(i)
	if err != nil {
		return nil, err
	}
	if view := s.header.int16View(b); view != nil {
		return view, nil
	}
	s.int16s = s.header.appendInt16(s.int16s[:0], b)
	return s.int16s, nil
}

// bytes returns the bytes of frame i.
func (s *ScanReader) bytes(i int) ([]byte, error) {
	if s.store == nil {
		return nil, fmt.Errorf("npy: scan: %w", os.ErrClosed)
	}
	if i < 0 || i >= len(s.frames) {
		return nil, fmt.Errorf("npy: frame %d of the scan: want 0 to %d", i, len(s.frames)-1)
	}
	b, err := s.store.frame(i)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	return b, nil
}

// Next reads the next frame, from frame 0 on, as [fmc.FrameSource] says; Frame
// does not change which that is. It does not wait, but for the disk or the
// stream, which ctx does not interrupt.
func (s *ScanReader) Next(ctx context.Context) (fmc.Frame, error) {
	if err := ctx.Err(); err != nil {
		return fmc.Frame{}, err
	}
	if s.next == len(s.frames) {
		return fmc.Frame{}, io.EOF
	}
	f, err := s.Frame(s.next)
	if err == nil {
		s.next++
	}
	return f, err
}

// Close ends the reading. Frames stay valid; what Int16 returned does not. A
// second call returns an error that wraps os.ErrClosed, as do Frame, Next and
// Int16.
func (s *ScanReader) Close() error {
	if s.store == nil {
		return fmt.Errorf("npy: scan: %w", os.ErrClosed)
	}
	store := s.store
	s.store, s.int16s = nil, nil
	if err := store.close(); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

var _ fmc.FrameSource = (*ScanReader)(nil)
