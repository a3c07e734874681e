// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
)

// awkward are samples whose bits a text could lose.
var awkward = []complex64{
	complex(math.SmallestNonzeroFloat32, -math.MaxFloat32), complex(float32(math.Copysign(0, -1)), 1.0/3),
	complex(16777217, 0.1), complex(math.Nextafter32(1, 2), -1e-30),
}

// TestRecord checks that traces of pairs and beams are read back bit for bit.
func TestRecord(t *testing.T) {
	record, setup := captured(t, "block16")
	beam := Beam{
		Mode: material.T, Angle: 0.1, Elements: elements(2, 3), Weights: []float64{1.0 / 3, 1, 0.1},
		Transmit: Focus{Depth: 10.1 * mm, Leg: 1}, Receive: Focus{Dynamic: true}, DelayStep: 2.5e-9,
	}
	pair := check.Must(NewPair(record.Capture, fmc.Pair{Tx: 3, Rx: 0}, tfm.Band{}))
	for name, trace := range map[string]*Trace{"beam": traces(t, record.Capture, setup, beam)[0], "pair": pair} {
		t.Run(name, func(t *testing.T) {
			copy(trace.Analytic, awkward)
			trace.Clipped = [][2]int{{3, 5}}
			data := check.Must(json.Marshal(trace))
			var got Trace
			if err := json.Unmarshal(data, &got); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(trace, &got); diff != "" {
				t.Error(diff)
			}
			for k, v := range trace.Analytic {
				w := got.Analytic[k]
				if math.Float32bits(real(v)) != math.Float32bits(real(w)) || math.Float32bits(imag(v)) != math.Float32bits(imag(w)) {
					t.Fatalf("sample %d: %v and %v", k, v, w)
				}
			}
			for _, name := range []string{`"sample_rate_hz":50000000`, `"first_sample_s":`, `"band_low_hz":`} {
				if !strings.Contains(string(data), name) {
					t.Errorf("the record has no %s", name)
				}
			}
		})
	}
}

// TestBadRecords checks that a record with a fault is refused, and leaves the trace as it was.
func TestBadRecords(t *testing.T) {
	trace, _ := gaussian(t, 30*degree, pulse{40, 11 * mm})
	trace.Analytic = trace.Analytic[:3]
	good := string(check.Must(json.Marshal(trace)))
	for _, test := range []struct{ old, new, word string }{
		{`"real":[`, `"real":[1,`, "equal numbers"},
		{`"mode":"T"`, `"mode":"S"`, `mode "S"`},
		{`"sample_rate_hz":50000000`, `"sample_rate_hz":0`, "sample rate"},
		{`"real":[`, `"real":["a",`, "ascan: trace"},
		{`"line":{`, `"other":{`, "neither"},
		{`"legs":[`, `"legs":[],"more":[`, "without legs"},
		{`"real":[`, `"partial_samples":[[2,9]],"real":[`, "partial"},
	} {
		bad := strings.Replace(good, test.old, test.new, 1)
		if bad == good {
			t.Fatalf("no %s in %s", test.old, good)
		}
		got := Trace{SampleRate: 7}
		check.Error(t, json.Unmarshal([]byte(bad), &got), test.word)
		if got.SampleRate != 7 {
			t.Errorf("%s changed the trace", test.new)
		}
	}
	trace.Analytic[1] = complex(float32(math.Inf(1)), 0)
	_, err := json.Marshal(trace)
	check.Error(t, err, "sample 1")
	_, err = json.Marshal(&Trace{SampleRate: 1})
	check.Error(t, err, "without samples")
}

// FuzzRecord checks that any text is refused or read as a trace that is written again.
func FuzzRecord(f *testing.F) {
	trace, _ := gaussian(f, 30*degree, pulse{40, 11 * mm})
	trace.Analytic = trace.Analytic[:3]
	f.Add(check.Must(json.Marshal(trace)))
	f.Add([]byte(`{"transmitter":1,"receiver":2,"sample_rate_hz":1,"real":[1],"imaginary":[2]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var first, second Trace
		if json.Unmarshal(data, &first) != nil {
			return
		}
		if err := json.Unmarshal(check.Must(json.Marshal(&first)), &second); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(&first, &second); diff != "" {
			t.Error(diff)
		}
		for k := range len(first.Analytic) {
			first.Time(float64(k))
		}
		first.SoundPath(1e-6)
	})
}
