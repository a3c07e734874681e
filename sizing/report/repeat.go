// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"context"
	"errors"
	"fmt"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// ErrCapture: the samples or the set-up differ from the samples or the set-up of the record.
var ErrCapture = errors.New("not the capture of the record")

// Repeat measures the capture of a record again, with the settings of the record, and returns in
// which fields the results differ. There are none if the environments are equal. In another
// environment the fields of the environment differ too, and the last digits of numbers may differ.
// Calibration, files, the scan and places along the scan are not repeated.
//
// A capture with other samples or another set-up is an error that wraps [ErrCapture].
func Repeat(ctx context.Context, r *Record, input *npy.Record, o *Options) ([]Difference, error) {
	if r == nil || input == nil {
		return nil, errors.New("report: no record or no capture, nil: want both")
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	capture, _, err := identify(r.Capture.Name, input)
	if err != nil {
		return nil, err
	}
	if capture.Samples != r.Capture.Samples {
		return nil, fmt.Errorf("report: samples with SHA-256 %s, of the record %s: %w", capture.Samples, r.Capture.Samples, ErrCapture)
	}
	if capture.Setup != r.Capture.Setup {
		return nil, fmt.Errorf("report: set-up with SHA-256 %s, of the record %s: %w", capture.Setup, r.Capture.Setup, ErrCapture)
	}
	again, err := Measure(ctx, r.Capture.Name, input, &r.Settings, o)
	if err != nil {
		return nil, err
	}
	again.Record.Calibration, again.Record.Files = r.Calibration, r.Files
	again.Record.Scan, again.Record.ScanFlaws = r.Scan, r.ScanFlaws
	if len(again.Record.Flaws) == len(r.Flaws) {
		for i := range r.Flaws {
			again.Record.Flaws[i].Along = r.Flaws[i].Along
		}
	}
	return Compare(r, again.Record)
}
