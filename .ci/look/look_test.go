// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package look tests the page of examples/look in a browser without a screen. To see the page:
//
//	go test . -args -shots FOLDER
package look

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// rows returns the numbers of the rows of the table of indications: x and depth in mm, level in
// dB.
func rows(t *testing.T, p *page) (all [][3]float64) {
	t.Helper()
	text := do(t, p, chromedp.Evaluate[string](`JSON.stringify([...document.querySelectorAll("#indications tbody tr")].map(
		(row) => [1, 2, 3].map((i) => Number(row.cells[i].textContent.replace("\u2212", "-")))))`))
	if err := json.Unmarshal([]byte(text), &all); err != nil {
		t.Fatal(err)
	}
	return all
}

// A slider moves an indication to where times of flight put it. The ray model of this test is not
// the ray model of the library. testdata/README.md describes the reflectors.
func TestSliderMovesPeak(t *testing.T) {
	for _, test := range []struct {
		name       string
		capture    string
		indication int
		along      point // direction in which the peak has no fixed place; 0 for none
	}{
		// The face from (18.85, 11) to (21.15, 7) mirrors each pair at another of its points.
		{"fusion face", "weld32", 1, point{2.30, -4.00}},
		{"corner of the notch", "weld32", 2, point{}},
		{"drilled hole", "sdh32", 1, point{}},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := start(t, test.capture)
			p := show(t, s, 1280, 800, "light")
			array := elements(t, test.capture)
			before := rows(t, p)
			was := peak(t, before, test.indication)

			p.press(t, "#transverse", kb.ArrowRight, 32)
			if text := p.text(t, "label:has(#transverse) output"); !strings.Contains(text, "3272") || !strings.Contains(text, "+1.0") {
				t.Errorf("the slider says %q after 32 steps of 1 m/s", text)
			}
			p.settle(t)
			near(t, "32 m/s faster", was, peak(t, rows(t, p), test.indication), moved(array, array, was, wedge, steel, steel+32), test.along)

			p.press(t, "#recorded", " ", 1)
			p.settle(t)
			if now := rows(t, p); fmt.Sprint(now) != fmt.Sprint(before) {
				t.Errorf("with all as recorded again: indications at %v; want %v", now, before)
			}

			p.press(t, "#angle", kb.ArrowLeft, 20)
			p.settle(t)
			p.photograph(t, "angle_"+test.capture)
			near(t, "1° less", was, peak(t, rows(t, p), test.indication), moved(array, turned(array, -math.Pi/180), was, wedge, steel, steel), test.along)
			p.clean(t, s)
		})
	}
}

// The speeds of testdata/README.md in m/s.
const wedge, steel = 2340.0, 3240.0

// peak returns the place of an indication, counted from 1, in m.
func peak(t *testing.T, rows [][3]float64, indication int) point {
	t.Helper()
	if len(rows) < indication {
		t.Fatalf("%d indications: want %d", len(rows), indication)
	}
	row := rows[indication-1]
	return point{row[0] * 1e-3, row[1] * 1e-3}
}

// near checks that a peak went from a place to where it is wanted. Along a direction it may be
// elsewhere.
func near(t *testing.T, name string, was, got, want, along point) {
	t.Helper()
	const limit = 0.04e-3 // half a pixel
	dx, dz := got.x-want.x, got.z-want.z
	apart := math.Hypot(dx, dz)
	if length := math.Hypot(along.x, along.z); length > 0 {
		apart = math.Abs(dx*along.z-dz*along.x) / length
	}
	t.Logf("%s: from %.2f, %.2f to %.2f, %.2f mm; by times of flight %.2f, %.2f mm",
		name, was.x*1e3, was.z*1e3, got.x*1e3, got.z*1e3, want.x*1e3, want.z*1e3)
	if !(apart <= limit) {
		t.Errorf("%s: the peak is %.3f mm from where times of flight put it", name, apart*1e3)
	}
	if way := math.Hypot(want.x-was.x, want.z-was.z); !(way >= 5*limit) {
		t.Errorf("%s: the peak moves by %.3f mm only, which shows nothing", name, way*1e3)
	}
}

