// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

const degreeTest = math.Pi / 180

// christoffelOf returns the Christoffel of the crystal of that name.
func christoffelOf(t testing.TB, name string) *Christoffel {
	t.Helper()
	c := check.Must(NewChristoffel(publishedCrystal(t, name)))
	return c
}

// phaseAlong returns the waves of a valid phase direction.
func phaseAlong(t testing.TB, c *Christoffel, n r3.Vec) [3]PlaneWave {
	t.Helper()
	w := check.Must(c.Phase(n))
	return w
}

// TestOlivine compares with speeds and a polarisation published for the constants of Abramson et
// al. 1997: the check of phase velocities of A. Nowacki's general elasticity code CIJ (commit
// 7d77ec8), azimuth 30°, inclination 40°.
func TestOlivine(t *testing.T) {
	c := christoffelOf(t, "olivine")
	sinAz, cosAz := math.Sincos(30 * degreeTest)
	sinInc, cosInc := math.Sincos(40 * degreeTest)
	w := phaseAlong(t, c, r3.Vec{X: cosAz * cosInc, Y: -sinAz * cosInc, Z: sinInc})
	// Printed to 0.1 m/s.
	check.Within(t, "published qL speed", w[QL].Speed, 8557.0, 0.051)
	check.Within(t, "published qT1 speed", w[QT1].Speed, 5367.3, 0.051)
	check.Within(t, "published qT2 speed", w[QT2].Speed, 4625.1, 0.051)
	check.Within(t, "published anisotropy of the shear speeds, %",
		200*(w[QT1].Speed-w[QT2].Speed)/(w[QT1].Speed+w[QT2].Speed), 14.8554, 0.0001)
	// The source prints three digits, cut off and not rounded: the length is 0.999.
	check.Within(t, "published polarisation x", w[QL].Polarisation.X, 0.768, 0.001)
	check.Within(t, "published polarisation y", w[QL].Polarisation.Y, -0.308, 0.001)
	check.Within(t, "published polarisation z", w[QL].Polarisation.Z, 0.560, 0.001)
	// Independent calculation, numpy 1.24 eigh, printed to 0.01 m/s.
	check.Within(t, "qL speed", w[QL].Speed, 8557.04, 0.0051)
	check.Within(t, "qT1 speed", w[QT1].Speed, 5367.29, 0.0051)
	check.Within(t, "qT2 speed", w[QT2].Speed, 4625.08, 0.0051)
}

// TestStishovite compares with speeds from a graph, read to 0.1 km/s, for the constants of Weidner
// et al. 1982 (Mainprice, review of the seismic anisotropy of minerals, figure 3).
func TestStishovite(t *testing.T) {
	c := christoffelOf(t, "stishovite")
	for _, test := range []struct {
		name   string
		n      r3.Vec
		graph  [3]float64
		speeds [3]float64 // independent calculation, numpy 1.24 eigh
	}{
		{"[001]", r3.Vec{Z: 1}, [3]float64{13500, 7700, 7700}, [3]float64{13449.4, 7664.3, 7664.3}},
		{"[100]", r3.Vec{X: 1}, [3]float64{10200, 8400, 7700}, [3]float64{10275.9, 8390.2, 7664.3}},
	} {
		for s, w := range phaseAlong(t, c, test.n) {
			check.Within(t, test.name+" "+w.Sheet.String()+", graph", w.Speed, test.graph[s], 100)
			check.Within(t, test.name+" "+w.Sheet.String(), w.Speed, test.speeds[s], 0.051)
		}
	}
}

