// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

// Branches holds the times and the amplitudes of all rays from elements to points, for parts in
// which several rays lead from an element to a point. A table of [Times] alone holds one of them.
type Branches struct {
	// Times holds in table k the ray number k from each element to each point, in the order of
	// arrival. Where an element has fewer rays to a point, the time is NaN. There is at least one
	// table, and all tables have the same elements and points.
	Times []*Times
	// Amplitudes holds in list k the complex amplitudes of the rays of Times[k], in the order of
	// Seconds, 0 where there is no ray. The time factor is exp(−iωt), and the phase of travel is
	// not part of the amplitude. One real factor for all amplitudes is free.
	Amplitudes [][]complex64
}
