# The page of a class: all benches together.
class-title = Class
class-count = { $n ->
    [one] { $n } bench.
   *[other] { $n } benches.
}
class-lead = Over the whole class { $upper } warmed { $ratio } times as much as { $lower }; with 95 % certainty the benches’ common value is between { $low } and { $high } ({ $n ->
    [one] { $n } bench
   *[other] { $n } benches
}).
class-no-lead = There is no ratio for the class: { $why }.
class-picture = All curves in one picture
class-picture-caption = Thin lines: single benches, counted from the moment their lamp went on. Bold: the median of each material over the benches whose lamp was on equally long. Shaded: how far these spread.
class-table = Bench by bench
class-table-caption = Every value is rounded to its own uncertainty, or to hundredths (ratios: thousandths); an asterisk marks what stands apart from the other benches. Standard uncertainties are in the workbook.
class-bench = Bench
class-heated = Lamp on / min
class-start = Start / °C
class-rise = Rise / °C
class-fall = Fall / °C
class-heating = Initial heating rate / (°C/min)
class-cooling = Initial cooling rate / (°C/min)
class-constant = Time constant / s
class-ratio-rise = Ratio of the rises, { $upper } to { $lower }
class-ratio-rate = Ratio of the initial heating rates, { $upper } to { $lower }
class-together = All benches together
class-together-caption = Pooled: weighted mean of the benches that do not stand apart. ±: their common value lies within this with 95 % confidence (expanded uncertainty; k by Student’s t, above 2 where benches are few). Within: what the readings of one bench leave open (standard uncertainty). Between: what benches differ by beyond that (standard deviation).
class-quantity = Quantity
class-of = { $sample }: { $quantity }
class-n = Benches
class-median = Median
class-range = Lowest to highest
class-range-value = { $low } to { $high }
class-robust = Spread (robust s.d.)
class-pooled = Pooled
class-within = Within
class-between = Between
class-ratio = The ratio, for the teacher
class-ratio-of = Ratio of the rises, { $upper } to { $lower }: { $value }; with 95 % confidence between { $low } and { $high }, from { $n } benches.
class-ratio-spread = One bench’s own readings leave { $within } open (standard uncertainty); beyond that the benches differ by { $between } (standard deviation).
class-ratio-between = So most of the spread comes from how the benches were set up, not from the thermometers: more readings would not help, more care with distance, water and depth of the probes would.
class-ratio-within = So the spread between benches is no more than their readings explain.
class-ratio-all = With the benches that stand apart the pooled value would be { $value }, with 95 % confidence between { $low } and { $high }, from { $n } benches.
class-apart = Benches that stand apart
class-apart-none = No bench stands apart.
class-apart-few = With fewer than five benches that did the same none can be said to stand apart.
class-apart-careful = A cause below is a possible one, no more. Look at the bench first.
class-apart-one = { $bench }, { $sample }: { $quantity } { $value }; the class’s median is { $median }. { $cause }
class-apart-all = { $bench }, all samples: { $quantity } of the first { $value }; the class’s median is { $median }. { $cause }
class-cause-nearer = All samples warmed more than elsewhere: the lamp may have been nearer or brighter.
class-cause-farther = All samples warmed less than elsewhere: the lamp may have been farther away, weaker, or not aimed at the trays.
class-cause-drier = This sample alone warmed more: it may have been drier, thinner or darker, or its probe may have lain in the lamp’s light.
class-cause-wetter = This sample alone warmed less: it may have been wetter or thicker, in shade, or its probe may have touched the glass or the tray.
class-cause-probe = It cooled at another pace: its probe may have touched the glass or the tray, or have lain elsewhere than on the other benches.
class-cause-exchanged = Two samples warmed each as the other does elsewhere: their names or their probes may be exchanged.
class-cause-open = The numbers do not tell why.
class-cause-start = It began at another temperature: it may not have been left to settle, or its probe reads otherwise; compare the probes in one bath.
class-limits = What limits this
class-limits-none = All benches did the same, and all could be read.
class-warn-no-heating = { $bench }: its lamp was not seen to go both on and off, so its rise is not put together with the others’.
class-warn-heated = { $bench }: the lamp was on for { $own } min, for { $usual } min on the benches that are put together; rises are not put together.
class-warn-cooled = { $bench }: watched cooling for { $own } min, the benches that are put together for { $usual } min; falls are not put together.
class-warn-rows = { $bench }: its rows are { $own } s apart, those of the benches that are put together { $usual } s; its initial rates are not put together with theirs.
class-warn-not-in-all = { $n ->
    [one] { $sample }: only { $n } of { $of } benches has it.
   *[other] { $sample }: only { $n } of { $of } benches have it.
}
class-warn-one-sample = { $bench }: one sample only, so no ratio.
class-warn-invented = Invented readings, from virtual benches: { $benches }.
class-warn-same-readings = { $input } has the same readings as { $bench }, and is not counted again.
class-warn-left-out = { $input } was left out: { $reason }
class-why-few = it takes at least three benches with both samples that did the same, and { $n ->
    [one] there is { $n }
   *[other] there are { $n }
}
class-why-few-known = it takes at least three benches whose uncertainty is known
class-why-few-alike = it takes at least three benches that were heated alike
class-method = How it was computed
class-method-names = Samples are the same where their names are, whatever the case of the letters. Values are put together only for benches whose lamp was on equally long, within 5 %.
class-method-robust = The spread is 1.4826 times the median absolute deviation, corrected for few benches; a bench stands apart beyond 3.5 of these (Iglewicz and Hoaglin 1993), if that is a tenth of the value or more.
class-method-pooled = Pooled values follow the random-effects model with the between-bench variance of Paule and Mandel (1982), ratios as logarithms; intervals take Student’s t with one degree of freedom less than benches.
class-method-files = The same numbers stand in class.xlsx and class.json. Made by duskmark { $version }.
class-caution = Before the next run: lamp, guard and clamp get hot. Let them cool, keep paper, cloth, plug and lead away from them and from water, use an outlet with an RCD/GFCI. Follow your school’s and local rules; electrical work is for licensed people.
