// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package output writes the files of an example together: all of them or, on any error, none,
// so that no new picture stands beside an old table.
package output

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Write writes one file, whose folder is made if it is missing.
func Write(name string, write func(io.Writer) error) error {
	files := Files{Folder: filepath.Dir(name)}
	if err := files.Add(filepath.Base(name), write); err != nil {
		return err
	}
	return files.Commit()
}

// Files is files of one folder that wait to be written.
type Files struct {
	Folder string
	files  []file
}

type file struct {
	name     string
	data     []byte
	temp     string // a name of its own that holds data until the commit
	previous string // what the name held before, while the commit runs; "" for nothing
	renamed  bool
}

// Add holds what write writes for the file of a name, in memory.
func (f *Files) Add(name string, write func(io.Writer) error) error {
	var data bytes.Buffer
	if err := write(&data); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	f.files = append(f.files, file{name: name, data: data.Bytes()})
	return nil
}

// Spare reports an error if the folder holds one of the given input files, or if a file to be
// written is one of them.
func (f *Files) Spare(inputs ...string) error {
	folder, err := os.Stat(f.Folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if !folder.IsDir() {
		return fmt.Errorf("%s is a file: want a folder", f.Folder)
	}
	for _, input := range inputs {
		if home, err := os.Stat(filepath.Dir(input)); err == nil && os.SameFile(home, folder) {
			return fmt.Errorf("%s is the folder of the input %s: want another one, so that no input is overwritten", f.Folder, filepath.Base(input))
		}
		in, err := os.Stat(input)
		if err != nil {
			continue // whoever reads it reports that
		}
		entries, err := os.ReadDir(f.Folder)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if info, err := os.Stat(filepath.Join(f.Folder, e.Name())); err == nil && os.SameFile(info, in) {
				return fmt.Errorf("%s is the input %s by another name: want another folder", filepath.Join(f.Folder, e.Name()), input)
			}
		}
	}
	return nil
}

// Commit writes all files: first beside their names, then by renames. On an error it restores
// what was there before.
func (f *Files) Commit() (err error) {
	made, err := makeFolder(f.Folder)
	defer func() {
		if err != nil {
			for _, folder := range made {
				os.Remove(folder)
			}
		}
	}()
	if err != nil {
		return err
	}
	defer f.clean()
	for i := range f.files {
		if err := f.files[i].write(f.Folder); err != nil {
			return err
		}
	}
	for i := range f.files {
		if err := f.files[i].rename(f.Folder); err != nil {
			return errors.Join(err, f.restore())
		}
	}
	return nil
}

// makeFolder makes a folder and those above it that are missing. It returns those that it
// made, the innermost first.
func makeFolder(name string) (made []string, err error) {
	for at := filepath.Clean(name); ; at = filepath.Dir(at) {
		if _, err := os.Lstat(at); !errors.Is(err, fs.ErrNotExist) {
			break
		}
		made = append(made, at)
	}
	return made, os.MkdirAll(name, 0o777)
}

// write writes the data under a name that was free.
func (w *file) write(folder string) error {
	// os.CreateTemp makes a file for its owner alone. A result has the mode of any new file.
	f, err := os.OpenFile(filepath.Join(folder, ".new-"+rand.Text()), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	w.temp = f.Name()
	_, err = f.Write(w.data)
	return errors.Join(err, f.Close())
}

// rename gives the data their name, and what had it before another one.
func (w *file) rename(folder string) error {
	target := filepath.Join(folder, w.name)
	info, err := os.Lstat(target)
	switch {
	case err == nil && info.IsDir():
		return fmt.Errorf("%s is a folder: want a file, or a free name", target)
	case err == nil:
		previous := w.temp + ".previous"
		if err := os.Rename(target, previous); err != nil {
			return err
		}
		w.previous = previous
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if err := os.Rename(w.temp, target); err != nil {
		return err
	}
	w.renamed = true
	return nil
}

// restore takes the renames back.
func (f *Files) restore() (err error) {
	for i := range f.files {
		w := &f.files[i]
		target := filepath.Join(f.Folder, w.name)
		if w.renamed {
			err = errors.Join(err, os.Remove(target))
		}
		if w.previous != "" {
			err = errors.Join(err, os.Rename(w.previous, target))
			w.previous = ""
		}
	}
	return err
}

// clean removes what a commit leaves under names of its own.
func (f *Files) clean() {
	for _, w := range f.files {
		if w.temp != "" && !w.renamed {
			os.Remove(w.temp)
		}
		if w.previous != "" {
			os.Remove(w.previous)
		}
	}
}