// TestCubicClosedForms compares with the closed forms of Christoffel's equation along the axes of
// symmetry of a cubic crystal (an identity; Musgrave, Crystal Acoustics, 1970, chapter 7).
func TestCubicClosedForms(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 50 {
		c44 := (20 + 100*rng.Float64()) * 1e9
		c12 := (20 + 100*rng.Float64()) * 1e9
		c11 := c12 + 2*c44*(0.3+rng.Float64()) // anisotropy factors from 0.77 to 3.3
		const density = 7000
		c := check.Must(NewChristoffel(Anisotropic{density, Cubic{c11, c12, c44}.Stiffness()}))
		a := (c11 - c12) / 2
		for _, test := range []struct {
			name    string
			n       r3.Vec
			squares [3]float64 // ρv²
		}{
			{"[100]", r3.Vec{X: 1}, [3]float64{c11, c44, c44}},
			{"[110]", r3.Vec{X: 1, Y: 1},
				[3]float64{(c11 + c12 + 2*c44) / 2, max(c44, a), min(c44, a)}},
			{"[111]", r3.Vec{X: 1, Y: 1, Z: 1},
				[3]float64{(c11 + 2*c12 + 4*c44) / 3, (c11 - c12 + c44) / 3,
					(c11 - c12 + c44) / 3}},
		} {
			for s, w := range phaseAlong(t, c, test.n) {
				check.Within(t, test.name+" "+w.Sheet.String()+", ρv²/C11",
					density*w.Speed*w.Speed/c11, test.squares[s]/c11, 1e-14)
			}
		}
	}
}

// TestCubicSpeeds compares with speeds along the axes of symmetry of cubic crystals, an independent
// calculation with numpy 1.24 eigh, printed to 0.001 m/s.
func TestCubicSpeeds(t *testing.T) {
	axes := [3]r3.Vec{{X: 1}, {X: 1, Y: 1}, {X: 1, Y: 1, Z: 1}}
	tests := []struct {
		crystal string
		speeds  [3][3]float64 // along [100], [110], [111]
	}{
		{"aluminium", [3][3]float64{{6330.409, 3248.931, 3248.931}, {6476.453, 3248.931, 2947.064}, {6524.408, 3051.007, 3051.007}}},
		{"iron", [3][3]float64{{5487.655, 3839.208, 3839.208}, {6225.333, 3839.208, 2469.638}, {6452.511, 2996.539, 2996.539}}},
		{"nickel", [3][3]float64{{5260.395, 3741.477, 3741.477}, {6008.526, 3741.477, 2359.667}, {6237.996, 2894.518, 2894.518}}},
		{"copper", [3][3]float64{{4335.279, 2900.893, 2900.893}, {4958.533, 2900.893, 1619.496}, {5149.549, 2133.910, 2133.910}}},
		{"gallium arsenide", [3][3]float64{{4731.335, 3345.559, 3345.559}, {5239.686, 3345.559, 2474.669}, {5398.509, 2795.278, 2795.278}}},
		{"austenitic steel", [3][3]float64{{5085.003, 4060.127, 4060.127}, {6155.528, 4060.127, 2109.824}, {6473.146, 2909.029, 2909.029}}},
		{"austenitic steel Fe-18Cr-8Ni",
			[3][3]float64{{5102.013, 4006.991, 4006.991}, {6150.674, 4006.991, 2062.941},
				{6462.523, 2861.668, 2861.668}}},
	}
	for _, test := range tests {
		t.Run(test.crystal, func(t *testing.T) {
			c := christoffelOf(t, test.crystal)
			for i, n := range axes {
				for s, w := range phaseAlong(t, c, n) {
					check.Within(t, "speed in m/s", w.Speed, test.speeds[i][s], 0.00051)
				}
			}
		})
	}
}

