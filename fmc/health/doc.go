// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package health judges a capture and the array that made it: which elements are dead,
// weak, reversed, uncoupled or late, how noisy the receivers are, what is clipped, and
// whether an image of the capture can be trusted. [Assess] measures and gives verdicts
// against [Limits]; [Watch] tells what changes over the frames of a scan; [NewRepair] makes the
// weights with which package tfm leaves the bad elements out.
//
// # Elements are compared by echoes
//
// Let E(i→j) be the energy of pair i→j in the echo gate, the sum of the squares less
// what the noise adds, and L = 10·log10(E) its level in dB. The model
//
//	L(i→j) = t(i) + r(j) + f(d)
//
// has a sensitivity t of each transmitter, r of each receiver, both with the median 0,
// and a function f of the distance d of the two elements, for what path and angle make
// of an echo. Fitted by medians it bears with bad elements as long as they are the
// minority. What is far below the others is measured by all its pairs together, which
// reaches below the noise of a single trace. [Side.Level] is t or r; [Side.Relative] is
// what remains of it after a linear baseline through the eight nearest sound elements,
// so that neither the slope of a wedge nor the shadow of a reflector counts as
// weakness, unless it is as abrupt as a fault.
//
// Polarity and time zero are found by cross-correlating the traces of an element with
// those of its neighbours to and from the same partners, in the band of the array. For
// each pair of neighbours the greater extreme of the correlation, over all partners, tells
// the sign, and its lag tells the delay, less the delay that is usual between elements
// so far from their partners. [Side.Drift] is the time zero less a baseline as above; of
// a straight and a curved baseline the one nearer to the element counts. Both are
// relative: the majority is taken for right, and an error that all elements share, or
// that grows evenly along the array, cannot be seen.
//
// Where a capture lacks the reciprocal of some pair, t and r are taken to be the same. In
// a full matrix a dead transmitter can be told from a dead receiver.
//
// # Not known
//
// A number that the capture does not prove is NaN, and makes no finding:
//
//   - Levels, polarity and time zero, where no echo stands out of the noise by six standard
//     deviations.
//   - Polarity, if the evidence of the element's links with its neighbours for the sign
//     is below three standard errors. Each link's evidence is the difference of both
//     extremes over its scatter among the partners. So it is with narrow-band
//     interference that is not steady: both extremes are then alike. Polarity is not
//     known either of elements 10 dB or more below the median, and of elements that are
//     not connected with the majority.
//   - Time zero, if the polarity is not known or its likeness is below 0.6; if fewer than
//     two links, or less than two thirds of them, agree to 0.15 of a period; and in a
//     piece of the array of fewer than five elements. A gap of two dead neighbours or
//     more, or one that no two agreeing links cross, ends a piece.
//
// # Interference
//
// A steady tone has the same amplitude and phase throughout a trace. It is looked for after the
// initial pulse, between 0.2 and 2.5 of the centre frequency, in the mean spectrum of
// traces in which echoes are weighted down. A line counts that is 8 times as strong as the
// median of the frequencies about it, more where there are few traces, and equally
// strong in six of eight parts of the record. Up to eight tones are fitted to each trace and
// taken away before all else is measured, saturation excepted. [Report.Tones] holds
// frequency, level and share of the traces. Tones of 5 % of the median echo or more are
// found in the captures of testdata at a noise of 3 %, tones of 2 % where the record is not
// full of echoes. The level found is within 20 %, and lower the more echoes there are. Tones
// are not looked for in a record shorter than 16 periods after the initial pulse, or with
// fewer than four samples a period. Tones in bursts, or whose frequency varies, are not found;
// they make polarity and time zero unsure, that is not known.
//
// # What else is measured
//
//   - Noise: 1.4826 × the median absolute deviation in the noise gate. Receivers are
//     compared by the mean square there.
//   - Signal-to-noise ratio: 20·log10 of the largest modulus in the echo gate over the
//     noise of the trace. Noise alone reads some 7 to 11 dB, as its largest sample
//     counts.
//   - Offset: the median of the trace.
//   - Saturation: samples at full scale, in the echo gate. The clipped initial pulse of
//     an own trace does not count, but [Pair.Clipped] tells of it.
//   - Cross-talk: √2 × the root mean square, noise removed, within half a pulse length
//     1/(B·f) of time 0, of pairs so distant that no wave is there yet. Nearer pairs
//     cannot be judged, nor can a record that begins later.
//   - Reciprocity: the norm of the difference of i→j and j→i about the echo, over the
//     root mean square of both norms.
//   - Coupling: the two-way level, t + r, in the coupling gate. An element of low
//     coupling is called uncoupled, rather than dead or weak, if its initial pulse is
//     like that of the others or other echoes reach it as before.
//   - Centre frequency and bandwidth: half the sum, and the difference over it, of the
//     frequencies 6 dB below the peak of the spectrum of the echo (Welch's method of
//     one segment, go-dsp).
//
// # Single traces and places
//
// Some faults spare most traces of an element, or leave each trace as it should be. They are looked
// for by comparing single traces with their reciprocal ones, with those of the pairs around, and
// elements with other places.
//
//   - [Side.Lost]: a trace is lost if it is 8 dB below its reciprocal trace, where both ends as
//     a whole are as they should be. Without reciprocal traces it must be 8 dB below those around
//     in every block of one pulse length in which those stand out of the noise.
//   - [Side.Jitter]: the scatter of the lags of an element's traces. In a full matrix those
//     against the reciprocal traces tell how much, those against neighbours tell the side.
//   - [Pair.Spike]: a sample, or its deviation from the mean of both next to it, of twice what
//     all traces around and beside have within a pulse length of that time, and of 8 standard
//     deviations of the noise.
//   - [Element.Step]: the least difference of two samples of a trace, the median over traces.
//   - [Side.Order]: the regression of an element's correlations with the traces next to its
//     place on those of the elements nearby, in its place less in a neighbour's. For an
//     exchange both elements must gain, and fit in the new place at 0.35 or more.
//
// The table says what each check finds and what it does not see. "Half" is a capture without
// reciprocal pairs. Sizes are those found at the chosen elements of full-wave captures at 3 % noise.
//
//	finding       found from                   not seen                            may come with
//	dead, weak    12 dB; 4 dB                  losses common to neighbours         spread
//	uncoupled     8 dB, both ways              without an initial pulse: as dead   -
//	reversed      likeness -0.3                a reversed majority; while elements drift
//	                                           are exchanged
//	drift         0.25 periods                 even growth along the array; while  reciprocity
//	                                           elements are exchanged
//	noisy, offset 6 dB; 0.05 of the echo       noise common to all receivers       -
//	saturated     three equal extremes         a soft limiter                      reciprocity
//	cross-talk    0.32 of the echo             near pairs, late records            -
//	lost shots    a fifth of the traces of an  one trace alone; three quarters or  noisy
//	              end; half: 0.15 of all       more; losses below 8 dB; half: the
//	                                           side
//	jitter        0.2 periods, Gaussian        slower than from trace to trace;    drift of other elements,
//	                                           half: the side; fewer than eight    where echoes shift
//	                                           clear traces                        along the array
//	spike         3 times the echo             before the end of the initial       noisy, of a receiver
//	                                           pulse; in all traces of an end;     with few traces
//	                                           below twice the echo there, unless
//	                                           of one sample
//	coarse steps  0.05 of the echo             noise or a filter after the         -
//	                                           digitiser
//	exchanged     neighbours, or three places  while an element is dead, weak or   jitter
//	              apart                        reversed; where an order number is
//	                                           near 0, as under a wavy surface; all
//	                                           mirrored; on a wedge the two found may
//	                                           be others
//	sample rate   0.1, of a wall whose times   without [Options.Wall]; where the echo is   centre frequency
//	              the caller gives             not coherent; a wrong speed or depth
//	                                           looks the same
//	reciprocity   0.3 of the trace             half; what both directions share    -
//	frequency     0.2 of the centre frequency  a sample rate wrong by less; a time -
//	                                           zero wrong for all
//	interference  0.02 of the echo             bursts                              -
//	gain drift    2 dB, by [Watch]             without noise or initial pulses     -
//	lost          12 dB two-way, by [Watch]    what was lost in the first frames   -
//
// For the wall, traces are shifted to the times zero + rate·T of its echo and added, for rates from
// 0.6 to 1.6 of the stated one; the strongest sum tells [Report.Rate] and [Report.TimeZero]. The
// initial pulses bound the time zero; without them it may be off by a quarter of the time to the
// wall, and only the change with distance tells it from the rate: [Report.RateError] is then
// large. Both numbers are not known where the semblance of the sum is below 0.4.
//
// # Verdicts and false alarms
//
// Every verdict is a [Finding]: what, where, how much, and the limit. A dead end has lost
// [Limits.Dead] against the median element, a weak one [Limits.Weak] against its
// neighbours. A reversed end is like its neighbours with the opposite sign, by
// [Limits.Reversed]. An end with drift is late or early by [Limits.Drift]. No finding says
// that nothing exceeds its limit as far as it is known, not that all is known. The default
// limits are common practice, no source. In 1,000 seeded trials of 12 elements over a
// plate, in noise 20 dB below the echo, with up to three faults planted in each (dead,
// 6 and 9 dB weak, reversed, late by 0.45 or early by 0.4 of a period, noise up 9.5 dB,
// offset of a tenth of the echo, uncoupled, cross-talk 1.4 times as large as the echo,
// each in full and in half matrices), all were found and none was invented. The trials
// in the tests served to choose the limits; 1,000 more, run once with seeds not used
// before, gave the same. By these, the rate of captures with a fault missed or invented
// is below 0.3 % with a confidence of 95 %, for faults of those sizes or more. The
// captures of the project's testdata, which are full-wave computations without faults,
// have no finding.
//
// One, two or three dead neighbours, anywhere in those captures, are found at 3 % noise, and
// nothing else is.
//
// Fewer elements, more faults or less signal make all this less sure. A block of bad
// elements in which none has a sound neighbour shows in Level only, and half of the
// array or more cannot be told from the other half. A delay of half a period and a
// reversal resemble each other; the broader the pulse the better they are told apart.
// An element that is disconnected while its pulser feeds through into its receiver
// looks uncoupled. The default echo gate may hold waves along the surface, which say
// nothing about the coupling: set the gate to a back-wall or wedge-floor echo where
// there is one.
//
// # What a repair does and refuses
//
// [NewRepair] acts on findings alone, so on what exceeds its limit. By default it leaves out
// dead ends and turns reversed ones; weak and uncoupled ends are raised only if a largest
// gain is set. What is not known stays as it is. It refuses to change more than a
// quarter of the elements, with the reason: so many faults are rather one fault of the
// comparison, and an echo of a flaw that is turned against the others vanishes from
// the image.
//
// A healthy report does not qualify an inspection. Verification of equipment and the
// limits to apply are set by the procedure and the codes in force, and are the business
// of qualified personnel.
//
// # Special cases
//
// A single element is compared with nobody: level 0, polarity positive, no drift. A
// capture without echoes, all zeros for example, gives the finding [NoEcho], and levels
// that are not known. Arrays of more than 4096 elements are refused. Reports are
// immutable plain data; Assess may be called from many goroutines on one capture.
package health
