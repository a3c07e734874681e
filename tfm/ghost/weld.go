// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"fmt"

	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Weld returns the free surfaces of a weld as reflectors, such as "the root" and "the cap". They
// are the lines of [joint.Outlines], whose ends are the toes. A flush weld has none. The
// tolerance in m must be the tolerance that [joint.Joint.Setup] was given: then the lines lie on
// the outside of the part, and not behind it. The error is the error of [joint.Joint.Outlines].
//
// The outline of a weld is nominal. Cracks at a toe, and a root that is not fused, lie within the
// length of a pulse of it. [Echoes.Explain] takes them for the image of the root or the cap.
func Weld(j *joint.Joint, tolerance float64) (all []Reflector, err error) {
	outlines, err := j.Outlines(tolerance)
	if err != nil {
		return nil, fmt.Errorf("ghost: %w", err)
	}
	for _, s := range outlines.Surfaces {
		all = append(all, Reflector{Name: "the " + s.Name, Outline: s.Line})
	}
	return all, nil
}