// TestCubicSkew compares phase speed, group speed and skew in the cube plane (001) at 22.5° from
// [100], for the waves polarised in the plane. Independent calculation with numpy 1.24 eigh and the
// exact derivative, printed to 0.01 m/s and 0.001°.
func TestCubicSkew(t *testing.T) {
	type wave struct{ phase, group, skew float64 }
	tests := []struct {
		crystal                  string
		longitudinal, transverse wave
	}{
		{"nickel", wave{5715.21, 5879.06, 13.558}, wave{3001.12, 3986.97, -41.172}},
		{"iron", wave{5931.96, 6088.23, 13.010}, wave{3108.98, 4062.55, -40.068}},
		{"gallium arsenide", wave{5030.48, 5121.63, 10.826}, wave{2876.20, 3332.16, -30.326}},
		{"austenitic steel", wave{5783.52, 6061.23, 17.411}, wave{2982.08, 4611.47, -49.709}},
	}
	n := r3.Vec{X: math.Cos(22.5 * degreeTest), Y: math.Sin(22.5 * degreeTest)}
	for _, test := range tests {
		t.Run(test.crystal, func(t *testing.T) {
			w := phaseAlong(t, christoffelOf(t, test.crystal), n)
			for _, pair := range []struct {
				got  PlaneWave
				want wave
			}{{w[QL], test.longitudinal}, {w[QT2], test.transverse}} {
				name := pair.got.Sheet.String()
				check.Within(t, name+" phase speed", pair.got.Speed, pair.want.phase, 0.0051)
				check.Within(t, name+" group speed", pair.got.GroupSpeed(), pair.want.group, 0.0051)
				check.Within(t, name+" signed skew, °",
					signedSkew(pair.got, r3.Vec{Z: 1})/degreeTest, pair.want.skew, 0.00051)
				check.Within(t, name+" skew, °", pair.got.Skew()/degreeTest,
					math.Abs(pair.want.skew), 0.00051)
			}
		})
	}
}

// signedSkew returns the angle in radians by which Group of w is turned from Normal about axis, a
// unit vector across both, positive by the right-hand rule.
func signedSkew(w PlaneWave, axis r3.Vec) float64 {
	return math.Atan2(r3.Dot(axis, r3.Cross(w.Normal, w.Group)), r3.Dot(w.Normal, w.Group))
}

// transverseWaves returns the waves in a plane through the axis of a transversely isotropic solid
// by polarisation: quasi-longitudinal, in the plane (qSV) and across the plane (SH, along y).
func transverseWaves(w [3]PlaneWave) (longitudinal, inPlane, across PlaneWave) {
	if math.Abs(w[QT1].Polarisation.Y) > 0.5 {
		return w[QL], w[QT2], w[QT1]
	}
	return w[QL], w[QT1], w[QT2]
}

// axisAngle returns the angle in degrees of v from z towards x.
func axisAngle(v r3.Vec) float64 { return math.Atan2(v.X, v.Z) / degreeTest }

