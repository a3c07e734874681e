// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestBranches compares the tables with the rays and amplitudes of single points.
func TestBranches(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	ctx := context.Background()
	p := weldCase(t, polystyrene, 1)
	elements, points := []r3.Vec{mm(-45, -12), mm(-38, -12)}, []r3.Vec{mm(12, 20), mm(0, 99)}
	acoustics := &Acoustics{Contact: material.LiquidFilm}
	b := check.Must(p.Branches(ctx, qSV, elements, points, acoustics, &Options{Workers: 1, Spacing: 1e-3}))
	again := check.Must(p.Branches(ctx, qSV, elements, points, acoustics, &Options{Workers: 2, Spacing: 1e-3}))
	if diff := cmp.Diff(b, again, cmpopts.IgnoreTypes(wedge.MadeFor{}), cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("two workers (-one +two):\n%s", diff)
	}
	several := 0
	for i, q := range points {
		var rays []branch
		var sizes []float64
		counts := make([]int, len(elements))
		for e, element := range elements {
			if !p.inside(q, 0) {
				continue
			}
			for _, a := range check.Must(p.Amplitudes(qSV, element, q, acoustics, &Options{Spacing: 1e-3})) {
				rays = append(rays, branch{a.Time, a.Value()})
				sizes = append(sizes, cmplx.Abs(a.Value()))
				counts[e]++
			}
		}
		slices.Sort(sizes)
		limit := math.NaN()
		if n := len(sizes); n > 0 {
			limit = 2.4 * (sizes[(n-1)/2] + sizes[n/2]) / 2 // 2.4 medians
		}
		for e := range elements {
			several = max(several, counts[e])
			for k, table := range b.Times {
				at := e*len(points) + i
				if k >= counts[e] {
					if !math.IsNaN(float64(table.Seconds[at])) || b.Amplitudes[k][at] != 0 {
						t.Errorf("element %d, point %d: ray %d of %d", e, i, k, counts[e])
					}
					continue
				}
				want := rays[0]
				rays = rays[1:]
				if size := cmplx.Abs(want.amplitude); size > limit {
					want.amplitude *= complex(limit/size, 0)
				}
				got := complex128(b.Amplitudes[k][at])
				if !(math.Abs(float64(table.Seconds[at])-want.time) <= 1e-11) || !(cmplx.Abs(got-want.amplitude) <= 1e-3*cmplx.Abs(want.amplitude)) {
					t.Errorf("element %d, point %d, ray %d: %v s, %v, want %v", e, i, k, table.Seconds[at], got, want)
				}
			}
		}
	}
	if several < 2 {
		t.Error("no point with several rays")
	}
	if b.Times[0].MadeFor.Equal(b.Times[1].MadeFor) {
		t.Error("tables of different rays have the same source")
	}
}

// TestLimitAmplitudes checks that an amplitude of a caustic, 1000 among 32 of modulus 1, is limited
// to 2.4 of them, and that the others stay.
func TestLimitAmplitudes(t *testing.T) {
	found := [][][]branch{{{{amplitude: 1000i}}, nil}}
	for k := range 32 {
		found = append(found, [][]branch{{{amplitude: cmplx.Exp(complex(0, float64(k)))}}, nil})
	}
	limitAmplitudes(found)
	check.Within(t, "limited amplitude", imag(found[0][0][0].amplitude), 2.4, 1e-9)
	for k, rays := range found[1:] {
		if rays[0][0].amplitude != cmplx.Exp(complex(0, float64(k))) {
			t.Errorf("amplitude %d was changed", k)
		}
	}
}

func TestBranchesErrors(t *testing.T) {
	p := weldCase(t, nil, 1)
	_, err := p.Branches(context.Background(), qSV, []r3.Vec{mm(0, 0)}, []r3.Vec{mm(0, 5)}, &Acoustics{Contact: 9}, nil)
	check.Error(t, err, "contact 9")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := p.Branches(ctx, qSV, []r3.Vec{mm(0, 0)}, []r3.Vec{mm(0, 5)}, nil, nil); err != context.Canceled {
		t.Errorf("error %v of a context that has ended", err)
	}
}
