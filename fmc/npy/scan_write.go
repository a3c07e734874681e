// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"reflect"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/fmc"
)

// ScanWriter writes the frames of a scan to the disk as they come. Make one
// with [CreateScan]. It must not be used by two goroutines at once.
type ScanWriter struct {
	files  *pending // nil once closed or discarded
	record Record   // of every frame
	header header   // of one frame
	length int      // of the header of the file, in bytes
	room   int      // bytes of the .json file that are left for frames
	frames []fmc.Frame
	buf    []byte
	err    error // of the disk: what follows is lost
}

// CreateScan begins a scan whose frames are captures like that of r: of the
// same array, pairs and times. name and t are as for [WriteFile]. The samples
// of r are checked but not written.
//
// Nothing shows under that name before [ScanWriter.Close]. A scan that is not
// to be kept, or that an error ended, is given up by [ScanWriter.Discard]:
//
//	w, err := npy.CreateScan(name, record, npy.Int16)
//	if err != nil {
//		return err
//	}
//	defer w.Discard()
//	for frame, err := range fmc.Frames(ctx, source) {
//		if err != nil {
//			return err
//		}
//		if err := w.Append(frame); err != nil {
//			return err
//		}
//	}
//	return w.Close()
func CreateScan(name string, r *Record, t SampleType) (*ScanWriter, error) {
	if err := r.validateFor(t); err != nil {
		return nil, fmt.Errorf("npy: %s: %w", name, err)
	}
	files, err := createPending(name, ".npy")
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	w := &ScanWriter{files: files, record: *r, header: newHeader(r.Capture, t), buf: t.chunkBuffer()}
	// The number of frames is not known yet: this header leaves room for any.
	start := w.header.of(math.MaxInt).bytes(0)
	w.length = len(start)
	if _, err := files.array.Write(start); err != nil {
		files.discard()
		return nil, fmt.Errorf("npy: %w", err)
	}
	template := *r.Capture
	template.Data = nil
	w.record.Capture = &template
	w.record.Notes = maps.Clone(r.Notes)
	if err := w.measure(); err != nil {
		files.discard()
		return nil, fmt.Errorf("npy: %s: %w", name, err)
	}
	return w, nil
}

// measure finds how much room the .json file has for the list of frames.
func (w *ScanWriter) measure() error {
	var text bytes.Buffer
	longest := strings.Repeat("x", maxName) // name of the array
	if err := writeDescription(&text, &w.record, longest, make([]fmc.Frame, 1)); err != nil {
		return err
	}
	w.room = MaxSetup - text.Len()
	return nil
}

// of returns the header of so many frames, each of which h is the header of.
func (h header) of(frames int) header {
	h.shape = append([]int{frames}, h.shape...)
	return h
}

// Append writes a frame after those before it. Its index is above theirs, the
// first at least 0; its time and position are finite; its capture is like the
// one that the scan was created with. Its samples are copied. No memory is
// taken but for the list of times and positions. There is an end to that list: the
// .json file is not longer than [MaxSetup], which is room for at least 400,000 frames.
//
// A frame that is refused leaves the scan as it was; after an error of the file
// system the scan is lost, and Close returns that error too.
func (w *ScanWriter) Append(f fmc.Frame) error {
	if w.files == nil {
		return fmt.Errorf("npy: scan: %w", os.ErrClosed)
	}
	if w.err != nil {
		return w.err
	}
	if err := w.validate(f); err != nil {
		return fmt.Errorf("npy: frame %d: %w", f.Index, err)
	}
	if err := w.header.sampleType.writeSamples(w.files.array, f.Capture.Data, w.buf); err != nil {
		w.err = fmt.Errorf("npy: %w", err)
		return w.err
	}
	f.Capture = nil
	w.frames = append(w.frames, f)
	w.room -= frameLength(f, w.buf)
	return nil
}

func (w *ScanWriter) validate(f fmc.Frame) error {
	last := -1
	if n := len(w.frames); n > 0 {
		last = w.frames[n-1].Index
	}
	if err := validateFrame(f, last); err != nil {
		return err
	}
	if frameLength(f, w.buf) > w.room {
		return setupError("scan", fmt.Sprintf("of %d frames", len(w.frames)+1), fmt.Sprintf("a .json file of %d bytes at most; close the scan and begin another", MaxSetup))
	}
	if f.Capture == nil {
		return setupError("capture", "nil", "a capture")
	}
	if !alike(f.Capture, w.record.Capture) {
		return fmt.Errorf("%w: want a capture of the array, pairs and times that the scan was created with", ErrMismatch)
	}
	if err := f.Capture.CheckSamples(); err != nil {
		return err
	}
	return w.header.sampleType.validate(f.Capture)
}

// alike reports whether two captures differ in their samples at most. It takes
// no time to speak of where they share their slices, as those of a source do.
func alike(a, b *fmc.Capture) bool {
	x, y := *a, *b
	x.Data, y.Data = nil, nil
	return reflect.DeepEqual(&x, &y)
}

// Close completes both files, brings them to the disk and gives them their
// names as [WriteFile] does: a crash leaves the old record or the new one, whole.
// A scan has one frame at least. After an error the files are removed. Close and
// Append after Close return an error that wraps os.ErrClosed.
func (w *ScanWriter) Close() error {
	if w.files == nil {
		return fmt.Errorf("npy: scan: %w", os.ErrClosed)
	}
	defer w.Discard()
	if w.err != nil {
		return w.err
	}
	if err := w.complete(); err != nil {
		return fmt.Errorf("npy: %s: %w", w.files.name(), err)
	}
	return nil
}

func (w *ScanWriter) complete() error {
	if len(w.frames) == 0 {
		return errors.New("scan of 0 frames: want at least 1")
	}
	h := w.header.of(len(w.frames))
	if err := h.validateShape(); err != nil {
		return fmt.Errorf("%w on a machine of %d bits", err, strconv.IntSize)
	}
	if _, err := w.files.array.WriteAt(h.bytes(w.length), 0); err != nil {
		return err
	}
	if err := writeDescription(w.files.setup, &w.record, w.files.nameArray(), w.frames); err != nil {
		return err
	}
	return w.files.commit()
}

// Discard gives up a scan and removes what was written. After Close it does
// nothing.
func (w *ScanWriter) Discard() {
	if w.files != nil {
		w.files.discard()
		w.files = nil
	}
}