// TestTransverseTables compares phase speed, group speed and group direction by the angle of the
// phase direction from the axis. Independent calculation with numpy 1.24 eigh, printed to 0.01 m/s
// and 0.001°. The constants are from memory, except the constants of magnesium; see the sources of
// the crystals. The columns of weld metal turn the energy of the qSV wave beyond 90°.
func TestTransverseTables(t *testing.T) {
	type wave struct{ phase, group, direction float64 } // 0: not in the table
	type row struct {
		degrees                       float64
		longitudinal, inPlane, across wave
	}
	tests := []struct {
		crystal string
		rows    []row
	}{
		{"weld metal X6CrNi18-11", []row{
			{0, wave{5541.29, 5541.29, 0}, wave{phase: 3789.37, group: 3789.37},
				wave{phase: 3789.37}},
			{15, wave{5763.49, 5915.67, 28.024}, wave{3443.23, 4098.18, -17.840},
				wave{phase: 3743.66}},
			{30, wave{6082.32, 6154.17, 38.764}, wave{2846.40, 3469.93, -4.885},
				wave{phase: 3615.84}},
			{45, wave{6210.40, 6210.41, 45.070}, wave{2561.01, 2561.02, 45.133},
				wave{phase: 3433.56}},
			{75, wave{5771.80, 5920.04, 62.151}, wave{3445.07, 4095.56, 107.736},
				wave{phase: 3092.51}},
			{90, wave{5552.59, 5552.59, 90}, wave{3789.37, 3789.37, 90}, wave{phase: 3036.33}},
		}},
		{"weld metal type 308", []row{
			{0, wave{5157.61, 5157.61, 0}, wave{phase: 3985.81, group: 3985.81}, wave{}},
			{15, wave{5565.32, 5972.38, 36.276}, wave{3449.72, 4623.92, -26.750}, wave{}},
			{30, wave{6058.53, 6231.19, 43.520}, wave{2687.24, 3574.14, -11.248}, wave{}},
			{45, wave{6294.16, 6302.31, 47.915}, wave{2397.91, 2424.69, 53.522}, wave{}},
			{75, wave{5924.71, 6079.83, 62.030}, wave{3571.72, 4457.33, 111.744}, wave{}},
			{90, wave{5688.44, 5688.44, 90}, wave{3985.81, 3985.81, 90}, wave{}},
		}},
		{"weld metal, austenitic", []row{
			{0, wave{phase: 5110.25}, wave{}, wave{}},
			{15, wave{phase: 5517.80, direction: 15 + 21.302}, wave{}, wave{}},
			{30, wave{phase: 6005.88}, wave{}, wave{}},
			{45, wave{phase: 6238.04}, wave{}, wave{}},
			{60, wave{phase: 6171.94}, wave{}, wave{}},
			{75, wave{phase: 5869.07}, wave{}, wave{}},
			{90, wave{phase: 5632.03}, wave{}, wave{}},
		}},
		{"zinc", []row{
			{0, wave{phase: 2924.14}, wave{phase: 2317.04}, wave{}},
			{15, wave{3264.57, 3774.37, 45.125}, wave{}, wave{}},
			{30, wave{3763.25, 4181.41, 55.842}, wave{1805.98, 1858.13, 16.393}, wave{}},
			{45, wave{4193.09, 4431.52, 63.880}, wave{1829.18, 1908.48, 61.574}, wave{}},
			{60, wave{4506.02, 4605.11, 71.908}, wave{}, wave{}},
			{90, wave{phase: 4750.58}, wave{phase: 2317.04}, wave{phase: 2981.11}},
		}},
		{"magnesium", []row{
			{0, wave{phase: 5953.41}, wave{}, wave{}},
			{30, wave{5815.85, 5827.78, 26.333}, wave{}, wave{}},
			{45, wave{5745.76, 5747.00, 43.811}, wave{phase: 3351.49}, wave{}},
			{90, wave{phase: 5846.13}, wave{}, wave{phase: 3117.84}},
		}},
	}
	for _, test := range tests {
		t.Run(test.crystal, func(t *testing.T) {
			c := christoffelOf(t, test.crystal)
			for _, row := range test.rows {
				n := r3.Vec{X: math.Sin(row.degrees * degreeTest),
					Z: math.Cos(row.degrees * degreeTest)}
				longitudinal, inPlane, across := transverseWaves(phaseAlong(t, c, n))
				for _, pair := range []struct {
					name string
					got  PlaneWave
					want wave
				}{{"qL", longitudinal, row.longitudinal}, {"qSV", inPlane, row.inPlane}, {"SH",
					across, row.across}} {
					if pair.want.phase != 0 {
						check.Within(t, pair.name+" phase speed", pair.got.Speed, pair.want.phase,
							0.0051)
					}
					if pair.want.group != 0 {
						check.Within(t, pair.name+" group speed", pair.got.GroupSpeed(),
							pair.want.group, 0.0051)
					}
					if pair.want.direction != 0 {
						check.Within(t, pair.name+" group direction, °", axisAngle(pair.got.Group),
							pair.want.direction, 0.00051)
					}
				}
			}
		})
	}
}

