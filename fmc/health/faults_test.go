// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// traceFault is a fault that shows only when single traces are compared. Plant changes the
// capture at element e; echo is the median echo. It returns what must be found.
type traceFault struct {
	name  string
	also  []health.Kind // what else it may cause
	plant func(c *fmc.Capture, e int, echo float64, rng *rand.Rand) []string
}

// lost empties a share of the traces of a transmitter, down to the given noise.
func lost(share float64) traceFault {
	return traceFault{"lost shots", nil, func(c *fmc.Capture, e int, echo float64, rng *rand.Rand) []string {
		ends := transmit
		var own []int
		for p, pair := range c.Pairs {
			if pair.Tx == e && pair.Rx != e || c.Layout() != fmc.Full && pair.Rx == e && pair.Tx != e {
				own = append(own, p)
			}
		}
		if c.Layout() != fmc.Full {
			ends = both
		}
		rng.Shuffle(len(own), func(i, j int) { own[i], own[j] = own[j], own[i] })
		for _, p := range own[:int(math.Ceil(share*float64(len(own))))] {
			for k := range c.Trace(p) {
				c.Trace(p)[k] = float32(0.03 * echo * rng.NormFloat64())
			}
		}
		return []string{describe(health.LostShots, ends, e)}
	}}
}

// jittered delays each trace of a receiver by a Gaussian time of so many periods.
func jittered(periods float64) traceFault {
	return traceFault{"jitter", []health.Kind{health.Drift}, func(c *fmc.Capture, e int, echo float64, rng *rand.Rand) []string {
		ends := receive
		if c.Layout() != fmc.Full {
			ends = both
		}
		for p, pair := range c.Pairs {
			if pair.Rx == e || c.Layout() != fmc.Full && pair.Tx == e {
				shift(c.Trace(p), rng.NormFloat64()*periods/c.Array.CentreFrequency*c.SampleRate)
			}
		}
		return []string{describe(health.Jitter, ends, e)}
	}}
}

// shift delays a trace by so many samples, by cubic interpolation between them.
func shift(trace []float32, samples float64) {
	x := slices.Clone(trace)
	at := func(k int) float64 { return float64(x[max(0, min(len(x)-1, k))]) }
	for k := range trace {
		u := float64(k) - samples
		i := int(math.Floor(u))
		f := u - float64(i)
		a, b, c, d := at(i-1), at(i), at(i+1), at(i+2)
		trace[k] = float32(b + f*(c-a)/2 + f*f*(a-2.5*b+2*c-0.5*d) + f*f*f*(1.5*(b-c)+(d-a)/2))
	}
}

// spiked raises one sample of three traces to so many echoes.
func spiked(height float64) traceFault {
	return traceFault{"spikes", []health.Kind{health.Noisy}, func(c *fmc.Capture, e int, echo float64, rng *rand.Rand) []string {
		var want []string
		after := int((3.6/(c.Array.Bandwidth*c.Array.CentreFrequency)-c.FirstSample)*c.SampleRate) + 2
		for i := range 3 {
			p := (e + i*len(c.Pairs)/3 + 7*i) % len(c.Pairs)
			k := max(0, after) + rng.IntN(c.Samples-max(0, after)-40)
			c.Trace(p)[k] = float32(height * echo)
			want = append(want, describe(health.Spike, both, c.Pairs[p].Tx, c.Pairs[p].Rx))
		}
		slices.Sort(want)
		return want
	}}
}

// coarse rounds a receiver's samples to steps of a share of the echo.
func coarse(share float64) traceFault {
	return traceFault{"coarse steps", nil, func(c *fmc.Capture, e int, echo float64, _ *rand.Rand) []string {
		step := share * echo
		for p, pair := range c.Pairs {
			if pair.Rx == e {
				for k, v := range c.Trace(p) {
					c.Trace(p)[k] = float32(math.RoundToEven(float64(v)/step) * step)
				}
			}
		}
		return []string{describe(health.Coarse, receive, e)}
	}}
}

// swapped exchanges the channels of an element and another one so many places away.
func swapped(places int) traceFault {
	return traceFault{"exchanged", []health.Kind{health.Jitter}, func(c *fmc.Capture, e int, _ float64, _ *rand.Rand) []string {
		o := e + places
		if o >= len(c.Array.Elements) {
			o = e - places
		}
		channel := func(i int) int {
			switch i {
			case e:
				return o
			case o:
				return e
			}
			return i
		}
		old := *c
		old.Data = slices.Clone(c.Data)
		for p, pair := range c.Pairs {
			trace, _ := old.Between(channel(pair.Tx), channel(pair.Rx))
			copy(c.Trace(p), trace)
		}
		return []string{describe(health.Exchanged, both, min(e, o), max(e, o))}
	}}
}
