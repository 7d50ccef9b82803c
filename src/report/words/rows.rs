//! Doubts about how rows follow each other, in the page's language.

use super::{Value, Words};
use crate::analysis::{RowsWarning, Warning};

impl Words {
    /// One sentence for such a doubt; none for any other.
    pub(super) fn of_rows(&self, doubt: &Warning) -> Option<String> {
        let Warning::Rows(doubt) = doubt else {
            return None;
        };
        Some(match doubt {
            RowsWarning::TableBelow { line } => self.at_line("note-table-below", *line),
            RowsWarning::ClockChanged { line, back: true } => {
                self.at_line("note-clock-back", *line)
            }
            RowsWarning::ClockChanged { line, .. } => self.at_line("note-clock-ahead", *line),
            RowsWarning::Pauses {
                count,
                longest_s,
                at_s,
                usual_s,
            } => {
                let (longest, usual) = (self.duration(*longest_s), self.duration(*usual_s));
                let time = self.clock(*at_s);
                let values = [
                    ("count", Value::Count(*count)),
                    ("longest", Value::Text(&longest)),
                    ("time", Value::Text(&time)),
                    ("usual", Value::Text(&usual)),
                ];
                self.tell("note-pauses", &values)
            }
            RowsWarning::Moved { sample, at_s } => {
                let time = self.clock(*at_s);
                let values = [
                    ("sample", Value::Name(sample)),
                    ("time", Value::Text(&time)),
                ];
                self.tell("note-moved", &values)
            }
            RowsWarning::NoSample { .. }
            | RowsWarning::Stood { .. }
            | RowsWarning::NoAnswer { .. }
            | RowsWarning::UnlikeOneLamp { .. }
            | RowsWarning::Groups { .. } => {
                return self.of_columns(doubt);
            }
            RowsWarning::ChangedPlaces {
                one,
                other,
                at_s,
                row,
            } => {
                let (time, row) = (self.clock(*at_s), row.to_string());
                let values = [
                    ("one", Value::Name(one)),
                    ("other", Value::Name(other)),
                    ("time", Value::Text(&time)),
                    ("row", Value::Number(&row)),
                ];
                self.tell("note-changed-places", &values)
            }
        })
    }

    /// The same of what columns hold: what a probe showed that no sample has, or several groups.
    fn of_columns(&self, doubt: &RowsWarning) -> Option<String> {
        Some(match doubt {
            RowsWarning::Groups { samples, groups } => {
                let values = [
                    ("samples", Value::Count(*samples)),
                    ("groups", Value::Count(*groups)),
                ];
                self.tell("note-groups", &values)
            }
            RowsWarning::NoSample {
                column,
                line,
                count,
                written,
            } => {
                let (line, written) = (line.to_string(), self.number(&written.to_string()));
                let values = [
                    ("column", Value::Name(column)),
                    ("line", Value::Number(&line)),
                    ("count", Value::Count(*count)),
                    ("written", Value::Text(&written)),
                ];
                self.tell("note-no-sample", &values)
            }
            RowsWarning::Stood {
                sample,
                at_s,
                until_s,
                leap_degc,
            } => {
                let (time, until) = (self.clock(*at_s), self.clock(*until_s));
                let leap = self.number(&format!("{leap_degc:.1}"));
                let values = [
                    ("sample", Value::Name(sample)),
                    ("time", Value::Text(&time)),
                    ("until", Value::Text(&until)),
                    ("leap", Value::Text(&leap)),
                ];
                self.tell("note-stood", &values)
            }
            _ => return self.of_probes(doubt),
        })
    }

    /// The same of what probes and lamps did.
    fn of_probes(&self, doubt: &RowsWarning) -> Option<String> {
        Some(match doubt {
            RowsWarning::NoAnswer {
                sample,
                at_s,
                until_s,
                degc,
            } => {
                let (time, until) = (self.clock(*at_s), self.clock(*until_s));
                let degc = self.number(&format!("{degc:.1}"));
                let values = [
                    ("sample", Value::Name(sample)),
                    ("time", Value::Text(&time)),
                    ("until", Value::Text(&until)),
                    ("degc", Value::Text(&degc)),
                ];
                self.tell("note-no-answer", &values)
            }
            RowsWarning::UnlikeOneLamp { sample, rise_degc } => {
                let rise = self.number(&format!("{rise_degc:.1}"));
                let values = [
                    ("sample", Value::Name(sample)),
                    ("rise", Value::Text(&rise)),
                ];
                self.tell("note-unlike-one-lamp", &values)
            }
            _ => return None,
        })
    }

    fn at_line(&self, key: &str, line: u64) -> String {
        let line = line.to_string();
        self.tell(key, &[("line", Value::Number(&line))])
    }
}
