// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"github.com/isochron-imaging/isochron/internal/check"
)

func readTable(t *testing.T, text string) Table {
	t.Helper()
	table := check.Must(ReadTable(strings.NewReader(text)))
	return table
}

// TestReadTable reads columns in any order, required columns only, comments, blanks, a byte order
// mark and both line endings. The values are invented demo values.
func TestReadTable(t *testing.T) {
	nan := math.NaN()
	table := readTable(t,
		"\ufeff# the shop's own\r\nsource, class ,name,longitudinal_m_s,transverse_m_s,aliases,density_kg_m3,temperature_c,longitudinal_slope_m_s_k,attenuation_longitudinal,attenuation_transverse,note\r\n"+
			"\"measured 2026-03-02, sample 7\",Plastic,  Wedge   W7 ,2337 ± 4,1.15e3,w7 ;; seven, 1048.5,23,-2.5,4@5e6^1; 1@5e6^2,9@5e6^1,\r\n"+
			"# between\r\n\"data sheet\",liquid,gel,1500,,,,,,,,\"cleans, \"\"well\"\"\"\r\n")
	want := []Entry{
		{
			Name: "Wedge W7", Aliases: []string{"w7", "seven"}, Class: "plastic", Celsius: 23,
			Density: Quantity{Value: 1048.5}, Longitudinal: Quantity{Value: 2337, Spread: 4},
			Transverse:        Quantity{Value: 1150},
			LongitudinalSlope: -2.5, TransverseSlope: nan,
			LongitudinalAttenuation: Attenuation{
				{Alpha: 4 / DecibelsPerNeper, Frequency: 5e6, Exponent: 1},
				{Alpha: 1 / DecibelsPerNeper, Frequency: 5e6, Exponent: 2},
			},
			TransverseAttenuation: Attenuation{
				{Alpha: 9 / DecibelsPerNeper, Frequency: 5e6, Exponent: 1},
			},
			Source: "measured 2026-03-02, sample 7",
		},
		{
			Name: "gel", Class: "liquid", Celsius: nan, Longitudinal: Quantity{Value: 1500},
			LongitudinalSlope: nan, TransverseSlope: nan,
			Source: "data sheet", Note: "cleans, \"well\"",
		},
	}
	var got []Entry
	for e := range table.All() {
		got = append(got, e)
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("entries (-want +got):\n%s", diff)
	}
}

