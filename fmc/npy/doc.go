// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package npy reads and writes captures as a pair of files: NAME.json with the
// set-up and, named by that, NAME.npy with the samples, in NumPy's own format.
// [ReadFile] and [WriteFile] handle the pair on disk, [Read] and [Write] any
// reader and writer. The frames of a scan, many captures of one array, are one
// such pair: [CreateScan] and [OpenScan].
//
// # The samples
//
// NAME.npy is a NumPy array file, version 1.0 or 2.0 of the format, holding
// int16, float32 or float64, little- or big-endian, in C order. Its axes are
// one of
//
//	[transmitter, receiver, sample]  the full matrix of N elements, shape (N, N, K)
//	[event, receiver, sample]        E events of several elements that fire together
//	                                 and all N receivers, shape (E, N, K)
//	[pair, sample]                   any pairs, shape (P, K)
//
// in a scan of F frames with the frame before them: shape (F, N, N, K), (F, E, N,
// K) or (F, P, K). Before the samples stand, as NumPy writes them, the bytes 93 4E 55 4D 50 59
// ("\x93NUMPY"), 01 00 (the version), the length of what follows as a
// little-endian number of 16 bits (02 00 and 32 bits in version 2.0), and a text
// that ends in a line break:
//
//	{'descr': '<i2', 'fortran_order': False, 'shape': (528, 2100), }
//
// with '<i2' for int16, '<f4' for float32, '<f8' for float64, and > for < where
// they are big-endian. The keys stand in this order.
//
// Nothing may follow the last sample. Files are written as version 1.0,
// little-endian, with the header padded to a multiple of 64 bytes. Refused are
// Fortran order, other types, other dimensions, empty arrays, and headers of
// more than 65535 bytes.
//
// The whole file may be compressed by gzip (RFC 1952); its first bytes, 1F 8B,
// tell. [WriteFileGzip] calls it NAME.npy.gz.
//
// Samples are float32 once read: int16 as the same value, without scaling;
// float64 rounded to nearest, which is off by 6e-8 of the value at most. NaN,
// Inf and what is beyond float32 are refused.
//
// # The set-up
//
// NAME.json is one JSON object (RFC 8259) in UTF-8, of at most [MaxSetup] bytes. Every field below must be
// there, and no other, each once and spelt so; null stands nowhere but as the
// coupling. What has no field, as a date, an operator or a gain, goes into notes.
// Texts are one line of visible characters and spaces, at most [MaxText] bytes in
// UTF-8, without control and format characters. The order of fields does not matter. Lengths are in metres, times
// in seconds, and so on, as the end of each name says.
//
//	title                      text for people
//	notes                      may be missing: an object with up to 100 fields of any
//	                           names, whose values are texts or numbers; it has no
//	                           effect here, and is kept
//	capture
//	  file                     name of the .npy file, in the same folder: no path, at
//	                           most 255 bytes
//	  order                    "transmitter, receiver, sample" or "pair, sample", with
//	                           events "event, receiver, sample" or "pair, sample";
//	                           with "frame, " before it in a scan
//	  sample_rate_hz           above 0
//	  first_sample_s           time of sample 0; time 0 is the centre of the
//	                           transmitted pulse's envelope
//	  pairs                    for "pair, sample" only: [[tx, rx], ...], elements from
//	                           0, each pair once. Without it P must be N(N+1)/2, and
//	                           the pairs are those with rx >= tx: [0, 0], [0, 1], ...
//	                           [0, N-1], [1, 1], [1, 2], ... With events it must be
//	                           there, and its tx number them, from 0
//	  events                   missing where elements fire alone; else a list of E, at
//	                           least one, in which element i sends weights[i] times its
//	                           pulse, delays_s[i] after time 0
//	    delays_s               N numbers
//	    weights                N numbers, not all 0; 0 is an element that is silent
//	array
//	  centre_frequency_hz      above 0
//	  bandwidth_6db            at -6 dB, as a fraction of the centre frequency,
//	                           above 0 and below 2
//	  element_width_m          along the array, above 0
//	  element_centres_m        N of [x, z], or N of [x, y, z]; distinct
//	coupling                   the wedge or water between array and part; null for
//	                           an array in contact with the part
//	  name                     text
//	  density_kg_m3            above 0
//	  longitudinal_m_s         above 0
//	  transverse_m_s           0 for a fluid, else below 0.866 of longitudinal_m_s
//	surface                    the entry surface of the part
//	  shape                    "plane": z = 0
//	                           "cylinder": convex, axis along y at x = 0, z = radius_m
//	                           "profile": z between the given points
//	  radius_m                 for a cylinder only, above 0
//	  points_m                 for a profile only: two or more [x, z], x ascending
//	part
//	  name, density_kg_m3, longitudinal_m_s, transverse_m_s    as for coupling
//	  thickness_m              above 0; for a cylinder the wall, below radius_m;
//	                           else the far surface is z = thickness_m
//	truth                      known reflectors, for pictures and tests; may be missing
//	  holes                    any number of side-drilled holes along y
//	    x_m, z_m               axis
//	    diameter_m             above 0
//	  slits                    any number of flat voids along y
//	    x0_m, z0_m, x1_m, z1_m ends, distinct
//	    width_m                opening, not below 0
//	scan                       in a scan, and there only: lists of F, one each a frame
//	  indices                  whole numbers from 0, ascending; a gap is a frame that
//	                           was lost
//	  times_s                  since the start of the scan
//	  positions_m              of the encoder along the scan
//
// Sample k of a trace was taken at first_sample_s + k/sample_rate_hz. Axes are
// those of package fmc: x along the entry surface, y along the weld, z into
// the part.
//
// A record can be read into NumPy without this package:
//
//	import gzip, json, numpy as np
//	setup = json.load(open("weld32.json", encoding="utf-8"))
//	file = setup["capture"]["file"]
//	packed = open(file, "rb").read(2) == b"\x1f\x8b"
//	s = np.load(gzip.open(file)) if packed else np.load(file, mmap_mode="r")
//	if "scan" in setup:
//	    s = s[0]  # frame 0, taken at setup["scan"]["positions_m"][0]
//	n = len(setup["array"]["element_centres_m"])
//	events = setup["capture"].get("events")
//	full = s  # [transmitter or event, receiver, sample]
//	if setup["capture"]["order"].endswith("pair, sample"):
//	    tx, rx = np.transpose(setup["capture"].get("pairs") or np.transpose(np.triu_indices(n)))
//	    full = np.zeros((len(events or range(n)), n, s.shape[-1]), s.dtype)
//	    if not events:
//	        full[rx, tx] = s  # by reciprocity
//	    full[tx, rx] = s
//	t = setup["capture"]["first_sample_s"] + np.arange(s.shape[-1]) / setup["capture"]["sample_rate_hz"]
//
// # What is plausible
//
// A set-up can be possible and yet be wrong, because a value was given in another
// unit. Reading refuses a set-up with a value outside the ranges below, unless it is
// told otherwise by [AllowImplausible]; [Record.Implausible] lists such values.
// Writing does not refuse it: a capture that was taken is not lost. The ranges are
// common practice in industrial ultrasonics, without a source. Wavelengths are those of
// longitudinal waves, of the coupling for the array and of the part for the rest.
//
//	array.centre_frequency_hz   0.1 to 50 MHz
//	array.bandwidth_6db         0.05 to 1.5
//	array.element_width_m       0.05 to 50 wavelengths, and 0.01 to 1 times the distance
//	                            of two neighbours in a row
//	array.element_centres_m     neighbours 0.05 to 10 wavelengths apart; with a coupling
//	                            0.25 wavelengths to 1 m above the entry surface, and
//	                            tilted up to 0.45 rad more than the last critical angle
//	capture.sample_rate_hz      2 to 500 times the centre frequency
//	capture.first_sample_s      from 100 periods before time 0, to 50 times the two-way
//	                            travel through the part after the echo of its surface;
//	                            the last sample is not before that echo
//	capture.events.delays_s     within 5 times the travel along the array and 10 periods
//	density_kg_m3               100 to 23000 kg/m³
//	longitudinal_m_s            300 to 13000 m/s
//	transverse_m_s              0 for a fluid, else 0.1 to 0.71 of longitudinal_m_s
//	  all three                 within 25 % of the entries of package material's handbook,
//	                            if it has the name of the medium
//	surface.radius_m            2 mm to 10 m, and 0.1 to 300 times the array's length
//	surface.points_m            0.5 to 100 times as long as the array; slopes up to 87°
//	part.thickness_m            0.1 mm to 5 m, 0.5 to 2500 wavelengths, and 0.01 to 10
//	                            times the depth that the record reaches
//	truth                       in the part, and within 1.5 times the reach of the record
//	                            and the array; holes from 0.01 wavelengths in diameter to
//	                            the thickness; slits not wider than long
//	scan.positions_m            0.02 to 200 mm from frame to frame, the median
//	scan.times_s                0.1 mm/s to 5 m/s, the median
//
// Of slips by a factor of a thousand in one field some cannot be found, because the
// wrong value is as plausible as the right one: a time of the first sample divided by a
// thousand is near 0, where most records begin; the heights of a profile become those of
// a plane; a reflector moves under the middle of the array, or ends at the surface, or
// becomes a closed crack. A set-up that is plausible may also be wrong by less.
//
// # Replacing a record
//
// The array of a new record is called NAME.npy. That of one which replaces another
// gets a name that no array had before, NAME-0123456789abcdef.npy with 16 random
// hexadecimal digits, and the set-up names it. So one rename, that of the set-up,
// replaces the pair, once both new files are on the disk. Then the old array is
// removed, if its name is one of these two kinds: a set-up of another name that
// shares the array loses it.
//
// A new file has the mode that os.Create gives: 0666 less the umask. A file that
// replaces another has the mode of that file, the array the mode of the array that
// the old set-up names. Owner, group and access lists are not kept. A symbolic link
// called NAME.json is replaced by a file; the file that it leads to stays.
//
// A writer that is killed leaves files that no set-up names: two that end in ".tmp"
// or, seldom, an array. They may be deleted.
//
// Windows neither removes nor replaces a file that is open. There the array of a
// scan stays behind if it is being read while the scan is replaced, and to replace a
// record at the very moment that its .json file is being read is an error, which
// leaves the old record. Whether the names reach the disk in the right order should
// the power fail is, there, up to the file system.
//
// # Faulty files
//
// Files may come from anywhere. Every fault is an error, none a panic:
// malformed, truncated and oversized files, headers that promise more than
// there is, and each disagreement between the two files ([ErrMismatch]).
// Memory is bounded, whatever the files say: for samples by [LimitSamples], whose default
// is [MaxSamples], for the set-up by [MaxSetup]. Below these bounds memory grows only
// as bytes arrive. The set-up cannot name a file outside its folder by a path; it may
// name a symbolic link there. No text of a file, and no error that quotes one, holds a
// character that acts on a terminal.
//
// A file may be cut short, or its disk may fail, while a scan in it is open: that is
// an error too. Only the samples that [ScanReader.Int16] hands out are not protected.
//
// The functions are safe for concurrent use. A record may be read, also by other
// processes, while it is replaced, but has one writer at a time.
package npy
