// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/isochron-imaging/isochron/fmc"
)

// ScanReader reads the frames of a scan, in any order by Frame or one after the
// other by Next, which is a [fmc.FrameSource]. Open one with [OpenScan] or
// [NewScanReader]. After the first frame it takes no
// more memory, however many frames there are.
//
// It must not be used by two goroutines at once; several readers may read the
// same files.
type ScanReader struct {
	record *Record
	frames []fmc.Frame
	header header
	count  int        // samples of a frame
	store  frameStore // nil once closed
	next   int        // the frame that Next returns
	buf    []byte     // a chunk of samples
	fresh  bool       // the capture holds frame 0 of a stream, which cannot be read again
	int16s []int16    // a frame that the file does not hold as this machine would
	held   int        // the frame in int16s; -1 for none
}

// OpenScan opens the scan whose set-up is the .json file name and whose samples
// are in the .npy file, in the same folder, that it names. A single capture is
// opened as a scan of one frame, whose index, time and position are 0. All is
// checked as [ReadFile] does it, except for the samples of frames after the first:
// Frame checks them. Options are those of [ReadFile]; the steps and the times of the
// frames are judged as well. The limit of samples is for each frame.
//
// On Unix-like systems a plain file is mapped into memory: frames that are not
// asked for are not read, and a scan may be larger than the memory. Elsewhere, and
// where mapping fails, frames are read from the file one at a time. The files should
// not be cut short while they are open; a scan that this package replaces is safe:
// the old array stays until it is closed. If a file is cut short, or its disk fails,
// Frame and Next return an error. A file that is overwritten in place, which this
// package never does, can give a frame of old and new samples. Only [ScanReader.Int16] hands out the mapped memory
// itself: see there.
//
// If the array is compressed by gzip, frames can be read in ascending order only,
// as by [NewScanReader].
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
// only, each frame once. That nothing follows the last frame is checked when that is
// read. Memory grows as the bytes of the first frame arrive. Close does not close
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
	return d.openPlain(f, size, mapFrames)
}

// openPlain opens the scan in a file that is not compressed. mapping is
// [mapFrames], or returns nil.
func (d *description) openPlain(f *os.File, size int64, mapping func(*os.File, header, int) frameStore) (*ScanReader, error) {
	h, err := d.scanHeader(f)
	if err != nil {
		return nil, err
	}
	if err := h.validateSize(size); err != nil {
		return nil, err
	}
	frame := h.count() / len(d.frames) * h.size()
	store := mapping(f, h, frame)
	if store == nil {
		store = &fileFrames{file: f, start: h.length, size: int64(frame)}
	}
	return d.scan(h, store)
}

// streamScan opens the scan that r yields.
func (d *description) streamScan(r io.Reader, closer io.Closer) (*ScanReader, error) {
	r, _, err := inflate(r)
	if err != nil {
		return nil, err
	}
	h, err := d.scanHeader(r)
	if err != nil {
		return nil, err
	}
	frame := h.count() / len(d.frames) * h.size()
	return d.scan(h, &streamFrames{r: r, header: h, closer: closer, size: int64(frame)})
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
	return h, d.checkLimit(h)
}

// scan returns the reader of the frames in store, which it closes after an error.
func (d *description) scan(h header, store frameStore) (*ScanReader, error) {
	n := h.count() / len(d.frames)
	s := &ScanReader{frames: d.frames, header: h, count: n, store: store, buf: make([]byte, min(n, chunk)*h.size()), held: -1}
	if err := s.readFirst(d); err != nil {
		store.close()
		return nil, err
	}
	for i := range s.frames {
		s.frames[i].Capture = s.record.Capture
	}
	return s, nil
}

// readFirst reads frame 0 and makes the capture. Its samples must be there before
// memory is taken for a capture.
func (s *ScanReader) readFirst(d *description) (err error) {
	if s.header.sampleType == Int16 {
		if _, mapped := s.view(0); mapped == nil {
			if _, err = s.copied(0); err != nil {
				return err
			}
		}
		if s.record, err = d.record(s.header, nil); err != nil {
			return err
		}
		return s.read(0)
	}
	var data []float32
	if _, s.fresh = s.store.(*streamFrames); !s.fresh {
		data = make([]float32, 0, s.count)
	}
	if data, err = readFrame(s, 0, data, header.appendDecoded); err != nil {
		return err
	}
	s.record, err = d.record(s.header, data)
	return err
}