func TestReadTableErrors(t *testing.T) {
	const header = "name,class,longitudinal_m_s,transverse_m_s,density_kg_m3,temperature_c,attenuation_longitudinal,source\n"
	for _, tt := range []struct {
		name, text, want string
	}{
		{"empty", "", "material: table without a line that names the columns"},
		{"comments only", "# a\n# b\n", "material: table without a line that names the columns"},
		{"unknown column", "name,colour\n", `material: table line 1: column "colour": want one that ReadTable lists`},
		{"twice", "name,class,name\n", `material: table line 1: column "name": want each column once`},
		{"missing column", "# x\nname,class,longitudinal_m_s\n", `material: table line 2: columns "name,class,longitudinal_m_s": want a column source`},
		{"no name", header + " ,metal,5900,,,,,me\n", `material: table line 2: name " ": want a value`},
		{"no source", header + "a,metal,5900,,,,,\n", `material: table line 2: source "": want a value`},
		{"name of a comment", header + "\"#a\",metal,5900,,,,,me\n", `material: table line 2: name "#a": want a name that does not begin with #`},
		{"class", header + "a,wood,5900,,,,,me\n", `material: table line 2: class "wood": want metal, plastic, ceramic, glass, composite, liquid`},
		{"speed word", header + "a,metal,fast,,,,,me\n", `longitudinal_m_s "fast": want a finite number above 0`},
		{"speed 0", header + "a,metal,0,,,,,me\n", `longitudinal_m_s "0": want`},
		{"speed NaN", header + "a,metal,NaN,,,,,me\n", `longitudinal_m_s "NaN": want`},
		{"speed Inf", header + "a,metal,Inf,,,,,me\n", `longitudinal_m_s "Inf": want`},
		{"decimal comma", header + "a,metal,\"5,9\",,,,,me\n", `longitudinal_m_s "5,9": want`},
		{"spread", header + "a,metal,5900±-1,,,,,me\n", `longitudinal_m_s "5900±-1": want`},
		{"spread too wide", header + "a,metal,5900±5900,,,,,me\n", `with a spread from 0 to below it`},
		{"spread missing", header + "a,metal,5900±,,,,,me\n", `longitudinal_m_s "5900±": want`},
		{"density", header + "a,metal,5900,3200,-7,,,me\n", `density_kg_m3 "-7": want`},
		{"third line", header + "a,metal,5900,3200,,,,me\nb,metal,5900,3200,x,,,me\n", `material: table line 3: density_kg_m3 "x"`},
		{"unstable", header + "a,metal,3500,3200,,,,me\n", `material: table line 2: transverse_m_s "3200": want a value below 3031.09 (√3/2 of the longitudinal speed)`},
		{"liquid with shear", header + "a,liquid,1500,200,,,,me\n", `material: table line 2: transverse_m_s "200": want no value for a liquid`},
		{"absolute zero", header + "a,metal,5900,,,-300,,me\n", `temperature_c "-300": want a finite number, -273.15 or above`},
		{"attenuation", header + "a,metal,5900,,,,3 dB,me\n", `attenuation_longitudinal "3 dB": want terms dB/m@Hz^exponent`},
		{"attenuation without numbers", header + "a,metal,5900,,,,x@1e6^1,me\n", `attenuation_longitudinal "x@1e6^1": want terms dB/m@Hz^exponent`},
		{"attenuation below 0", header + "a,metal,5900,,,,-3@1e6^1,me\n", `attenuation_longitudinal "-3@1e6^1": want`},
		{"attenuation at 0 Hz", header + "a,metal,5900,,,,3@0^1,me\n", `attenuation_longitudinal "3@0^1": want`},
		{"too many cells", header + "a,metal,5900,,,,,me,you\n",
			"material: table: record on line 2: wrong number of fields"},
		{"open quote", header + "a,metal,5900,,,,,\"me\n", "material: table: "},
		{"not UTF-8", header + "a,metal,5900,,,,,\xff\xfe\n", `source "\xff\xfe": want UTF-8 text`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadTable(strings.NewReader(tt.text))
			if err == nil || !strings.Contains(err.Error(), tt.want) ||
				!strings.HasPrefix(err.Error(), "material: table") {
				t.Errorf("got error %v, want one with %s", err, tt.want)
			}
		})
	}
	_, err := ReadTable(strings.NewReader("name,class,longitudinal_m_s,source,longitudinal_slope_m_s_k\na,plastic,2730,me,Inf\n"))
	if want := `material: table line 2: longitudinal_slope_m_s_k "Inf": want a finite number`; err == nil || err.Error() != want {
		t.Errorf("got error %v, want %s", err, want)
	}
	if _, err := ReadTable(iotest.ErrReader(io.ErrUnexpectedEOF)); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("got %v, want the error of the reader", err)
	}
}

// TestReadTableLiquid checks that a liquid must not have values of a solid.
func TestReadTableLiquid(t *testing.T) {
	for _, tt := range []struct{ column, cell string }{
		{"bar_m_s", "100"}, {"transverse_slope_m_s_k", "-1"}, {"attenuation_transverse", "1@1e6^2"},
	} {
		_, err := ReadTable(strings.NewReader("name,class,longitudinal_m_s,source," + tt.column + "\ngel,liquid,1500,me," + tt.cell + "\n"))
		if err == nil || !strings.Contains(err.Error(), tt.column+` "`+tt.cell+`": want no value for a liquid`) {
			t.Errorf("%s: got error %v", tt.column, err)
		}
	}
}