// TestTransverseAcross compares the wave polarised across the plane with its closed form, an
// ellipse of slowness: ρv² = C66·sin² + C44·cos² (an identity).
func TestTransverseAcross(t *testing.T) {
	for _, name := range []string{"weld metal X6CrNi18-11", "zinc", "magnesium"} {
		m := publishedCrystal(t, name)
		c := christoffelOf(t, name)
		for degrees := 1.0; degrees < 90; degrees++ {
			sin, cos := math.Sincos(degrees * degreeTest)
			_, _, across := transverseWaves(phaseAlong(t, c, r3.Vec{X: sin, Z: cos}))
			c44, c66 := m.Stiffness[3][3], m.Stiffness[5][5]
			want := math.Sqrt((c66*sin*sin + c44*cos*cos) / m.Density)
			check.Within(t, name+" SH, relative", across.Speed/want, 1, 1e-14)
			check.Within(t, name+" SH group direction, tan", across.Group.X/across.Group.Z,
				c66*sin/(c44*cos), 1e-9)
		}
	}
}

// TestPhaseProperties checks the properties of all plane waves on invented random solids.
func TestPhaseProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for _, solid := range randomSolids {
		t.Run(solid.name, func(t *testing.T) {
			for range 20 {
				m := solid.make(rng)
				c := check.Must(NewChristoffel(m))
				turn := randomRotation(rng)
				turnedStiffness := check.Must(m.Stiffness.Rotate(turn))
				turned := check.Must(NewChristoffel(Anisotropic{m.Density, turnedStiffness}))
				for range 20 {
					n := randomDirection(rng)
					w := phaseAlong(t, c, n)
					checkPlaneWaves(t, c, m, w)
					checkOpposite(t, w, phaseAlong(t, c, r3.Scale(-3, n)))
					checkTurned(t, turn, w, phaseAlong(t, turned, turn.Rotate(n)))
					checkGradient(t, c, w)
				}
			}
		})
	}
}

// checkPlaneWaves checks the equation, the order and the identities of the waves of one phase
// direction.
func checkPlaneWaves(t *testing.T, c *Christoffel, m Anisotropic, w [3]PlaneWave) {
	t.Helper()
	n := w[0].Normal
	gamma := definedGamma(m, n)
	var trace, squares float64
	for s := range 3 {
		trace += gamma.At(s, s)
		squares += w[s].Speed * w[s].Speed
		v2 := w[s].Speed * w[s].Speed
		residual := r3.Sub(gamma.MulVec(w[s].Polarisation), r3.Scale(v2, w[s].Polarisation))
		check.Within(t, "residual of Christoffel's equation, relative",
			r3.Norm(residual)/(w[0].Speed*w[0].Speed), 0, 2e-14)
		check.Within(t, "V·n/v", r3.Dot(w[s].Group, n)/w[s].Speed, 1, 1e-13)
		if !(w[s].GroupSpeed() >= w[s].Speed*(1-1e-15)) {
			t.Errorf("%v: group speed %v below phase speed %v",
				w[s].Sheet, w[s].GroupSpeed(), w[s].Speed)
		}
		check.Within(t, "slowness·V", r3.Dot(w[s].Slowness(), w[s].Group), 1, 1e-13)
		for k := range 3 {
			want := 0.0
			if k == s {
				want = 1
			}
			check.Within(t, "scalar product of polarisations",
				r3.Dot(w[s].Polarisation, w[k].Polarisation), want, 1e-14)
		}
		if r3.Dot(w[s].Polarisation, n) < -1e-12 {
			t.Errorf("%v: polarisation against the phase direction", w[s].Sheet)
		}
	}
	if !(w[0].Speed >= w[1].Speed && w[1].Speed >= w[2].Speed && w[2].Speed > 0) {
		t.Errorf("speeds %v, %v, %v: want descending and above 0",
			w[0].Speed, w[1].Speed, w[2].Speed)
	}
	check.Within(t, "sum of v² over the trace of Γ", squares/trace, 1, 1e-14)
	// The group velocity is the power flow −σ·u̇ divided by the energy density, here calculated
	// with the full tensor.
	for _, wave := range w {
		check.Within(t, "group velocity against the flow of energy, m/s",
			r3.Norm(r3.Sub(wave.Group, energyVelocity(m, wave))), 0, 1e-12*wave.Speed+1e-9)
	}
}

