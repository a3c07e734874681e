// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/isochron-imaging/isochron/material"
	"gonum.org/v1/gonum/spatial/r3"
)

// Columnar grains of a weld turn the ray away from the phase direction by tens of degrees. The
// angle of the ray from the grain axis can exceed 90°.
func ExampleChristoffel_Phase() {
	weld, _ := material.FindCrystal("weld metal X6CrNi18-11")
	solver, err := material.NewChristoffel(weld.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	table := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(table, "phase °\tqL m/s\tskew °\tenergy °\tqSV m/s\tskew °\tenergy °\t")
	for degrees := 5; degrees <= 85; degrees += 10 {
		theta := float64(degrees) * math.Pi / 180
		n := r3.Vec{X: math.Sin(theta), Z: math.Cos(theta)} // z along the grains
		waves, err := solver.Phase(n)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Fprintf(table, "%d\t", degrees)
		for _, w := range waves {
			if math.Abs(w.Polarisation.Y) > 0.5 {
				continue // the wave polarised across the plane
			}
			energy := math.Atan2(w.Group.X, w.Group.Z) * 180 / math.Pi
			fmt.Fprintf(table, "%.0f\t%.1f\t%.1f\t", w.Speed, energy-float64(degrees), energy)
		}
		fmt.Fprintln(table)
	}
	table.Flush()
	// Output:
	// phase °  qL m/s  skew °  energy °  qSV m/s  skew °  energy °
	//         5    5572     7.0      12.0     3744   -15.1     -10.1
	//        15    5763    13.0      28.0     3443   -32.8     -17.8
	//        25    5990    11.1      36.1     3035   -37.1     -12.1
	//        35    6152     6.1      41.1     2694   -28.6       6.4
	//        45    6210     0.1      45.1     2561     0.1      45.1
	//        55    6155    -5.9      49.1     2696    28.7      83.7
	//        65    5995   -10.9      54.1     3037    37.1     102.1
	//        75    5772   -12.8      62.2     3445    32.7     107.7
	//        85    5583    -6.9      78.1     3744    15.0     100.0
}

// The slowness surface of zinc in a plane through its axis, which points upwards: one quadrant of
// 0.6 s/km. The quasi-longitudinal sheet is L, the transverse sheet polarised in the plane is V,
// and the transverse sheet polarised across the plane is H. Where the V sheet is concave, several
// of its waves have one ray direction.
func ExampleChristoffel_Section() {
	zinc, _ := material.FindCrystal("zinc")
	solver, err := material.NewChristoffel(zinc.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	section, err := solver.Section(r3.Vec{Z: 1}, r3.Vec{X: 1}, 1440)
	if err != nil {
		fmt.Println(err)
		return
	}
	const rows, columns, reach = 20, 40, 0.6e-3 // s/m
	var picture [rows][columns]byte
	for r := range picture {
		for q := range picture[r] {
			picture[r][q] = ' '
		}
	}
	for _, waves := range section {
		for _, w := range waves {
			s := w.Slowness()
			r, q := int(math.Floor(s.Z/reach*rows)), int(math.Floor(s.X/reach*columns))
			if r < 0 || q < 0 {
				continue // another quadrant
			}
			mark := byte('L')
			if w.Sheet != material.QL {
				mark = 'V' // polarised in the plane
				if math.Abs(w.Polarisation.Y) > 0.5 {
					mark = 'H' // polarised across the plane
				}
			}
			picture[rows-1-r][q] = mark
		}
	}
	for _, line := range picture {
		fmt.Println(strings.TrimRight("|"+string(line[:]), " "))
	}
	fmt.Println("+" + strings.Repeat("-", columns))
	// Output:
	// |
	// |
	// |
	// |          VVVVVVVVV
	// |    VVVVVVV       VVVVV
	// |VVHHHH                VVV
	// |     HHHHH              VV
	// |         HHHH            VV
	// |LLL         HHH           VV
	// |  LLL         HHH          V
	// |     LL         HH         VV
	// |      LLL        HH         V
	// |        LL        HH        V
	// |         LL        HH       V
	// |          LL        H       V
	// |           LL       HH      V
	// |            LL       H      V
	// |             L       HH     V
	// |             L        H     V
	// |             LL       H     V
	// +----------------------------------------
}

// All rays of a weld metal along a direction 10° from the grains, and for each ray the phase
// direction that a probe must send.
func ExampleGroupSolver_Arrivals() {
	weld, _ := material.FindCrystal("weld metal X6CrNi18-11")
	solver, err := material.NewGroupSolver(weld.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	theta := 10 * math.Pi / 180
	rays, err := solver.Arrivals(nil, r3.Vec{X: math.Sin(theta), Z: math.Cos(theta)})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, ray := range rays {
		phase := math.Atan2(ray.Normal.X, ray.Normal.Z) * 180 / math.Pi
		fmt.Printf("%-3v  %.0f m/s  phase direction %.1f°\n", ray.Sheet, ray.GroupSpeed(), phase)
	}
	// Output:
	// qL   5592 m/s  phase direction 4.1°
	// qT2  3876 m/s  phase direction -4.9°
	// qT1  3758 m/s  phase direction 15.4°
	// qT2  3701 m/s  phase direction -26.7°
	// qT2  2970 m/s  phase direction 36.2°
}