func TestTableLookup(t *testing.T) {
	book := Handbook()
	for _, name := range []string{"steel", "STEEL", "  Steel "} {
		found := book.Lookup(name)
		if len(found) < 5 {
			t.Fatalf("Lookup(%q): got %d entries, want at least 5", name, len(found))
		}
		if e := found[0]; e.Name != "steel" || e.Longitudinal.Value != 5900 {
			t.Errorf("Lookup(%q): got %s, %v first, want steel by its name, 5900 m/s",
				name, e.Name, e.Longitudinal)
		}
		aliases := false
		for _, e := range found {
			if e.Name != "steel" {
				aliases = true
			} else if aliases {
				t.Errorf("Lookup(%q): an entry named steel after one that has it as an alias", name)
			}
		}
	}
	if e, err := book.Find("aluminum"); err != nil || e.Name != "aluminium" {
		t.Errorf("Find(aluminum): got %q, error %v", e.Name, err)
	}
	_, err := book.Find("unobtainium")
	check.Error(t, err, `material: no material "unobtainium" in the table`)
	if found := book.Lookup("unobtainium"); found != nil {
		t.Errorf("Lookup of an unknown name: got %v, want nil", found)
	}
	var empty Table
	_, err = empty.Find("steel")
	check.Error(t, err, `"steel"`)
	for range book.All() {
		break // an early end must not panic
	}
}

// TestTableImmutable checks that a change of a returned entry does not change the table.
func TestTableImmutable(t *testing.T) {
	book := Handbook()
	e := check.Must(book.Find("water"))
	e.Aliases[0] = "mud"
	e.LongitudinalAttenuation[0].Alpha = 99
	again := check.Must(book.Find("water"))
	if again.Aliases[0] == "mud" || again.LongitudinalAttenuation[0].Alpha == 99 {
		t.Error("a change of a returned entry changed the table")
	}
}

func TestTableMerge(t *testing.T) {
	own := readTable(t, "name,class,longitudinal_m_s,source,aliases\nacrylic,plastic,2741,measured on the wedge in use (invented demo value),\ncross-linked polystyrene,plastic,2340,invented demo value,XLPS\n")
	book := Handbook()
	before := len(book.entries)
	joined := book.Merge(own)
	if len(joined.entries) != before+2 || len(book.entries) != before || len(own.entries) != 2 {
		t.Errorf("entries: joined %d, book %d, own %d",
			len(joined.entries), len(book.entries), len(own.entries))
	}
	found := joined.Lookup("acrylic")
	if len(found) != 1+len(book.Lookup("acrylic")) || found[0].Longitudinal.Value != 2741 ||
		found[1].Longitudinal.Value != 2730 {
		t.Errorf("acrylic: got %d entries, first %v, %v",
			len(found), found[0].Longitudinal, found[1].Longitudinal)
	}
	if e, err := joined.Find("xlps"); err != nil || e.Longitudinal.Value != 2340 {
		t.Errorf("XLPS: got %+v, error %v", e, err)
	}
	if e, err := book.Find("acrylic"); err != nil || e.Longitudinal.Value != 2730 {
		t.Errorf("the handbook changed: %+v, error %v", e, err)
	}
	var empty Table
	if n := len(empty.Merge(own).Merge(empty).entries); n != 2 {
		t.Errorf("merging with an empty table: got %d entries, want 2", n)
	}
}

