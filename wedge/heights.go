// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// heightField is a natural bicubic spline z(x, y).
type heightField struct {
	x, y []float64
	// The height z at x[i], y[j] has the index j*len(x) + i. zx, zy and zxy are its derivatives
	// with respect to x, to y and to both.
	z, zx, zy, zxy []float64
	// The least and the largest height of each block of the grid. They let the search for the
	// nearest point skip most blocks.
	low, high []float64
	across    int // blocks along x
	// stretch bounds the distance along z from the surface, as a multiple of the distance.
	stretch float64
}

// block is the number of grid places along each side of a block.
const block = 16

// NewHeightField returns the measured surface z(x, y): the natural bicubic spline through the
// depths z[j*len(x)+i] at x[i], y[j], all in metres. There must be at least two x and two y, each
// in ascending order. The far side is below (+z). Beyond the grid the surface continues straight
// across each edge. The spline meets this straight part without a change of slope or curvature.
//
// The parameters are the coordinates: u = x and v = y. The surface should not be so steep that they
// differ much from lengths along the surface. Where several points are nearest to a point, Locate
// returns one of them. For a point that is not finite it returns NaN or infinity.
func NewHeightField(x, y, z []float64) (Surface, error) {
	for _, axis := range []struct {
		name   string
		values []float64
	}{{"x", x}, {"y", y}} {
		if len(axis.values) < 2 {
			return nil, fmt.Errorf("wedge: height field of %d %s: want at least 2",
				len(axis.values), axis.name)
		}
		for i, v := range axis.values {
			if !number.Finite(v) || i > 0 && !(v > axis.values[i-1]) {
				return nil, fmt.Errorf("wedge: %s %d of the height field %v m: want finite values in ascending order",
					axis.name, i, v)
			}
		}
		if last := axis.values[len(axis.values)-1]; math.IsInf(last-axis.values[0], 0) {
			return nil, fmt.Errorf("wedge: %s of the height field from %v to %v m: want a finite distance",
				axis.name, axis.values[0], last)
		}
	}
	if len(z) != len(x)*len(y) {
		return nil, fmt.Errorf("wedge: %d heights over %d × %d places: want %d",
			len(z), len(x), len(y), len(x)*len(y))
	}
	for i, v := range z {
		if !number.Finite(v) {
			return nil, fmt.Errorf("wedge: height %d of the height field %v m: want a finite value",
				i, v)
		}
	}
	h := &heightField{x: slices.Clone(x), y: slices.Clone(y), z: slices.Clone(z)}
	var err error
	if h.zx, err = slopesOf(h.x, h.z, 1, len(x), len(y)); err != nil {
		return nil, err
	}
	if h.zy, err = slopesOf(h.y, h.z, len(x), 1, len(x)); err != nil {
		return nil, err
	}
	if h.zxy, err = slopesOf(h.y, h.zx, len(x), 1, len(x)); err != nil {
		return nil, err
	}
	for i := range h.z {
		if !finite(r3.Vec{X: h.zx[i], Y: h.zy[i], Z: h.zxy[i]}) {
			return nil, fmt.Errorf("wedge: height field is too steep at x = %v m, y = %v m: want finite slopes",
				x[i%len(x)], y[i/len(x)])
		}
	}
	h.stretch = math.Hypot(1, 3*h.steepest())
	h.divide()
	return h, nil
}

// divide sets the least and the largest height of each block.
func (h *heightField) divide() {
	h.across = (len(h.x) + block - 1) / block
	for j := 0; j < len(h.y); j += block {
		for i := 0; i < len(h.x); i += block {
			low, high := math.Inf(1), math.Inf(-1)
			for k := j; k < min(j+block, len(h.y)); k++ {
				row := h.z[k*len(h.x)+i : k*len(h.x)+min(i+block, len(h.x))]
				low, high = min(low, slices.Min(row)), max(high, slices.Max(row))
			}
			h.low, h.high = append(h.low, low), append(h.high, high)
		}
	}
}

