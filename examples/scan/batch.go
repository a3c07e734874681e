// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/isochron-imaging/isochron/tfm/stack"
)

// imagePart images one part of a scan. A part that was begun is continued.
func (s *scanned) imagePart(ctx context.Context, w, progress io.Writer, o options) error {
	var part, parts int
	if n, err := fmt.Sscanf(o.part+"\n", "%d/%d\n", &part, &parts); n != 2 || err != nil || part < 1 || part > parts {
		return fmt.Errorf("-part %s: want K/N with K from 1 to N, such as 2/4", o.part)
	}
	frames := s.frames[len(s.frames)-1].Index + 1
	from, to := (part-1)*frames/parts, part*frames/parts
	if o.stack == "" || from == to {
		return errors.New("-part: want -stack FILE.json, and no more parts than frames")
	}
	if err := s.image(ctx, o.stack, stack.Options{From: from, To: to}, progress); err != nil {
		return err
	}
	fmt.Fprintf(w, "frames %d to %d in %s\n", from, to-1, o.stack)
	return nil
}

// merge merges the stacks of parts.
func merge(w io.Writer, o options) error {
	if o.stack == "" {
		return errors.New("-merge: want -stack FILE.json")
	}
	parts, err := filepath.Glob(o.merge)
	if err != nil || len(parts) == 0 {
		return fmt.Errorf("-merge %s: no such file", o.merge)
	}
	if err := os.MkdirAll(filepath.Dir(o.stack), 0o777); err != nil {
		return err
	}
	holes, err := stack.Merge(o.stack, parts...)
	if err != nil {
		return err
	}
	if len(holes) > 0 {
		return fmt.Errorf("%d frames are in no part, the first is frame %d", len(holes), holes[0])
	}
	fmt.Fprintf(w, "%d parts merged in %s\n", len(parts), o.stack)
	return nil
}