// Record returns the title, the notes and the set-up of the scan, and the capture
// that every frame is read into. Its samples are the samples of the frame read last;
// right after opening, of frame 0. Whoever changes them before frame 0 is read from a
// stream changes that frame.
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
	if err := s.validate(i); err != nil {
		return fmc.Frame{}, err
	}
	if err := s.read(i); err != nil {
		return fmc.Frame{}, fmt.Errorf("npy: frame %d: %w", s.frames[i].Index, err)
	}
	return s.frames[i], nil
}

// read reads frame i into the capture.
func (s *ScanReader) read(i int) (err error) {
	c := s.record.Capture
	if s.header.sampleType != Int16 {
		return s.readFloats(i)
	}
	samples, mapped := s.view(i)
	if mapped == nil {
		if samples, err = s.copied(i); err != nil {
			return err
		}
		return c.SetInt16(samples)
	}
	if err := mapped.setInt16(c, samples); err != nil {
		return err
	}
	return mapped.check()
}

func (s *ScanReader) readFloats(i int) error {
	if s.fresh && i == 0 {
		s.fresh = false
		return nil
	}
	s.fresh = false
	c := s.record.Capture
	data, err := readFrame(s, i, c.Data, header.appendDecoded)
	if err != nil {
		return err
	}
	c.Data = data
	if err := c.CheckSamples(); err != nil {
		return fmt.Errorf("%w: %w", ErrArray, err)
	}
	return nil
}

// Int16 returns the samples of frame i, 0 ≤ i < Len, of a scan whose samples
// are int16, in the order of the capture's Data. Where the file is mapped into
// memory and has the byte order of the machine (little-endian on nearly all),
// they are the file itself, not a copy.
//
// They are for reading only: writing to a mapped file kills the program. They
// are valid until the next call of Frame, Next, Int16 or Close.
//
// If a mapped file is cut short, or its disk fails, then whoever reads these samples
// kills the program (SIGBUS). This package cannot prevent that, because the samples are
// read outside of it, for example in the goroutines of a plan that images them. In a
// goroutine of its own the caller can turn the fault into a panic by
// [runtime/debug.SetPanicOnFault]. Where a file may shrink, use Frame, which copies the
// samples and returns an error.
func (s *ScanReader) Int16(i int) ([]int16, error) {
	if s.header.sampleType != Int16 {
		return nil, fmt.Errorf("npy: int16 samples of a scan of %v", s.header.sampleType)
	}
	if err := s.validate(i); err != nil {
		return nil, err
	}
	samples, mapped := s.view(i)
	var err error
	if mapped != nil {
		err = mapped.check()
	} else {
		samples, err = s.copied(i)
	}
	if err != nil {
		return nil, fmt.Errorf("npy: frame %d: %w", s.frames[i].Index, err)
	}
	return samples, nil
}

// view returns the samples of frame i, which are int16, where they lie, and the
// store to read them by; nil where they must be copied.
func (s *ScanReader) view(i int) ([]int16, viewer) {
	mapped, ok := s.store.(viewer)
	if !ok {
		return nil, nil
	}
	if samples := s.header.int16View(mapped.view(i)); samples != nil {
		return samples, mapped
	}
	return nil, nil
}

// copied returns a copy of the samples of frame i, which are int16.
func (s *ScanReader) copied(i int) ([]int16, error) {
	if s.held == i {
		return s.int16s, nil
	}
	s.held = -1
	samples, err := readFrame(s, i, s.int16s, header.appendInt16)
	if err != nil {
		return nil, err
	}
	s.int16s, s.held = samples, i
	return samples, nil
}

// readFrame reads the samples of frame i into samples, from its beginning.
func readFrame[T int16 | float32](s *ScanReader, i int, samples []T, decode func(header, []T, []byte) []T) ([]T, error) {
	if err := s.store.seek(i); err != nil {
		return nil, err
	}
	samples, err := gather(samples, s.count, s.store, s.buf, s.header, decode)
	if err != nil && !errors.Is(err, ErrArray) {
		err = arrayError("samples of %d bytes in frame %d of %d: %w", s.count*s.header.size(), i, len(s.frames), err)
	}
	if err != nil {
		return nil, err
	}
	return samples, s.store.check()
}

// validate checks that frame i can be read.
func (s *ScanReader) validate(i int) error {
	if s.store == nil {
		return fmt.Errorf("npy: scan: %w", os.ErrClosed)
	}
	if i < 0 || i >= len(s.frames) {
		return fmt.Errorf("npy: frame %d of the scan: want 0 to %d", i, len(s.frames)-1)
	}
	return nil
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
