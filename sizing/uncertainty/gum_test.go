// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"github.com/isochron-imaging/isochron/internal/check"
)

// GUM is JCGM 100:2008, Evaluation of measurement data: guide to the expression of uncertainty in
// measurement. The digits beyond the printed ones were computed independently in double precision.

// TestEndGauge is the example H.1 of the GUM: the length of an end gauge. The inputs are from
// memory. The results to first order are printed: u = 32 nm, 16 degrees of freedom, U = 93 nm at
// 99 %.
func TestEndGauge(t *testing.T) {
	b := check.Must(Combine("length", "nm", 50000838, []Contribution{
		{Quantity: Quantity{Name: "standard", Uncertainty: 25, DegreesOfFreedom: 18}, Sensitivity: 1},
		{Quantity: Quantity{Name: "difference", Uncertainty: 9.7, DegreesOfFreedom: 25.6}, Sensitivity: 1},
		{Quantity: Quantity{Name: "difference of expansion", Uncertainty: 2.9, DegreesOfFreedom: 50}, Sensitivity: 1},
		{Quantity: Quantity{Name: "difference of temperature", Uncertainty: 16.6, DegreesOfFreedom: 2}, Sensitivity: -1},
	}, nil))
	check.Printed(t, "combined uncertainty", b.Uncertainty, "31.671")
	check.Printed(t, "effective degrees of freedom", b.DegreesOfFreedom, "16.7646")
	r := b.Result(0.99)
	check.Printed(t, "coverage factor", r.Factor, "2.92")
	check.Printed(t, "expanded uncertainty", r.Expanded, "92.504")
	if got, want := r.String(), "50000838 ± 93 nm (k = 2.92, 99 %)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestImpedance is the example H.2 of the GUM: resistance, reactance and impedance from readings
// that were taken together. The GUM prints 127.732(70), 219.85(30), 254.26(24), and the
// correlation coefficients -0.59, -0.49, +0.99. Some computations in circulation start from
// rounded inputs and give u(R) = 0.070. The readings give 0.0711.
func TestImpedance(t *testing.T) {
	v := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	i := []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
	phi := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
	quantities := []Quantity{Readings("V", v...), Readings("I", i...), Readings("phi", phi...)}
	correlations := []Correlation{
		{"V", "I", stat.Correlation(v, i, nil)}, {"V", "phi", stat.Correlation(v, phi, nil)}, {"I", "phi", stat.Correlation(i, phi, nil)},
	}
	resistance := func(x []float64) float64 { return x[0] / x[1] * math.Cos(x[2]) }
	reactance := func(x []float64) float64 { return x[0] / x[1] * math.Sin(x[2]) }
	impedance := func(x []float64) float64 { return x[0] / x[1] }
	of := func(f func([]float64) float64) *Budget {
		return check.Must(Propagate("result", "Ω", f, quantities, correlations))
	}
	for _, c := range []struct {
		name, value, uncertainty string
		f                        func([]float64) float64
	}{
		{"R", "127.7321699", "0.0710714", resistance},
		{"X", "219.8465119", "0.2955817", reactance},
		{"Z", "254.2597019", "0.2363361", impedance},
	} {
		b := of(c.f)
		check.Printed(t, c.name, b.Value, c.value)
		check.Printed(t, "u("+c.name+")", b.Uncertainty, c.uncertainty)
		check.Within(t, "degrees of freedom of joint readings", b.DegreesOfFreedom, 4, 1e-9)
		sum := 0.0
		for _, c := range b.Contributions {
			sum += c.Share
		}
		check.Within(t, "sum of the shares", sum, 1, 1e-12)
	}
	// The variance of a sum gives the correlation coefficient of two results.
	r := func(f, g func([]float64) float64) float64 {
		a, b := of(f).Uncertainty, of(g).Uncertainty
		sum := of(func(x []float64) float64 { return f(x) + g(x) }).Uncertainty
		return (sum*sum - a*a - b*b) / (2 * a * b)
	}
	check.Within(t, "r(R,X)", r(resistance, reactance), -0.5884298, 2e-6)
	check.Within(t, "r(R,Z)", r(resistance, impedance), -0.4852592, 2e-6)
	check.Within(t, "r(X,Z)", r(reactance, impedance), 0.9925117, 2e-6)

	// The distribution has the tails of Student's distribution of 4 degrees of freedom.
	trials := 100_000
	if testing.Short() {
		trials = 20_000
	}
	d := check.Must(MonteCarlo(impedance, quantities, correlations, &MonteCarloOptions{Trials: trials, Seed: 1}))
	low, high := d.Interval(0.95)
	check.Within(t, "half of the interval of 95 % over u(Z)", (high-low)/2/0.2363361, 2.776445, 0.06)
	check.Within(t, "mean of Z", d.Mean, 254.2597, 0.005)
}

// TestThermometer is the example H.3 of the GUM: the correction at 30 °C from a line that was
// fitted at 20 °C. The GUM prints -0.1494 with u = 0.0041.
func TestThermometer(t *testing.T) {
	b := check.Must(Combine("correction", "°C", -0.1712038+10*0.00218270, []Contribution{
		{Quantity: Quantity{Name: "intercept", Uncertainty: 0.0028776, DegreesOfFreedom: 9}, Sensitivity: 1},
		{Quantity: Quantity{Name: "slope", Uncertainty: 0.00066794, DegreesOfFreedom: 9}, Sensitivity: 10},
	}, []Correlation{{"intercept", "slope", -0.930429}}))
	check.Within(t, "b(30)", b.Value, -0.1493768, 1e-7)
	check.Within(t, "u(b(30))", b.Uncertainty, 0.0041386, 1e-7)
	check.Within(t, "degrees of freedom", b.DegreesOfFreedom, 9, 1e-9)
}

// TestRectangularSum is the sum of four rectangular quantities of GUM Supplement 1, which prints
// ±3.88 for 95 % where the normal factor gives ±3.92 (both from memory). More digits follow from
// the exact distribution of the sum.
func TestRectangularSum(t *testing.T) {
	var quantities []Quantity
	for _, name := range []string{"a", "b", "c", "d"} {
		quantities = append(quantities, Limits(name, 0, math.Sqrt(3), Rectangular))
	}
	sum := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }
	b := check.Must(Propagate("sum", "", sum, quantities, nil))
	check.Within(t, "uncertainty", b.Uncertainty, 2, 1e-9)
	check.Printed(t, "expanded uncertainty", b.Result(0.95).Expanded, "3.92")
	trials := 200_000
	if testing.Short() {
		trials = 50_000
	}
	d := check.Must(MonteCarlo(sum, quantities, nil, &MonteCarloOptions{Trials: trials, Seed: 2}))
	low, high := d.Interval(0.95)
	check.Within(t, "half of the interval of 95 %", (high-low)/2, 3.87940674, 0.025)
	check.Within(t, "standard deviation", d.Deviation, 2, 0.02)
}

