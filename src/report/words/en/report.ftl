# The report of one lesson.
report-made-by = Report of a lesson
report-short = In short
report-rose = Under the lamp { $sample } warmed by { $rise } °C.
report-fell = Under the lamp { $sample } cooled by { $fall } °C.
report-rose-not = Under the lamp { $sample } stayed at the same temperature.
report-warmed-most = { $sample } warmed most: { $ratio } times as much as { $other }.
report-warmed-most-plain = { $sample } warmed most.
report-order-open = Which sample warmed most is open: the difference is too small to tell.
report-no-lamp = The lamp was not seen to go on or off in these temperatures. So there is no warming to compare.
report-ranged = { $sample } was between { $low } °C and { $high } °C, on average { $mean } °C.
report-steady = { $sample } stayed at { $mean } °C.
report-done = What was done
report-done-stood = { $n ->
    [one] One sample stood under a lamp, with a thermometer in it.
   *[other] { $n } samples stood under one lamp, at the same distance, with a thermometer in each.
}
report-done-switched = The lamp was switched on and later off.
report-done-switched-on = The lamp was switched on.
report-done-switched-off = The lamp was switched off; when it was switched on cannot be seen.
report-done-to-switch = The lamp was to be switched on and later off.
report-done-written = { $n ->
    [one] The temperature was written down all the time.
   *[other] All temperatures were written down at the same instants.
}
report-done-table = { $n ->
    [one] A table has the temperature of one sample. How the sample stood under the lamp, and how it was read, the table does not say.
   *[other] A table has the temperatures of { $n } samples. How far from the lamp each stood, and whether all were read at the same instant, the table does not say.
}
report-done-open = { $n ->
    [one] The temperature of one sample was written down all the time.
   *[other] The temperatures of { $n } samples were written down at the same instants.
}
report-fact-samples = Samples
report-fact-distance = Lamp to samples
report-fact-plan = Plan
report-fact-began = Began
report-fact-readings = Readings
report-fact-board = Board
report-fact-source = Source
report-every = { $rows }, one { $every }
report-board-speaks = { $board } (lines: { $dialect })
report-board-own = duskmark’s own
report-plan-settle = wait until every sample drifts less than { $drift } °C per minute
report-plan-lamp = lamp on for { $heat }, then off for { $cool }
report-plan-for = log for { $time }
report-plan-marks = a row of the table { $every }
report-prediction = The prediction
report-predicted = The class predicted that { $sample } would warm most.
report-predicted-group = Group { $group } predicted that { $sample } would warm most.
report-predicted-none = No prediction was noted. Before you look at the graph: which sample would you have chosen, and why?
report-right = That was right.
report-wrong = That was not so, and that is worth talking about.
report-right-open = Whether it was right cannot be told from these data.
report-graph = The graph
report-graph-caption = Temperature of each sample over time. The pale band is the time with the lamp on; notches at the bottom are the rows of the table.
report-graph-caption-open = Temperature of each sample over time.
report-table = The table
report-table-caption = Temperature of each sample, counted from the moment the lamp went on (0 min).
report-table-caption-written = Temperature of each sample, counted from the row nearest to the moment the lamp went on (0 min).
report-table-caption-open = Temperature of each sample, counted from the beginning (0 min).
report-table-none = There is no table: no interval was asked for. With --marks { $every } there is one.
report-table-more = { $n ->
    [one] { $n } more row stands in lesson.xlsx.
   *[other] { $n } more rows stand in lesson.xlsx.
}
report-plus-minus = ±: the true value lies within this with some 95 % confidence (expanded uncertainty, k = 2).
report-column-time = Time / min
report-column-phase = Phase
report-column-sample = { $sample } / °C
report-happened = What happened
report-lamp-on-at = The lamp went on at { $at } (min:s from the beginning); we are { $level } % sure that it was between { $low } and { $high }.
report-lamp-on-at-by-table = The lamp went on at { $at } (by the times in the table); we are { $level } % sure that it was between { $low } and { $high }.
report-lamp-on-at-by-clock = The lamp went on at { $at } by the table’s clock; we are { $level } % sure that it was between { $low } and { $high }.
report-lamp-off-at = The lamp went off at { $at }; we are { $level } % sure that it was between { $low } and { $high }.
report-lamp-off-at-by-clock = The lamp went off at { $at }; we are { $level } % sure that it was between { $low } and { $high }.
report-lamp-on-before = The lamp went on { $before } before the beginning; we are { $level } % sure that it was between { $low } and { $high } (min:s).
report-first-warming = At first { $sample } warmed at about { $rate } °C per minute.
report-first-cooling = When the lamp was off, { $sample } cooled at first at about { $rate } °C per minute.
report-time-constant = Then { $sample } cooled towards { $level } °C, as far as it was watched; it needed about { $time } for two thirds of that way (exactly: 63 %).
report-slowing = A sample warms and cools ever more slowly: the warmer it is than the air, the more heat it gives away.
report-numbers = The numbers, for the teacher
report-numbers-caption = ± counts scatter, resolution and what lasts from reading to reading. What the probes themselves are off by is not in it, unless they were calibrated.
report-numbers-caption-calibrated = ± counts scatter, resolution, what lasts from reading to reading, and the probes’ calibration.
report-numbers-caption-matched = ± counts scatter, resolution, what lasts from reading to reading, and how well the probes agree after the match. What all of them are off by together is not in it.
report-value-start = Start / °C
report-value-peak = Peak / °C
report-value-end = End / °C
report-value-rise = Rise / °C
report-value-fall = Fall / °C
report-value-heating = Initial heating rate / (°C/min)
report-value-cooling = Initial cooling rate / (°C/min)
report-value-constant = Time constant of cooling / s
report-value-air = Cools towards / °C
report-value-lowest = Lowest / °C
report-value-highest = Highest / °C
report-value-mean = Mean over time / °C
report-ratio-rise = Ratio of the rises, { $most } to { $least }: { $ratio }.
report-ratio-rate = Ratio of their initial heating rates: { $ratio }.
report-lamp-table = Switching of the lamp, seconds from the beginning
report-lamp-table-by-clock = Switching of the lamp, by the table’s clock
report-lamp-table-by-table = Switching of the lamp, seconds by the times in the table
report-lamp-edge = Lamp
report-lamp-on = on
report-lamp-off = off
report-lamp-at = At / s
report-lamp-at-clock = Time of day
report-lamp-between-clock = { $level } % interval
report-lamp-between = { $level } % interval / s
report-lamp-range = { $low } to { $high }
report-lamp-planned = Planned / s
report-lamp-late = After the plan / s
report-was-late = That was { $by } s after the planned time.
report-was-early = That was { $by } s before the planned time.
report-was-on-time = That was the planned time.
report-meaning = What this says about heat, and what it does not
report-meaning-first = The same lamp shines on all samples. Even so they warm differently. Three things decide:
report-meaning-colour = Colour: a dark surface takes in more of the light than a pale one.
report-meaning-water = Water: where water evaporates it takes heat along, so a wet sample stays cooler.
report-meaning-mass = Heat capacity: some materials need more heat than others to become one degree warmer. Water needs a lot.
report-meaning-not = Our graph shows how much each sample warmed. It cannot show alone which of the three was the reason, because the samples differ in all of them at once. To find out, change only one: two samples of the same material, one dry and one wet, or one dark and one pale.
report-meaning-formula = For the teacher: initial heating rate = absorbed power per area ÷ heat capacity per area. Only samples that absorb alike and warm to the same depth have initial rates in the inverse ratio of their volumetric heat capacities; no heat capacity is derived here.
report-meaning-handbook = Handbook values in MJ/(m³·K): water { $water }, peat soil saturated { $wet } and dry { $dry }, quartz { $quartz }, clay mineral { $clay } (Moene and van Dam, Transport in the Atmosphere-Vegetation-Soil Continuum, Cambridge University Press 2014, table 2.2).
report-quality = How good the data are
report-complete = No reading is missing.
report-cut-off = The run was cut off before its end; everything up to then is here.
report-going-on = The run is still going on; this is what there is of it so far.
report-damage = { $n ->
    [one] The record is damaged in { $n } place; what could be read is used.
   *[other] The record is damaged in { $n } places; what could be read is used.
}
report-uncalibrated = The probes were not calibrated for this run: a constant difference of some tenths of a degree between them would not be noticed. Rises and rates hardly suffer from that.
report-uncalibrated-table = Whether the probes were calibrated the table does not say: a constant difference of some tenths of a degree between them would not be noticed. Rises and rates hardly suffer from that.
report-calibrated = { $sample }: calibration known to ± { $u } °C.
report-matched = { $sample }: brought to agree with the other probes to ± { $u } °C; what all of them are off by together is not known.
report-calibrated-by = { $sample }: { $kind } of { $day }, { $days ->
    [0] less than a day
    [one] { $days } day
   *[other] { $days } days
} before the run.
calibration-match = match in one bath
calibration-ice = ice point
calibration-boil = boiling point
calibration-constants = constants from reference points
calibration-line = correction line from reference points
calibration-lag = lag
report-events = What the record noted
report-event-of = { $what }: { $n ->
    [one] { $n } time
   *[other] { $n } times
}
report-flags = Rows with a flag
report-flag-of = { $what }: { $rows }
event-gap = pause without readings
event-port-lost = board unplugged or lost
event-reset = board started anew
event-bad-line = lines of the board not understood
event-wrong-channels = line with the wrong number of values
event-other-board = another board answered
event-probe = probe failed or came back
event-missing = readings lost before they could be kept
event-resume = run gone on with after an interruption
event-suspend = the computer slept
event-clock-step = the computer’s clock was set
event-journal-damage = damaged place in the record
event-early-lines = lines older than the run
report-notes = Notes
report-note = { $at } – { $text }
report-note-late = { $at } – { $text } (noted afterwards, { $when })
event-hand-mark = moment marked by hand
event-hand-lamp-on = told by hand: lamp switched on
event-hand-lamp-off = told by hand: lamp switched off
event-hand-go-on = gone on by hand
event-renamed = sample renamed afterwards
event-other = other notes ({ $code })
flag-lost = lines of the board did not arrive whole just before
flag-gap = first row after a pause
flag-reset = first row after the board’s restart
flag-merged = several lines joined
flag-late = arrived late
flag-skewed = samples not read at quite the same instant
flag-interpolated = interpolated between the board’s own rows
flag-probe = { $column }: { $fault }
flag-other = { $code }
fault-no-reading = no reading
fault-power-on = not measured yet (85 °C at power-on)
fault-not-a-number = no number
fault-open = broken lead or loose plug
fault-short = the leads touch
fault-out-of-range = out of range
fault-other-board = another board answered
fault-absent = its board sent nothing near enough
report-method = How it was computed
report-method-edges = Lamp: all samples share one lamp, so one model of warming and cooling bodies is fitted to all of them at once; the interval covers the true instant at the stated level.
report-method-lags = Lags of probe and lamp were not declared: { $probe } s (standard uncertainty { $probeu } s) and { $lamp } s ({ $lampu } s) are assumed, and the interval carries that.
report-method-lags-declared = Declared lags are taken out: { $lags }.
report-method-lags-calibrated = Lags of the probes were found by calibration and are taken out: { $lags }.
report-method-lag-probe = probe { $lag } s
report-method-lag-lamp = lamp { $lag } s
report-method-marks = Table: at each row a line or parabola is fitted to the readings within 15 s on the same side of the switching; sparse readings are joined by a straight line. Nothing is filled in across a pause.
report-method-rates = Rates and time constants: exponentials fitted to each phase by least squares, one or, where a surface is faster than what is below it, two; the initial rate is their slope where the lamp went on or off. Of rows minutes apart the first few are taken, from the temperature at the switching on; what was faster between them is not seen.
report-method-uncertainty = Uncertainties follow the GUM (JCGM 100:2008). ± is the expanded uncertainty with k = 2, which covers the true value in some 95 % of cases; it has two digits, and the value is rounded to the same place. Workbook and files have standard uncertainties, half of that.
report-method-files = The same numbers stand in marks.csv and summary.json. Made by duskmark { $version }.
report-method-no-files = Made by duskmark { $version }.
report-method-files-other = The files marks.csv and summary.json have these temperatures in degrees Celsius. Made by duskmark { $version }.
report-quantities = { $sample } ({ $list })
