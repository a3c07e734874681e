// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/isochron-imaging/isochron/fmc"
)

// WriteFile writes a record as the .json file name, whose name ends in
// ".json", and the samples as type t in the .npy file of the same name beside
// it. The full layout is written as [transmitter, receiver, sample], all
// others as [pair, sample]. As [Float32] and [Float64] a record is read back
// bit for bit; as [Int16] too, but the error wraps [ErrNotInt16] if a sample
// is no integer of that range.
//
// Each file is written under another name in the same folder and then renamed,
// the .npy file first, so that a crash leaves the old file or the new, and a
// new record shows under its name only when it is whole. The two renames are
// not one: where a record is overwritten, a crash between them leaves new
// samples with the old set-up. Write to a new name to rule that out. Errors
// wrap [ErrSetup], [ErrNotInt16], an error of package fmc or of the file
// system; the temporary files are then removed.
func WriteFile(name string, r *Record, t SampleType) error {
	base, ok := strings.CutSuffix(name, ".json")
	if !ok || filepath.Base(name) == ".json" {
		return fmt.Errorf("npy: file name %q: want one that ends in .json", name)
	}
	arrayName := base + ".npy"
	if err := errors.Join(validateFile(filepath.Base(arrayName)), r.validateFor(t)); err != nil {
		return fmt.Errorf("npy: %s: %w", name, err)
	}
	setup, err := createTemp(name)
	if err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	defer os.Remove(setup.Name())
	array, err := createTemp(arrayName)
	if err != nil {
		return fmt.Errorf("npy: %w", errors.Join(err, setup.Close()))
	}
	defer os.Remove(array.Name())
	err = write(setup, array, filepath.Base(arrayName), r, t)
	if err := errors.Join(err, finish(array), finish(setup)); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	if err := os.Rename(array.Name(), arrayName); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	if err := os.Rename(setup.Name(), name); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

// createTemp creates a file in the folder of name.
func createTemp(name string) (*os.File, error) {
	return os.CreateTemp(filepath.Dir(name), filepath.Base(name)+".*.tmp")
}

// finish brings what was written to f to the disk, gives f the usual
// permissions and closes it.
func finish(f *os.File) error {
	return errors.Join(f.Sync(), f.Chmod(0o644), f.Close())
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
	if err := writeDescription(setup, r, file); err != nil {
		return err
	}
	if _, err := array.Write(newHeader(r.Capture, t).bytes()); err != nil {
		return err
	}
	return writeSamples(array, r.Capture, t)
}

func newHeader(c *fmc.Capture, t SampleType) header {
	h := header{sampleType: t, shape: []int{len(c.Pairs), c.Samples}}
	if c.Layout() == fmc.Full {
		n := len(c.Array.Elements)
		h.shape = []int{n, n, c.Samples}
	}
	return h
}
