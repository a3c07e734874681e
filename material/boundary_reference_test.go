// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// Unless a test names a published source, its values come from an independent calculation with
// mpmath 1.2.1: the four boundary equations solved with 20 to 25 digits. They are correct to the
// last printed digit.

// The media of the reference calculations.
var (
	boundaryWater   = Isotropic{Density: 1000, Longitudinal: 1480}
	boundaryAcrylic = Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	boundarySteel   = Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	boundaryASTM    = Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230} // ASTM E494, Table X3.1, steel
)

const boundaryDegree = math.Pi / 180

// scatterSlowness is Scatter for the slowness p along the boundary in s/m, from 0 to 1/speed of the
// incident wave.
func scatterSlowness(b Boundary, incident Mode, p float64) Scattering {
	sin := min(p*b.upper.Speed(incident), 1)
	w := b.waves(incident, sin, math.Sqrt((1-sin)*(1+sin)))
	d := w.solve(incident)
	return Scattering{Displacement: d, Pressure: b.pressure(d, incident),
		Energy: w.energy(d, incident)}
}

func checkBoundaryValue(t testing.TB, name string, got, want complex128, tol float64) {
	t.Helper()
	if !(cmplx.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v within %g", name, got, want, tol)
	}
}

func decibels(amplitude float64) float64 { return 20 * math.Log10(amplitude) }

// TestBoundaryNormalIncidencePublished compares with Krautkrämer and Krautkrämer, Ultrasonic
// Testing of Materials, 4th ed. 1990, p. 17: steel and water with 45 and 1.5 MRayl, in pressure,
// printed to three digits and in dB. The longer values are the same fractions, exact.
func TestBoundaryNormalIncidencePublished(t *testing.T) {
	steel := Isotropic{Density: 45e3, Longitudinal: 1000, Transverse: 500}
	water := Isotropic{Density: 1.5e3, Longitudinal: 1000}
	in := check.Must(check.Must(NewBoundary(water, steel, Welded)).Scatter(L, 0)).Pressure
	out := check.Must(check.Must(NewBoundary(steel, water, Welded)).Scatter(L, 0)).Pressure
	for _, tc := range []struct {
		name           string
		got            float64
		printed, exact float64
		digit, tol     float64
	}{
		{"water to steel R", real(in.Reflected[L]), 0.935, 0.9354838710, 6e-4, 5e-11},
		{"water to steel D", real(in.Transmitted[L]), 1.935, 1.9354838710, 6e-4, 5e-11},
		{"water to steel |R| dB", decibels(real(in.Reflected[L])), -0.58, -0.579274, 6e-3, 5e-7},
		{"water to steel D dB", decibels(real(in.Transmitted[L])), 5.74, 5.735791, 6e-3, 5e-7},
		{"steel to water R", real(out.Reflected[L]), -0.935, -0.9354838710, 6e-4, 5e-11},
		{"steel to water D", real(out.Transmitted[L]), 0.0645, 0.0645161290, 6e-5, 5e-11},
		{"steel to water D dB", decibels(real(out.Transmitted[L])), -23.81, -23.806634, 6e-3, 5e-7},
	} {
		if !(math.Abs(tc.got-tc.printed) <= tc.digit) {
			t.Errorf("%s = %v, printed %v", tc.name, tc.got, tc.printed)
		}
		if !(math.Abs(tc.got-tc.exact) <= tc.tol) {
			t.Errorf("%s = %v, exact %v", tc.name, tc.got, tc.exact)
		}
	}
}