// definedGamma returns Γ by its definition, index by index.
func definedGamma(m Anisotropic, n r3.Vec) *r3.Mat {
	v := [3]float64{n.X, n.Y, n.Z}
	out := r3.NewMat(nil)
	for i := range 3 {
		for k := range 3 {
			var sum float64
			for j := range 3 {
				for l := range 3 {
					sum += m.Stiffness[voigtIndex[i][j]][voigtIndex[k][l]] * v[j] * v[l]
				}
			}
			out.Set(i, k, sum/m.Density)
		}
	}
	return out
}

// energyVelocity returns the mean power flow of a plane wave of unit amplitude
// divided by its mean energy density: P_j = ½ω²·c_ijkl p_i p_k n_l / v over
// E = ½ω²·ρ.
func energyVelocity(m Anisotropic, w PlaneWave) r3.Vec {
	n := [3]float64{w.Normal.X, w.Normal.Y, w.Normal.Z}
	p := [3]float64{w.Polarisation.X, w.Polarisation.Y, w.Polarisation.Z}
	var out [3]float64
	for j := range 3 {
		for i := range 3 {
			for k := range 3 {
				for l := range 3 {
					out[j] += m.Stiffness[voigtIndex[i][j]][voigtIndex[k][l]] * p[i] * p[k] * n[l] / (m.Density * w.Speed)
				}
			}
		}
	}
	return r3.Vec{X: out[0], Y: out[1], Z: out[2]}
}

// checkOpposite checks that the waves of −n are the mirror images of the waves of n.
func checkOpposite(t *testing.T, w, opposite [3]PlaneWave) {
	t.Helper()
	for s := range w {
		check.Within(t, "speed of −n, relative", opposite[s].Speed/w[s].Speed, 1, 1e-14)
		check.Within(t, "group velocity of −n, relative",
			r3.Norm(r3.Add(opposite[s].Group, w[s].Group))/w[s].Speed, 0, 1e-9)
	}
}

// checkTurned checks that the waves of the turned solid are the turned waves. Near acoustic axes
// the error of a group velocity is 1e-16 divided by the difference of the squared speeds.
func checkTurned(t *testing.T, turn r3.Rotation, w, turned [3]PlaneWave) {
	t.Helper()
	for s := range w {
		check.Within(t, "speed in the turned solid, relative", turned[s].Speed/w[s].Speed, 1, 2e-14)
		gap := 1.0
		for k := range w {
			if k != s {
				gap = min(gap, math.Abs(1-w[k].Speed*w[k].Speed/(w[s].Speed*w[s].Speed)))
			}
		}
		check.Within(t, "group velocity in the turned solid, relative",
			r3.Norm(r3.Sub(turned[s].Group, turn.Rotate(w[s].Group)))/w[s].Speed, 0, 1e-13/gap)
	}
}

// checkGradient compares the group velocity, away from acoustic axes, with the gradient of the
// phase speed as a homogeneous function of direction, by central differences.
func checkGradient(t *testing.T, c *Christoffel, w [3]PlaneWave) {
	t.Helper()
	const h = 1e-5
	for s := range w {
		for k := range w {
			if k != s && math.Abs(w[k].Speed-w[s].Speed) < 0.03*w[s].Speed {
				return
			}
		}
		speed := func(q r3.Vec) float64 { return r3.Norm(q) * phaseAlong(t, c, q)[s].Speed }
		gradient := r3.Gradient(w[s].Normal, r3.Vec{X: h, Y: h, Z: h}, speed)
		check.Within(t, "group velocity against differences, relative",
			r3.Norm(r3.Sub(gradient, w[s].Group))/w[s].Speed, 0, 1e-6)
	}
}

