// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import "errors"

// The kinds of fault in a record. Errors of this package wrap one of these or
// an error of the input or output itself.
var (
	// ErrSetup: the .json file is malformed, lacks a field, has one too many
	// or holds a value out of range.
	ErrSetup = errors.New("bad set-up")

	// ErrArray: the .npy file is malformed, truncated or too long, is of a
	// kind that is not read here, or holds a sample that is NaN, Inf or beyond
	// float32. A truncated one wraps io.ErrUnexpectedEOF as well, a bad sample
	// *fmc.SampleError.
	ErrArray = errors.New("bad array")

	// ErrMismatch: each file is well by itself, but the shape of the array is
	// not that which the set-up says.
	ErrMismatch = errors.New("set-up and array disagree")

	// ErrImplausible: all values are possible, but some are implausible in
	// industrial ultrasonics and were probably given in another unit. The text
	// lists them. [AllowImplausible] reads such a record.
	ErrImplausible = errors.New("implausible set-up")

	// ErrNotInt16: a sample to be written as int16 is no integer from -32768
	// to 32767.
	ErrNotInt16 = errors.New("sample does not fit int16")
)