func TestBoundaryNormalIncidence(t *testing.T) {
	for _, tc := range []struct {
		name                           string
		z1, z2                         float64 // MRayl
		r, reflected, transmitted, tdB float64
	}{
		{"water / steel", 1.483, 45.43, 0.936777, 0.877550, 0.122450, -9.1204},
		{"water / aluminium", 1.4824, 17.01, 0.839675, 0.705054, 0.294946, -5.3026},
		{"water / acrylic", 1.4824, 3.2214, 0.369701, 0.136679, 0.863321, -0.6383},
		{"acrylic / steel", 3.2214, 46.472, 0.870349, 0.757507, 0.242493, -6.1530},
		{"cross-linked polystyrene / steel", 2.4582, 46.472, 0.899522, 0.809140, 0.190860, -7.1929},
	} {
		for _, contact := range []Contact{Welded, LiquidFilm} {
			for _, kappa := range []float64{0, 0.5} { // fluids, solids
				up := Isotropic{Density: tc.z1, Longitudinal: 1e6, Transverse: kappa * 1e6}
				low := Isotropic{Density: tc.z2, Longitudinal: 1e6, Transverse: kappa * 1e6}
				s := check.Must(check.Must(NewBoundary(up, low, contact)).Scatter(L, 0))
				for _, v := range []struct {
					name           string
					got, want, tol float64
				}{
					{"R", real(s.Pressure.Reflected[L]), tc.r, 5e-7},
					{"R²", s.Energy.Reflected[L], tc.reflected, 5e-7},
					{"1−R²", s.Energy.Transmitted[L], tc.transmitted, 5e-7},
					{"10·log10(1−R²)", 10 * math.Log10(s.Energy.Transmitted[L]), tc.tdB, 5e-5},
				} {
					if !(math.Abs(v.got-v.want) <= v.tol) {
						t.Errorf("%s, %v, κ %v: %s = %v, want %v",
							tc.name, contact, kappa, v.name, v.got, v.want)
					}
				}
			}
		}
	}
}

// TestBoundaryStainlessPublished compares water on stainless steel with the notes of the NDE
// Education Resource Center (Iowa State University): 0.88 of the energy reflected, 0.12
// transmitted. The "−1.1 dB" and "−18.2 dB" of the notes are 20·log10 of an energy. The rule of the
// trade, 10·log10, gives half of these values.
func TestBoundaryStainlessPublished(t *testing.T) {
	stainless := Isotropic{Density: 7910, Longitudinal: 5790, Transverse: 3100} // ASTM E494, Table X3.1, grade 347
	e := check.Must(check.Must(NewBoundary(boundaryWater, stainless, Welded)).Scatter(L, 0)).Energy
	for _, v := range []struct {
		name                       string
		energy, printed, printed20 float64
	}{
		{"reflected", e.Reflected[L], 0.88, -1.1},
		{"transmitted", e.Transmitted[L], 0.12, -18.2},
	} {
		if !(math.Abs(v.energy-v.printed) <= 5e-3) {
			t.Errorf("%s energy %v, printed %v", v.name, v.energy, v.printed)
		}
		if dB := 10 * math.Log10(v.energy); !(math.Abs(dB-v.printed20/2) <= 0.1) {
			t.Errorf("%s energy %v dB, want half of the printed %v dB", v.name, dB, v.printed20)
		}
	}
}

