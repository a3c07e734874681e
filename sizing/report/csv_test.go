// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// TestCSV checks the columns of the table, and that its numbers are the numbers of the flaws.
func TestCSV(t *testing.T) {
	r := copied(t)
	r.Flaws[1].Ends = &[2][2]float64{{1e-3, 2e-3}, {3e-3, 4e-3}} // invented
	most := 0.03
	r.Flaws[0].Along = &flaw.Along{From: 0.1, To: 0.125, LengthIs: tips.Measured, Least: 0.02, Most: &most}
	var b bytes.Buffer
	if err := r.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows := check.Must(csv.NewReader(&b).ReadAll())
	want := "id,kind,method,x_m,z_m,end_1_x_m,end_1_z_m,end_2_x_m,end_2_z_m,length_m,length_u_m,length_is," +
		"tilt_rad,tilt_u_rad,place_u_m,depth_m,height_m,ligament_m,level_db,snr_db,complete,views,indications,along_from_m,along_to_m,along_length_is,along_least_m,along_most_m,explained_by"
	if got := strings.Join(rows[0], ","); got != want {
		t.Errorf("columns %s, want %s", got, want)
	}
	if len(rows) != 1+len(r.Flaws) {
		t.Fatalf("%d rows for %d flaws", len(rows), len(r.Flaws))
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	for i, f := range r.Flaws {
		row := rows[1+i]
		for name, want := range map[string]float64{
			"x_m": f.X, "z_m": f.Z, "length_m": f.Length, "length_u_m": f.LengthU, "tilt_rad": f.Tilt,
			"tilt_u_rad": f.TiltU, "place_u_m": f.PlaceU, "depth_m": f.Depth, "height_m": f.Height,
			"ligament_m": f.Ligament, "level_db": f.LevelDB, "snr_db": f.SNRDB,
		} {
			if got, err := strconv.ParseFloat(row[column[name]], 64); err != nil || got != want {
				t.Errorf("flaw %d: %s is %q, want %v", f.ID, name, row[column[name]], want)
			}
		}
	}
	for name, want := range map[string]string{"along_from_m": "0.1", "along_to_m": "0.125", "along_length_is": "measured", "along_least_m": "0.02", "along_most_m": "0.03"} {
		if got := rows[1][column[name]]; got != want {
			t.Errorf("%s is %q, want %s", name, got, want)
		}
		if got := rows[2][column[name]]; got != "" {
			t.Errorf("%s of a flaw without a place along the scan is %q, want nothing", name, got)
		}
	}
	for name, want := range map[string]string{"end_1_x_m": "0.001", "end_1_z_m": "0.002", "end_2_x_m": "0.003", "end_2_z_m": "0.004"} {
		if got := rows[2][column[name]]; got != want {
			t.Errorf("%s is %q, want %s", name, got, want)
		}
		if got := rows[1][column[name]]; got != "" {
			t.Errorf("%s of a flaw without ends is %q, want nothing", name, got)
		}
	}
}