// TestFactors compares with the formula of Welch and Satterthwaite worked by hand, and with
// quantiles of Student's distribution that were computed independently.
func TestFactors(t *testing.T) {
	b := check.Must(Combine("y", "", 0, []Contribution{
		{Quantity: Quantity{Name: "a", Uncertainty: 1, DegreesOfFreedom: 4}, Sensitivity: 1},
		{Quantity: Quantity{Name: "b", Uncertainty: 1, DegreesOfFreedom: 9}, Sensitivity: 1},
	}, nil))
	check.Printed(t, "(1+1)²/(1/4+1/9)", b.DegreesOfFreedom, "11.0769231")
	for _, c := range []struct {
		level, freedom float64
		want           string
	}{
		{0.95, 4, "2.776445"}, {0.95, 9, "2.262157"}, {0.95, 19, "2.093024"}, {0.95, 50, "2.008559"},
		{0.9545, 5, "2.648654"}, {0.9545, 10, "2.283682"}, {0.9545, 20, "2.133028"},
		{0.95, 0, "1.959964"}, // standard tables
		{0.95, 4.9, "2.776445"}, {0.95, 1e300, "1.959964"},
		{0.95, 5 - 1e-12, "2.570582"}, // rounding of 5
	} {
		check.Printed(t, "coverage factor", CoverageFactor(c.level, c.freedom), c.want)
	}
	for _, bad := range [][2]float64{{0, 4}, {1, 4}, {math.NaN(), 4}, {0.95, 0.5}, {0.95, -1}, {0.95, math.NaN()}} {
		if k := CoverageFactor(bad[0], bad[1]); !math.IsNaN(k) {
			t.Errorf("coverage factor of %v is %v: want NaN", bad, k)
		}
	}
}