// TestBoundaryKrautkramerFormulas compares with the formulas of Krautkrämer and Krautkrämer,
// appendix, in pressure: A.1 and A.3 for a free surface, A.5 and A.6 for two liquids. The sign of
// the incident T is the opposite sign there.
func TestBoundaryKrautkramerFormulas(t *testing.T) {
	const tol = 1e-13
	free := check.Must(NewFreeSurface(boundarySteel))
	liquid := Isotropic{Density: 1260, Longitudinal: 1980} // glycerin: Norton and Karczub, Noise and Vibration Analysis, 2nd ed., appendix 4
	k := boundarySteel.Transverse / boundarySteel.Longitudinal
	for degree := range 91 {
		angle := float64(degree) * boundaryDegree

		al, at := angle, math.Asin(k*math.Sin(angle))
		product := k * k * math.Sin(2*al) * math.Sin(2*at)
		square := math.Pow(math.Cos(2*at), 2)
		got := check.Must(free.Scatter(L, angle)).Pressure.Reflected[L]
		checkBoundaryValue(t, fmt.Sprintf("A.1 at %d°", degree), got,
			complex((product-square)/(product+square), 0), tol)

		if math.Sin(angle) < k {
			al, at = math.Asin(math.Sin(angle)/k), angle
			n := k*k*math.Sin(2*al)*math.Sin(2*at) + math.Pow(math.Cos(2*at), 2)
			got = check.Must(free.Scatter(T, angle)).Pressure.Reflected[L]
			checkBoundaryValue(t, fmt.Sprintf("A.3 at %d°", degree), -got,
				complex(-math.Sin(4*at)/n, 0), tol)
		}

		for _, pair := range [][2]Isotropic{{boundaryWater, liquid}, {liquid, boundaryWater}} {
			m := pair[0].Density * pair[0].Longitudinal / (pair[1].Density * pair[1].Longitudinal)
			n := pair[1].Longitudinal / pair[0].Longitudinal
			cos := complex(math.Cos(angle), 0)
			root := cmplx.Sqrt(complex(1-math.Pow(n*math.Sin(angle), 2), 0))
			p := check.Must(check.Must(NewBoundary(pair[0], pair[1], Welded)).Scatter(L, angle)).Pressure
			mr := complex(m, 0) * root
			checkBoundaryValue(t, fmt.Sprintf("A.5 at %d°", degree), p.Reflected[L],
				(cos-mr)/(cos+mr), tol)
			checkBoundaryValue(t, fmt.Sprintf("A.6 at %d°", degree), p.Transmitted[L],
				2*cos/(cos+mr), tol)
		}
	}
}

// TestBoundaryZoeppritz compares with a published value, the reflection at 40° with five digits:
// the test suite of the general seismic library bruges, which states that an independent
// spreadsheet verified it. The other values are the independent calculation.
func TestBoundaryZoeppritz(t *testing.T) {
	b := check.Must(NewBoundary(Isotropic{2.66, 12250, 6200}, Isotropic{2.34, 11600, 6650}, Welded))
	at40 := check.Must(b.Scatter(L, 40*boundaryDegree)).Displacement
	checkBoundaryValue(t, "published R_LL at 40°", at40.Reflected[L], -0.112236, 5e-6)
	for _, tc := range []struct{ degree, want float64 }{
		{0, -0.0910947781}, {10, -0.0921440393}, {20, -0.0954642601}, {25, -0.0981442042},
		{30, -0.101674368}, {40, -0.112236083},
	} {
		got := check.Must(b.Scatter(L, tc.degree*boundaryDegree)).Displacement.Reflected[L]
		checkBoundaryValue(t, fmt.Sprintf("R_LL at %v°", tc.degree), got, complex(tc.want, 0),
			6e-10)
	}
	checkBoundaryValue(t, "R_LT at 40°", at40.Reflected[T], 0.0376889478, 5e-11)
	checkBoundaryValue(t, "T_LL at 40°", at40.Transmitted[L], 1.06859945, 5e-9)
	checkBoundaryValue(t, "T_LT at 40°", at40.Transmitted[T], -0.0471147400, 5e-11)
}

