// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package layers

// Block is the largest number of points in [Points]. So many points stay in the first-level cache.
const Block = 1024

// Points holds the ends of rays. The zero value holds none. Points must not be used concurrently,
// also not by [Stack.Solve].
type Points struct {
	n              int
	u, v, distance [Block]float64
	apart          [Block]float64 // distance along the faces from the start, set by Stack.Solve
}

// Reset removes all points.
func (p *Points) Reset() { p.n = 0 }

// Add adds a point. It takes the coordinates along the faces, and the distance from the face where
// the last leg begins, in metres. The ray to a point with NaN has a time of NaN.
func (p *Points) Add(u, v, distance float64) {
	p.u[p.n], p.v[p.n], p.distance[p.n] = u, v, distance
	p.n++
}

// At returns the coordinates of point i along the faces.
func (p *Points) At(i int) (u, v float64) { return p.u[i], p.v[i] }

// pad repeats the last point until the points fill whole vectors.
func (p *Points) pad() {
	for i := p.n; i%lanes != 0; i++ {
		p.u[i], p.v[i], p.distance[i] = p.u[p.n-1], p.v[p.n-1], p.distance[p.n-1]
	}
}
