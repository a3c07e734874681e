// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// ScanReader reads the frames of a scan: in any order by Frame, or one after the other by Next,
// which is a [fmc.FrameSource]. Open a scan with [OpenScan]. After the first frame a ScanReader
// allocates no memory, however many frames there are.
//
// Two goroutines must not use a ScanReader at once. Several ScanReaders may read the same files.
type ScanReader struct {
	record *Record
	frames []fmc.Frame // without their captures
	header header
	count  int        // samples of a frame
	store  frameStore // nil once closed
	next   int        // the frame that Next returns
	buf    []byte     // a chunk of samples
	fresh  bool       // the capture holds frame 0 of a stream, which cannot be read again
	int16s []int16    // a frame that the file does not hold in this machine's form
	held   int        // the frame in int16s; -1 for none
}

// OpenScan opens the scan whose set-up is the .json file called name. The .json file names the .npy
// file with the samples, which lies in the same folder. A single capture is opened as a scan of one
// frame, whose index, time and position are 0. Everything is checked as in [ReadFile], and the
// steps and times of the frames are judged as well. The samples of frames after the first are
// checked when the frame is read.
//
// On Unix-like systems a file that is not compressed is mapped into memory. A frame that nobody
// asks for is then not read, and a scan may be larger than the memory. On other systems, and where
// mapping fails, one frame at a time is read from the file. The frames of an array that is
// compressed by gzip can be read in ascending order only, each frame once.
//
// This package may replace a scan while the scan is open: the reader keeps the old frames. If
// another program cuts the file short, or its disk fails, Frame and Next return an error, but the
// memory that [ScanReader.Int16] returns is not protected. If another program overwrites the file
// in place, a frame can hold old and new samples.
func OpenScan(name string, o *ReadOptions) (*ScanReader, error) {
	d, array, size, err := openRecord(name)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	s, err := d.openScan(array, size, o)
	if err != nil {
		array.Close()
		return nil, fmt.Errorf("npy: %s: %w", array.Name(), err)
	}
	return s, nil
}