// TestBoundaryYoungBraile uses the media of the test model of Young and Braile, Bull. Seism. Soc.
// Am. 66, 1976, 1881, with the signs of Aki and Richards and the time factor exp(−iωt).
func TestBoundaryYoungBraile(t *testing.T) {
	b := check.Must(NewBoundary(Isotropic{2.667, 4.98, 2.9}, Isotropic{3.38, 8, 4.6}, Welded))
	for _, tc := range []struct {
		mode           Mode
		degree         float64
		rL, rT, tL, tT complex128
		energy         EnergyCoefficients
	}{
		{L, 0, 0.3412146, 0, 0.6587854, 0,
			EnergyCoefficients{[2]float64{.1164274, 0}, [2]float64{.8835726, 0}}},
		{L, 15, 0.3082381, -0.1787679, 0.6731345, -0.1215243,
			EnergyCoefficients{[2]float64{.0950107, .0190465}, [2]float64{.8685638, .0173790}}},
		{L, 30, 0.2631801, -0.2396635, 0.7671222, -0.2411068,
			EnergyCoefficients{[2]float64{.0692638, .0369492}, [2]float64{.8240900, .0696970}}},
		{L, 60, -0.6684048 - 0.160291i, -0.4865909 - 0.197713i, 0.0788863 - 0.2741908i,
			-0.4045471 + 0.1198353i, EnergyCoefficients{[2]float64{.4724581, .2774357},
				[2]float64{0, .2501062}}},
		{T, 15, -0.154679, -0.1718892, 0.1609595, 0.6758003,
			EnergyCoefficients{[2]float64{.0381032, .0295459}, [2]float64{.0656559, .8666949}}},
		{T, 30, -0.4859132 - 0.2046621i, 0.1048318 - 0.2447523i, 0.0991343 - 0.3432347i,
			0.6614167 + 0.1407653i, EnergyCoefficients{[2]float64{.2825733, .0708934},
				[2]float64{0, .6465333}}},
	} {
		s := check.Must(b.Scatter(tc.mode, tc.degree*boundaryDegree))
		name := fmt.Sprintf("%v at %v°: ", tc.mode, tc.degree)
		checkBoundaryValue(t, name+"R_L", s.Displacement.Reflected[L], tc.rL, 1e-7)
		checkBoundaryValue(t, name+"R_T", s.Displacement.Reflected[T], tc.rT, 1e-7)
		checkBoundaryValue(t, name+"T_L", s.Displacement.Transmitted[L], tc.tL, 1e-7)
		checkBoundaryValue(t, name+"T_T", s.Displacement.Transmitted[T], tc.tT, 1e-7)
		checkEnergies(t, name, s.Energy, tc.energy, 1e-7)
	}
}

func checkEnergies(t *testing.T, name string, got, want EnergyCoefficients, tol float64) {
	t.Helper()
	for m := L; m <= T; m++ {
		if !(math.Abs(got.Reflected[m]-want.Reflected[m]) <= tol &&
			math.Abs(got.Transmitted[m]-want.Transmitted[m]) <= tol) {
			t.Errorf("%s energy = %v, want %v", name, got, want)
			return
		}
	}
}

func TestBoundaryWaterSteel(t *testing.T) {
	b := check.Must(NewBoundary(boundaryWater, boundaryASTM, Welded))
	for _, tc := range []struct {
		degree     float64
		r          complex128
		tL, tT     float64 // signed below the first critical angle, else tT is a modulus
		eR, eL, eT float64
	}{
		{0, 0.93690045, 0.063099552, 0, .87778245, .12221755, 0},
		{5, 0.93638792, 0.062690083, -0.024107415, .87682234, .11355298, .00962468},
		{10, 0.93564720, 0.062593003, -0.048035235, .87543569, .08812815, .03643616},
		{18, 0.91100771 - 0.00131188i, math.NaN(), 0.1141719, .82993678, 0, .17006322},
		{20, 0.91812186 - 0.00136406i, math.NaN(), 0.1148779, .84294961, 0, .15705039},
		{25, 0.92269408 - 0.03711526i, math.NaN(), math.NaN(), .85274191, 0, .14725809},
		{30, -0.16162519 + 0.98685222i, math.NaN(), math.NaN(), 1, 0, 0},
		{45, 0.99261666 + 0.12129373i, math.NaN(), math.NaN(), 1, 0, 0},
	} {
		s := check.Must(b.Scatter(L, tc.degree*boundaryDegree))
		name := fmt.Sprintf("%v°: ", tc.degree)
		d := s.Displacement
		checkBoundaryValue(t, name+"R", d.Reflected[L], tc.r, 1e-8)
		switch {
		case !math.IsNaN(tc.tL):
			checkBoundaryValue(t, name+"T_L", d.Transmitted[L], complex(tc.tL, 0), 1e-8)
			checkBoundaryValue(t, name+"T_T", d.Transmitted[T], complex(tc.tT, 0), 1e-8)
		case !math.IsNaN(tc.tT):
			checkBoundaryValue(t, name+"|T_T|", complex(cmplx.Abs(d.Transmitted[T]), 0),
				complex(tc.tT, 0), 1e-7)
		}
		want := EnergyCoefficients{Reflected: [2]float64{tc.eR},
			Transmitted: [2]float64{tc.eL, tc.eT}}
		checkEnergies(t, name, s.Energy, want, 1e-8)
	}
}

