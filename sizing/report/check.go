// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"encoding/hex"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// bad returns an error for a field.
func bad(field, value, want string) error {
	return fmt.Errorf("report: field %s is %s: %w: want %s", field, value, ErrField, want)
}

// check returns an error for the first field that is out of range.
func (r *Record) check() error {
	if r.Schema != Schema || r.Version != Version {
		return fmt.Errorf("report: schema %q, version %d: %w: want %q, version %d", r.Schema, r.Version, ErrSchema, Schema, Version)
	}
	if field, value := nonFinite("", reflect.ValueOf(r)); field != "" {
		return bad(field, strconv.FormatFloat(value, 'g', -1, 64), "a finite number")
	}
	for _, check := range []func() error{r.checkCapture, r.checkCalibration, r.checkViews, r.checkFlaws, r.checkScan, r.checkScanFlaws, r.checkFiles} {
		if err := check(); err != nil {
			return err
		}
	}
	if err := r.Settings.check(); err != nil {
		return fmt.Errorf("%w: %w", ErrField, err)
	}
	return nil
}

// nonFinite returns the name and the value of the first number in v that is not finite, and an
// empty name if all are finite.
func nonFinite(field string, v reflect.Value) (string, float64) {
	switch v.Kind() {
	case reflect.Float32, reflect.Float64:
		f := v.Float()
		unknown := v.Type() == reflect.TypeFor[health.Number]() && math.IsNaN(f) // null in JSON
		if !number.Finite(f) && !unknown {
			return field, f
		}
	case reflect.Pointer:
		if !v.IsNil() {
			return nonFinite(field, v.Elem())
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if name, value := nonFinite(field+"["+strconv.Itoa(i)+"]", v.Index(i)); name != "" {
				return name, value
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			name, ok := fieldName(v.Type().Field(i))
			if !ok {
				continue
			}
			if name, value := nonFinite(strings.TrimPrefix(field+name, "."), v.Field(i)); name != "" {
				return name, value
			}
		}
	}
	return "", 0
}

// fieldName returns a point and the JSON name of a field, an empty name for an embedded struct, and
// false for a field that JSON leaves out.
func fieldName(f reflect.StructField) (string, bool) {
	tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	switch {
	case tag == "-" || !f.IsExported():
		return "", false
	case f.Anonymous && tag == "":
		return "", true
	case tag == "":
		return "." + f.Name, true
	}
	return "." + tag, true
}

// checkCapture checks the identity of the capture and the set-up.
func (r *Record) checkCapture() error {
	if err := checkName("name of the capture", r.Capture.Name); err != nil {
		return fmt.Errorf("%w: %w", ErrField, err)
	}
	if err := checkHash("capture.samples_sha256", r.Capture.Samples); err != nil {
		return err
	}
	if got := hashBytes(r.Setup); got != r.Capture.Setup {
		return bad("capture.setup_sha256", strconv.Quote(r.Capture.Setup), got+", which is the SHA-256 of setup")
	}
	return nil
}

// checkHash returns an error for a text that is not a SHA-256.
func checkHash(field, text string) error {
	if b, err := hex.DecodeString(text); err != nil || len(b) != 32 || strings.ToLower(text) != text {
		return bad(field, strconv.Quote(text), "64 hexadecimal digits in lower case")
	}
	return nil
}

// checkCalibration checks the calibration.
func (r *Record) checkCalibration() error {
	if r.Calibration == nil {
		return bad("calibration", "missing", "a list, which may be empty")
	}
	for i, c := range r.Calibration {
		field := fmt.Sprintf("calibration[%d]", i)
		if c.Quantity == "" || c.Unit == "" || c.Method == "" {
			return bad(field, "without a quantity, a unit or a method", "all three")
		}
		if !(c.Uncertainty >= 0) {
			return bad(field+".standard_uncertainty", digits(c.Uncertainty), "at least 0")
		}
	}
	return nil
}

// checkViews checks that the views are the views of the settings.
func (r *Record) checkViews() error {
	if len(r.Views) != len(r.Settings.Views) {
		return bad("views", fmt.Sprintf("a list of %d", len(r.Views)), fmt.Sprintf("%d, as in settings", len(r.Settings.Views)))
	}
	for i := range r.Views {
		v, field := &r.Views[i], fmt.Sprintf("views[%d]", i)
		if v.Name != r.Settings.Views[i].Name {
			return bad(field+".view", strconv.Quote(v.Name), r.Settings.Views[i].Name+", as in settings")
		}
		if v.Indications == nil || v.States == nil {
			return bad(field, "without a list of indications or states", "both, which may be empty")
		}
		if v.Blank {
			if len(v.Indications) > 0 {
				return bad(field+".indications", "a list of "+strconv.Itoa(len(v.Indications)), "none in a blank view")
			}
			continue
		}
		if err := checkHash(field+".image_sha256", v.Image); err != nil {
			return err
		}
		if !(v.Reference > 0) {
			return bad(field+".reference_amplitude", digits(v.Reference), "above 0")
		}
		for k := range v.Indications {
			if id := v.Indications[k].ID; id != k+1 {
				return bad(fmt.Sprintf("%s.indications[%d].id", field, k), strconv.Itoa(id), strconv.Itoa(k+1))
			}
		}
	}
	return nil
}

// checkFlaws checks the numbers of the flaws, their words, and their indications.
func (r *Record) checkFlaws() error {
	if r.Flaws == nil {
		return bad("flaws", "missing", "a list, which may be empty")
	}
	kinds := []flaw.Kind{flaw.Planar, flaw.Point, flaw.Geometry, flaw.Unknown}
	for i := range r.Flaws {
		f, field := &r.Flaws[i], fmt.Sprintf("flaws[%d]", i)
		if f.ID != i+1 {
			return bad(field+".id", strconv.Itoa(f.ID), strconv.Itoa(i+1))
		}
		if !slices.Contains(kinds, f.Kind) {
			return bad(field+".kind", strconv.Quote(string(f.Kind)), fmt.Sprintf("one of %q", kinds))
		}
		if !(f.Length >= 0) || !(f.LengthU >= 0) || !(f.TiltU >= 0) {
			return bad(field, "of a negative length or uncertainty", "at least 0")
		}
		if err := checkAlong(field+".along", f.Along); err != nil {
			return err
		}
		for k, in := range f.Indications {
			if !r.indication(in.View, in.ID) {
				return bad(fmt.Sprintf("%s.indications[%d]", field, k), fmt.Sprintf("%s %d", in.View, in.ID), "an indication of views")
			}
		}
	}
	return nil
}

// checkAlong checks the place of a flaw along the scan.
func checkAlong(field string, a *flaw.Along) error {
	if a == nil {
		return nil
	}
	if readings := []tips.Reading{tips.Measured, tips.LowerBound, tips.Unresolved}; !slices.Contains(readings, a.LengthIs) {
		return bad(field+".length_is", strconv.Quote(string(a.LengthIs)), fmt.Sprintf("one of %q", readings))
	}
	if !(a.To >= a.From) {
		return bad(field, fmt.Sprintf("from %v to %v m", a.From, a.To), "positions in ascending order")
	}
	if !(a.Least >= 0) || a.Most != nil && !(*a.Most >= a.Least) || !(a.Curve >= 0) || a.Bridged < 0 {
		return bad(field, "of a negative length or number, or limits out of order", "at least 0 and in order")
	}
	return nil
}

// checkScanFlaws checks the flaw list of the scan.
func (r *Record) checkScanFlaws() error {
	for i := range r.ScanFlaws {
		f, field := &r.ScanFlaws[i], fmt.Sprintf("scan_flaws[%d]", i)
		if f.ID != i+1 {
			return bad(field+".id", strconv.Itoa(f.ID), strconv.Itoa(i+1))
		}
		if f.Views == nil {
			return bad(field+".views", "missing", "a list")
		}
		if err := checkAlong(field+".along", &f.Along); err != nil {
			return err
		}
	}
	return nil
}

// indication reports whether a view has an indication of a number.
func (r *Record) indication(view string, id int) bool {
	return slices.ContainsFunc(r.Views, func(v View) bool {
		return v.Name == view && id >= 1 && id <= len(v.Indications)
	})
}

// checkScan checks the check of the scan.
func (r *Record) checkScan() error {
	if r.Scan == nil {
		return nil
	}
	if r.Scan.Gates == nil || r.Scan.Findings == nil {
		return bad("scan", "without a list of gates or findings", "both, which may be empty")
	}
	if err := r.Scan.Validate(); err != nil {
		return fmt.Errorf("report: field scan: %w: %w", ErrField, err)
	}
	return nil
}

// checkFiles checks the names and the hashes of the files.
func (r *Record) checkFiles() error {
	if r.Files == nil {
		return bad("files", "missing", "a list, which may be empty")
	}
	var names []string
	for i, f := range r.Files {
		if err := checkName("name of a file", f.Name); err != nil {
			return fmt.Errorf("%w: %w", ErrField, err)
		}
		if slices.Contains(names, f.Name) {
			return bad(fmt.Sprintf("files[%d].name", i), strconv.Quote(f.Name), "each name once")
		}
		names = append(names, f.Name)
		if err := checkHash(fmt.Sprintf("files[%d].sha256", i), f.SHA256); err != nil {
			return err
		}
	}
	return nil
}
