// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package picturetest checks the pictures that examples write.
package picturetest

import (
	"image/png"
	"os"
	"testing"
)

// Readable checks that a file holds a PNG picture.
func Readable(t testing.TB, name string) {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := png.DecodeConfig(f); err != nil {
		t.Errorf("picture %s: %v", name, err)
	}
}