func TestBoundaryContactWedge(t *testing.T) {
	for _, tc := range []struct {
		degree       float64
		welded, film [4]float64 // energies of reflected L and T, transmitted L and T
	}{
		{0, [4]float64{.7575073, 0, .2424927, 0}, [4]float64{.7575073, 0, .2424927, 0}},
		{10, [4]float64{.7080465, .0484573, .2355569, .0079393},
			[4]float64{.7604016, .0002879, .2171165, .0221940}},
		{20, [4]float64{.5832152, .1712489, .2180915, .0274445},
			[4]float64{.7725242, .0010405, .1506680, .0757674}},
		{30, [4]float64{.3322319, .4221161, 0, .2456520},
			[4]float64{.7108943, .0043626, 0, .2847431}},
		{35, [4]float64{.1724916, .5912402, 0, .2362682},
			[4]float64{.7419609, .0042291, 0, .2538100}},
		{40, [4]float64{.1116115, .6805441, 0, .2078445},
			[4]float64{.7741197, .0041428, 0, .2217375}},
		{45, [4]float64{.0571946, .7526210, 0, .1901844},
			[4]float64{.7920242, .0044800, 0, .2034958}},
		{55, [4]float64{.0016084, .8674819, 0, .1309098},
			[4]float64{.8443849, .0079201, 0, .1476950}},
	} {
		for contact, want := range [...][4]float64{Welded: tc.welded, LiquidFilm: tc.film} {
			b := check.Must(NewBoundary(boundaryAcrylic, boundarySteel, Contact(contact)))
			got := check.Must(b.Scatter(L, tc.degree*boundaryDegree)).Energy
			checkEnergies(t, fmt.Sprintf("%v at %v°", Contact(contact), tc.degree), got,
				EnergyCoefficients{[2]float64{want[0], want[1]},
					[2]float64{want[2], want[3]}}, 1e-7)
		}
	}
}

// TestBoundaryRoundTrip compares with Krautkrämer and Krautkrämer, Ultrasonic Testing of Materials,
// from memory: the echo transmittance of acrylic on steel through a liquid is greatest near 38°, at
// "nearly 30 %". The values are the independent calculation.
func TestBoundaryRoundTrip(t *testing.T) {
	transmittance := func(contact Contact, refracted float64) float64 {
		angle := Refract(refracted*boundaryDegree, boundarySteel.Transverse,
			boundaryAcrylic.Longitudinal)
		got := check.Must(check.Must(NewBoundary(boundaryAcrylic, boundarySteel, contact)).RoundTrip(L, T, angle))
		return cmplx.Abs(got)
	}
	for _, tc := range []struct{ refracted, welded, film float64 }{
		{35, .1932579, .2408563}, {38, .2564904, .2866476}, {40, .2525003, .2752148},
		{45, .2270820, .2430980},
		{50, .2079422, .2218431}, {60, .1855171, .1991348}, {70, .1640755, .1804275},
	} {
		if got := transmittance(Welded, tc.refracted); !(math.Abs(got-tc.welded) <= 6e-8) {
			t.Errorf("welded at %v°: %.7f, want %.7f", tc.refracted, got, tc.welded)
		}
		if got := transmittance(LiquidFilm, tc.refracted); !(math.Abs(got-tc.film) <= 6e-8) {
			t.Errorf("liquid film at %v°: %.7f, want %.7f", tc.refracted, got, tc.film)
		}
	}
	peak, at := 0.0, 0.0
	for tenth := 340; tenth <= 800; tenth++ {
		if v := transmittance(LiquidFilm, float64(tenth)/10); v > peak {
			peak, at = v, float64(tenth)/10
		}
	}
	if !(at > 37 && at < 39 && peak > 0.28 && peak < 0.30) {
		t.Errorf("peak %.4f at %v°, want nearly 0.30 near 38°", peak, at)
	}
}

