// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"errors"
	"fmt"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/wedge"
)

// checkTables returns an error if a table was not made for the elements of c, the events of c or
// the points.
func checkTables(c *fmc.Capture, points wedge.Places, transmit, receive *wedge.Times) error {
	if transmit == nil || receive == nil {
		return errors.New("tfm: plan without a table of times for both paths")
	}
	if err := checkSize(sends, transmit, c.Transmissions(), points.Count); err != nil {
		return err
	}
	if err := checkSize(receives, receive, len(c.Array.Elements), points.Count); err != nil {
		return err
	}
	for _, table := range []namedTable{{sends, transmit}, {receives, receive}} {
		if err := checkElements(table.name, table.times, c); err != nil {
			return err
		}
		if made := table.times.MadeFor.Points; made != points {
			return fmt.Errorf("tfm: %s table of other points than the grid's: %v; want %v", table.name, made, points)
		}
	}
	return checkEvents(c, transmit, receive)
}

// namedTable is a table with its name for errors.
type namedTable struct {
	name  string
	times *wedge.Times
}

const sends, receives = "transmitting", "receiving"

// checkSize reports a table of another size than rows × points.
func checkSize(name string, t *wedge.Times, rows, points int) error {
	if t.Elements != rows || t.Points != points || len(t.Seconds) != rows*points {
		return fmt.Errorf("tfm: %s table of %d elements × %d points: want %d elements × %d points, as the capture and the grid have",
			name, t.Elements, t.Points, rows, points)
	}
	return nil
}

// checkElements reports a table that does not say what it was made for, or that was made for
// other elements than the elements of c.
func checkElements(name string, t *wedge.Times, c *fmc.Capture) error {
	if t.MadeFor.Elements.Count == 0 || t.MadeFor.Points.Count == 0 {
		return fmt.Errorf("tfm: %s table without a source, which says what it was made for: want it made by wedge.NewTimes, or by a path", name)
	}
	if made, want := t.MadeFor.Elements, placesOfElements(c); made != want {
		return fmt.Errorf("tfm: %s table of other elements than the capture's: %v; want %v", name, made, want)
	}
	return nil
}

// checkEvents reports a table of events where elements are wanted, and the other way round.
func checkEvents(c *fmc.Capture, transmit, receive *wedge.Times) error {
	if _, ok := receive.MadeFor.Path.(eventPath); ok {
		return fmt.Errorf("tfm: receiving table of events: want a table of elements")
	}
	path, ok := transmit.MadeFor.Path.(eventPath)
	switch {
	case !ok && c.Events != nil:
		return fmt.Errorf("tfm: transmitting table of elements, for a capture of events: want one made by EventTimes or NewEventTimes")
	case ok && c.Events == nil:
		return fmt.Errorf("tfm: transmitting table of events, for a capture without events: want a table of elements")
	case ok && path.events != newEventPath(c, nil).events:
		return fmt.Errorf("tfm: transmitting table of other events than the capture's: want one of the same delays and weights")
	}
	return nil
}

// placesOfElements returns the identity of the elements of c.
func placesOfElements(c *fmc.Capture) wedge.Places {
	return wedge.PlacesOf(slices.Values(c.Array.Elements))
}