func TestEntryIsotropic(t *testing.T) {
	table := readTable(t,
		"name,class,longitudinal_m_s,transverse_m_s,density_kg_m3,temperature_c,longitudinal_slope_m_s_k,transverse_slope_m_s_k,source\n"+
			"wedge,plastic,2340,1150,1050,20,-2.5,-1.5,invented\n"+
			"gel,liquid,1500,,1010,20,3,,invented\n"+
			"no density,metal,5900,3200,,20,,,invented\n"+
			"no shear,metal,5900,,7800,20,,,invented\n"+
			"no slope,metal,5900,3200,7800,20,-0.5,,invented\n"+
			"no temperature,metal,5900,3200,7800,,-0.5,-0.5,invented\n")
	for _, tt := range []struct {
		name    string
		celsius float64
		want    Isotropic
		err     string
	}{
		{"wedge", 40, Isotropic{Density: 1050, Longitudinal: 2290, Transverse: 1120}, ""},
		{"wedge", 20, Isotropic{Density: 1050, Longitudinal: 2340, Transverse: 1150}, ""},
		{"gel", 10, Isotropic{Density: 1010, Longitudinal: 1470}, ""},
		{"wedge", 786, Isotropic{Density: 1050, Longitudinal: 425, Transverse: 1}, ""},
		{"wedge", 900, Isotropic{}, "wedge at 900 °C: transverse speed"},
		{"gel", -900, Isotropic{}, "longitudinal speed -1260 m/s"},
		{"wedge", math.NaN(), Isotropic{}, "temperature NaN °C"},
		{"wedge", math.Inf(1), Isotropic{}, "temperature +Inf °C"},
		{"no density", 20, Isotropic{},
			"no density: density not stated by its source (invented): want an entry"},
		{"no shear", 20, Isotropic{},
			"no shear: transverse speed not stated by its source (invented): want an entry"},
		{"no slope", 20, Isotropic{},
			"no slope: change of speed with temperature not stated by its source (invented): want an entry"},
		{"no temperature", 20, Isotropic{},
			"no temperature: temperature not stated by its source (invented): want an entry"},
	} {
		e := check.Must(table.Find(tt.name))
		got, err := e.IsotropicAt(tt.celsius)
		if tt.err == "" {
			if err != nil || got != tt.want {
				t.Errorf("%s at %v °C: got %+v, error %v, want %+v",
					tt.name, tt.celsius, got, err, tt.want)
			}
		} else if err == nil || got != (Isotropic{}) || !strings.Contains(err.Error(), tt.err) {
			t.Errorf("%s at %v °C: got %+v, error %v, want one with %q",
				tt.name, tt.celsius, got, err, tt.err)
		}
	}
}

// FuzzReadTable checks that the reader does not panic on any text, and that it accepts possible
// values only.
func FuzzReadTable(f *testing.F) {
	f.Add("name,class,longitudinal_m_s,source\nsteel,metal,5920±30,ISO 2400\n")
	f.Add("source,name,class,longitudinal_m_s,transverse_m_s,attenuation_longitudinal\nx,\"a\nb\",plastic,2730,1430,4@5e6^1;2@5e6^2\n")
	f.Add("\ufeffname,aliases,class,condition,temperature_c,density_kg_m3,longitudinal_m_s,transverse_m_s,bar_m_s,longitudinal_slope_m_s_k,transverse_slope_m_s_k,attenuation_longitudinal,attenuation_transverse,source,note\r\nw,a;b,liquid,,20,998,1482,,,3.07,,0.22@1e6^2,,s,\"\"\"\"\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		table, err := ReadTable(strings.NewReader(text))
		if err != nil {
			if !strings.HasPrefix(err.Error(), "material: table") {
				t.Errorf("error %q without the package in front", err)
			}
			return
		}
		for e := range table.All() {
			if e.Name == "" || e.Source == "" || !(e.Longitudinal.Value > 0) ||
				math.IsInf(e.Longitudinal.Value, 0) {
				t.Errorf("accepted %+v", e)
			}
			if m, err := e.Isotropic(); err == nil && m.Validate() != nil {
				t.Errorf("accepted %+v, which is no medium", e)
			}
			if len(table.Lookup(e.Name)) == 0 {
				t.Errorf("%q is not found by its name", e.Name)
			}
		}
	})
}
