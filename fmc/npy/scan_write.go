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
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/fmc"
)

// ScanWriter writes the frames of a scan to the disk as they come. Begin a scan with [CreateScan].
// Two goroutines must not use a ScanWriter at once.
type ScanWriter struct {
	files  *pending // nil once closed or discarded
	record Record   // of every frame
	header header   // of one frame
	length int      // of the header of the file, in bytes
	room   int      // bytes of the .json file that are left for frames
	frames []fmc.Frame
	buf    []byte
	err    error // of the disk: the scan is lost
}

// CreateScan begins a scan. Its frames are captures with the array, the pairs and the times of r.
// The arguments name and t have the meaning that they have for [WriteFile]. The samples of r are
// checked but not written.
//
// The scan has no files called name before [ScanWriter.Close]. [ScanWriter.Discard] gives up a
// scan, also a scan that an error ended:
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
	w := &ScanWriter{files: files, record: *r, header: newHeader(r.Capture, t)}
	w.buf = t.chunkBuffer()
	if err := w.begin(); err != nil {
		files.discard()
		return nil, fmt.Errorf("npy: %s: %w", name, err)
	}
	return w, nil
}

// begin writes a header and finds how much room the .json file has for the list of frames. The
// number of frames is not known yet, so the header has room for any number.
func (w *ScanWriter) begin() error {
	start := w.header.of(math.MaxInt).bytes(0)
	w.length = len(start)
	if _, err := w.files.array.Write(start); err != nil {
		return err
	}
	template := *w.record.Capture
	template.Data = nil
	w.record.Capture = &template
	w.record.Notes = maps.Clone(w.record.Notes)

	var text bytes.Buffer
	longest := strings.Repeat("x", maxName)   // name of the array
	all := []fmc.Frame{{Across: 1, Count: 1}} // with the lists that may be missing
	if err := writeDescription(&text, &w.record, longest, all); err != nil {
		return err
	}
	w.room = maxSetup - text.Len()
	return nil
}

// of returns the header of so many frames. h is the header of one frame.
func (h header) of(frames int) header {
	h.shape = append([]int{frames}, h.shape...)
	return h
}

// Append writes a frame after the frames before it. The index of the frame is above the index of
// the frame before, and the first index is at least 0. The time and the position are finite. The
// capture has the array, the pairs and the times of the capture that the scan was created with.
// Append copies the samples. It allocates no memory except for the list of indices, times,
// positions and counts. The .json file, which stores this list, has at most 32 MiB: there is room
// for at least 400,000 frames, and for 260,000 with positions across and counts.
//
// A frame that is refused leaves the scan as it was. After an error of the file system the scan is
// lost: Close then returns the same error.
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
		return setupError("scan", fmt.Sprintf("of %d frames", len(w.frames)+1),
			fmt.Sprintf("a .json file of %d bytes at most; close the scan and begin another",
				maxSetup))
	}
	if f.Capture == nil {
		return setupError("capture", "nil", "a capture")
	}
	if !f.Capture.Alike(w.record.Capture) {
		return setupError("capture", "of another kind",
			"the array, events, pairs and times of the capture that the scan was created with")
	}
	if err := f.Capture.CheckSamples(); err != nil {
		return err
	}
	return w.header.sampleType.validate(f.Capture)
}

// Close completes both files, brings them to the disk and gives them their names as [WriteFile]
// does: a crash leaves the old record or the new one, whole. A scan of no frames is an error. After
// an error the files are removed. After Close, the methods Append and Close return an error that
// wraps os.ErrClosed.
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
	err := writeDescription(w.files.setup, &w.record, w.files.nameArray(), w.frames)
	if err != nil {
		return err
	}
	return w.files.commit()
}

// Discard gives up a scan and removes what was written. After Close it does nothing.
func (w *ScanWriter) Discard() {
	if w.files != nil {
		w.files.discard()
		w.files = nil
	}
}