// TestPulseEcho is a depth from a time: c·t/2 with its uncertainty (by hand).
func TestPulseEcho(t *testing.T) {
	b := check.Must(Propagate("depth", "mm", func(x []float64) float64 { return x[0] * x[1] / 2 },
		[]Quantity{{Name: "time, µs", Value: 10.135, Uncertainty: 0.005}, {Name: "speed, km/s", Value: 5.92, Uncertainty: 0.02}}, nil))
	check.Printed(t, "depth", b.Value, "29.9996")
	check.Printed(t, "uncertainty", b.Uncertainty, "0.102425")
}

// TestBeamAngle is the angle of a transverse wave behind a wedge, by Snell's law: 36° at 2.33
// mm/µs into 3.24 mm/µs. The derivatives were computed independently.
func TestBeamAngle(t *testing.T) {
	refracted := func(x []float64) float64 { return math.Asin(x[1]/x[2]*math.Sin(x[0]*degree)) / degree }
	b := check.Must(Propagate("beam angle", "°", refracted, []Quantity{
		{Name: "wedge angle, °", Value: 36, Uncertainty: 0.1},
		{Name: "speed in the part, mm/µs", Value: 3.24, Uncertainty: 0.001},
		{Name: "speed in the wedge, mm/µs", Value: 2.33},
	}, nil))
	check.Printed(t, "angle", b.Value, "54.820337")
	check.Printed(t, "degrees for a degree of the wedge", b.Contributions[0].Sensitivity, "1.952617")
	check.Printed(t, "degrees for 1 % of speed", b.Contributions[1].Sensitivity*0.0324, "0.812832")
	check.Within(t, "degrees for 1 % of speed in the wedge, not uncertain", b.Contributions[2].Sensitivity*0.0233, -0.812832, 1e-6)
}

