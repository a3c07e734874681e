// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Scan images the scan of a weld. It checks the positions and the coupling of the frames. It images all
// frames in two views into a stack on the disk. It looks at the stack from above, from the side and
// along the weld. It lists the flaws with their lengths, maps what was seen of the weld, and writes a
// page.
//
//	go run ./examples/scan
//	go run ./examples/scan -scan testdata/scan/weld16.json -out weld16
//
// Take another folder for another array or other views: a stack goes on only with its own.
//
// Without -scan the scan is computed (package synth): an invented butt weld with three flaws. Three
// frames are lost on the way, and for some frames the coupling is poor.
//
// Several processes can share a scan. BATCH.md in the folder of package tfm/stack tells how:
//
//	go run ./examples/scan -scan weld.json -part 1/2 -stack parts/1.json
//	go run ./examples/scan -scan weld.json -part 2/2 -stack parts/2.json
//	go run ./examples/scan -merge 'parts/*.json' -stack whole.json
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"path/filepath"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// options holds the values of the flags.
type options struct {
	scan, out, views   string
	frames, elements   int
	part, merge, stack string
}

// stackName returns the name of the stack of the whole scan.
func (o options) stackName() string { return filepath.Join(o.out, "stack.json") }

func main() { program().Main() }

func program() command.Command {
	var o options
	return command.Command{
		Name:  "scan",
		About: "Scan images the scan of a weld, lists its flaws, and maps which part of the weld was seen.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&o.scan, "scan", "", "the scan to image, a `FILE.json`; none for an invented weld that is computed")
			fs.StringVar(&o.out, "out", "scan", "the `folder` for the pictures, the list, the page and the stack")
			fs.StringVar(&o.views, "view", "TT-TT,TT-T", "the `views`, separated by commas")
			fs.IntVar(&o.frames, "frames", 90, "the `number` of frames of the invented weld, 1 mm apart, at least 90")
			fs.IntVar(&o.elements, "elements", 16, "the `number` of elements of the array over the invented weld")
			fs.StringVar(&o.part, "part", "", "image one part of the scan and stop: `K/N` is part K of N")
			fs.StringVar(&o.merge, "merge", "", "merge the stacks of parts and stop: a `PATTERN` of their names, such as 'parts/*.json'")
			fs.StringVar(&o.stack, "stack", "", "the stack that -part or -merge writes, a `FILE.json`")
		},
		Notes: "Trained personnel interpret pictures and lengths by a procedure that suits the part.",
		Run:   func(ctx context.Context, w, progress io.Writer) error { return run(ctx, w, progress, o) },
	}
}

func run(ctx context.Context, w, progress io.Writer, o options) error {
	if o.merge != "" {
		return merge(w, o)
	}
	if o.scan == "" {
		o.scan = filepath.Join(o.out, "weld.json")
		if err := record(ctx, o); err != nil {
			return err
		}
	}
	weld, err := open(ctx, o)
	if err != nil {
		return err
	}
	defer weld.file.Close()
	if o.part != "" {
		return weld.imagePart(ctx, w, progress, o)
	}

	// Is the scan sound? Positions, lost frames, coupling.
	checked, err := weld.check(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%d frames of %d elements, %.3g mm apart\n", checked.Frames, len(weld.record.Capture.Array.Elements), weld.pitch/mm)
	for _, finding := range checked.Findings {
		fmt.Fprintln(w, " ", finding)
	}

	// Once for each frame: an image of each view, on the disk.
	name := o.stackName()
	if err := weld.image(ctx, name, stack.Options{}, progress); err != nil {
		return err
	}
	images, err := stack.Open(name)
	if err != nil {
		return err
	}
	defer images.Close()

	// What would a reference hole show, at each place of each view, and over the whole scan?
	seen, err := weld.coverage(ctx, images, checked)
	if err != nil {
		return err
	}
	if err := seen.print(w, weld); err != nil {
		return err
	}

	// From above, from the side and along the weld. The strongest echo of all is 0 dB.
	shown, err := weld.project(ctx, images, seen.maps)
	if err != nil {
		return err
	}
	flaws, err := weld.find(ctx, images, shown)
	if err != nil {
		return err
	}
	weld.print(w, flaws)

	files := output.Files{Folder: o.out}
	if err := files.Add("flaws.json", writeFlaws(flaws)); err != nil {
		return err
	}
	pictures, err := weld.pictures(shown, seen, flaws)
	if err != nil {
		return err
	}
	contents, err := addPictures(&files, pictures)
	if err != nil {
		return err
	}
	page := "no page, because no frame has a flaw"
	if len(flaws) > 0 {
		if err := weld.page(ctx, &files, checked, flaws, pictures, contents); err != nil {
			return err
		}
		page = "page.html, record.json"
	}
	if err := files.Commit(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nwritten to %s: plan.png, side.png, end.png, coverage.png, flaws.json, the stack, and %s\n", o.out, page)
	return nil
}