func TestBoundaryFreeSurface(t *testing.T) {
	steel := check.Must(NewFreeSurface(boundarySteel))
	aki := check.Must(NewFreeSurface(Isotropic{Density: 1, Longitudinal: 5, Transverse: 3})) // the model of Aki and Richards, section 5.2
	for _, tc := range []struct {
		name   string
		b      Boundary
		mode   Mode
		degree float64
		l, t   float64 // moduli for T on steel
	}{
		{"steel", steel, L, 0, -1, 0},
		{"steel", steel, L, 10, -0.96003344, 0.37543563},
		{"steel", steel, L, 20, -0.84650846, 0.70227187},
		{"steel", steel, L, 30, -0.67772934, 0.94114059},
		{"steel", steel, L, 45, -0.38414511, 1.0908148},
		{"steel", steel, L, 60, -0.15337877, 1.0048909},
		{"steel", steel, L, 70, -0.11646306, 0.8465690},
		{"steel", steel, L, 80, -0.29007058, 0.58655724},
		{"steel", steel, T, 10, 0.37399833, 0.86885028},
		{"steel", steel, T, 20, 0.69767749, 0.51220927},
		{"steel", steel, T, 25, 0.84485580, 0.28933816},
		{"steel", steel, T, 30, 1.0626847, 0.11587231},
		{"steel", steel, T, 33, 1.6993428, 0.37605201},
		{"steel", steel, T, 40, math.NaN(), 1},
		{"steel", steel, T, 45, 0, 1},
		{"5/3", aki, L, 15, -0.88507498, 0.59418032},
		{"5/3", aki, L, 30, -0.58054587, 1.0015558},
		{"5/3", aki, L, 45, -0.19379500, 1.1191828},
		{"5/3", aki, L, 60, 0.13354277, 0.97874867},
		{"5/3", aki, T, 15, 0.58377148, 0.68520310},
		{"5/3", aki, T, 30, 0.96721525, -0.06929669},
	} {
		name := fmt.Sprintf("%s, %v at %v°: ", tc.name, tc.mode, tc.degree)
		r := check.Must(tc.b.Scatter(tc.mode, tc.degree*boundaryDegree)).Displacement.Reflected
		if tc.b == steel && tc.mode == T {
			r[L], r[T] = complex(cmplx.Abs(r[L]), 0), complex(cmplx.Abs(r[T]), 0)
		}
		if !math.IsNaN(tc.l) {
			checkBoundaryValue(t, name+"R_L", r[L], complex(tc.l, 0), 6e-8)
		}
		checkBoundaryValue(t, name+"R_T", r[T], complex(tc.t, 0), 6e-8)
	}
}

// TestCornerEchoSteel has the loss of T at 60° also from memory of the textbooks, in words: "60° is
// unsuitable for corner echoes".
func TestCornerEchoSteel(t *testing.T) {
	face := check.Must(NewFreeSurface(boundarySteel))
	for _, tc := range []struct {
		mode   Mode
		degree float64
		dB     float64
	}{
		{T, 35, 0}, {T, 45, 0}, {T, 55, 0}, {T, 60, -18.72}, {T, 65, -10.77}, {T, 70, -5.81},
		{L, 20, -20.12}, {L, 45, -16.62},
	} {
		got := check.Must(CornerEcho(face, face, tc.mode, tc.degree*boundaryDegree))
		if dB := decibels(cmplx.Abs(got)); !(math.Abs(dB-tc.dB) <= 6e-3) {
			t.Errorf("%v at %v°: %.3f dB, want %.2f dB", tc.mode, tc.degree, dB, tc.dB)
		}
	}
}
