// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

// about is the first paragraph of -h.
const about = `
Inspect images a capture of an ultrasonic array by the total focusing method and
reports the indications that it finds.`

// notes is the text of -h after the flags.
const notes = `
It prints the flaws, a table of the indications and the time of each stage. It writes these files
into the folder of -out. If there is an error, it writes none of them:

  VIEW.png          a picture of each view: levels in dB; the surfaces of the part in
                    grey; the known reflectors of the set-up in blue; the numbered
                    indications in green; echoes of walls in pale grey; ghosts in
                    dashed violet. Pixels for
                    which the record holds nothing are plain grey
  indications.json  the flaws; the indications and the walls of all views, the set-up
                    and the options; lengths in m, angles in radians
  indications.csv   the indications as a table
  flaws.csv         the flaws as a table
  flaw-NUMBER.json  the A-scan of a beam through a planar flaw or a point
  record.json       the flaws with all that is needed to measure them again: package
                    sizing/report reads and repeats it

A flaw is all that the indications of the views show of one reflector. Planar flaws show
tips, a corner or a face. Points show the echo of a small or round reflector. Geometry is
the echo of a surface. Unknown is the rest, often ghosts. The kinds are evidence, and no
verdict. ± is the uncertainty for 95 % that the picture causes. Errors of wave speeds,
wedge and probe position add to it. ≥ marks a length of which the flaw may have more.
-report writes the flaws as a page to print.

A view names the legs inside the part. T-T goes down and comes back directly as a
transverse wave. TT-T skips once off the back wall on the way in. L-L uses the
longitudinal wave. The receive path is read towards the array. Without -view, the views
follow from the wave that enters the part: L-L for a longitudinal wave; T-T, TT-T and
TT-TT beyond the first critical angle. TL-L shows the side of a flaw on the back wall for
an array in contact.

Indications are numbered from the strongest one, and the walls after them. The extents of
an indication are the extents of the area within 6 dB of its own peak. The tilt is the
angle between the long axis of this area and the vertical, positive if the top leans to
+x. If the area is not several beam widths long, its tilt is the tilt of the focus, not of
a flaw.

An echo is the echo of a wall if two conditions hold: the wall can mirror the rays of the
view towards the array, and the 6 dB area lies along the wall within the length of a
pulse, and is as flat as the echo of the wall alone. Such an echo has a W before
its number, and does not set 0 dB. A flaw on
the wall that is lower than the length of the pulse looks like the wall in such a view.
Look at the wall from the side, by T-T or TT-T with a wedge.

A ghost is an indication where no reflector is: an echo of a wall or of a known reflector
on another path than the paths of the view. It is explained if muting this echo in the
traces takes the indication away. It keeps its number, and the file names the echo. A
flaw may lie at the same place. Confirm it in another view. Dashed violet lines show
where such echoes are expected.

An indication has an s if pixels of its area may not show all that lies there: no ray
reaches them, the record ends before their echo, they lie too far apart, or they are
clipped. The receiver clips at the largest sample if a trace holds this value for longer
than a wave does. Then sizes, levels and places of clipped echoes are wrong.

The background of an indication is the median amplitude within 1.5 mm of its depth,
without the indication. Only one spot of speckle in 65,000 exceeds its median by 12 dB.

Sizes from amplitudes are estimates. A spot as small as the beam says nothing about the
size of a smooth crack: perhaps only one of its tips shows. Applicable codes, procedures
and qualified people decide what an indication means.`
