//! Doubts about the data in the page's language.

use super::{Value, Words};
use crate::analysis::{WHY_LAGGING, WHY_OPEN, Warning, WorkedOut};

impl Words {
    /// One sentence for a doubt.
    #[must_use]
    pub fn doubt(&self, doubt: &Warning) -> String {
        self.of_table(doubt)
            .or_else(|| self.of_file(doubt))
            .or_else(|| self.of_times(doubt))
            .or_else(|| self.of_layout(doubt))
            .or_else(|| self.of_slips(doubt))
            .or_else(|| self.of_rows(doubt))
            .or_else(|| self.of_sample(doubt))
            .or_else(|| self.of_plan(doubt))
            .unwrap_or_else(|| self.of_lamp(doubt))
    }

    /// Doubts about how a table was read.
    fn of_table(&self, doubt: &Warning) -> Option<String> {
        let line = |line: u64| line.to_string();
        let counted = |key, count: usize, at: u64| {
            let at = line(at);
            self.tell(
                key,
                &[("count", Value::Count(count)), ("line", Value::Number(&at))],
            )
        };
        Some(match doubt {
            Warning::NotNumbers {
                column,
                count,
                line: at,
            } => self.tell(
                "note-not-numbers",
                &[
                    ("column", Value::Name(column)),
                    ("count", Value::Count(*count)),
                    ("line", Value::Number(&line(*at))),
                ],
            ),
            Warning::NoTime { count, line } => counted("note-no-time", *count, *line),
            Warning::SameTime { count, line } => counted("note-same-time", *count, *line),
            Warning::Titles { count, line } => counted("note-titles", *count, *line),
            Warning::Sorted { line: at } => {
                self.tell("note-sorted", &[("line", Value::Number(&line(*at)))])
            }
            Warning::TimeUnitAssumed { column, unit } => {
                let unit = unit_key(unit).map_or((*unit).to_owned(), |key| self.say(key));
                let values = [
                    ("column", Value::Name(column)),
                    ("unit", Value::Text(&unit)),
                ];
                self.tell("note-time-unit", &values)
            }
            Warning::OtherUnit { column, unit } => {
                let values = [("column", Value::Name(column)), ("unit", Value::Text(unit))];
                self.tell("note-other-unit", &values)
            }
            Warning::Slip { .. } => return self.slip(doubt),
            Warning::ColumnLeftOut { column } => {
                self.tell("note-column-left-out", &[("column", Value::Name(column))])
            }
            Warning::FewRows { rows } => {
                let values = [("count", Value::Count(*rows))];
                self.tell("note-few-rows", &values)
            }
            _ => return None,
        })
    }

    /// Doubts about what a table came in.
    fn of_file(&self, doubt: &Warning) -> Option<String> {
        Some(match doubt {
            Warning::Turned => self.say("note-turned"),
            Warning::OtherEncoding { encoding } => {
                self.tell("note-encoding", &[("encoding", Value::Text(encoding))])
            }
            Warning::SheetRead { sheet, sheets } => {
                let values = [
                    ("sheet", Value::Name(sheet)),
                    ("count", Value::Count(*sheets)),
                ];
                self.tell("note-sheet-read", &values)
            }
            _ => return None,
        })
    }

    /// A number far from all others of its column.
    fn slip(&self, doubt: &Warning) -> Option<String> {
        let Warning::Slip {
            column,
            line,
            written,
            perhaps,
        } = doubt
        else {
            return None;
        };
        let (line, written) = (line.to_string(), self.number(&written.to_string()));
        let perhaps = perhaps.map(|v| self.number(&v.to_string()));
        let mut values = vec![
            ("column", Value::Name(column)),
            ("line", Value::Number(&line)),
            ("written", Value::Text(&written)),
        ];
        let Some(perhaps) = &perhaps else {
            return Some(self.tell("note-slip", &values));
        };
        values.push(("perhaps", Value::Text(perhaps)));
        Some(self.tell("note-slip-meant", &values))
    }

    /// Doubts about the times of a table, and about columns that are no samples.
    fn of_times(&self, doubt: &Warning) -> Option<String> {
        let of = |key, column: &str| self.tell(key, &[("column", Value::Name(column))]);
        Some(match doubt {
            Warning::PointInTimes {
                column,
                taken: true,
            } => of("note-point-taken", column),
            Warning::PointInTimes { column, .. } => of("note-point", column),
            Warning::HoursLong { column, hours } => {
                let hours = self.number(&format!("{hours:.0}"));
                let values = [
                    ("column", Value::Name(column)),
                    ("hours", Value::Text(&hours)),
                ];
                self.tell("note-hours-long", &values)
            }
            Warning::TableBeside { place } => {
                let place = place.to_string();
                self.tell("note-table-beside", &[("place", Value::Number(&place))])
            }
            Warning::Difference { column, of, from } => {
                let values = [
                    ("column", Value::Name(column)),
                    ("of", Value::Name(of)),
                    ("from", Value::Name(from)),
                ];
                self.tell("note-difference", &values)
            }
            _ => return None,
        })
    }

