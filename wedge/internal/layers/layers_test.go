// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package layers

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// The forms of this build.
var forms = map[string]func(s *Stack, seconds []float32, tangents []float64, p *Points) bool{
	"dispatched": (*Stack).Solve,
	"plain":      (*Stack).plain,
}

// problem is a ray that is built from its tangent in the fastest layer, so that its time is known
// in closed form.
type problem struct {
	legs        []Leg
	u, v        float64 // of the point; the start is at the origin
	first, last float64 // distances of start and point
	tangent     float64
	time        float64
}

// lay returns the problem of legs, whose thicknesses include the distances of the ends, for a
// tangent and an azimuth.
func lay(legs []Leg, tangent, azimuth float64) problem {
	r := problem{legs: slices.Clone(legs), tangent: tangent}
	fastest := 0.0
	for _, leg := range legs {
		fastest = max(fastest, leg.Speed)
	}
	d := 0.0
	for _, leg := range legs {
		sin := leg.Speed / fastest * tangent / math.Sqrt(1+tangent*tangent)
		// 1 − sin² without cancellation where sin is near 1.
		ratio := leg.Speed / fastest
		cos := math.Sqrt((1 + (1-ratio)*(1+ratio)*tangent*tangent) / (1 + tangent*tangent))
		d += leg.Thickness * sin / cos
		r.time += leg.Thickness / (leg.Speed * cos)
	}
	end := len(legs) - 1
	r.u, r.v = d*math.Cos(azimuth), d*math.Sin(azimuth)
	r.last, r.legs[end].Thickness = r.legs[end].Thickness, 0
	r.first, r.legs[0].Thickness = r.legs[0].Thickness, 0 // last, because both may be the same leg
	return r
}

// logarithmic returns a number between a and b, whose logarithm is uniform.
func logarithmic(rng *rand.Rand, a, b float64) float64 {
	return math.Exp(math.Log(a) + rng.Float64()*math.Log(b/a))
}

// randomProblem returns a problem of up to four legs. Thicknesses are from 1 µm to 0.1 m, speeds
// from 1,000 to 10,000 m/s, and angles from the normal to grazing.
func randomProblem(rng *rand.Rand) problem {
	legs := make([]Leg, 1+rng.IntN(4))
	for i := range legs {
		legs[i] = Leg{Speed: 1000 + 9000*rng.Float64(), Thickness: logarithmic(rng, 1e-6, 0.1)}
		if i == 0 {
			continue
		}
		switch rng.IntN(4) {
		case 0: // the same layer as the leg before
			legs[i].Speed = legs[i-1].Speed
		case 1: // nearly the same speed
			legs[i].Speed = legs[i-1].Speed * (1 + logarithmic(rng, 1e-15, 1e-2))
		}
	}
	return lay(legs, logarithmic(rng, 1e-6, 1e6), 2*math.Pi*rng.Float64())
}

// TestClosedForm compares times with the times of rays that are built from their angle. In float64
// they agree to 3e-13: the accuracy and rounding. In float32 they are the nearest number to a time
// that is right to 1e-12.
func TestClosedForm(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	cases := 200000
	if testing.Short() {
		cases = 20000
	}
	var p Points
	var seconds [1]float32
	var tangents [1]float64
	for i := range cases {
		r := randomProblem(rng)
		s := NewStack(r.legs)
		s.Start(0, 0, r.first)
		if time, _ := s.solve(math.Hypot(r.u, r.v), r.last); !(math.Abs(time-r.time) <= 3e-13*r.time) {
			t.Fatalf("case %d, %+v: time %v", i, r, time)
		}
		p.Reset()
		p.Add(r.u, r.v, r.last)
		for name, solve := range forms {
			if !solve(s, seconds[:], tangents[:], &p) {
				t.Fatalf("%s: case %d, %+v: not found", name, i, r)
			}
			if got := seconds[0]; !(got >= float32(r.time*(1-1e-12)) && got <= float32(r.time*(1+1e-12))) {
				t.Fatalf("%s: case %d, %+v: time %v", name, i, r, got)
			}
			// Directions come from the tangent. They are right to 10 µrad.
			angle, want := math.Atan(tangents[0]), math.Atan(r.tangent)
			if !(math.Abs(angle-want) <= 1e-5) {
				t.Fatalf("%s: case %d, %+v: angle %v, want %v", name, i, r, angle, want)
			}
		}
	}
}