// TestDegenerateAxes checks acoustic axes: equal speeds, an orthonormal pair of polarisations, the
// mean group velocity.
func TestDegenerateAxes(t *testing.T) {
	isotropic := check.Must(Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}.Anisotropic())
	tests := []struct {
		name    string
		m       Anisotropic
		axis    r3.Vec
		conical bool
	}{
		{"isotropic, anywhere", isotropic, r3.Vec{X: 1, Y: 2, Z: -0.7}, false},
		{"cubic, edge", publishedCrystal(t, "iron"), r3.Vec{Y: -1}, false},
		{"cubic, body diagonal", publishedCrystal(t, "iron"), r3.Vec{X: 1, Y: 1, Z: -1}, true},
		{"transversely isotropic, axis", publishedCrystal(t, "zinc"), r3.Vec{Z: 1}, false},
		{"tetragonal, axis", publishedCrystal(t, "stishovite"), r3.Vec{Z: 1}, false},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c := check.Must(NewChristoffel(test.m))
			w := phaseAlong(t, c, test.axis)
			if w[QL].Degenerate || !w[QT1].Degenerate || !w[QT2].Degenerate {
				t.Fatalf("degenerate: %v %v %v, want the quasi-transverse waves",
					w[QL].Degenerate, w[QT1].Degenerate, w[QT2].Degenerate)
			}
			check.Within(t, "ratio of speeds", w[QT1].Speed/w[QT2].Speed, 1, 1e-14)
			check.Within(t, "p1·p2", r3.Dot(w[QT1].Polarisation, w[QT2].Polarisation), 0, 1e-14)
			// Each of these axes is an axis of symmetry of at least third order. The mean is
			// therefore along the axis.
			for _, wave := range w {
				check.Within(t, "skew, rad", wave.Skew(), 0, 1e-7)
			}
			if got := c.conical(w[QT1].Normal, QT1); got != test.conical {
				t.Errorf("conical: %v, want %v", got, test.conical)
			}
		})
	}
	// The half angle of the cone about the body diagonal in closed form:
	// tan = |C11 − C12 − 2·C44| / (√2·(C11 − C12 + C44))
	// (an identity; Musgrave, Crystal Acoustics, 1970, chapter 11). Each
	// polarisation just off the axis gives a point of the rim.
	m := publishedCrystal(t, "iron")
	c := christoffelOf(t, "iron")
	c11, c12, c44 := m.Stiffness[0][0], m.Stiffness[0][1], m.Stiffness[3][3]
	want := math.Atan(math.Abs(c11-c12-2*c44) / (math.Sqrt2 * (c11 - c12 + c44)))
	axis := r3.Unit(r3.Vec{X: 1, Y: 1, Z: 1})
	e1, e2 := planeAcross(axis)
	for degrees := 0.0; degrees < 360; degrees += 30 {
		sin, cos := math.Sincos(degrees * degreeTest)
		w := phaseAlong(t, c, onPlane(axis, e1, e2, 1e-6*cos, 1e-6*sin))
		for _, sheet := range []Sheet{QT1, QT2} {
			check.Within(t, "half angle of the cone of conical refraction",
				groupAngle(w[sheet].Group, axis), want, 1e-5)
		}
	}
}

