// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import "errors"

// The kinds of fault. An error of this package wraps one of these, an error of package fmc, or the
// error of the file system, the reader or the writer.
var (
	// ErrSetup: the .json file is malformed, lacks a field, has an unknown field, or holds a value
	// out of range. A record that is to be written can have the same faults.
	ErrSetup = errors.New("bad set-up")

	// ErrArray: the .npy file is malformed, truncated, too long or of a kind that this package does
	// not read. Its shape can also differ from the shape that the set-up states, and a sample can
	// be NaN, Inf or beyond float32. The error of a truncated file also wraps io.ErrUnexpectedEOF,
	// and the error of a bad sample also wraps *fmc.SampleError.
	ErrArray = errors.New("bad array")

	// ErrImplausible: every value of the set-up is possible, but at least one value is implausible
	// in industrial ultrasonics. Such a value was probably given in another unit. The text of the
	// error lists these values.
	ErrImplausible = errors.New("implausible set-up")

	// ErrNotInt16: a sample that is to be written as int16 is not an integer from -32768 to 32767.
	ErrNotInt16 = errors.New("sample does not fit int16")
)
