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

// ReadOptions change how a record or a scan is read. Nil stands for the defaults.
type ReadOptions struct {
	// AllowImplausible reads a set-up with implausible values too. [Record.Validate] lists these
	// values. By default they are an error that wraps [ErrImplausible].
	AllowImplausible bool

	// MaxSamples is the greatest number of samples of a capture, or of one frame of a scan, from 1.
	// The value 0 stands for 2^28 samples, which take 1 GiB as float32. A trace of fewer than 16
	// samples counts as 16, because its pair takes memory too. A capture of more samples is an
	// error that wraps [ErrArray], before memory is allocated for it.
	//
	// To read a capture, or all frames of a scan, less than 8 bytes are allocated for each sample
	// of this limit. This also counts memory that was freed again. In addition there are 1 MiB and
	// the memory for the set-up, which is at most 48 times the length of the .json file.
	MaxSamples int
}

// ReadFile reads the record whose set-up is the .json file called name. The .json file names the
// .npy file with the samples, which lies in the same folder. ReadFile checks all that both files
// state, and that the files agree.
//
// Errors name the file at fault, and wrap [ErrSetup], [ErrArray], [ErrImplausible] or an error of
// the file system.
func ReadFile(name string, o *ReadOptions) (*Record, error) {
	d, array, size, err := openRecord(name)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	defer array.Close()
	r, err := d.readRecord(array, size, o)
	if err != nil {
		return nil, fmt.Errorf("npy: %s: %w", array.Name(), err)
	}
	return r, nil
}

// Read is [ReadFile] for streams: setup yields the .json file, and array yields the .npy file,
// plain or compressed by gzip. It reads both to their end. The name of the file in the set-up does
// not matter. Memory grows as the bytes arrive.
func Read(setup, array io.Reader, o *ReadOptions) (*Record, error) {
	d, err := readDescription(setup)
	if err != nil {
		return nil, fmt.Errorf("npy: set-up: %w", err)
	}
	r, err := d.readRecord(array, -1, o)
	if err != nil {
		return nil, fmt.Errorf("npy: array: %w", err)
	}
	return r, nil
}

// openRecord reads the .json file called name and opens the array that the file names. size is the
// length of the array's file in bytes.
func openRecord(name string) (d *description, array *os.File, size int64, err error) {
	for missing := ""; ; missing = d.file {
		if d, err = readSetup(name); err != nil {
			return nil, nil, 0, err
		}
		array, size, err = open(filepath.Join(filepath.Dir(name), d.file))
		if err == nil {
			return d, array, size, nil
		}
		// If the record was replaced in between, the set-up names another array now.
		if !errors.Is(err, fs.ErrNotExist) || d.file == missing {
			return nil, nil, 0, fmt.Errorf("%s: samples of the record: %w", name, err)
		}
	}
}

// readSetup reads the .json file called name.
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

// open opens a regular file and returns its size in bytes. A pipe or a device has no size to check,
// and opening it could block for ever.
func open(name string) (*os.File, int64, error) {
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
	// The name may be the name of another file by now.
	if info, err = f.Stat(); err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s: want a regular file", name)
	}
	if err != nil {
		f.Close()
		return nil, 0, err
	}
	return f, info.Size(), nil
}

// readRecord completes the record with the .npy file that r yields. size is the length of the file
// in bytes; it is unknown if size is below 0.
func (d *description) readRecord(r io.Reader, size int64, o *ReadOptions) (*Record, error) {
	if d.frames != nil {
		return nil, fmt.Errorf("%w: scan: want a single capture; OpenScan reads scans", ErrSetup)
	}
	r, packed, err := inflate(r)
	if err != nil {
		return nil, err
	}
	if packed {
		size = -1
	}
	h, err := d.readHeader(r, size, o)
	if err != nil {
		return nil, err
	}
	data, err := readSamples(r, h, size >= 0)
	if err != nil {
		return nil, err
	}
	return d.complete(h, data, o)
}

// readHeader reads the header of the array. It checks the shape against the set-up, the number of
// samples against the limit, and the size of the whole file, unless that is below 0.
func (d *description) readHeader(r io.Reader, size int64, o *ReadOptions) (header, error) {
	h, err := readHeader(r)
	if err != nil {
		return h, err
	}
	if err := d.validateShape(h.shape); err != nil {
		return h, err
	}
	if err := d.validateSamples(h, o); err != nil {
		return h, err
	}
	return h, h.validateSize(size)
}

// complete returns the record of the given samples, or of zeros if data is nil. The shape in h has
// been validated.
func (d *description) complete(h header, data []float32, o *ReadOptions) (*Record, error) {
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
	r := d.record
	r.Capture = capture
	if o != nil && o.AllowImplausible {
		return &r, nil
	}
	if err := implausible(append(r.findings(), frameFindings(d.frames)...)); err != nil {
		return nil, err
	}
	return &r, nil
}

// validateShape checks that an array has the shape that the set-up states.
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
		want = slices.Insert(want, 0, len(d.frames))
		source = fmt.Sprintf("%d frames and %s", len(d.frames), source)
	}
	if !slices.Equal(shape[:len(shape)-1], want) {
		return arrayError(
			"shape %v in the order %q: want %v and the samples for %s, as the set-up states",
			shape, d.order, want, source)
	}
	return nil
}

// validateSamples checks the number of samples of a capture, or of a frame of a scan, against the
// limit.
func (d *description) validateSamples(h header, o *ReadOptions) error {
	most := 1 << 28
	if o != nil && o.MaxSamples != 0 {
		most = o.MaxSamples
	}
	if most < 1 {
		return fmt.Errorf("MaxSamples %d: want at least 1, or 0 for the default", most)
	}
	samples := h.shape[len(h.shape)-1]
	traces := h.count() / max(len(d.frames), 1) / samples
	if traces > most/max(samples, 16) {
		return arrayError("capture of %d traces of %d samples: want %d samples in all at most, "+
			"where a trace counts as 16 or more; ReadOptions.MaxSamples allows others",
			traces, samples, most)
	}
	return nil
}

// pairs returns the pairs that the set-up lists, or that its order implies.
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

// validateSize checks the size of the whole file in bytes, unless size is below 0.
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
