// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
)

// print writes the table for people, in millimetres and degrees, and the notes below it.
func (r *summary) print(w io.Writer) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "view\tno.\tx/mm\tz/mm\tlevel/dB\tx from\tto\tz from\tto\tlength/mm\twidth/mm\ttilt/°\t")
	var marks marks
	for _, v := range r.Views {
		for _, i := range v.Indications {
			i.print(t, v.View, strconv.Itoa(i.ID), &marks)
		}
		if len(v.Indications) == 0 {
			fmt.Fprintf(t, "%s\tnone\t\t\t\t\t\t\t\t\t\t\t\n", v.View)
		}
		for _, i := range v.Walls {
			i.print(t, v.View, fmt.Sprintf("W%d", i.ID), &marks)
		}
	}
	t.Flush()
	r.printReferences(w)
	r.printStates(w)
	for _, note := range r.notes {
		fmt.Fprintln(w, note)
	}
	marks.explain(w)
}

// printReferences writes the reference and the walls of each view.
func (r *summary) printReferences(w io.Writer) {
	for _, v := range r.Views {
		if v.Reference.What != "" {
			fmt.Fprintf(w, "%s: 0 dB is %s, amplitude %s\n",
				v.View, v.Reference.What, number(v.Reference.Amplitude))
		}
		for _, i := range v.Walls {
			fmt.Fprintf(w, "%s: W%d is the echo of the %s, and no indication\n",
				v.View, i.ID, i.Wall)
		}
		v.printGhosts(w)
	}
}

// printGhosts writes which indications are explained by an echo, and the lines in the picture.
func (v *viewReport) printGhosts(w io.Writer) {
	for _, i := range v.Indications {
		if i.ExplainedBy != "" {
			fmt.Fprintf(w, "%s: %d is explained by the %s\n", v.View, i.ID, i.ExplainedBy)
		}
	}
	for k, name := range v.ghosts {
		fmt.Fprintf(w, "%s: line %s is where the %s shows\n", v.View, ghostLabel(k), name)
	}
}

// printStates writes the share of the pixels in each state.
func (r *summary) printStates(w io.Writer) {
	for _, v := range r.Views {
		for _, name := range slices.Sorted(maps.Keys(v.States)) {
			share := 100 * float64(v.States[name]) / float64(v.Grid.Pixels[0]*v.Grid.Pixels[1])
			fmt.Fprintf(w, "%s: %.2g %% of the pixels may not show all that lies there: %s\n",
				v.View, share, name)
		}
	}
}

// marks holds the marks of a table that need an explanation.
type marks struct {
	edge, round bool
	states      []string
}

// explain writes a line for each mark.
func (m *marks) explain(w io.Writer) {
	if m.edge {
		fmt.Fprintln(w, "e: the area touches the edge of the image, and may continue beyond it")
	}
	if len(m.states) > 0 {
		fmt.Fprintf(w, "s: pixels of the area may not show all that lies there (%s); "+
			"the indication may be larger or stronger\n", strings.Join(m.states, ", "))
	}
	if m.round {
		fmt.Fprintln(w, "-: too round to have a long axis")
	}
}

// print writes the line of an indication.
func (i *indicationReport) print(w io.Writer, view, id string, seen *marks) {
	if i.Edge {
		id += "e"
		seen.edge = true
	}
	for _, s := range i.States {
		if !slices.Contains(seen.states, s) {
			seen.states = append(seen.states, s)
		}
	}
	if len(i.States) > 0 {
		id += "s"
	}
	tilt := fmt.Sprintf("%.0f", degrees(i.Tilt)+0)
	if i.Round {
		tilt = "-"
		seen.round = true
	}
	fmt.Fprintf(w, "%s\t%s\t%.2f\t%.2f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%s\t\n",
		view, id, i.X*1e3, i.Z*1e3, i.LevelDB, i.ExtentX[0]*1e3, i.ExtentX[1]*1e3,
		i.ExtentZ[0]*1e3, i.ExtentZ[1]*1e3, i.Length*1e3, i.Width*1e3, tilt)
}