// openScan opens the scan in a file of the given size in bytes.
func (d *description) openScan(f *os.File, size int64, o *ReadOptions) (*ScanReader, error) {
	_, packed, err := inflate(f)
	if err != nil {
		return nil, err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	if packed {
		return d.streamScan(f, f, o)
	}
	return d.openPlain(f, size, o, mapFrames)
}

// openPlain opens the scan in a file that is not compressed. mapping is [mapFrames], or a function
// that returns nil.
func (d *description) openPlain(f *os.File, size int64, o *ReadOptions,
	mapping func(f *os.File, h header, frame int) frameStore) (*ScanReader, error) {
	h, err := d.readHeader(f, size, o)
	if err != nil {
		return nil, err
	}
	frame := d.frameBytes(h)
	store := mapping(f, h, frame)
	if store == nil {
		store = &fileFrames{file: f, start: h.length, size: int64(frame)}
	}
	return d.scan(h, store, o)
}

// streamScan opens the scan that r yields. closer is closed with the scan.
func (d *description) streamScan(r io.Reader, closer io.Closer, o *ReadOptions) (
	*ScanReader, error) {
	r, _, err := inflate(r)
	if err != nil {
		return nil, err
	}
	h, err := d.readHeader(r, -1, o)
	if err != nil {
		return nil, err
	}
	store := &streamFrames{r: r, header: h, closer: closer, size: int64(d.frameBytes(h))}
	return d.scan(h, store, o)
}

// frameBytes returns the bytes of a frame.
func (d *description) frameBytes(h header) int {
	return h.count() / max(len(d.frames), 1) * h.size()
}

// scan returns the reader of the frames in store. After an error it closes the store.
func (d *description) scan(h header, store frameStore, o *ReadOptions) (*ScanReader, error) {
	frames := d.frames
	if frames == nil {
		frames = make([]fmc.Frame, 1)
	}
	n := h.count() / len(frames)
	s := &ScanReader{frames: frames, header: h, count: n, store: store, held: -1}
	s.buf = make([]byte, min(n, chunk)*h.size())
	if err := s.readFirst(d, o); err != nil {
		store.close()
		return nil, err
	}
	return s, nil
}

// readFirst reads frame 0 and makes the capture. No memory is allocated for the capture before the
// samples of frame 0 have arrived.
func (s *ScanReader) readFirst(d *description, o *ReadOptions) (err error) {
	if s.header.sampleType == Int16 {
		if _, mapped := s.view(0); mapped == nil {
			if _, err = s.copied(0); err != nil {
				return err
			}
		}
		if s.record, err = d.complete(s.header, nil, o); err != nil {
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
	s.record, err = d.complete(s.header, data, o)
	return err
}

// Record returns the title, the notes and the set-up of the scan, and the capture that every frame
// is read into. The capture holds the samples of the frame that was read last; before the first
// call of Frame or Next, the samples of frame 0. If a program changes the samples of a compressed
// scan before it reads frame 0, then it changes frame 0.
func (s *ScanReader) Record() *Record { return s.record }

// SampleType returns the type of the samples in the file.
func (s *ScanReader) SampleType() SampleType { return s.header.sampleType }

// Frames returns the index, the time and the position of every frame, without reading samples: the
// captures are nil. The slice is a copy, with at least one frame. Element i describes the frame
// that Frame(i) reads. The Index of a frame is above i if frames before it were lost.
func (s *ScanReader) Frames() []fmc.Frame { return slices.Clone(s.frames) }

// Frame reads frame i, from 0 to len(Frames())−1. The capture of the frame is valid until the next
// call of Frame or Next. The caller may change the capture: the file does not change. A sample that
// is NaN, Inf or beyond float32 is an [ErrArray] that wraps [*fmc.SampleError].
func (s *ScanReader) Frame(i int) (fmc.Frame, error) {
	if err := s.validate(i); err != nil {
		return fmc.Frame{}, err
	}
	f := s.frames[i]
	if err := s.read(i); err != nil {
		return fmc.Frame{}, fmt.Errorf("npy: frame %d: %w", f.Index, err)
	}
	f.Capture = s.record.Capture
	return f, nil
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

// Int16 returns the samples of frame i, from 0 to len(Frames())−1, in the order of the capture's
// Data. The samples of the scan must be of the type [Int16]. The slice is the file itself, not a
// copy, if the file is mapped into memory and has the byte order of the machine. Nearly all
// machines are little-endian.
//
// The caller must not change the samples: to write to a mapped file kills the program. The samples
// are valid until the next call of Frame, Next, Int16 or Close.
//
// If a mapped file is cut short, or its disk fails, then the program that reads these samples is
// killed (SIGBUS). This package cannot prevent that, because the samples are read outside of it,
// for example in the goroutines of a plan that images them. In a goroutine of its own the caller
// can turn the fault into a panic by [runtime/debug.SetPanicOnFault]. If the file may shrink, use
// Frame, which copies the samples and returns an error.
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

// view returns the int16 samples of frame i in the mapped memory, and the store to read them by. It
// returns nil if the samples must be copied.
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

// copied returns a copy of the int16 samples of frame i.
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

// readFrame reads the samples of frame i into samples, from the beginning of the slice.
func readFrame[T int16 | float32](s *ScanReader, i int, samples []T,
	decode func(header, []T, []byte) []T) ([]T, error) {
	if err := s.store.seek(i); err != nil {
		return nil, err
	}
	samples, err := gather(samples, s.count, s.store, s.buf, s.header, decode)
	if err != nil && !errors.Is(err, ErrArray) {
		err = arrayError("samples of %d bytes in frame %d of %d: %w",
			s.count*s.header.size(), i, len(s.frames), err)
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

// Next reads the next frame, beginning with frame 0, as [fmc.FrameSource] describes. Calls of Frame
// do not change which frame is the next. Next waits only for the disk, which ctx does not
// interrupt.
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

// Close closes the files. Frames stay valid; the samples that Int16 returned do not. After Close,
// the methods Frame, Next, Int16 and Close return an error that wraps os.ErrClosed.
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
