// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"

	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/sizing/report"
)

// addPictures adds the pictures to the files, and returns their contents by name.
func addPictures(files *output.Files, pictures []drawn) (map[string][]byte, error) {
	contents := map[string][]byte{}
	for _, p := range pictures {
		var content bytes.Buffer
		if err := p.WritePNG(&content); err != nil {
			return nil, err
		}
		contents[p.name] = content.Bytes()
		if err := files.Add(p.name, func(w io.Writer) error { _, err := w.Write(content.Bytes()); return err }); err != nil {
			return nil, err
		}
	}
	return contents, nil
}

// page measures the frame of the strongest flaw in full, and adds its record as a page: with the extents
// of the flaws along the scan, the list and the check of the whole scan, and all pictures. The pictures
// have the numbers of the list of the whole scan: their captions say so.
func (s *scanned) page(ctx context.Context, files *output.Files, checked *scan.Report, list []entry, pictures []drawn, contents map[string][]byte) error {
	record := *s.record
	var err error
	if record.Capture, err = s.frame(list[0].frame); err != nil {
		return err
	}
	settings := &report.Settings{Background: background, Lowest: lowest}
	for _, view := range s.views {
		settings.Views = append(settings.Views, report.ViewSettings{Name: view, Grid: report.NewGrid(s.grid)})
	}
	name := fmt.Sprintf("%s, frame %d", filepath.Base(s.name), list[0].frame)
	measured, err := report.Measure(ctx, name, &record, settings, nil)
	if err != nil {
		return err
	}
	measured.Record.Scan = checked
	for i := range measured.Record.Flaws {
		one := &measured.Record.Flaws[i]
		for _, f := range list {
			if within(f.ExtentX, one.X) && within(f.ExtentZ, one.Z) && within([2]float64{f.Drop.From, f.Drop.To}, list[0].S) {
				one.Along = f.Flaw().Along
				break
			}
		}
	}
	for _, f := range list {
		measured.Record.ScanFlaws = append(measured.Record.ScanFlaws, report.ScanFlaw{
			ID: f.ID, Frame: f.frame, X: f.X, Z: f.Z, LevelDB: f.LevelDB, Views: f.views, Along: *f.Flaw().Along, Explained: f.ghost,
		})
	}
	for _, p := range pictures {
		caption := p.Title
		if len(p.Marks) > 0 {
			caption += ". The numbers are of the list of the whole scan."
		}
		measured.Record.Files = append(measured.Record.Files, report.NewFile(p.name, caption, p.alternative, contents[p.name]))
	}
	if err := files.Add("record.json", measured.Record.WriteJSON); err != nil {
		return err
	}
	return files.Add("page.html", func(w io.Writer) error { return measured.Record.WritePage(w, contents) })
}

// within reports whether a value lies in a range.
func within(limits [2]float64, value float64) bool { return value >= limits[0] && value <= limits[1] }