    /// Doubts about what columns are, how rows follow each other, and what no lesson has.
    fn of_layout(&self, doubt: &Warning) -> Option<String> {
        let of = |key, column: &str| self.tell(key, &[("column", Value::Name(column))]);
        Some(match doubt {
            Warning::WorkedOut { column, how, from } => self.worked_out(column, *how, from),
            Warning::LineForEach { column } => of("note-line-for-each", column),
            Warning::Absurd {
                column,
                tenths: true,
            } => of("note-absurd-tenths", column),
            Warning::Absurd { column, .. } => of("note-absurd", column),
            Warning::WatchAnew { line, at_once } => {
                let line = line.to_string();
                let key = if *at_once {
                    "note-anew-at-once"
                } else {
                    "note-anew-later"
                };
                self.tell(key, &[("line", Value::Number(&line))])
            }
            Warning::TimeSlip {
                line,
                written,
                room,
            } => {
                let (line, written) = (line.to_string(), self.number(written));
                let room = self.number(room);
                let values = [
                    ("line", Value::Number(&line)),
                    ("written", Value::Text(&written)),
                    ("room", Value::Text(&room)),
                ];
                self.tell("note-time-slip", &values)
            }
            _ => return None,
        })
    }

    /// A column that was worked out from others.
    fn worked_out(&self, column: &str, how: WorkedOut, from: &[String]) -> String {
        let all = from.join(", ");
        let key = match how {
            WorkedOut::Mean => "note-mean-of",
            WorkedOut::Sum => "note-sum-of",
            WorkedOut::Rise => "note-rise-of",
            WorkedOut::OtherUnit => "note-unit-of",
            WorkedOut::Quotient => {
                let part = |i: usize| from.get(i).map_or("", String::as_str);
                let values = [
                    ("column", Value::Name(column)),
                    ("of", Value::Name(part(0))),
                    ("by", Value::Name(part(1))),
                ];
                return self.tell("note-quotient-of", &values);
            }
        };
        let values = [("column", Value::Name(column)), ("from", Value::Name(&all))];
        self.tell(key, &values)
    }

    /// Values that do not fit the rows around them.
    fn of_slips(&self, doubt: &Warning) -> Option<String> {
        match doubt {
            Warning::OffCurve {
                column,
                line,
                written,
                perhaps,
                left_out,
            } => {
                let (line, written) = (line.to_string(), self.number(&written.to_string()));
                let perhaps = perhaps.map(|v| self.number(&v.to_string()));
                let mut values = vec![
                    ("column", Value::Name(column)),
                    ("line", Value::Number(&line)),
                    ("written", Value::Text(&written)),
                ];
                let key = match &perhaps {
                    Some(perhaps) => {
                        values.push(("perhaps", Value::Text(perhaps)));
                        "note-off-curve-meant"
                    }
                    None if *left_out => "note-off-curve-out",
                    None => "note-off-curve",
                };
                Some(self.tell(key, &values))
            }
            Warning::Swapped { line, one, other } => {
                let line = line.to_string();
                let values = [
                    ("line", Value::Number(&line)),
                    ("one", Value::Name(one)),
                    ("other", Value::Name(other)),
                ];
                Some(self.tell("note-swapped", &values))
            }
            Warning::Late { rows } => {
                Some(self.tell("note-late", &[("count", Value::Count(*rows))]))
            }
            Warning::RowRepeated { line } => {
                let line = line.to_string();
                Some(self.tell("note-row-repeated", &[("line", Value::Number(&line))]))
            }
            _ => None,
        }
    }

