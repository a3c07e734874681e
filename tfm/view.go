// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/wedge"
)

// PlanView prepares the images over g of captures like c in a view of a set-up, such as "TT-T"
// ([wedge.ParseView]). It makes the tables of times that [NewPlan] takes, and then the plan.
// Where both paths of the view are equal, it makes one table. The transmitting table of a capture
// of events is the table of [EventTimes].
//
// In a half matrix ([fmc.Half]) a trace of two different elements counts for both directions. In
// any other list of pairs each trace counts once, in the direction that its pair names.
//
// Options.Progress is called with the share of the tables that is made. Errors are the errors of
// [NewPlan] and [wedge.Path.Times]; when ctx ends early, its error is returned.
func PlanView(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, view string, g Grid, options *Options) (*Plan, error) {
	// The tables take long, so wrong arguments are reported first.
	options, analytic, err := options.prepare(c, g)
	if err != nil {
		return nil, err
	}
	timed := c
	if options.Compound != nil { // which takes the table of the elements
		elements := *c
		elements.Events = nil
		timed = &elements
	}
	timer, err := newTimer(timed, setup, view, &wedge.TimesOptions{Progress: options.Progress, Workers: options.Workers})
	if err != nil {
		return nil, err
	}
	transmit, receive, err := timer(ctx, g.Points())
	if err != nil {
		return nil, err
	}
	return newPlan(ctx, c, g, transmit.MadeFor.Points, analytic, transmit, receive, options)
}

// ImageView images one capture in a view of a set-up: it is [PlanView] and [Plan.Image] in one
// call. For several frames of one geometry call [PlanView] once, because the plan takes most of
// the time.
func ImageView(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, view string, g Grid, options *Options) (*Image, error) {
	// The plan takes long, so wrong samples are reported first.
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("tfm: %w", err)
	}
	plan, err := PlanView(ctx, c, setup, view, g, options)
	if err != nil {
		return nil, err
	}
	return plan.Image(ctx, c)
}

// A Timer makes the tables of times from the elements of an array to points (m), along the
// transmitting and the receiving path. They may be one table. A plan with two tables of equal
// paths needs no more memory and time than with one table ([wedge.MadeFor]).
type Timer func(ctx context.Context, points []r3.Vec) (transmit, receive *wedge.Times, err error)

// NewTimer returns the Timer of a view of a set-up, such as "TT-T" ([wedge.ParseView]), for
// captures like c. Where both paths of the view are equal, it makes one table. The transmitting
// table of a capture of events is the table of [EventTimes].
//
// The options are the options of [wedge.Path.Times] for each table, but Progress covers both
// tables. The Timer may be called from several goroutines at a time.
func NewTimer(c *fmc.Capture, setup *wedge.Setup, view string, options *wedge.TimesOptions) (Timer, error) {
	if err := c.ValidateTemplate(); err != nil {
		return nil, fmt.Errorf("tfm: %w", err)
	}
	return newTimer(c, setup, view, options)
}

// newTimer is [NewTimer] for a capture that has been checked.
func newTimer(c *fmc.Capture, setup *wedge.Setup, view string, options *wedge.TimesOptions) (Timer, error) {
	if setup == nil {
		return nil, errors.New("tfm: view without a set-up: want one")
	}
	v, err := wedge.ParseView(view)
	if err != nil {
		return nil, err
	}
	transmitting, receiving, err := setup.Paths(v)
	if err != nil {
		return nil, err
	}
	if options == nil {
		options = new(wedge.TimesOptions)
	}
	c = templateOf(c) // c may change before the Timer is called
	elements := c.Array.Elements
	return func(ctx context.Context, points []r3.Vec) (transmit, receive *wedge.Times, err error) {
		first, second := *options, *options
		if report := options.Progress; report != nil && receiving != transmitting {
			first.Progress = func(share float64) { report(share / 2) }
			second.Progress = func(share float64) { report((1 + share) / 2) }
		}
		if transmit, err = transmitting.Times(ctx, elements, points, &first); err != nil {
			return nil, nil, err
		}
		receive = transmit
		if receiving != transmitting {
			if receive, err = receiving.Times(ctx, elements, points, &second); err != nil {
				return nil, nil, err
			}
		}
		if c.Events != nil {
			transmit, err = timesOfEvents(ctx, c, transmit, &wedge.TimesOptions{Workers: options.Workers})
		}
		return transmit, receive, err
	}, nil
}
