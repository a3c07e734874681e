// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// On Windows WriteFile returns an error if the set-up is open at that moment.

//go:build unix

package npy

import (
	"fmt"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestReadWhileReplaced: a reader reads the old record or the new record, at any moment.
func TestReadWhileReplaced(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a.json")
	if err := WriteFile(name, numbered(t, 0), Int16); err != nil {
		t.Fatal(err)
	}
	written := make(chan error, 1)
	go func() {
		var err error
		for i := 0; i < 30 && err == nil; i++ {
			err = WriteFile(name, numbered(t, i), Int16)
		}
		written <- err
	}()
	for len(written) == 0 {
		got, err := ReadFile(name, allow)
		if err != nil {
			t.Error(err)
			continue
		}
		i := 0
		if _, err := fmt.Sscan(got.Title, &i); err != nil {
			t.Error(err)
		}
		if diff := cmp.Diff(numbered(t, i), got); diff != "" {
			t.Errorf("record (-want +got):\n%s", diff)
		}
	}
	if err := <-written; err != nil {
		t.Error(err)
	}
}
