// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "fmt"

// A Mode is the kind of a bulk wave in an isotropic solid.
type Mode uint8

// The bulk modes. A fluid carries [L] only.
const (
	L Mode = iota // longitudinal
	T             // transverse, also called shear
)

// String returns the letter of m in the name of a view: "L" or "T".
func (m Mode) String() string {
	switch m {
	case L:
		return "L"
	case T:
		return "T"
	}
	return fmt.Sprintf("Mode(%d)", uint8(m))
}
