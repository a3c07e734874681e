// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
)

// pending is the two files of a record while they are written, under temporary names in the folder
// that they are meant for.
type pending struct {
	base, extension string // the set-up's final name without ".json"; that of the array's
	setup, array    *os.File
	arrayPath       string // where the array is now
	arrayName       string // its final path, of nameArray
	old             string // path of the array that the record had before; "" if it is to stay
}

// createPending creates the two files. name ends in ".json", and the array's name in extension
// instead.
func createPending(name, extension string) (*pending, error) {
	base, ok := strings.CutSuffix(name, ".json")
	if !ok || filepath.Base(name) == ".json" {
		return nil, fmt.Errorf("file name %q: want one that ends in .json", name)
	}
	if err := validateFile(filepath.Base(base + extension)); err != nil {
		return nil, err
	}
	p := &pending{base: base, extension: extension}
	replaced := ""
	if d, err := readSetup(name); err == nil {
		replaced = filepath.Join(filepath.Dir(name), d.file)
	}
	var err error
	if p.setup, err = createTemp(name, name); err != nil {
		return nil, err
	}
	if p.array, err = createTemp(base+extension, replaced); err != nil {
		p.discard()
		return nil, err
	}
	p.arrayPath = p.array.Name()
	return p, nil
}

// createTemp creates a file in the folder of name, with the mode of the file replaced or, if there
// is none, the mode that os.Create gives. From the start the mode allows no more than in the end.
func createTemp(name, replaced string) (*os.File, error) {
	mode, keep := fs.FileMode(0o666), false
	if info, err := os.Stat(replaced); err == nil && info.Mode().IsRegular() {
		mode, keep = info.Mode().Perm(), true
	}
	f, err := os.OpenFile(fmt.Sprintf("%s.%016x.tmp", name, rand.Uint64()), os.O_RDWR|os.O_CREATE|os.O_EXCL, mode)
	if err != nil || !keep {
		return f, err
	}
	if err := keepMode(f, mode); err != nil {
		f.Close()
		os.Remove(f.Name())
		return nil, err
	}
	return f, nil
}

// keepMode gives f back the permissions that the umask took. It calls for no change where there is
// none, which some file systems refuse.
func keepMode(f *os.File, mode fs.FileMode) error {
	info, err := f.Stat()
	if err != nil || info.Mode().Perm() == mode {
		return err
	}
	return f.Chmod(mode)
}

// name returns the final path of the set-up.
func (p *pending) name() string { return p.base + ".json" }

// nameArray chooses the final name of the array, for the set-up to name, and returns it without its
// folder. It is a name that no array had before, so that the old set-up and the old array stay a
// pair until one rename, that of the set-up, replaces them: the plain one if the record is new,
// else one with 64 random bits.
func (p *pending) nameArray() string {
	p.arrayName = p.base + p.extension
	if exists(p.name()) || exists(p.arrayName) {
		p.arrayName = fmt.Sprintf("%s-%016x%s", p.base, rand.Uint64(), p.extension)
	}
	p.old = p.replaced()
	return filepath.Base(p.arrayName)
}

// exists reports whether there is a file, or anything else, of that name: also where that cannot be
// told.
func exists(name string) bool {
	_, err := os.Lstat(name)
	return !errors.Is(err, fs.ErrNotExist)
}

// replaced returns the path of the array that the old set-up names, if nameArray could have chosen
// it for this record. Another name may be that of an array which several set-ups share.
func (p *pending) replaced() string {
	d, err := readSetup(p.name())
	if err != nil {
		return ""
	}
	suffix, ok := strings.CutPrefix(d.file, filepath.Base(p.base))
	if !ok || !ownSuffix.MatchString(suffix) {
		return ""
	}
	return filepath.Join(filepath.Dir(p.base), d.file)
}

// ownSuffix matches what nameArray puts after the name of a record.
var ownSuffix = regexp.MustCompile(`^(-[0-9a-f]{16})?\.npy(\.gz)?$`)

// commit carries out the steps and then removes the array that no set-up names any more. Where that
// fails, as it does on Windows while a scan in it is open, the file stays and does no harm.
func (p *pending) commit() error {
	for _, step := range p.steps() {
		if err := step(); err != nil {
			return err
		}
	}
	if p.old != "" {
		os.Remove(p.old)
	}
	return nil
}

// steps bring both files to the disk and give them their names. After any number of them the set-up
// under its name, if there is one, and the array that it names are whole and belong together.
func (p *pending) steps() []func() error {
	return []func() error{
		func() error { return finish(p.array) },
		func() error { return finish(p.setup) },
		p.renameArray,
		p.syncFolder, // or the disk may see the next rename without the last
		func() error { return os.Rename(p.setup.Name(), p.name()) },
		p.syncFolder, // before the old array goes
	}
}

// finish brings what was written to f to the disk and closes it.
func finish(f *os.File) error { return errors.Join(f.Sync(), f.Close()) }

func (p *pending) renameArray() error {
	err := os.Rename(p.arrayPath, p.arrayName)
	if err == nil {
		p.arrayPath = p.arrayName
	}
	return err
}

func (p *pending) syncFolder() error { return syncFolder(filepath.Dir(p.base)) }

// discard removes both files unless the set-up has its final name: then nothing is left under its
// temporary one. Other errors are of no use: the files are closed already.
func (p *pending) discard() {
	p.setup.Close()
	committed := errors.Is(os.Remove(p.setup.Name()), fs.ErrNotExist)
	if p.array == nil {
		return
	}
	p.array.Close()
	if !committed {
		os.Remove(p.arrayPath)
	}
}
