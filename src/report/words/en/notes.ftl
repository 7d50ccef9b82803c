# Doubts about the data, one sentence each.
note-not-numbers = { $column }: { $count ->
    [one] { $count } cell is not a number and counts as missing (line { $line }).
   *[other] { $count } cells are not numbers and count as missing (first in line { $line }).
}
note-no-time = { $count ->
    [one] { $count } row has no usable time and was left out (line { $line }).
   *[other] { $count } rows have no usable time and were left out (first in line { $line }).
}
note-sorted = The rows are not in order of time and were sorted (first out of order in line { $line }).
note-same-time = { $count ->
    [one] { $count } row repeats the time of another and was dropped (line { $line }).
   *[other] { $count } rows repeat the time of another; the first of each time was kept (line { $line } is the first dropped).
}
note-titles = { $count ->
    [one] { $count } line above the headings was skipped; the headings are in line { $line }.
   *[other] { $count } lines above the headings were skipped; the headings are in line { $line }.
}
note-turned = The table lies on its side, its times in a line; it was turned. A line named here is a column of the file.
note-encoding = The text is not UTF-8; it was read as { $encoding }.
note-time-unit = The time column “{ $column }” states no unit; { $unit } were assumed. If they are others, write the unit into the heading.
note-unit-milliseconds = milliseconds
note-unit-seconds = seconds
note-unit-minutes = minutes
note-unit-hours = hours
note-unit-days = days
note-unit-clock = hours and minutes of a time of day
note-unit-minutes-seconds = minutes and seconds
note-other-unit = { $column }: these numbers were read as °C and look like { $unit }. If they are, write { $unit } into the heading.
note-slip = { $column }, line { $line }: { $written } is far from all others. It was taken as it stands.
note-slip-meant = { $column }, line { $line }: { $written } is far from all others; is it { $perhaps }? It is left out until the table says so.
note-point-taken = The times in “{ $column }” are evenly spaced only as minutes and seconds (1.30 for 1 min 30 s) and were read so. If they are decimal minutes, write times like 1:30.
note-point = The times in “{ $column }” may be minutes and seconds (1.30 for 1 min 30 s); they were read as decimal minutes. If they are not, write times like 1:30.
note-hours-long = By the times in “{ $column }” the table takes { $hours } hours. If 1:00:00 means one minute, write 1:00 or 0:01:00.
note-table-beside = Beside the first table, from column { $place } on, another has samples of the same names at the same times: it was left out. If it came later, let its times go on from those of the first; else give it as a file of its own.
note-difference = Column “{ $column }” is { $of } less { $from }, no sample of its own, and was left out.
note-mean-of = Column “{ $column }” is the mean of { $from }, no sample of its own, and was left out.
note-sum-of = Column “{ $column }” is the sum of { $from }, no sample of its own, and was left out.
note-quotient-of = Column “{ $column }” is { $of } divided by { $by }, no sample of its own, and was left out.
note-rise-of = Column “{ $column }” is { $from } less its first value, no sample of its own, and was left out.
note-unit-of = Column “{ $column }” is { $from } in another unit, no sample of its own, and was left out.
note-line-for-each = Each line of the table is one reading, its sample named below “{ $column }”; those of one time were put side by side. A line named here is that of the first of them.
note-anew-at-once = From line { $line } on the times begin again. They were taken to go on from the last row before, as the same instant. If they do not, write them on from there.
note-anew-later = From line { $line } on the times begin again. They were taken to go on one step after the last row before. If they do not, write them on from there.
note-time-slip = Line { $line }: the time { $written } does not fit the rows around it, which leave room for { $room }. The row is left out until the table says so.
note-absurd = { $column }: no lesson has such temperatures in °C. Look at the heading and its unit. They were taken as they stand.
note-absurd-tenths = { $column }: no lesson has such temperatures in °C. Are they tenths, as 215 for 21.5? They were taken as they stand.
note-off-curve = { $column }, line { $line }: { $written } does not fit the values before and after it: look at it. It was taken as it stands.
note-off-curve-out = { $column }, line { $line }: { $written } does not fit the values before and after it: look at it. It is left out; the table stays as it is.
note-off-curve-meant = { $column }, line { $line }: { $written } does not fit the values before and after it; is it { $perhaps }? It is left out until the table says so.
note-swapped = Line { $line }: the values of { $one } and { $other } fit only if they are swapped. Both are left out until the table says so.
note-row-repeated = Line { $line } repeats the values of the row before it, which do not fit the rows around it. It is left out; the table stays as it is.
note-table-below = Below the first table, from line { $line } on, another has samples of the same names at the same times: it was left out. If it came later, let its times go on from those of the first; else give it as a file of its own.
note-clock-back = From line { $line } on the times are an hour behind the rows before, as where clocks are put back: the hour was taken out. If no clock was, put these times right.
note-clock-ahead = From line { $line } on the times are an hour ahead of the rows before, as where clocks are put on: the hour was taken out. If an hour did pass there, give what came later as a file of its own.
note-pauses = { $count ->
    [one] The rows have a pause of { $longest }, from { $time } on, where they are { $usual } apart as a rule: what happened meanwhile they do not tell.
   *[other] The rows have { $count } pauses, the longest of { $longest }, from { $time } on, where they are { $usual } apart as a rule: what happened meanwhile they do not tell.
}
note-groups = Each column is read as a sample, so { $samples } samples under one lamp. If these are { $groups } groups with a lamp each, give the columns of each group, with the times before them, as a file of its own.
note-changed-places = { $one } and { $other } seem to have changed places at { $time } (row { $row }): from there on the values of each go on in the other’s column. The results follow from columns that were put right again from that row on; what was recorded stays as it is.
note-column-left-out = Column “{ $column }” holds no temperatures and was left out.
note-few-rows = { $count ->
    [one] There is only { $count } row: too few to say when the lamp went on or off.
   *[other] There are only { $count } rows: too few to say when the lamp went on or off.
}
note-no-values = { $sample }: there is no value at all.
note-late = { $count ->
    [one] { $count } row came late: its time is not sure, and nothing here follows from it.
   *[other] { $count } rows came late, all at once: their times are not sure, and nothing here follows from them.
}
note-missing = { $sample }: { $missing ->
    [one] { $missing } of { $count } values is missing.
   *[other] { $missing } of { $count } values are missing.
}
note-not-compared = { $sample } hardly warmed, as the air of a room does: it is not compared.
note-ratio-rises = The ratio of the rises is left out: that of { $sample } is known too loosely.
note-ratio-rates = The ratio of the initial heating rates is left out: that of { $sample } is known too loosely.
note-unlike-one-lamp = { $sample } warmed by { $rise } °C and cooled again, but not as under one lamp that goes on and off once: was it moved, dimmed or shaded, did another one go on beside it, or was it the sun? The graph shows when.
note-no-edge = No instant at which the lamp went on or off stands out from the data.
note-lag-unknown = Most of the uncertainty of the lamp’s instants comes from the unknown lag of probe and lamp; a measured lag would narrow it.
note-never-off = The lamp was not seen to go off: peak, fall and cooling are left empty.
note-on-from-start = The lamp was on before the first row, or was not seen to go on: the start is the first value, a rise before it is not known, and how the samples compare holds for what was seen.
note-moved = From { $time } on { $sample } cools while others warm on: was the sample moved, or its probe? What follows is not counted in its results.
note-no-sample = { $count ->
    [one] { $column }, line { $line }: { $written } °C is no sample’s temperature but what a board writes when a probe does not answer, or a slip. It is left out.
   *[other] { $column }, { $count } times from line { $line } on: { $written } °C or the like are no sample’s temperatures but what a board writes when a probe does not answer. They are left out.
}
note-no-answer = { $sample } showed { $degc } °C and nothing else from { $time } to { $until }: its probe did not answer, or was not plugged in. These readings do not count in the results.
note-stood = { $sample } showed one and the same number from { $time } to { $until }, and then leapt by { $leap } °C: its probe was stuck, or lines were repeated. These readings do not count in the results.
note-many-heatings = { $count ->
    [one] The lamp went on { $count } time; the values are those of that heating and the cooling after it.
   *[other] The lamp went on { $count } times; the values are those of the first heating and the cooling after it.
}
note-no-start = { $sample }: no start temperature, because there is no reading to take it from.
note-no-peak = { $sample }: no peak temperature, because too few readings lie before the lamp went off.
note-no-heating-rate = { $sample }: no heating rate, because too few readings lie within the heating, or its beginning is not known.
note-heating-lagging = { $sample }: no heating rate, because the heating is shorter than six lags of the probe, which are most of what it shows.
note-heating-open = { $sample }: no heating rate, because the readings fit no curve that tells how fast the heating began.
note-cooling-lagging = { $sample }: no cooling rate, because the cooling is shorter than six lags of the probe, which are most of what it shows.
note-cooling-open = { $sample }: no cooling rate, because the readings fit no curve that tells how fast the cooling began.
note-no-time-constant = { $sample }: no time constant, because the cooling is too short or too straight to show one.
note-no-cooling-rate = { $sample }: no cooling rate, because too few readings lie within the cooling.
note-no-value = { $sample }: no value here, because the data cannot support one.
note-no-mark =
    { $sample }: no value at { $time }{ $more ->
        [0] {""}
        [one] {" and "}{ $more } more mark
        *[other] {" and "}{ $more } more marks
    }, because too few readings are near.
note-mark-empty = Too few readings are near this time.
note-ends-early = The record ends at { $last }, before the plan’s last row of the table at { $time }: that one is left empty.
note-too-many-marks = A row every { $interval } would give more than { $limit } rows of the table; none are given.
note-bad-marks = Rows of the table cannot be { $interval } s apart; none are given.
note-not-as-planned = The lamp was planned to be on for { $planned }, and the data say { $seen }.
note-unknown-prediction = The prediction names “{ $sample }”, which is not one of the samples.
note-nothing-to-predict = Whether the prediction “{ $sample }” was right is open: fewer than two samples have a rise.
note-order-open = The rises differ by less than their uncertainty: which sample warmed most is open.
note-sheet-read = The workbook’s sheet “{ $sheet }” was read; it has { $count ->
    [one] { $count } sheet.
   *[other] { $count } sheets.
}
note-probe = { $sample }: from { $time } on the probe gave readings that a sound one would not give; events.csv tells which, and what to look at.