// Keys move the reading point, zoom, and speak.
func TestKeys(t *testing.T) {
	s := start(t, "weld32")
	p := show(t, s, 1280, 800, "light")
	reading := func() (x, z, level float64) {
		t.Helper()
		text := strings.ReplaceAll(p.text(t, "#cursor"), "\u2212", "-")
		if _, err := fmt.Sscanf(text, "Reading point: x %f mm, depth %f mm, %f dB", &x, &z, &level); err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		return x, z, level
	}
	p.press(t, "#stage", kb.Enter, 1)
	x0, z0, level := reading()
	if first := rows(t, p)[0]; !(math.Hypot(x0-first[0], z0-first[1]) <= 0.02) || !(level >= -0.5 && level <= 0.1) {
		t.Errorf("Enter: %.2f, %.2f mm, %.1f dB; want the strongest indication %v", x0, z0, level, first)
	}
	p.wait(t, `document.getElementById("spoken").textContent.startsWith("x 19.")`)
	p.press(t, "#stage", kb.ArrowRight, 5)
	p.press(t, "#stage", kb.ArrowDown, 5)
	x1, z1, _ := reading()
	if !(x1-x0 > 0.2 && x1-x0 < 1) || !(math.Abs((x1-x0)-(z1-z0)) <= 0.02) {
		t.Errorf("five keys to the right and down lead from %.2f, %.2f to %.2f, %.2f mm", x0, z0, x1, z1)
	}
	p.wait(t, `document.getElementById("pair-caption").textContent.includes("sends")`)

	ticks := func() int { return p.count(t, "#overlay text") }
	step := func() (mm float64) {
		t.Helper()
		_, rest, _ := strings.Cut(p.text(t, "#rate"), "pixels of ")
		if _, err := fmt.Sscanf(rest, "%f mm", &mm); err != nil {
			t.Fatalf("%q: %v", rest, err)
		}
		return mm
	}
	whole, labels := step(), ticks()
	p.press(t, "#stage", "+", 3)
	p.settle(t)
	if closer := step(); !(closer < 0.5*whole) {
		t.Errorf("zoomed in three times, the pixels are %.2f mm, before %.2f mm", closer, whole)
	}
	p.press(t, "#stage", "0", 1)
	p.settle(t)
	if back := step(); back != whole || ticks() != labels {
		t.Errorf("the whole section again: pixels of %.2f mm and %d labels; want %.2f mm and %d", back, ticks(), whole, labels)
	}
	p.clean(t, s)
}

// A row under the pointer or with the focus marks its cross in the figure, and a cross its row. A
// flaw marks its indications.
func TestLinks(t *testing.T) {
	s := start(t, "weld32")
	p := show(t, s, 1280, 800, "light")
	p.settleAll(t)
	chosen := func(name, want string) {
		t.Helper()
		got := do(t, p, chromedp.Evaluate[string](`[
			...document.querySelectorAll("#overlay .mark.chosen")].map((e) => "mark " + e.dataset.id).concat(
			[...document.querySelectorAll("#indications .chosen")].map((e) => "row " + e.cells[0].textContent),
			[...document.querySelectorAll("#flaws .chosen")].map((e) => "flaw " + e.cells[0].textContent)).join(", ")`))
		if got != want {
			t.Errorf("%s: %q is marked; want %q", name, got, want)
		}
	}
	p.over(t, "#indications tbody tr:nth-child(1)")
	chosen("the pointer over the first row", "mark 1, row 1, flaw 1")
	if p.count(t, "#overlay .contour") < 20 {
		t.Error("the contour of the indication does not show")
	}
	p.over(t, "h1")
	chosen("the pointer elsewhere", "")
	p.over(t, `#overlay .mark[data-id="2"] .target`)
	chosen("the pointer over the second cross", "mark 2, row 2, flaw 2")
	p.over(t, "#flaws tbody tr:nth-child(2)")
	chosen("the pointer over the second flaw, the notch with its corner and its tip", "mark 2, mark 3, row 2, row 3, flaw 2")
	if p.count(t, "#overlay .flaw") != 1 {
		t.Error("the flaw has no line in the figure")
	}
	p.photograph(t, "flaw_2")
	p.over(t, "h1")
	p.focus(t, "#indications tbody tr:nth-child(1)")
	chosen("the focus on the first row", "mark 1, row 1, flaw 1")
	p.clean(t, s)
}

