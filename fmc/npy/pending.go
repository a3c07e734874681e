// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// pending is the two files of a record while they are written, under temporary
// names in the folder that they are meant for.
type pending struct {
	name, arrayName string // final names
	setup, array    *os.File
}

// createPending creates the two files. name ends in ".json", and the array's
// name in extension instead.
func createPending(name, extension string) (*pending, error) {
	base, ok := strings.CutSuffix(name, ".json")
	if !ok || filepath.Base(name) == ".json" {
		return nil, fmt.Errorf("file name %q: want one that ends in .json", name)
	}
	p := &pending{name: name, arrayName: base + extension}
	if err := validateFile(filepath.Base(p.arrayName)); err != nil {
		return nil, err
	}
	var err error
	if p.setup, err = createTemp(p.name); err != nil {
		return nil, err
	}
	if p.array, err = createTemp(p.arrayName); err != nil {
		p.discard()
		return nil, err
	}
	return p, nil
}

// createTemp creates a file in the folder of name.
func createTemp(name string) (*os.File, error) {
	return os.CreateTemp(filepath.Dir(name), filepath.Base(name)+".*.tmp")
}

// commit brings both files to the disk and then gives them their names, the
// array first: a new record shows only when both are there.
func (p *pending) commit() error {
	if err := errors.Join(finish(p.array), finish(p.setup)); err != nil {
		return err
	}
	if err := os.Rename(p.array.Name(), p.arrayName); err != nil {
		return err
	}
	// The disk must not see the second rename without the first.
	if err := syncFolder(filepath.Dir(p.name)); err != nil {
		return err
	}
	if err := os.Rename(p.setup.Name(), p.name); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(p.name))
}

// finish brings what was written to f to the disk, gives f the usual
// permissions and closes it.
func finish(f *os.File) error {
	return errors.Join(f.Sync(), f.Chmod(0o644), f.Close())
}

// discard removes what still has its temporary name; after commit there is
// nothing. Errors are of no use: the files are closed, or gone, already.
func (p *pending) discard() {
	for _, f := range []*os.File{p.setup, p.array} {
		if f != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}
}
