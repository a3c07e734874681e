// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"os"

	"gonum.org/v1/plot/vg/vgimg"
)

// WritePNG writes a canvas into a file.
func WritePNG(canvas *vgimg.Canvas, name string) (err error) {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	_, err = vgimg.PngCanvas{Canvas: canvas}.WriteTo(f)
	return err
}
