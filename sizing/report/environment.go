// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"runtime"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/isochron-imaging/isochron/internal/vector"
)

const module = "github.com/isochron-imaging/isochron"

// ThisEnvironment returns the environment of the running program.
func ThisEnvironment() Environment {
	e := Environment{
		Module: module, Release: "devel", Go: runtime.Version(), GOARCH: runtime.GOARCH,
		Vector: vector.Form(),
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return e
	}
	for _, m := range append(slices.Clone(info.Deps), &info.Main) {
		if version := strings.Trim(m.Version, "()"); m.Path == module && version != "" {
			e.Release = version
		}
	}
	return e
}
