// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package tfm

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/guard"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// expectedKernel returns the kernel that this build must select on this processor.
func expectedKernel() string {
	switch {
	case !guard.Assembly:
	case runtime.GOARCH == "arm64":
		return "neon"
	case runtime.GOARCH != "amd64":
	case cpu.X86.HasAVX512F && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512DQ && cpu.X86.HasAVX512VL:
		return "avx512"
	case cpu.X86.HasAVX2 && cpu.X86.HasFMA:
		return "avx2"
	}
	return "portable"
}

// TestSelection fails where the machine could do better than the kernel selected.
func TestSelection(t *testing.T) {
	c := randomCapture(1, 2, 100, fmc.FullPairs(2))
	g := check.Must(NewSection(-1e-3, 1e-3, 4e-3, 5e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	want := expectedKernel()
	for _, precision := range []Precision{Single, Fixed16} {
		p := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: precision}))
		if p.Kernel() != want || p.precision != precision {
			t.Errorf("kernel %s in %v on %s, want %s in %v", p.Kernel(), p.precision, runtime.GOARCH, want, precision)
		}
	}
	if !slices.Contains(kernelNames(), "portable") {
		t.Error("no portable kernel")
	}
	if got := fmt.Sprint(Single, Fixed16, Precision(9)); got != "single fixed16 Precision(9)" {
		t.Errorf("precisions named %q", got)
	}
}

// TestDispatch fails where plain Go sums although the processor could sum in assembly. It checks
// which function touches the run.
func TestDispatch(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	need := func(want string, do func()) {
		t.Helper()
		if got := guard.Toucher(do); got != want {
			t.Errorf("%q touched the buffers, want %q", got, want)
		}
	}
	needAll := func(want []string, sums []func(*window.Run)) {
		t.Helper()
		if len(sums) != len(want) {
			t.Fatalf("%d functions, want %q", len(sums), want)
		}
		for i, sum := range sums {
			need(want[i], func() { sum(&guard.Unreadable[window.Run](t, 1)[0]) })
		}
	}
	expected := expectedKernel()
	c := randomCapture(1, 2, 100, fmc.FullPairs(2))
	g := check.Must(NewSection(-1e-3, 1e-3, 4e-3, 5e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	for _, precision := range []Precision{Single, Fixed16} {
		p := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: precision}))
		var k window.Kernel
		switch w := p.kernel.(type) {
		case *windowed[float32]:
			k = w.kernel
		case *windowed[int16]:
			k = w.kernel
		default:
			if expected != "portable" {
				t.Errorf("%v: a plan for kernel %T, want %s", precision, w, expected)
			}
			continue
		}
		bits := map[Precision]string{Single: "32", Fixed16: "16"}[precision]
		sums := slices.Repeat([]string{"window.sum" + bits + strings.ToUpper(expected)}, len(k.Format.Windows))
		if expected == "avx2" && precision == Fixed16 {
			set := "16AVX2"
			if cpu.X86.HasAVXVNNI {
				set = "16AVXVNNI"
			}
			sums = []string{"window.halves" + set, "window.lanes" + set, "window.wide" + set}
		}
		if expected == "avx512" {
			set, layers := "AVX512", "AVX512"
			if cpu.X86.HasAVX512VNNI {
				layers = "VNNI"
			}
			if precision == Fixed16 {
				set = layers
			}
			if precision == Fixed16 && cpu.X86.HasAVX512VNNI && cpu.X86.HasAVX512VBMI2 {
				set = "VBMI2"
			}
			sums = []string{"window.joint" + bits + set, "window.split" + bits + set}
			for i, count := range []string{"Two", "Three"} {
				needAll([]string{"window.joint" + count + bits + layers, "window.split" + count + bits + layers}, k.More[i])
			}
		}
		if runtime.GOARCH == "amd64" {
			unreadable := guard.Unreadable[float32](t, 2*window.Pixels)
			need("window.writeBlock"+strings.ToUpper(expected), func() { k.Write(new(complex64), 0, &unreadable[0], 1) })
		}
		needAll(sums, k.Sums)
	}
}

// TestAllInWindows images a flat field, whose delays fit into windows, inside the record:
// the kernel that the plan selects by itself must sum each pair in each block.
func TestAllInWindows(t *testing.T) {
	c := randomCapture(3, 4, 800, fmc.FullPairs(4))
	c.FirstSample = 0
	g := check.Must(NewSection(-3e-3, 3e-3, 9e-3, 15e-3, 0.05e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	for _, precision := range []Precision{Single, Fixed16} {
		s := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: precision})).NewScratch()
		if err := s.Reconstruct(background, NewImage(g), c.Data); err != nil {
			t.Fatal(err)
		}
		blocks, _ := blocksOf(g, tiles(g, tileCols))
		var want window.Counts
		if expectedKernel() != "portable" {
			want.Windows[0] = uint64(len(blocks) * len(s.plan.lookups))
		}
		if got := counts(s); got != want {
			t.Errorf("%v: lookups %+v, want %+v", precision, got, want)
		}
	}
}

// TestSameBits images a flat field in 16 bits. Each kernel that sums in the order of plain Go must
// give the bits of plain Go, however its format stores samples and delays.
func TestSameBits(t *testing.T) {
	c := randomCapture(4, 6, 800, fmc.HalfPairs(6))
	c.FirstSample = 0
	g := check.Must(NewSection(-4e-3, 4e-3, 3e-3, 14e-3, 0.15e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	plain := check.Must(NewPlan(c, g, tx, rx, &Options{kernel: "window", Precision: Fixed16}))
	plain.direct = newDirect(plain.analytic, Fixed16) // the filter of the kernels in assembly
	want := check.Must(plain.Image(background, c))
	for _, name := range kernelNames() {
		p := check.Must(NewPlan(c, g, tx, rx, &Options{kernel: name, Precision: Fixed16}))
		if w, ok := p.kernel.(*windowed[int16]); !ok || w.kernel.Pairs {
			continue // sums in another order
		}
		if got := check.Must(p.Image(background, c)); !slices.Equal(got.Data, want.Data) {
			t.Errorf("%s: not the image of plain Go", name)
		}
	}
}
