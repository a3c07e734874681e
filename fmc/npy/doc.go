// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package npy stores captures, and scans of many captures, in files.
//
//	record, err := npy.ReadFile("weld32.json", nil) // a capture and its set-up
//	setup, err := record.Geometry()                 // the set-up for package wedge
//	err = npy.WriteFile("copy.json", record, npy.Int16)
//
//	w, err := npy.CreateScan("scan.json", record, npy.Int16)
//	err = w.Append(fmc.Frame{Index: 0, Time: 0, Position: 0, Capture: record.Capture})
//	err = w.Close()
//
//	scan, err := npy.OpenScan("scan.json", nil)
//	for frame, err := range fmc.Frames(ctx, scan.Next) { /* frame.Capture holds the samples */ }
//	err = scan.Close()
//
// # A capture
//
// A [Record] is a capture and the set-up that it was taken with: the coupling, the entry surface,
// the part and the known reflectors. It is stored in two files in one folder. NAME.json holds the
// set-up. NAME.npy holds the samples as a NumPy array. The set-up names the array, so programs
// name the .json file only.
//
// [ReadFile] and [WriteFile] read and write both files. [WriteFileGzip] compresses the samples;
// the readers recognise compressed samples by themselves. [Read] and [Write] do the same for any
// reader and writer.
//
// The samples in the file are of type [Int16], [Float32] or [Float64]. In memory they are float32.
// An int16 keeps its value, without scaling. A float64 is rounded to the nearest float32, which
// changes it by 6e-8 of its value at most.
//
// A program that makes a capture fills the set-up of a Record first, takes the geometry from
// [Record.Geometry], and sets Capture last. There is no way back from a wedge.Setup to a Record: a
// Record does not hold the gaps, sides and voids of a wedge.Setup. After reading, set these fields
// in the result of Record.Geometry, or take the set-up of package wedge/joint.
//
// A set-up may hold a [Weld] with columnar grains. [Record.Geometry] then describes the parent
// metal, and [Record.Welded] returns the welded part for package wedge/graded. [ReadWeld] reads a
// weld from a file of its own.
//
// [Record.UsualViews] and [Record.UsualSection] return the views and the section in which a set-up
// is usually imaged.
//
// FORMAT.md, in the folder of this package, describes both files, with a program that reads them
// into NumPy.
//
// # A scan
//
// A scan holds many frames of one array: captures with the same set-up, elements, pairs and times.
// It is stored in two files as well. Each frame has an index, a time, a position along and a
// position across the scan, and the count of its encoder. [CreateScan] begins a scan,
// [ScanWriter.Append] writes a frame to the disk, and [ScanWriter.Close] completes the files.
// [OpenScan] reads frames in any order or one after the other. A single capture is opened as a
// scan of one frame. Package fmc/scan tells where the frames lie in the part, and checks the scan.
//
// # Implausible set-ups
//
// A set-up can be possible and yet be wrong, because a value was given in another unit. Reading
// refuses a set-up with a value outside the range that is common in industrial ultrasonics. The
// error wraps [ErrImplausible]. It names the value, the range and the likely slip. With
// [ReadOptions].AllowImplausible such a set-up is read too. [Record.Validate] finds such values in
// a record. Writing does not refuse them: a capture that was taken is not lost.
//
// Some errors by a factor of a thousand in one field cannot be found, because the wrong value is
// as plausible as the right value. FORMAT.md lists the ranges and these errors. Smaller errors in
// a plausible set-up are not found either.
//
// # Replacing a record
//
// The array of a new record is called NAME.npy. If a record replaces another, its array gets a
// name that no array had before: NAME-0123456789abcdef.npy, with 16 random hexadecimal digits. The
// set-up contains this name. First both new files are brought to the disk. Then one rename, the
// rename of the set-up, replaces both files. Last the old array is removed, if its name has one of
// these two forms. If a set-up of another name shares the old array, that set-up then has no
// array.
//
// A new file has the mode that os.Create gives: 0666 less the umask. A set-up that replaces
// another keeps the mode of the old set-up, and the array keeps the mode of the old array. Owner,
// group and access lists are not kept. If NAME.json is a symbolic link, then a file replaces the
// link, and the file that the link leads to stays.
//
// A writer that is killed leaves files that no set-up names: two files that end in ".tmp" or,
// seldom, an array. They may be deleted.
//
// Windows neither removes nor replaces a file that is open. There the old array stays behind if a
// reader has it open. If a record is replaced while its .json file is being read, the replacement
// fails, and the old record stays. If the power fails on Windows, the file system determines in
// which order the names reach the disk.
//
// # Files from anywhere
//
// Every fault of a file is an error, and none is a panic. Faults are malformed, truncated and
// oversized files, headers that promise more than there is, and every disagreement of the two
// files. Memory is bounded, whatever the files state: for samples by [ReadOptions].MaxSamples, for
// the set-up by its greatest length, 32 MiB. Below these bounds memory grows only while bytes
// arrive. The set-up cannot name a file outside its folder by a path, but it may name a symbolic
// link in its folder. No text of a set-up, and no error that quotes a file, holds a character that
// acts on a terminal.
//
// If a file is cut short while its scan is open, or its disk fails, reading returns an error. Only
// the memory that [ScanReader.Int16] returns is not protected.
//
// # Concurrency
//
// The functions may be called at the same time. While a record is replaced, any number of programs
// may read it. A record has one writer at a time.
//
// # For contributors
//
// Writing: write.go and scan_write.go fill two temporary files; pending.go gives them their names.
// A new step of the commit belongs in pending.steps only, because TestCrash stops after each step.
//
// Reading: setup_read.go decodes the set-up in place by value.go, header.go and samples.go read
// the array. A size that a header states is never used to allocate memory before the bytes have
// arrived. memory_test.go measures this for every reader, memory_setup_test.go for every kind of
// list in a set-up, and the fuzz targets for every input. The frames of a scan come from one of
// three stores: mapped memory, a file, or a stream.
//
// A new field of the set-up is one line in setup_read.go, one line in record.go or setup_write.go,
// and one row in FORMAT.md. Every text of the set-up passes validateText.
//
// Plausibility: plausible_range.go holds the ranges, plausible_measure.go computes the quantities,
// and plausible_judge.go and plausible_truth.go compare them. TestUnitSlips makes every slip in
// every field of the reference captures.
package npy