// The check boxes show and hide lines, and views change the image.
func TestDrawing(t *testing.T) {
	s := start(t, "weld32")
	p := show(t, s, 1280, 800, "light")
	if n := p.count(t, "#overlay .known"); n != 2 {
		t.Errorf("%d known reflectors are drawn; want 2", n)
	}
	p.press(t, "#outlines", " ", 1)
	if n := p.count(t, "#overlay .known, #overlay .surface"); n != 0 {
		t.Errorf("%d outlines are drawn; want none", n)
	}
	p.press(t, "#ghosts", " ", 1)
	p.wait(t, `document.querySelectorAll("#overlay .ghost").length > 0`)
	if text := p.text(t, "#ghosts-caption"); !strings.Contains(text, "G1 ") || !strings.Contains(text, "echo of") {
		t.Errorf("ghosts: %q", text)
	}
	p.photograph(t, "ghosts")
	p.press(t, "#ghosts", " ", 1)
	p.wait(t, `document.querySelectorAll("#overlay .ghost").length === 0`)
	p.press(t, `#sketches input[value="T-T"]`, kb.ArrowRight, 1)
	p.settle(t)
	if text := p.text(t, "#indications-caption"); !strings.Contains(text, "TT-T") {
		t.Errorf("another view: %q", text)
	}
	// The notch at the root, along x = 16 mm (testdata/README.md).
	if first := rows(t, p)[0]; !(math.Abs(first[0]-16) <= 0.3) {
		t.Errorf("TT-T: the strongest indication lies at %v; want the notch at x = 16 mm", first)
	}
	p.clean(t, s)
}

// The page shows captures in contact, through water and under a curved surface, with the holes
// where testdata/README.md says that an image must peak.
func TestOtherCaptures(t *testing.T) {
	const limit = 0.15 // mm: the table is rounded to 0.05 mm, a pixel is 0.1 mm
	for _, test := range []struct {
		capture string
		x, z    float64 // mm
	}{
		{"block16", -8.65, 9.40},
		{"pipe32", 0.55, 8.40},
		{"wavy32", 0.95, 11.45},
		{"notch32", 5.00, 19.45},
	} {
		s := start(t, test.capture)
		p := show(t, s, 1280, 800, "light")
		best := math.Inf(1)
		for _, row := range rows(t, p) {
			best = min(best, math.Hypot(row[0]-test.x, row[1]-test.z))
		}
		if !(best <= limit) {
			t.Errorf("%s: no indication at %.2f, %.2f mm; the nearest is %.2f mm away", test.capture, test.x, test.z, best)
		}
		p.photograph(t, test.capture)
		p.clean(t, s)
	}
}

// Each element that takes the focus has a name that a screen reader can speak.
func TestNames(t *testing.T) {
	s := start(t, "weld32")
	p := show(t, s, 1280, 800, "light")
	p.settleAll(t)
	call(t, p, accessibility.Enable, cdp.Empty{})
	tree, err := chromedp.Call(p, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		t.Fatal(err)
	}
	focusable := 0
	for _, node := range tree.Nodes {
		for _, property := range node.Properties {
			if property.Name != "focusable" || string(property.Value.Value) != "true" {
				continue
			}
			focusable++
			if node.Name == nil || len(string(node.Name.Value)) <= 2 {
				t.Errorf("an element of the role %s has no name", node.Role.Value)
			}
		}
	}
	if focusable < 30 {
		t.Errorf("%d elements take the focus; want the sliders, the boxes and the rows", focusable)
	}
}

// The page fits its window in both schemes. With -shots it is also photographed.
func TestSizes(t *testing.T) {
	s := start(t, "weld32")
	for _, size := range [][2]int64{{1280, 800}, {800, 1200}} {
		for _, scheme := range []string{"light", "dark"} {
			p := show(t, s, size[0], size[1], scheme)
			if wide := do(t, p, chromedp.Evaluate[int64]("document.documentElement.scrollWidth")); wide > size[0] {
				t.Errorf("%d × %d, %s: the page is %d px wide", size[0], size[1], scheme, wide)
			}
			p.photograph(t, fmt.Sprintf("%dx%d_%s", size[0], size[1], scheme))
			p.clean(t, s)
		}
	}
}