// apart returns a lower bound of the distances between q and the measured points of block (i, j).
func (h *heightField) apart(q r3.Vec, i, j int) float64 {
	outside := func(at, low, high float64) float64 { return max(low-at, at-high, 0) }
	return r3.Norm(r3.Vec{
		X: outside(q.X, h.x[i*block], h.x[min(i*block+block, len(h.x))-1]),
		Y: outside(q.Y, h.y[j*block], h.y[min(j*block+block, len(h.y))-1]),
		Z: outside(q.Z, h.low[j*h.across+i], h.high[j*h.across+i]),
	})
}

// slopesOf returns the slopes at the knots of natural cubic splines through the values, one spline
// a line. Neighbouring values of a line are stride apart. The first values of neighbouring lines
// are between apart.
func slopesOf(knots, values []float64, stride, between, lines int) ([]float64, error) {
	slopes, line := make([]float64, len(values)), make([]float64, len(knots))
	for l := range lines {
		for i := range line {
			line[i] = values[l*between+i*stride]
		}
		var spline interp.NaturalCubic
		if err := spline.Fit(knots, line); err != nil {
			return nil, fmt.Errorf("wedge: height field: %w", err)
		}
		for i, x := range knots {
			slopes[l*between+i*stride] = spline.PredictDerivative(x)
		}
	}
	return slopes, nil
}

// basis holds the factors by which the values and slopes at the two knots around a place enter the
// value (row 0) and its first two derivatives (rows 1 and 2) at the place.
type basis struct {
	first   int // the knot before the place
	factors [3][4]float64
}

// basisAt returns the cubic Hermite basis at x. Beyond the knots it returns the basis of the
// tangent at the nearest knot.
func basisAt(knots []float64, x float64) basis {
	i := min(max(sort.SearchFloat64s(knots, x)-1, 0), len(knots)-2)
	h := knots[i+1] - knots[i]
	t := (x - knots[i]) / h
	inside := min(max(t, 0), 1)
	b := basis{first: i}
	t2, t3 := inside*inside, inside*inside*inside
	b.factors[0] = [4]float64{1 - 3*t2 + 2*t3, h * (inside - 2*t2 + t3), 3*t2 - 2*t3, h * (t3 - t2)}
	b.factors[1] = [4]float64{6 * (t2 - inside) / h, 1 - 4*inside + 3*t2, 6 * (inside - t2) / h, 3*t2 - 2*inside}
	if t != inside {
		for k := range 4 {
			b.factors[0][k] += (t - inside) * h * b.factors[1][k]
		}
		return b
	}
	b.factors[2] = [4]float64{(12*t - 6) / (h * h), (6*t - 4) / h, (6 - 12*t) / (h * h), (6*t - 2) / h}
	return b
}

// derivative returns the derivative of z, of order m with respect to x and n with respect to y.
func (h *heightField) derivative(bx, by *basis, m, n int) float64 {
	sum := 0.0
	for j := range 2 {
		for i := range 2 {
			at := (by.first+j)*len(h.x) + bx.first + i
			value, slope := bx.factors[m][2*i], bx.factors[m][2*i+1]
			sum += by.factors[n][2*j]*(value*h.z[at]+slope*h.zx[at]) +
				by.factors[n][2*j+1]*(value*h.zy[at]+slope*h.zxy[at])
		}
	}
	return sum
}

func (h *heightField) At(u, v float64) Patch {
	bx, by := basisAt(h.x, u), basisAt(h.y, v)
	return Patch{
		P:  r3.Vec{X: u, Y: v, Z: h.derivative(&bx, &by, 0, 0)},
		U:  r3.Vec{X: 1, Z: h.derivative(&bx, &by, 1, 0)},
		V:  r3.Vec{Y: 1, Z: h.derivative(&bx, &by, 0, 1)},
		UU: r3.Vec{Z: h.derivative(&bx, &by, 2, 0)},
		UV: r3.Vec{Z: h.derivative(&bx, &by, 1, 1)},
		VV: r3.Vec{Z: h.derivative(&bx, &by, 0, 2)},
	}
}

func (h *heightField) Locate(q r3.Vec) (u, v float64) { return h.nearest(q) }

