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

// WriteFile writes a record as the .json file name, whose name ends in
// ".json", and the samples as type t in a .npy file beside it, which the .json file
// names: of the same name but for the end, or of another where a record is
// replaced. The full layout is written as [transmitter, receiver, sample] or, of
// events, as [event, receiver, sample], all others as [pair, sample]. As [Float32] and [Float64] a record is read back
// bit for bit; as [Int16] too, but the error wraps [ErrNotInt16] if a sample
// is no integer of that range.
//
// A record is replaced as a whole: whenever the program is killed or the machine
// stops, the .json file is the old one or the new one, and the samples that it
// names are its own. See "Replacing a record" above for what that leaves behind.
// Errors wrap [ErrSetup], [ErrNotInt16], an error of package fmc or of the file
// system; the temporary files are then removed.
func WriteFile(name string, r *Record, t SampleType) error {
	return writeFile(name, ".npy", r, t, func(setup, array io.Writer, file string) error {
		return write(setup, array, file, r, t)
	})
}

// WriteFileGzip is [WriteFile] with the samples compressed by gzip, in the file
// whose name ends in ".npy.gz".
// To compress a stream, give [Write] a gzip.Writer and close that afterwards.
func WriteFileGzip(name string, r *Record, t SampleType) error {
	return writeFile(name, ".npy.gz", r, t, func(setup, array io.Writer, file string) error {
		z := gzip.NewWriter(array)
		return errors.Join(write(setup, z, file, r, t), z.Close())
	})
}

// writeFile validates r and has write fill the two files.
func writeFile(name, extension string, r *Record, t SampleType, write func(setup, array io.Writer, file string) error) error {
	if err := r.validateFor(t); err != nil {
		return fmt.Errorf("npy: %s: %w", name, err)
	}
	p, err := createPending(name, extension)
	if err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	defer p.discard()
	if err := write(p.setup, p.array, p.nameArray()); err != nil {
		return fmt.Errorf("npy: %s: %w", name, err)
	}
	if err := p.commit(); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

// Write writes a record: the content of its .json file to setup and that of
// its .npy file, which the set-up will name as file, to array. file is a plain
// name without a folder. Layouts, types of samples and errors are those of
// [WriteFile].
func Write(setup, array io.Writer, file string, r *Record, t SampleType) error {
	if err := validateFile(file); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	if err := r.validateFor(t); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	if err := write(setup, array, file, r, t); err != nil {
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

func newHeader(c *fmc.Capture, t SampleType) header {
	h := header{sampleType: t, shape: []int{len(c.Pairs), c.Samples}}
	if c.Layout() == fmc.Full {
		h.shape = []int{c.Transmissions(), len(c.Array.Elements), c.Samples}
	}
	return h
}