func TestPhaseErrors(t *testing.T) {
	c := christoffelOf(t, "iron")
	for _, bad := range []r3.Vec{{}, {X: math.NaN(), Y: 1}, {Z: math.Inf(1)}} {
		_, err := c.Phase(bad)
		checkStiffnessError(t, err, "phase direction")
		_, err = c.Section(bad, r3.Vec{X: 1}, 4)
		checkStiffnessError(t, err, "start of section")
		_, err = c.Section(r3.Vec{X: 1}, bad, 4)
		checkStiffnessError(t, err, "turn of section")
	}
	_, err := c.Section(r3.Vec{X: 1}, r3.Vec{X: -2}, 4)
	checkStiffnessError(t, err, "want a direction other than ±the start")
	_, err = c.Section(r3.Vec{X: 1}, r3.Vec{Y: 1}, 0)
	checkStiffnessError(t, err, "0 directions of a section")
	_, err = c.Section(r3.Vec{X: 1}, r3.Vec{Y: 1}, math.MaxInt)
	checkStiffnessError(t, err, "and at most 16777216")

	// Only the direction matters, at any finite length above 0.
	for _, length := range []float64{5e-324, 1e-200, 1, 1e300} {
		w := phaseAlong(t, c, r3.Vec{Y: length, Z: length})
		check.Within(t, "speed along [011], m/s", w[QL].Speed, 6225.333, 0.00051)
	}
}

func TestSlownessSamples(t *testing.T) {
	c := christoffelOf(t, "olivine")
	section := check.Must(c.Section(r3.Vec{Z: 2}, r3.Vec{X: 1, Z: 1}, 8))
	for i, w := range section {
		sin, cos := math.Sincos(float64(i) * math.Pi / 4)
		want := r3.Vec{X: sin, Z: cos}
		check.Within(t, "direction of the section", r3.Norm(r3.Sub(w[QL].Normal, want)), 0, 1e-15)
		if diff := cmp.Diff(c.phase(w[QL].Normal), w); diff != "" {
			t.Errorf("direction %d (-Phase +Section):\n%s", i, diff)
		}
	}
}

func TestSheetString(t *testing.T) {
	for sheet, want := range map[Sheet]string{QL: "qL", QT1: "qT1", QT2: "qT2", 7: "Sheet(7)"} {
		if got := sheet.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// TestEigen3 compares the eigenvalues with gonum's general symmetric solver, and the vectors with
// their definition. The matrices include those that are difficult because of rounding.
func TestEigen3(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for trial := range 3000 {
		var s symmetric3
		for i := range s {
			s[i] = rng.NormFloat64() * math.Pow(10, -float64(trial%17)*rng.Float64())
		}
		if trial%3 == 0 { // two equal eigenvalues to within rounding
			u := randomDirection(rng)
			s = symmetric3{1 + u.X*u.X, 1 + u.Y*u.Y, 1 + u.Z*u.Z, u.Y * u.Z, u.X * u.Z, u.X * u.Y}
		}
		values, vectors := s.eigen()
		var e mat.EigenSym
		if !e.Factorize(mat.NewSymDense(3, []float64{s[0], s[5], s[4], s[5], s[1], s[3], s[4], s[3], s[2]}), false) {
			t.Fatal("gonum found no eigenvalues")
		}
		want := e.Values(nil)
		scale := max(math.Abs(want[0]), math.Abs(want[2]))
		for i := range values {
			check.Within(t, "eigenvalue over the largest", values[i]/scale, want[2-i]/scale, 1e-14)
			residual := r3.Sub(s.mulVec(vectors[i]), r3.Scale(values[i], vectors[i]))
			check.Within(t, "residual over the largest", r3.Norm(residual)/scale, 0, 1e-14)
			for j := range i {
				check.Within(t, "scalar product of eigenvectors", r3.Dot(vectors[i], vectors[j]), 0,
					1e-14)
			}
		}
	}
	for _, s := range []symmetric3{{}, {2, 2, 2}, {1, 2, 3}, {5e-324, 1, 1, 1e-320}} {
		values, vectors := s.eigen()
		for i := range values {
			if math.IsNaN(values[i]) {
				t.Errorf("%v: eigenvalue %v", s, values[i])
			}
			check.Within(t, "length of eigenvector", r3.Norm(vectors[i]), 1, 1e-15)
		}
	}
}
