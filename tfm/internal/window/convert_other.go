// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package window

// converters returns no functions: this build has no assembly.
func converters() []func(*conversion) bool { return nil }