// TestSimulate compares the factor of a budget with the distributions of its quantities.
func TestSimulate(t *testing.T) {
	one := func(q Quantity, sensitivity float64) []Contribution {
		q.Name = "a"
		q.Value = 7 // without effect
		return []Contribution{{Quantity: q, Sensitivity: sensitivity}}
	}
	for _, c := range []struct {
		name          string
		contributions []Contribution
		factor        float64 // for 95 %
	}{
		{"normal", one(Quantity{Uncertainty: 2}, -3), 1.959964},
		{"Student of 9 degrees", one(Quantity{Uncertainty: 2, DegreesOfFreedom: 9}, 3), 2.262157},
		{"rectangular: 0.95·√3", one(Limits("", 0, 1, Rectangular), 0.5), 1.645448},
		{"arcsine: √2·sin(0.95·π/2)", one(Limits("", 0, 1, Arcsine), 1), 1.409854},
		{"triangular: √6·(1-√0.05)", one(Limits("", 0, 1, Triangular), 1), 1.901764},
	} {
		b := check.Must(Combine("y", "m", 5, c.contributions, nil))
		r := check.Must(b.Simulate(0.95, &MonteCarloOptions{Trials: 40_000, Seed: 9}))
		check.Within(t, c.name, r.Factor, c.factor, 0.03)
		check.Within(t, c.name+": expanded", r.Expanded, r.Factor*b.Uncertainty, 1e-12)
		if r.Value != 5 || r.Unit != "m" || r.Level != 0.95 {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
	b := check.Must(Combine("y", "m", 5, one(Quantity{}, 1), nil))
	if r := check.Must(b.Simulate(0.95, &MonteCarloOptions{Trials: 100})); r.Expanded != 0 || !math.IsNaN(r.Factor) {
		t.Errorf("exact quantity: %+v", r)
	}
	for _, level := range []float64{0, 1, math.NaN()} {
		_, err := b.Simulate(level, nil)
		check.Error(t, err, "level of confidence", "above 0 and below 1")
	}
}

// TestShapes compares the moments and the ends of each distribution with closed forms.
func TestShapes(t *testing.T) {
	for _, c := range []struct {
		shape            Shape
		u, kurtosis, end float64 // of the half-width 1
	}{
		{Normal, 1.0 / 3, 3, math.Inf(1)},
		{Rectangular, 1 / math.Sqrt(3), 1.8, 1},
		{Triangular, 1 / math.Sqrt(6), 2.4, 1},
		{Arcsine, 1 / math.Sqrt2, 1.5, 1},
	} {
		q := Limits("q", 5, 1, c.shape)
		check.Within(t, c.shape.String()+": standard uncertainty", q.Uncertainty, c.u, 1e-15)
		d := check.Must(MonteCarlo(func(x []float64) float64 { return x[0] }, []Quantity{q}, nil, &MonteCarloOptions{Trials: 20_000, Seed: 3}))
		check.Within(t, c.shape.String()+": mean", d.Mean, 5, 0.02)
		check.Within(t, c.shape.String()+": standard deviation", d.Deviation, c.u, 0.01)
		fourth := 0.0
		for _, v := range d.sorted {
			fourth += math.Pow((v-5)/c.u, 4) / float64(len(d.sorted))
			if !(math.Abs(v-5) <= c.end) {
				t.Fatalf("%v: value %v beyond the limits", c.shape, v)
			}
		}
		check.Within(t, c.shape.String()+": kurtosis", fourth, c.kurtosis, 0.12)
		var back Shape
		if err := back.UnmarshalText(check.Must(c.shape.MarshalText())); err != nil || back != c.shape {
			t.Errorf("%v reads back as %v, error %v", c.shape, back, err)
		}
	}
	// Readings by hand: mean 2, standard deviation 1.
	q := Readings("q", 1, 2, 3)
	if q.Value != 2 || math.Abs(q.Uncertainty-1/math.Sqrt(3)) > 1e-15 || q.DegreesOfFreedom != 2 {
		t.Errorf("readings 1, 2, 3: %+v", q)
	}
}

// TestCorrelatedDraws compares the covariance of drawn quantities with their correlations.
func TestCorrelatedDraws(t *testing.T) {
	quantities := []Quantity{{Name: "a", Value: 1, Uncertainty: 2}, {Name: "b", Uncertainty: 1}, {Name: "c", Uncertainty: 3, Shape: Rectangular}}
	for _, r := range []float64{-1, -0.6, 0.9, 1} {
		correlations := []Correlation{{"a", "b", r}}
		for _, signs := range [][3]float64{{1, 1, 1}, {1, -2, 0}, {0, 1, 1}} {
			f := func(x []float64) float64 { return signs[0]*x[0] + signs[1]*x[1] + signs[2]*x[2] }
			b := check.Must(Propagate("sum", "", f, quantities, correlations))
			want := math.Sqrt(4*signs[0]*signs[0] + signs[1]*signs[1] + 9*signs[2]*signs[2] + 4*r*signs[0]*signs[1])
			check.Within(t, "propagated", b.Uncertainty, want, 1e-7)
			d := check.Must(MonteCarlo(f, quantities, correlations, &MonteCarloOptions{Trials: 10_000, Seed: 4}))
			check.Within(t, "drawn", d.Deviation, want, 0.03*want+1e-7)
		}
	}
}

// TestResultText checks the rounding. The digits were rounded by hand.
func TestResultText(t *testing.T) {
	for _, c := range []struct {
		value, expanded float64
		want            string
	}{
		{5.0234, 0.2149, "5.02 ± 0.21"}, {5.0234, 0.0999, "5.02 ± 0.10"}, {5.0234, 0.0994, "5.023 ± 0.099"},
		{-12345.6, 1234, "-12300 ± 1200"}, {0, 9.96, "0 ± 10"}, {31.06, 10, "31 ± 10"}, {3.14159, 1, "3.1 ± 1.0"},
		{2.5, 0, "2.5 ± 0"}, {1e-9, 2.5e-12, "0.0000000010000 ± 0.0000000000025"},
		{7, math.NaN(), "7 ± NaN"},
	} {
		r := Result{Value: c.value, Expanded: c.expanded, Factor: 2, Level: 0.9545, Unit: "mm"}
		if got, want := r.String(), c.want+" mm (k = 2.00, 95.45 %)"; got != want {
			t.Errorf("%v ± %v: %q, want %q", c.value, c.expanded, got, want)
		}
	}
	b := check.Must(Combine("y", "m", 0.005, []Contribution{{Quantity: Quantity{Name: "a", Uncertainty: 2}, Sensitivity: 1e-4}}, nil))
	mm := b.In(1e3, "mm")
	if got, want := mm.Result(0.95).String(), "5.00 ± 0.39 mm (k = 1.96, 95 %)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if b.Contributions[0].Sensitivity != 1e-4 || math.Abs(mm.Contributions[0].Amount()-0.2) > 1e-15 {
		t.Errorf("budgets in two units: %+v, %+v", b, mm)
	}
	if !(Result{Value: 1, Expanded: 0.5}).Holds(1.5) || (Result{Value: 1, Expanded: 0.5}).Holds(1.51) || (Result{}).Holds(math.NaN()) {
		t.Error("an interval holds another range than its ends")
	}
}

// TestExact is a budget without any uncertainty.
func TestExact(t *testing.T) {
	b := check.Must(Combine("y", "", 3, []Contribution{{Quantity: Quantity{Name: "a", DegreesOfFreedom: 5}, Sensitivity: 2}}, nil))
	if b.Uncertainty != 0 || b.DegreesOfFreedom != 0 || b.Contributions[0].Share != 0 || b.Result(0.95).Expanded != 0 {
		t.Errorf("exact quantities: %+v", b)
	}
	if s := b.String(); strings.Contains(s, "NaN") || strings.Contains(s, "-0") {
		t.Error(s)
	}
}

// TestInputErrors checks that bad input is named.
func TestInputErrors(t *testing.T) {
	good := Quantity{Name: "a", Uncertainty: 1}
	combine := func(q Quantity, c ...Correlation) error {
		_, err := Combine("y", "", 0, []Contribution{{Quantity: good, Sensitivity: 1}, {Quantity: q, Sensitivity: 1}}, c)
		return err
	}
	check.Error(t, combine(Quantity{Uncertainty: 1}), "without a name")
	check.Error(t, combine(Quantity{Name: "b", Uncertainty: -1}), "standard uncertainty of b -1", "at least 0")
	check.Error(t, combine(Quantity{Name: "b", Uncertainty: math.NaN()}), "standard uncertainty of b NaN")
	check.Error(t, combine(Quantity{Name: "b", Uncertainty: math.Inf(1)}), "standard uncertainty of b +Inf")
	check.Error(t, combine(Quantity{Name: "b", Value: math.Inf(1)}), "value of b +Inf")
	check.Error(t, combine(Quantity{Name: "b", DegreesOfFreedom: 0.5}), "degrees of freedom of b 0.5")
	check.Error(t, combine(Quantity{Name: "b", DegreesOfFreedom: math.NaN()}), "degrees of freedom of b NaN")
	check.Error(t, combine(Quantity{Name: "b", DegreesOfFreedom: math.Inf(1)}), "0 for infinitely many")
	check.Error(t, combine(Quantity{Name: "b", Shape: 9}), "shape of b 9")
	check.Error(t, combine(Readings("b", 1)), "standard uncertainty of b NaN")
	check.Error(t, combine(Limits("b", 0, 1, 9)), "standard uncertainty of b NaN")
	check.Error(t, combine(good), "two quantities with the name a")
	if err := combine(Quantity{Name: "b", Uncertainty: 1, DegreesOfFreedom: 1}); err != nil {
		t.Errorf("one degree of freedom, the fewest: %v", err)
	}
	b := Quantity{Name: "b", Uncertainty: 1}
	check.Error(t, combine(b, Correlation{"a", "x", 0.5}), "correlation of a and x", "names")
	check.Error(t, combine(b, Correlation{"a", "a", 0.5}), "two quantities")
	check.Error(t, combine(b, Correlation{"a", "b", 0.5}, Correlation{"b", "a", 0.5}), "each pair once")
	check.Error(t, combine(b, Correlation{"a", "b", 1.1}), "a and b 1.1", "-1 to 1")
	check.Error(t, combine(b, Correlation{"a", "b", math.NaN()}), "NaN")
	_, err := Combine("y", "", 0, nil, nil)
	check.Error(t, err, "at least one")
	_, err = Combine("y", "", math.NaN(), []Contribution{{Quantity: good, Sensitivity: 1}}, nil)
	check.Error(t, err, "value of y NaN")
	_, err = Combine("y", "", 0, []Contribution{{Quantity: good, Sensitivity: math.Inf(1)}}, nil)
	check.Error(t, err, "sensitivity of y to a +Inf")
	_, err = Combine("y", "", 0, []Contribution{{Quantity: Quantity{Name: "a", Uncertainty: 1e200}, Sensitivity: 1e200}}, nil)
	check.Error(t, err, "combined uncertainty of y")

	three := []Quantity{good, b, {Name: "c", Uncertainty: 1}}
	contradiction := []Correlation{{"a", "b", 0.9}, {"b", "c", 0.9}, {"a", "c", -0.9}}
	sum := func(x []float64) float64 { return x[0] + x[1] + x[2] }
	_, err = Propagate("y", "", sum, three, contradiction)
	check.Error(t, err, "contradict")
	_, err = Propagate("y", "", func([]float64) float64 { return math.NaN() }, three, nil)
	check.Error(t, err, "y is NaN")
	_, err = MonteCarlo(sum, three, nil, &MonteCarloOptions{Trials: 99})
	check.Error(t, err, "99 trials", "100 to")
	_, err = MonteCarlo(sum, nil, nil, nil)
	check.Error(t, err, "no quantities")
	_, err = MonteCarlo(func([]float64) float64 { return math.Inf(1) }, three, nil, nil)
	check.Error(t, err, "trial 0 gave +Inf")
	three[0].Shape = Arcsine
	_, err = MonteCarlo(sum, three, []Correlation{{"a", "b", 0.5}}, nil)
	check.Error(t, err, "a is arcsine and correlated")
	var s Shape
	check.Error(t, s.UnmarshalText([]byte("flat")), `"flat"`, "rectangular")
	d := check.Must(MonteCarlo(sum, []Quantity{good, b, {Name: "c"}}, nil, &MonteCarloOptions{Trials: 100}))
	for _, level := range []float64{0, 1, math.NaN()} {
		if low, high := d.Interval(level); !math.IsNaN(low) || !math.IsNaN(high) {
			t.Errorf("interval of level %v: %v to %v", level, low, high)
		}
	}
}