func (h *heightField) Depth(q r3.Vec) float64 {
	u, v := h.nearest(q)
	below := h.At(q.X, q.Y).P.Z
	return math.Copysign(r3.Norm(r3.Sub(q, h.At(u, v).P)), q.Z-below)
}

// steepest returns the largest slope at the places of the grid and between two of them. A cubic
// between two places is at most twice as steep.
func (h *heightField) steepest() float64 {
	steep := 0.0
	for i := range h.z {
		steep = max(steep, math.Hypot(h.zx[i], h.zy[i]))
		column, row := i%len(h.x), i/len(h.x)
		if column > 0 {
			steep = max(steep, math.Abs(h.z[i]-h.z[i-1])/(h.x[column]-h.x[column-1]))
		}
		if row > 0 {
			steep = max(steep, math.Abs(h.z[i]-h.z[i-len(h.x)])/(h.y[row]-h.y[row-1]))
		}
	}
	return steep
}

// atLeast returns a depth of q that is at most the distance from the surface, with its sign.
func (h *heightField) atLeast(q r3.Vec) float64 {
	bx, by := basisAt(h.x, q.X), basisAt(h.y, q.Y)
	return (q.Z - h.derivative(&bx, &by, 0, 0)) / h.stretch
}

func (h *heightField) Extruded() bool { return false }

// nearest returns the parameters of the point of the surface that is nearest to q. It starts from
// the nearest measured point, or from the point straight above or below q. Newton steps improve it.
// A step is taken only if it leads nearer, or if the distance changes by less than its rounding.
func (h *heightField) nearest(q r3.Vec) (u, v float64) {
	u, v = q.X, q.Y
	least := r3.Norm(r3.Sub(q, h.At(u, v).P))
	if !number.Finite(least) {
		return u, v
	}
	// A point within this distance of q also lies within it along x and along y.
	within := func(knots []float64, at float64) (first, last int) {
		return sort.SearchFloat64s(knots, at-least), sort.SearchFloat64s(knots, at+least)
	}
	i0, i1 := within(h.x, q.X)
	j0, j1 := within(h.y, q.Y)
	for bj := j0 / block; bj*block < j1; bj++ {
		for bi := i0 / block; bi*block < i1; bi++ {
			if h.apart(q, bi, bj) >= least {
				continue
			}
			for j := max(j0, bj*block); j < min(j1, bj*block+block); j++ {
				for i := max(i0, bi*block); i < min(i1, bi*block+block); i++ {
					p := r3.Vec{X: h.x[i], Y: h.y[j], Z: h.z[j*len(h.x)+i]}
					if d := r3.Norm(r3.Sub(q, p)); d < least {
						u, v, least = p.X, p.Y, d
					}
				}
			}
		}
	}
	for range 50 {
		at := h.At(u, v)
		off := at.P.Z - q.Z
		// Half the gradient and Hessian of the squared distance.
		gu, gv := u-q.X+off*at.U.Z, v-q.Y+off*at.V.Z
		uu := 1 + at.U.Z*at.U.Z + off*at.UU.Z
		uv := at.U.Z*at.V.Z + off*at.UV.Z
		vv := 1 + at.V.Z*at.V.Z + off*at.VV.Z
		if !(uu > 0 && uu*vv-uv*uv > 0) {
			uu, uv, vv = 1+at.U.Z*at.U.Z, at.U.Z*at.V.Z, 1+at.V.Z*at.V.Z
		}
		d := uu*vv - uv*uv
		du, dv := (uv*gv-vv*gu)/d, (uv*gu-uu*gv)/d
		if step := math.Hypot(du, dv); !(step > 1e-15+1e-15*math.Hypot(u, v)) || math.IsInf(step, 0) {
			break
		}
		for {
			next := r3.Norm(r3.Sub(q, h.At(u+du, v+dv).P))
			if next <= least+distanceRounding*(math.Hypot(u, v)+least) {
				u, v, least = u+du, v+dv, next
				break
			}
			// The step is infinite if q is so far away that its distance overflows.
			if du, dv = du/2, dv/2; !(math.Hypot(du, dv) > 1e-15) || math.IsInf(du, 0) || math.IsInf(dv, 0) {
				return u, v
			}
		}
	}
	return u, v
}