// TestAlongTheFace checks points on the face of a faster layer. Beyond the critical distance the
// first arrival is the head wave, with the time d/c₂ + h·√(1/c₁²−1/c₂²). The formula is in every
// textbook on seismic refraction. Before the critical distance the ray is a straight line.
func TestAlongTheFace(t *testing.T) {
	const c1, c2, h = 1480.0, 3230.0, 10e-3
	critical := h * c1 / math.Sqrt(c2*c2-c1*c1)
	for name, solve := range forms {
		s := NewStack([]Leg{{Speed: c1}, {Speed: c2}})
		s.Start(0, 0, h)
		var p Points
		var seconds [Block]float32
		var tangents [Block]float64
		for i := range Block {
			p.Add(critical*float64(i)/500, 0, 0)
		}
		solve(s, seconds[:], tangents[:], &p)
		missing := 0
		for i, got := range seconds {
			d, _ := p.At(i)
			want := math.Hypot(d, h) / c1
			if d > critical {
				want = d/c2 + h*math.Sqrt(1/(c1*c1)-1/(c2*c2))
			}
			if got != got {
				missing++
				continue
			}
			if !(got >= float32(want*(1-1e-12)) && got <= float32(want*(1+1e-12))) {
				t.Errorf("%s: %v of the critical distance: time %v, want %v", name, d/critical, got, want)
			}
		}
		if missing > 0 {
			t.Errorf("%s: %d of %d rays not found", name, missing, Block)
		}
	}
}

// TestLengths compares the forms for every short number of points. It also compares each ray with
// the same ray solved alone, and checks that nothing is written outside the results.
func TestLengths(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const margin = 16
	for n := 0; n <= 100; n++ {
		r := randomProblem(rng)
		s := NewStack(r.legs)
		s.Start(0, 0, r.first)
		var p Points
		for range n {
			p.Add(r.u*rng.Float64(), r.v, r.last*rng.Float64())
		}
		var want []float32
		for _, name := range []string{"plain", "dispatched"} {
			seconds := slices.Repeat([]float32{-1}, n+2*margin)
			tangents := slices.Repeat([]float64{-1}, n+2*margin)
			if !forms[name](s, seconds[margin:margin+n], tangents[margin:margin+n], &p) {
				t.Fatalf("%s: a ray of %d not found", name, n)
			}
			for i := range margin {
				if seconds[i] != -1 || tangents[i] != -1 || seconds[n+margin+i] != -1 || tangents[n+margin+i] != -1 {
					t.Fatalf("%s: %d points: something is written beyond them", name, n)
				}
			}
			got := seconds[margin:][:n]
			if name == "plain" {
				want = got
				continue
			}
			for i := range n {
				if !(math.Abs(float64(got[i]-want[i])) <= 0x1p-23*float64(want[i])) {
					t.Fatalf("ray %d of %d: %v, in plain Go %v", i, n, got[i], want[i])
				}
				var one Points
				var seconds [1]float32
				var tangent [1]float64
				u, v := p.At(i)
				one.Add(u, v, p.distance[i])
				if s.Solve(seconds[:], tangent[:], &one); seconds[0] != got[i] || tangent[0] != tangents[margin+i] {
					t.Fatalf("ray %d of %d: %v, alone %v", i, n, got[i], seconds[0])
				}
			}
		}
	}
}

// TestNoRay checks that a ray without a finite time gets NaN, and that the rays beside it are
// found.
func TestNoRay(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, solve := range forms {
		for _, bad := range [][3]float64{
			{nan, 0, 1}, {0, nan, 1}, {0, 0, nan}, {inf, 0, 1}, {0, -inf, 1}, {0, 0, inf},
			{1e200, 0, 1}, {math.MaxFloat64, math.MaxFloat64, math.MaxFloat64},
		} {
			s := NewStack([]Leg{{Speed: 1480}, {Speed: 3230}})
			s.Start(0, 0, 1)
			var p Points
			for i := range 12 {
				if i == 5 {
					p.Add(bad[0], bad[1], bad[2])
				} else {
					p.Add(float64(i), 0, 1)
				}
			}
			var seconds [12]float32
			var tangents [12]float64
			if solve(s, seconds[:], tangents[:], &p) {
				t.Errorf("%s: all rays found with %v", name, bad)
			}
			for i, got := range seconds {
				if found := got == got; found != (i != 5) {
					t.Errorf("%s: %v: ray %d is %v", name, bad, i, got)
				}
			}
		}
	}
}

// guarded returns copies of s and p between unreadable pages.
func guarded(m *guard.Memory, s *Stack, p *Points) (*Stack, *Points) {
	stack := &guard.Copy(m, "stack", []Stack{*s})[0]
	stack.slow = guard.Copy(m, "layers", s.slow)
	return stack, &guard.Copy(m, "points", []Points{*p})[0]
}

