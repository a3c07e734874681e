// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !unix

package guard

import "testing"

// Pages says whether this system has unreadable pages.
const Pages = false

func mapPages(_ testing.TB, size int) []byte { return make([]byte, size) }

func forbid(testing.TB, []byte) {}

func unmapPages(testing.TB, []byte) {}
