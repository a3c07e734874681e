// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"context"
	"io"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// ScanSource returns a source of the frames of a stored scan whose index is at least from and
// below to. A to of 0 stands for the end of the scan. Samples of the type Int16 are delivered as
// they are stored, and all others as float32. Nothing else may use the reader while the source is
// in use.
func ScanSource(file *npy.ScanReader, from, to int) Source {
	if file == nil {
		return nil
	}
	next := 0
	return func(ctx context.Context, f *Frame) error {
		frames := file.Frames()
		for next < len(frames) && frames[next].Index < from {
			next++
		}
		if next == len(frames) || to > 0 && frames[next].Index >= to {
			return io.EOF
		}
		if file.SampleType() == npy.Int16 {
			samples, err := file.Int16(next)
			if err != nil {
				return err
			}
			f.Int16 = append(f.Int16, samples...)
		} else {
			frame, err := file.Frame(next)
			if err != nil {
				return err
			}
			f.Float32 = append(f.Float32, frame.Capture.Data...)
		}
		at := frames[next]
		f.Index, f.Time, f.Position, f.Across = at.Index, at.Time, at.Position, at.Across
		next++
		return ctx.Err()
	}
}
