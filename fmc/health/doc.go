// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package health judges a capture and the array that made it: which elements are dead, weak,
// reversed, uncoupled or late, how noisy the receivers are, and whether an image can be trusted.
//
//	report, err := health.Assess(capture, nil) // nil: default gates and limits
//	if err != nil {
//		log.Fatal(err)
//	}
//	for _, finding := range report.Findings {
//		fmt.Println(finding) // dead: element 3: 26.5 dB, limit 12 dB
//	}
//	repair, err := health.NewRepair(capture, report, nil)
//	options := &tfm.Options{Weights: repair.Weights}
//	plan, err := tfm.PlanView(ctx, capture, setup, "L-L", grid, options)
//
// [Assess] measures, and compares the numbers with [Limits]. Each number beyond its limit makes a
// [Finding]. [NewRepair] makes weights that leave out dead elements and turn reversed ones. [Watch]
// finds changes over the frames of a scan. [Report.String] prints a table of the elements.
//
// If the capture does not prove a number, the number is not known: it is NaN, and makes no
// finding. So a report without findings does not say that all elements are sound. Look at the
// numbers with [Number.Known].
//
// A healthy report does not qualify an inspection. The procedure and the codes in force set the
// verification of equipment and the limits. Both are the work of qualified personnel.
//
// # What each check finds
//
// Sizes are the smallest sizes that were found in the trials below. "Half" is a capture without
// reciprocal pairs. "Triggers" lists findings of other kinds that one fault may cause.
//
//	check        finds from           does not see         triggers     not known
//	dead         12 dB below the      more than half dead  -            no echo in the capture
//	             median
//	weak         4 dB against         losses common to     spread       no echo
//	             neighbours           neighbours
//	uncoupled    8 dB, both ways      without an initial   -            no echo
//	                                  pulse: reads as dead
//	reversed     likeness -0.3        a reversed majority  -            evidence below 3
//	                                                                    standard errors; 10 dB
//	                                                                    weak; reciprocal traces
//	                                                                    contradict; near a
//	                                                                    likely exchange
//	drift        0.25 periods and 2   even growth along    reciprocity  as reversed; likeness
//	             standard errors      the array                         below 0.6; pieces below
//	                                                                    5 elements; beside gaps
//	noisy        6 dB                 noise of all         -            half: reverberation
//	                                  receivers                         counts as noise
//	offset       0.05 of the echo     -                    -            no echo
//	saturated    3 equal extremes     soft limiters        reciprocity  -
//	cross-talk   0.32 of the echo     near pairs           -            records that begin late
//	lost shots   a fifth of the       one trace alone;     noisy        fewer than 4 clear
//	             traces; half: 0.15   three quarters or                 traces
//	             of all               more; half: the end
//	jitter       0.2 periods,         slow changes; the    drift of     fewer than 8 clear
//	             Gaussian             end, in half         other        traces; half: one of
//	                                  captures and among   elements     the 3 nearest is dead
//	                                  coarse grains        where echoes
//	                                                       shift
//	spike        3 times the echo     spikes in the        noisy        half of the neighbours
//	                                  initial pulse; in                 dead, or one of the
//	                                  all traces of an end              two nearest
//	coarse steps 0.05 of the echo     noise or a filter    -            -
//	                                  after the digitiser
//	exchanged    neighbours, or three an order mirrored as jitter,      an element dead, 6 dB
//	             places apart         a whole              drift, weak, weak or reversed; other
//	                                                       spike,       orders fit as well
//	                                                       spread
//	sample rate  0.1, by a wall whose a wrong speed or     frequency    without Options.Wall;
//	             times are given      depth reads the same              semblance below 0.4
//	reciprocity  0.3 of the trace     faults of both ends  -            half
//	interference 0.035 of the echo;   bursts; tones that   -            records below 16
//	             0.2 among coarse     change                            periods; fewer than 4
//	             grains                                                 samples a period
//	gain drift   2 dB, by Watch       -                    -            neither noise nor
//	                                                                    initial pulses
//
// # What the trials showed
//
// The captures are twelve full-wave computations, with noise of 3 % of the median echo added. Six
// are in testdata and served to choose limits: block16, notch32, pipe32, sdh32, wavy32 and weld32.
// Six more are two plates and two welds with slits, and two austenitic parts with columnar grains:
// grain32 in contact, and grainw32 on a wedge. All elements of the captures are sound. "Wrong"
// counts trials in which a finding named a sound element, or a repair would have changed one.
//
//	planted                              captures  trials  missed  not known  wrong
//	nothing                              12        81      -       -          0
//	1 dead element                       12        184     0       -          0
//	2 dead neighbours                    12        126     0       -          0
//	3 dead neighbours                    12        155     0       -          0
//	half dead, at random                 12        36      0       -          0
//	every third dead                     12        12      0       -          0
//	reversed                             12        54      0       5          0
//	exchanged neighbours                 12        80      0       13         0
//	exchanged, three apart               12        69      0       11         0
//	reversed, late, dead or weak, with   6         88      0       1          0
//	  a tone of 5 to 20 %
//	tones of 3.5 to 20 %                 3         96      0       -          0
//	tones of 3.5, 5, 10 and 20 %         grain32   40      6 6 2 0 -          0
//	lost shots, jitter, spikes, steps    4         88      0       -          0
//
// The trials found faults of the checks. Each fault was corrected, and the trials that showed the
// fault were run again. Not all other trials were repeated after the last change.
//
// Exchanges are not known mostly in pipe32, wavy32 and grain32, where echoes of neighbours differ
// as much as echoes of elements farther apart. Then one of the exchanged elements may be called
// late or weak. Tones of 2 % are removed from the traces, but their measured level is just below
// the limit of a finding. The frequency of a tone is within 0.2 %, and its level within 20 %. In 4
// of 12 trials with jitter in grain32, both ends were named in place of one.
//
// In seeded trials of 12 elements over a plate, noise is 20 dB below the echo, and up to three
// faults are planted. The faults are dead, 6 and 9 dB weak, reversed, late by 0.45 or early by 0.4
// of a period, noise up 9.5 dB, an offset of a tenth of the echo, uncoupled, and cross-talk of 1.4
// of the echo, in full and half matrices. In 1,000 trials that served to choose the limits, all
// faults were found and none was invented. In 1,000 trials with other seeds, drift was not known in
// 2, and nothing else was missed or invented.
//
// The default limits are common practice, no source.
//
// # What a repair does and refuses
//
// [NewRepair] acts on findings whose value exceeds their limit. By default it leaves out dead ends
// and turns reversed ones. It raises weak and uncoupled ends only if a largest gain is set. What
// is not known stays as it is. It refuses to change more than a quarter of the elements: with so
// many findings the comparison itself is probably wrong. A wrong repair harms: if the sign of a
// sound trace is reversed, the echo of a flaw may vanish from the image.
//
// # Advice
//
// The default echo gate may hold waves along the surface, which do not pass the coupling. Set the
// gate to the echo of a back wall or a wedge floor where there is one. Verdicts are less certain
// with fewer elements, more faults and less signal. A delay of half a period resembles a reversal,
// more so in a narrow band. A disconnected element looks uncoupled if the signal of its pulser
// reaches its receiver electrically.
//
// A single element has no other element to be compared with: its level is 0, and its polarity is
// positive. A capture without echoes gives the finding [NoEcho], and unknown levels. Arrays of
// more than 4096 elements are refused. Reports are plain data. Assess may be called from many
// goroutines on one capture.
//
// # For contributors
//
// Levels. E(i→j) is the energy of pair i→j in the echo gate, the sum of the squares less the energy
// of the noise, and L = 10·log10(E) its level in dB. The model is
//
//	L(i→j) = t(i) + r(j) + f(d)
//
// with a sensitivity t of each transmitter and r of each receiver, both of median 0, and a function
// f of the distance d. It is fitted by medians. Elements without any echo above the noise are left
// out of the medians, so that half of the array may be dead. The level of an element far below the
// others is measured by all its pairs together. [Channel.Level] is t or r. [Channel.Relative] is
// the rest after a linear baseline through the eight nearest sound elements.
//
// Polarity and time zero. The traces of an element are cross-correlated with the traces of close
// neighbours and the same partners, in the band of the array. The greater extreme of the
// correlation gives the sign. The lag of this extreme, less the usual lag at such distances, gives
// the delay. [Channel.Drift] is the time zero less a baseline. A straight and a curved baseline are
// computed, and the baseline nearer to the element counts. Its error comes from the scatter over
// partners and over neighbours. A fault of one end alone must also show against the reciprocal
// traces. Both numbers are relative: the majority counts as right.
//
// Interference. A steady tone has one amplitude and phase throughout a trace. Tones are searched
// after the initial pulse, between 0.2 and 2.5 of the centre frequency, in the mean spectrum of
// traces in which echoes have less weight. A line counts if it is 8 times as strong as the median
// of the frequencies around it, and equally strong in six of eight parts of the record. Up to
// eight tones are fitted to each trace and removed before anything else is measured, except
// saturation.
//
// Single traces. A trace is lost if it is 8 dB below its reciprocal trace; in a half capture, if
// it is 8 dB below the traces around it in every block of one pulse length. Jitter is the scatter
// of the lags against the reciprocal traces. For a spike, the modulus of a sample, or its
// deviation from the mean of its two neighbours, is measured. It must exceed twice the largest
// such value in the traces around within a pulse length, and 8 standard deviations of the noise. A
// step is the least difference of two samples of a trace.
//
// Order. The correlations of an element with the traces next to its place are fitted to the usual
// correlations nearby, in its place and in the place of another element. An exchange is proved if
// the fit reaches 0.55 and gains 0.12, 1.5 times as much as every other exchange nearby, on both
// sides; or on one side if it restores the likeness of reciprocal traces. [Channel.Order] is known
// if an element would lose 0.12 in the place of a neighbour.
//
// Wall. Traces are shifted to the times zero + rate·T of the echo of a wall and added, for rates
// from 0.6 to 1.6. The strongest sum gives [Report.Rate]. The initial pulses limit the time zero.
// Without them, only the change with distance separates the time zero from the rate. An error of
// the rate moves the time zero by the same share of T, so [Report.TimeZero] is taken at the stated
// rate unless the rate is disproved. [Report.TimeZeroError] is composed of the scatter over up to
// eight blocks of the pairs (Student's distribution), one sample interval, and a tenth of 1/(B·f)
// for waves that overlap with the echo. In six full-wave captures the time zero was off by 5 to 35
// ns, 0.02 to 0.08 of 1/(B·f). In 300 trials of invented plates under 4 to 13 elements it was
// outside the stated error twice.
//
// Other numbers. Noise is 1.4826 × the median absolute deviation in the noise gate. The
// signal-to-noise ratio is 20·log10 of the largest modulus in the echo gate over the noise of the
// trace; noise alone reads 7 to 11 dB. The offset is the median of the trace. Cross-talk is √2 ×
// the root mean square within half a pulse length 1/(B·f) of time 0, of pairs that no wave can have
// reached. Centre frequency and bandwidth come from the frequencies 6 dB below the peak of the
// spectrum (Welch's method of one segment, go-dsp).
package health
