// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// WriteFile writes a picture to a file whose name ends in .png or .svg. It writes a new file
// beside the old one and then renames it, so a reader sees the whole old picture or the whole new
// one. If there is an error, the old file stays. The folder must exist. A name that belongs to
// something else than a regular file, such as a folder or a device, is an error.
func WriteFile(name string, p Picture) error {
	var write func(io.Writer) error
	switch ending := strings.ToLower(filepath.Ext(name)); ending {
	case ".png":
		write = p.WritePNG
	case ".svg":
		write = p.WriteSVG
	default:
		return fmt.Errorf("picture: file %s: want a name that ends in .png or .svg", name)
	}
	switch info, err := os.Stat(name); {
	case err == nil && !info.Mode().IsRegular():
		return fmt.Errorf("picture: %s is no regular file: want a file or a free name", name)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return err
	}
	var data bytes.Buffer
	if err := write(&data); err != nil {
		return err
	}
	// os.CreateTemp would make a file for its owner alone.
	temporary := filepath.Join(filepath.Dir(name), ".new-"+rand.Text())
	err := os.WriteFile(temporary, data.Bytes(), 0o666)
	if err == nil {
		err = os.Rename(temporary, name)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("picture: file %s: %w", name, err), remove(temporary))
	}
	return nil
}

// remove removes a file if it exists.
func remove(name string) error {
	if err := os.Remove(name); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
