// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

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

// outputs collects the files of a run for one folder. They are written together. If there is an
// error, none of them is written. So the files of a folder always belong to the same run.
type outputs struct {
	folder string
	files  []file
}

// file is one of outputs.
type file struct {
	name     string
	data     []byte
	temp     string // name of a temporary file that holds the data
	previous string // name of the file that had the name before; "" for none
	renamed  bool   // the temporary file has its final name
}

// add adds a file. It keeps the output of write in memory.
func (f *outputs) add(name string, write func(io.Writer) error) error {
	var data bytes.Buffer
	if err := write(&data); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	f.files = append(f.files, file{name: name, data: data.Bytes()})
	return nil
}

// spare returns an error if the folder contains one of the input files, also by another name. So
// no input can be overwritten.
func (f *outputs) spare(inputs ...string) error {
	folder, err := os.Stat(f.folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if !folder.IsDir() {
		return fmt.Errorf("%s is a file: want a folder", f.folder)
	}
	for _, input := range inputs {
		if home, err := os.Stat(filepath.Dir(input)); err == nil && os.SameFile(home, folder) {
			return fmt.Errorf("%s is the folder of the input %s: want another one, so that no input is overwritten",
				f.folder, filepath.Base(input))
		}
		in, err := os.Stat(input)
		if err != nil {
			continue // the reader of the input reports the error
		}
		entries, err := os.ReadDir(f.folder)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if info, err := os.Stat(filepath.Join(f.folder, e.Name())); err == nil && os.SameFile(info, in) {
				return fmt.Errorf("%s is the input %s by another name: want another folder",
					filepath.Join(f.folder, e.Name()), input)
			}
		}
	}
	return nil
}

// commit writes all files: first under temporary names, then by renames. If there is an error, it
// restores the previous files.
func (f *outputs) commit() (err error) {
	made, err := makeFolder(f.folder)
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
		if err := f.files[i].write(f.folder); err != nil {
			return err
		}
	}
	for i := range f.files {
		if err := f.files[i].rename(f.folder); err != nil {
			return errors.Join(err, f.restore())
		}
	}
	return nil
}

// writeOutput writes one file. It makes the folder if it is missing.
func writeOutput(name string, write func(io.Writer) error) error {
	files := outputs{folder: filepath.Dir(name)}
	if err := files.add(filepath.Base(name), write); err != nil {
		return err
	}
	return files.commit()
}

// makeFolder makes a folder and its missing parents. It returns the new folders, the innermost
// first.
func makeFolder(name string) (made []string, err error) {
	for at := filepath.Clean(name); ; at = filepath.Dir(at) {
		if _, err := os.Lstat(at); !errors.Is(err, fs.ErrNotExist) {
			break
		}
		made = append(made, at)
	}
	return made, os.MkdirAll(name, 0o777)
}

// write writes the data to a temporary file.
func (w *file) write(folder string) error {
	// os.CreateTemp makes a file for its owner alone. A result has the mode of any new file.
	name := filepath.Join(folder, ".new-"+rand.Text())
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	w.temp = f.Name()
	_, err = f.Write(w.data)
	return errors.Join(err, f.Close())
}

// rename gives the temporary file its final name. A previous file of this name gets another name.
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

// restore reverses the renames.
func (f *outputs) restore() (err error) {
	for i := range f.files {
		w := &f.files[i]
		target := filepath.Join(f.folder, w.name)
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

// clean removes the temporary and the previous files.
func (f *outputs) clean() {
	for _, w := range f.files {
		if w.temp != "" && !w.renamed {
			os.Remove(w.temp)
		}
		if w.previous != "" {
			os.Remove(w.previous)
		}
	}
}