    /// Doubts about one sample.
    fn of_sample(&self, doubt: &Warning) -> Option<String> {
        let of = |key, sample: &str| self.tell(key, &[("sample", Value::Name(sample))]);
        Some(match doubt {
            Warning::NoValues { sample } => of("note-no-values", sample),
            Warning::Missing {
                sample,
                missing,
                rows,
            } => {
                let values = [
                    ("sample", Value::Name(sample)),
                    ("missing", Value::Count(*missing)),
                    ("count", Value::Count(*rows)),
                ];
                self.tell("note-missing", &values)
            }
            Warning::NotCompared { sample } => of("note-not-compared", sample),
            Warning::RatioOpen { of: what, sample } => match *what {
                "rises" => of("note-ratio-rises", sample),
                _ => of("note-ratio-rates", sample),
            },
            Warning::NoValue { sample, what, why } => of(no_value(what, why), sample),
            Warning::NoMark {
                sample,
                marks_s,
                more,
            } => {
                // As the table counts them.
                let minutes = |s: &f64| {
                    let digits = (libm::round(s / 60.0 * 1e3) / 1e3).to_string();
                    format!("{}\u{A0}min", self.number(&digits))
                };
                let times: Vec<String> = marks_s.iter().map(minutes).collect();
                let time = times.join(", ");
                let values = [
                    ("sample", Value::Name(sample)),
                    ("time", Value::Text(&time)),
                    ("more", Value::Count(*more)),
                ];
                self.tell("note-no-mark", &values)
            }
            Warning::Probe { sample, at_s, .. } => {
                let time = self.clock(*at_s);
                let values = [
                    ("sample", Value::Name(sample)),
                    ("time", Value::Text(&time)),
                ];
                self.tell("note-probe", &values)
            }
            Warning::UnknownPrediction { name } => of("note-unknown-prediction", name),
            Warning::NothingToPredict { name } => of("note-nothing-to-predict", name),
            _ => return None,
        })
    }

    /// Doubts about plan and table.
    fn of_plan(&self, doubt: &Warning) -> Option<String> {
        let two = |key, (one, a): (&str, f64), (other, b): (&str, f64), clock: bool| {
            let text = |s| {
                if clock {
                    self.clock(s)
                } else {
                    self.duration(s)
                }
            };
            let (a, b) = (text(a), text(b));
            self.tell(key, &[(one, Value::Text(&a)), (other, Value::Text(&b))])
        };
        Some(match doubt {
            Warning::EndsBeforeMark { at_s, last_s } => {
                two("note-ends-early", ("time", *at_s), ("last", *last_s), true)
            }
            Warning::NotAsPlanned { planned_s, seen_s } => {
                let (planned, seen) = (("planned", *planned_s), ("seen", *seen_s));
                two("note-not-as-planned", planned, seen, false)
            }
            Warning::TooManyMarks { interval_s, limit } => {
                let (interval, limit) = (self.duration(*interval_s), limit.to_string());
                let values = [
                    ("interval", Value::Text(&interval)),
                    ("limit", Value::Number(&limit)),
                ];
                self.tell("note-too-many-marks", &values)
            }
            Warning::BadMarks { interval_s } => {
                let interval = interval_s.to_string();
                self.tell("note-bad-marks", &[("interval", Value::Number(&interval))])
            }
            _ => return None,
        })
    }

    /// Doubts about the lamp, and about the samples' order.
    fn of_lamp(&self, doubt: &Warning) -> String {
        match doubt {
            Warning::NoEdge => self.say("note-no-edge"),
            Warning::LagUnknown => self.say("note-lag-unknown"),
            Warning::NeverOff => self.say("note-never-off"),
            Warning::OnFromStart => self.say("note-on-from-start"),
            Warning::OrderOpen => self.say("note-order-open"),
            Warning::ManyHeatings { count } => {
                self.tell("note-many-heatings", &[("count", Value::Count(*count))])
            }
            // A doubt that came later and has no translation yet is better told in English than
            // kept back; a test goes through all that there are.
            other => other.to_string(),
        }
    }
}

/// The key for a value that is missing.
fn no_value(what: &str, why: &str) -> &'static str {
    match what {
        "heating rate" if why == WHY_LAGGING => "note-heating-lagging",
        "heating rate" if why == WHY_OPEN => "note-heating-open",
        "cooling rate" if why == WHY_LAGGING => "note-cooling-lagging",
        "cooling rate" if why == WHY_OPEN => "note-cooling-open",
        "start temperature" => "note-no-start",
        "peak temperature" => "note-no-peak",
        "heating rate" => "note-no-heating-rate",
        "time constant" => "note-no-time-constant",
        "cooling rate" => "note-no-cooling-rate",
        _ => "note-no-value",
    }
}

/// The key for a unit of time, or a way to write times, that was assumed.
fn unit_key(words: &str) -> Option<&'static str> {
    Some(match words {
        "milliseconds" => "note-unit-milliseconds",
        "seconds" => "note-unit-seconds",
        "minutes" => "note-unit-minutes",
        "hours" => "note-unit-hours",
        "days" => "note-unit-days",
        "hours and minutes of a time of day" => "note-unit-clock",
        "minutes and seconds" => "note-unit-minutes-seconds",
        _ => return None,
    })
}
