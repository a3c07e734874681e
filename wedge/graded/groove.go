// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"
	"strings"

	"github.com/isochron-imaging/isochron/wedge/joint"
)

// groove is the section of a symmetrical groove as a V. A root face has the width of the root. A
// groove with a root radius is the V through the ends of its root and of its cap.
type groove struct {
	centre    float64 // x of the centre line, m
	root, cap float64 // depths of the narrow end of the V and of its wide end, m
	halfRoot  float64 // half of the width at the root, m
	bevel     float64 // angle between each side of the V and the centre line, rad
	waist     float64 // depth at which the weld metal ends, m; below the root if there is a root face
}

// newGroove returns the groove between the fusion faces of a region of weld metal, or an error if
// the faces are not mirror images of each other.
func newGroove(r joint.Region) (groove, error) {
	n := len(r.Faces) / 2
	left, right := r.Faces[:n], r.Faces[n:]
	mirrored := n > 0 && len(right) == n
	centre := 0.0
	for i := range left {
		for _, share := range []float64{0, 0.5, 1} {
			a, b := left[i].At(share), right[min(i, len(right)-1)].At(share)
			if i == 0 && share == 0 {
				centre = (a.X + b.X) / 2
			}
			mirrored = mirrored && math.Abs((a.X+b.X)/2-centre)+math.Abs(a.Y-b.Y) <= tolerance && b.X >= a.X
		}
	}
	if !mirrored {
		return groove{}, fmt.Errorf("graded: %s with the fusion faces %q: "+
			"want faces that are mirror images of each other", r.Name, names(r.Faces))
	}
	return mirroredGroove(centre, right)
}

// mirroredGroove returns the groove with the given faces on the right.
func mirroredGroove(centre float64, right []joint.Face) (groove, error) {
	wide, narrow := right[0].At(0), right[len(right)-1].At(1)
	if narrow.X > wide.X {
		wide, narrow = narrow, wide
	}
	g := groove{centre: centre, root: narrow.Y, cap: wide.Y, waist: narrow.Y, halfRoot: narrow.X - centre}
	for _, f := range right {
		if strings.HasSuffix(f.Name, "root face") && len(right) > 1 {
			g.root += f.At(0).Y + f.At(1).Y - 2*g.waist // from its end at the waist to its other end
			break
		}
	}
	g.bevel = math.Atan2(wide.X-narrow.X, math.Abs(g.cap-g.root))
	if err := checkRange("root gap of the joint", 2*g.halfRoot, 2e-5, 2, " m"); err != nil {
		return groove{}, err
	}
	return g, checkRange("bevel angle of the joint", g.bevel, 0, 1.4, " rad")
}

// names returns the names of faces.
func names(faces []joint.Face) []string {
	var out []string
	for _, f := range faces {
		out = append(out, f.Name)
	}
	return out
}

// up returns the sign of z from the root to the cap.
func (g groove) up() float64 { return math.Copysign(1, g.cap-g.root) }

// halfWidth returns half of the width of the V at the depth z, and its derivative by z. Beside a root
// face the width does not change. Below a root without a root face it stops falling at a tenth of
// halfRoot.
func (g groove) halfWidth(z float64) (width, byZ float64) {
	slope := math.Tan(g.bevel) * g.up()
	width = g.halfRoot + slope*(z-g.root)
	least := g.halfRoot / 10
	if g.waist != g.root {
		least = g.halfRoot
	}
	if width < least {
		return least, 0
	}
	return width, slope
}
