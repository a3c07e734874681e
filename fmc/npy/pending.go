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

	"github.com/isochron-imaging/isochron/internal/disk"
)

// pending is the two files of a record while they are written, under temporary names in their final
// folder.
type pending struct {
	base         string // final path of the set-up without ".json"
	extension    string // of the array's file name
	setup, array *os.File
	arrayPath    string // where the array is now
	arrayName    string // final path of the array, from nameArray
	old          string // path of the array that is to be removed; "" for none
}

// createPending creates the two files. name ends in ".json". The file name of the array ends in
// extension instead.
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

// createTemp creates a file in the folder of name. The file has the mode of the file called
// replaced or, if there is no such file, the mode that os.Create gives. The mode of the file never
// allows more than this mode.
func createTemp(name, replaced string) (*os.File, error) {
	mode, keep := fs.FileMode(0o666), false
	if info, err := os.Stat(replaced); err == nil && info.Mode().IsRegular() {
		mode, keep = info.Mode().Perm(), true
	}
	temporary := fmt.Sprintf("%s.%016x.tmp", name, rand.Uint64())
	f, err := os.OpenFile(temporary, os.O_RDWR|os.O_CREATE|os.O_EXCL, mode)
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

// keepMode gives f the permissions that the umask took away. If the umask took none, it does not
// call Chmod, which some file systems refuse.
func keepMode(f *os.File, mode fs.FileMode) error {
	info, err := f.Stat()
	if err != nil || info.Mode().Perm() == mode {
		return err
	}
	return f.Chmod(mode)
}

// name returns the final path of the set-up.
func (p *pending) name() string { return p.base + ".json" }

// nameArray chooses the final name of the array and returns it without its folder. No array had
// this name before: if the record is new, the name is NAME.npy, otherwise the name contains 64
// random bits. So the old set-up and the old array belong together until one rename, the rename of
// the set-up, replaces both.
func (p *pending) nameArray() string {
	p.arrayName = p.base + p.extension
	if exists(p.name()) || exists(p.arrayName) {
		p.arrayName = fmt.Sprintf("%s-%016x%s", p.base, rand.Uint64(), p.extension)
	}
	p.old = p.replaced()
	return filepath.Base(p.arrayName)
}

// exists reports whether a file or another directory entry has that name. It returns true if this
// cannot be found out.
func exists(name string) bool {
	_, err := os.Lstat(name)
	return !errors.Is(err, fs.ErrNotExist)
}

// replaced returns the path of the array that the old set-up names, if nameArray could have chosen
// its name for this record. Several set-ups may share an array with another name, so it stays.
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

// ownSuffix matches the end that nameArray appends to the name of a record.
var ownSuffix = regexp.MustCompile(`^(-[0-9a-f]{16})?\.npy(\.gz)?$`)

// commit carries out the steps and then removes the old array, which no set-up names any more. If
// the old array cannot be removed, as on Windows while a scan in it is open, it stays and does no
// harm.
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

// steps returns the steps that bring both files to the disk and give them their names. After any
// number of steps, the set-up with the final name, if there is one, and its array are whole and
// belong together.
func (p *pending) steps() []func() error {
	sync := func() error { return disk.SyncFolder(filepath.Dir(p.base)) }
	return []func() error{
		func() error { return disk.Finish(p.array) },
		func() error { return disk.Finish(p.setup) },
		p.renameArray,
		sync, // otherwise the next rename may reach the disk and this one not
		func() error { return os.Rename(p.setup.Name(), p.name()) },
		sync, // before the old array is removed
	}
}

func (p *pending) renameArray() error {
	err := os.Rename(p.arrayPath, p.arrayName)
	if err == nil {
		p.arrayPath = p.arrayName
	}
	return err
}

// discard removes both files, unless the set-up has its final name already: then its temporary name
// does not exist. Other errors are ignored, because the files may be closed already.
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