// TestGuarded solves for every short number of points, and for the largest number, through random
// layers, between unreadable pages.
func TestGuarded(t *testing.T) {
	for _, side := range guard.Sides {
		rng := rand.New(rand.NewPCG(5, 6))
		m := guard.New(t, side)
		for i := range 4 * 70 {
			n := i % 70
			if n == 69 {
				n = Block
			}
			r := randomProblem(rng)
			s := NewStack(r.legs)
			s.Start(0, 0, r.first)
			var p Points
			for range n {
				p.Add(r.u*rng.Float64(), r.v, r.last*rng.Float64())
			}
			want := make([]float32, n)
			s.Solve(want, make([]float64, n), &p)
			for name, solve := range forms {
				m.Reset()
				stack, points := guarded(m, s, &p)
				got := guard.Copy(m, "seconds", make([]float32, n))
				tangents := guard.Copy(m, "tangents", make([]float64, n))
				if err := m.Run(func() { solve(stack, got, tangents, points) }); err != nil {
					t.Fatalf("%s: %d points, guard %s: %v", name, n, side, err)
				}
				for k, v := range got {
					if !(math.Abs(float64(v-want[k])) <= 0x1p-23*float64(want[k])) {
						t.Fatalf("%s: ray %d of %d: %v, want %v", name, k, n, v, want[k])
					}
				}
			}
		}
	}
}

// TestOneVector calls the assembly alone for the last vector of the largest number of points. The
// results lie between unreadable pages.
func TestOneVector(t *testing.T) {
	if !Available {
		t.Skip("no assembly; TestDispatch tells if that is wrong")
	}
	s := NewStack([]Leg{{Speed: 1480, Thickness: 0.01}, {Speed: 3230}})
	var p Points
	for i := range Block {
		p.Add(1e-5*float64(i), 0, 1e-2)
	}
	want, q := make([]float32, Block), make([]float64, Block)
	s.plain(want, q, &p)
	want, q = want[Block-lanes:], q[Block-lanes:]
	for _, side := range guard.Sides {
		m := guard.New(t, side)
		stack, points := guarded(m, s, &p)
		seconds := guard.Copy(m, "seconds", make([]float32, lanes))
		tangents := guard.Copy(m, "tangents", make([]float64, lanes))
		err := m.Run(func() {
			begin(&tangents[0], points, stack, Block-lanes, 1)
			finish(&seconds[0], &tangents[0], points, stack, Block-lanes, 1)
		})
		if err != nil {
			t.Errorf("guard %s: %v", side, err)
		}
		for i := range lanes {
			if !(math.Abs(float64(seconds[i]-want[i])) <= 0x1p-23*float64(want[i])) || !(math.Abs(tangents[i]-q[i]) <= 1e-5) {
				t.Errorf("guard %s: time %v, tangent %v, want %v, %v", side, seconds[i], tangents[i], want[i], q[i])
			}
		}
	}
}

// TestDispatch fails where the processor could solve in assembly and plain Go does it. It checks
// which function touches the layers, for whole vectors of points and for the last points. Solve
// itself does not touch the layers.
func TestDispatch(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	fast := guard.Assembly && runtime.GOARCH == "amd64" && cpu.X86.HasAVX512F
	s := NewStack([]Leg{{Speed: 1480, Thickness: 0.01}, {Speed: 3230}})
	s.slow = guard.Unreadable[layer](t, 1)
	for _, n := range []int{1, lanes - 1, lanes, lanes + 1} {
		var p Points
		for range n {
			p.Add(0, 0, 1)
		}
		got := guard.Toucher(func() { s.Solve(make([]float32, n), make([]float64, n), &p) })
		if want := "layers.begin"; got == "" || (got == want) != fast {
			t.Errorf("%s touched the layers of %d points; assembly in %s wanted: %v", got, n, want, fast)
		}
	}
}

// BenchmarkSolve reports the time for each ray to 256 × 4 points 0.1 mm apart, through 10 mm of
// water into steel.
func BenchmarkSolve(b *testing.B) {
	for name, solve := range forms {
		for _, depth := range []string{"1mm", "15mm"} {
			b.Run("form="+name+"/depth="+depth, func(b *testing.B) {
				z := map[string]float64{"1mm": 1e-3, "15mm": 15e-3}[depth]
				s := NewStack([]Leg{{Speed: 1480}, {Speed: 3230}})
				s.Start(-10e-3, 0, 10e-3)
				var p Points
				for i := range Block {
					p.Add(-12.8e-3+0.1e-3*float64(i%256), 0, z+0.1e-3*float64(i/256))
				}
				var seconds [Block]float32
				var tangents [Block]float64
				for b.Loop() {
					solve(s, seconds[:], tangents[:], &p)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*Block), "ns/ray")
			})
		}
	}
}
