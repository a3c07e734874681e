// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !(amd64 || arm64) || purego

package vector

// available returns no form: this build has no assembly.
func available() []assembly { return nil }
