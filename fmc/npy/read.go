// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// ReadFile reads the record whose set-up is the .json file name and whose
// samples are in the .npy file, in the same folder, that it names. All that
// the two say is checked, and that they fit each other. Memory for samples is
// taken only once the size of the .npy file is known to be right. If that file
// is compressed by gzip, which its first bytes tell and not its name, memory
// grows as samples arrive. A capture has [MaxSamples] samples at most, unless an
// option is [LimitSamples].
//
// A set-up that is possible but implausible is refused, unless an option is
// [AllowImplausible].
//
// Errors name the file at fault, and wrap [ErrSetup], [ErrArray],
// [ErrMismatch], [ErrImplausible] or an error of the file system.
func ReadFile(name string, options ...ReadOption) (*Record, error) {
	d, array, size, err := openRecord(name)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	defer array.Close()
	d.options = options
	r, err := d.readRecord(array, size)
	if err != nil {
		return nil, fmt.Errorf("npy: %s: %w", array.Name(), err)
	}
	return r, nil
}

// openRecord reads the .json file name and opens the array that it names, of the
// given size in bytes.
func openRecord(name string) (d *description, array *os.File, size int64, err error) {
	for missing := ""; ; missing = d.file {
		if d, err = readSetup(name); err != nil {
			return nil, nil, 0, err
		}
		array, size, err = open(filepath.Join(filepath.Dir(name), d.file))
		if err == nil {
			return d, array, size, nil
		}
		// Where the record was replaced in between, the set-up names another now.
		if !errors.Is(err, fs.ErrNotExist) || d.file == missing {
			return nil, nil, 0, fmt.Errorf("%s: samples of the record: %w", name, err)
		}
	}
}

// readSetup reads the .json file name.
func readSetup(name string) (*description, error) {
	f, _, err := open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	d, err := readDescription(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return d, nil
}

// open opens a regular file and returns its size in bytes.
func open(name string) (*os.File, int64, error) {
	// A pipe or device would have no size to check and might block for ever.
	info, err := os.Stat(name)
	if err != nil {
		return nil, 0, err
	}
	if !info.Mode().IsRegular() {
		return nil, 0, fmt.Errorf("%s: want a regular file", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, 0, err
	}
	// The name may be that of another file by now.
	if info, err = f.Stat(); err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s: want a regular file", name)
	}
	if err != nil {
		f.Close()
		return nil, 0, err
	}
	return f, info.Size(), nil
}

// Read reads a record from the content of its .json file, setup, and of its
// .npy file, array, both to their ends. The name of the array in the set-up is
// not used. All that the two say is checked, and that they fit each other.
// Memory for samples grows as they arrive. The array may be compressed by gzip, and
// options are those of [ReadFile].
//
// Errors wrap [ErrSetup], [ErrArray], [ErrMismatch], [ErrImplausible] or an error
// of a reader.
func Read(setup, array io.Reader, options ...ReadOption) (*Record, error) {
	d, err := readDescription(setup)
	if err != nil {
		return nil, fmt.Errorf("npy: set-up: %w", err)
	}
	d.options = options
	r, err := d.readRecord(array, -1)
	if err != nil {
		return nil, fmt.Errorf("npy: array: %w", err)
	}
	return r, nil
}

// readRecord completes the record with the .npy file that r yields, of the
// given size in bytes or of unknown size if that is below 0.
func (d *description) readRecord(r io.Reader, size int64) (*Record, error) {
	if d.frames != nil {
		return nil, fmt.Errorf("%w: scan: want a single capture; OpenScan and NewScanReader read scans", ErrSetup)
	}
	r, packed, err := inflate(r)
	if err != nil {
		return nil, err
	}
	if packed {
		size = -1
	}
	h, err := readHeader(r)
	if err != nil {
		return nil, err
	}
	if err := d.validateShape(h.shape); err != nil {
		return nil, err
	}
	if err := d.checkLimit(h); err != nil {
		return nil, err
	}
	if err := h.validateSize(size); err != nil {
		return nil, err
	}
	data, err := readSamples(r, h, size >= 0)
	if err != nil {
		return nil, err
	}
	return d.record(h, data)
}

// record returns the record of the given samples, or of zeros if they are nil.
// The shape in h has been validated.
func (d *description) record(h header, data []float32) (*Record, error) {
	c := d.frame
	c.Samples = h.shape[len(h.shape)-1]
	c.Data = data
	c.Pairs = d.pairs()
	capture, err := fmc.New(c)
	if bad := (*fmc.SampleError)(nil); errors.As(err, &bad) {
		return nil, fmt.Errorf("%w: %w", ErrArray, err)
	} else if err != nil {
		return nil, fmt.Errorf("%w: capture: %w", ErrSetup, err)
	}
	r := &Record{Title: d.title, Notes: d.notes, Capture: capture, Setup: d.setup}
	if err := d.checkPlausible(r); err != nil {
		return nil, err
	}
	return r, nil
}

// validateShape checks that an array of the given shape is what the set-up
// says.
func (d *description) validateShape(shape []int) error {
	n := len(d.frame.Array.Elements)
	want, source := []int{n, n}, fmt.Sprintf("%d elements", n)
	switch {
	case d.order == eventOrder:
		events := len(d.frame.Events)
		want, source = []int{events, n}, fmt.Sprintf("%d events and %d elements", events, n)
	case d.frame.Pairs != nil:
		want, source = []int{len(d.frame.Pairs)}, "the list of pairs"
	case d.order == pairOrder:
		want, source = []int{n * (n + 1) / 2}, fmt.Sprintf("the half matrix of %d elements", n)
	}
	if d.frames != nil {
		want, source = slices.Insert(want, 0, len(d.frames)), fmt.Sprintf("%d frames and %s", len(d.frames), source)
	}
	if !slices.Equal(shape[:len(shape)-1], want) {
		return fmt.Errorf("%w: shape %v in the order %q: want %v and the samples for %s", ErrMismatch, shape, d.order, want, source)
	}
	return nil
}

// pairs returns the pairs that the set-up lists or means.
func (d *description) pairs() []fmc.Pair {
	n := len(d.frame.Array.Elements)
	switch {
	case d.order == matrixOrder:
		return fmc.FullPairs(n)
	case d.order == eventOrder:
		return fmc.EventPairs(len(d.frame.Events), n)
	case d.frame.Pairs == nil:
		return fmc.HalfPairs(n)
	}
	return d.frame.Pairs
}

// validateSize checks the size of the whole file, if it is known.
func (h header) validateSize(size int64) error {
	want := int64(h.count()) * int64(h.size())
	switch have := size - h.length; {
	case size < 0 || have == want:
		return nil
	case have < want:
		return arrayError("%d bytes of samples: want %d: %w", have, want, io.ErrUnexpectedEOF)
	default:
		return arrayError("%d bytes of samples: want %d", have, want)
	}
}
