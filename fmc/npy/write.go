// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"compress/gzip"
	"errors"
	"fmt"
	"io"

	"github.com/isochron-imaging/isochron/fmc"
)

// WriteFile writes the set-up of a record as the .json file called name, and the samples as type t
// in a .npy file in the same folder. name ends in ".json". The .npy file has the same name with
// the end ".npy". If the record replaces another, the .npy file has another name.
//
// [Float32] and [Float64] keep every bit of the samples. [Int16] keeps integers from -32768 to
// 32767, and any other sample is an error that wraps [ErrNotInt16]. Implausible values are no
// error: a capture that was taken is not lost.
//
// A record is replaced as a whole. If the program is killed or the machine stops, the .json file is
// the old file or the new file. The array that it names belongs to it. The package documentation
// describes, under "Replacing a record", which files such a stop leaves behind.
//
// Errors wrap [ErrSetup], [ErrNotInt16], an error of package fmc or an error of the file system.
// After an error the temporary files are removed.
func WriteFile(name string, r *Record, t SampleType) error {
	return writeFile(name, ".npy", r, t, write)
}

// WriteFileGzip is [WriteFile] with the samples compressed by gzip, in a file whose name ends in
// ".npy.gz".
func WriteFileGzip(name string, r *Record, t SampleType) error {
	return writeFile(name, ".npy.gz", r, t, writeGzip)
}

// writeFile validates r and calls write to fill the two files.
func writeFile(name, extension string, r *Record, t SampleType,
	write func(setup, array io.Writer, file string, r *Record, t SampleType) error) error {
	if err := r.validateFor(t); err != nil {
		return fmt.Errorf("npy: %s: %w", name, err)
	}
	p, err := createPending(name, extension)
	if err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	defer p.discard()
	if err := write(p.setup, p.array, p.nameArray(), r, t); err != nil {
		return fmt.Errorf("npy: %s: %w", name, err)
	}
	if err := p.commit(); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

// Write is [WriteFile] for streams. It writes the .json file to setup and the .npy file to array.
// The set-up names the .npy file as file, which has no folder. To compress the samples, pass a
// gzip.Writer as array, and close it after Write.
func Write(setup, array io.Writer, file string, r *Record, t SampleType) error {
	err := validateFile(file)
	if err == nil {
		err = r.validateFor(t)
	}
	if err == nil {
		err = write(setup, array, file, r, t)
	}
	if err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

// validateFor checks that r can be written with samples of type t.
func (r *Record) validateFor(t SampleType) error {
	if err := r.validate(); err != nil {
		return err
	}
	return t.validate(r.Capture)
}

// write writes a valid record.
func write(setup, array io.Writer, file string, r *Record, t SampleType) error {
	if err := writeDescription(setup, r, file, nil); err != nil {
		return err
	}
	if _, err := array.Write(newHeader(r.Capture, t).bytes(0)); err != nil {
		return err
	}
	return t.writeSamples(array, r.Capture.Data, t.chunkBuffer())
}

// writeGzip is write with the array compressed by gzip.
func writeGzip(setup, array io.Writer, file string, r *Record, t SampleType) error {
	z := gzip.NewWriter(array)
	return errors.Join(write(setup, z, file, r, t), z.Close())
}

// newHeader returns the header of a capture. The full layout has an axis of transmitters or events
// and an axis of receivers. The other layouts have an axis of pairs.
func newHeader(c *fmc.Capture, t SampleType) header {
	h := header{sampleType: t, shape: []int{len(c.Pairs), c.Samples}}
	if c.Layout() == fmc.Full {
		h.shape = []int{c.Transmissions(), len(c.Array.Elements), c.Samples}
	}
	return h
}
