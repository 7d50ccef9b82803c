//! Brings channels that come on lines of their own onto one row.
//!
//! Boards that label their numbers may print all of them on one line or each on its own. The
//! labels are learnt until one repeats, or until they are just those that the samples were named
//! after; from then on a row is whole when every label has come, and is let go unfinished when one
//! comes again first.

use arrayvec::ArrayVec;

use crate::wire::{Field, MAX_CHANNELS, Sample, Unit};

/// Fields of one instant, in the order of the channels.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Gathered {
    pub(super) t_ns: i64,
    /// The instant of the last line that brought some of it.
    pub(super) last_ns: i64,
    /// Number of lines that brought it.
    pub(super) lines: u32,
    /// Each field with the unit that its line stated.
    pub(super) fields: ArrayVec<(Field, Option<Unit>), MAX_CHANNELS>,
}

/// What one line completes.
#[derive(Debug, Default)]
pub(super) struct Completed {
    /// A row that was let go unfinished, and one that this line made whole.
    pub(super) rows: ArrayVec<Gathered, 2>,
    /// A label that does not belong to this bench.
    pub(super) stranger: Option<Box<str>>,
}

#[derive(Debug, Default)]
pub(super) struct Assembler {
    labels: Vec<Box<str>>,
    complete: bool,
    slots: ArrayVec<Option<(Field, Option<Unit>)>, MAX_CHANNELS>,
    first_ns: i64,
    last_ns: i64,
    lines: u32,
}

impl Assembler {
    /// Labels in the order of the channels, once they are all known.
    pub(super) fn labels(&self) -> Option<&[Box<str>]> {
        self.complete.then_some(self.labels.as_slice())
    }

    /// Forgets a half-gathered row: the port was lost in the middle of it.
    pub(super) fn drop_half(&mut self) {
        self.slots.iter_mut().for_each(|slot| *slot = None);
        self.lines = 0;
    }

    /// Takes one labelled line; `named` are the samples' names as people gave them. A half row
    /// older than `stale_ns` does not wait for its other half.
    pub(super) fn take(
        &mut self,
        sample: &Sample,
        t_ns: i64,
        named: &[String],
        stale_ns: i64,
    ) -> Completed {
        let mut done = Completed::default();
        if self.complete && self.lines > 0 && t_ns - self.first_ns > stale_ns {
            let _ = done.rows.try_push(self.let_go());
        }
        // What an earlier line left waiting is not mixed with a line that brings it anew: after one
        // damaged line rows would be made of two lines each, for ever.
        if sample.labels.iter().any(|label| self.is_filled(label)) {
            self.learnt(named);
            let _ = done.rows.try_push(self.let_go());
        }
        let mut counted = false;
        for (label, &field) in sample.labels.iter().zip(&sample.fields) {
            if self.is_filled(label) {
                self.learnt(named);
                let _ = done.rows.try_push(self.let_go());
                counted = false;
            }
            let Some(place) = self.place_of(label) else {
                done.stranger = Some(label.clone());
                continue;
            };
            if !std::mem::replace(&mut counted, true) {
                self.count_line(t_ns);
            }
            if let Some(slot) = self.slots.get_mut(place) {
                *slot = Some((field, sample.unit));
            }
        }
        if self.order_by(named).is_some() {
            self.learnt(named);
        }
        if self.complete && self.slots.iter().all(Option::is_some) && !self.slots.is_empty() {
            let _ = done.rows.try_push(self.let_go());
        }
        done
    }

    fn is_filled(&self, label: &str) -> bool {
        let place = self.labels.iter().position(|l| &**l == label);
        place.is_some_and(|place| matches!(self.slots.get(place), Some(Some(_))))
    }

    fn count_line(&mut self, t_ns: i64) {
        if self.lines == 0 {
            self.first_ns = t_ns;
        }
        self.last_ns = t_ns;
        self.lines += 1;
    }

    fn place_of(&mut self, label: &str) -> Option<usize> {
        let known = self.labels.iter().position(|l| &**l == label);
        if known.is_some() || self.complete || self.labels.len() == MAX_CHANNELS {
            return known;
        }
        self.labels.push(label.into());
        self.slots.push(None);
        Some(self.labels.len() - 1)
    }

    /// The places of the labels in the order of the samples' names, where these are the labels.
    fn order_by(&self, named: &[String]) -> Option<Vec<usize>> {
        if named.len() != self.labels.len() {
            return None;
        }
        let places = named.iter().map(|name| {
            let mut labels = self.labels.iter();
            labels.position(|l| l.eq_ignore_ascii_case(name))
        });
        places.collect()
    }

    /// Ends the learning and sets the order of the channels: that of the samples' names where they
    /// are the labels; that of one line that holds them all; else by the labels themselves (T1
    /// before T2), for which line came first depends on when the port was opened.
    fn learnt(&mut self, named: &[String]) {
        if std::mem::replace(&mut self.complete, true) {
            return;
        }
        let order = self.order_by(named).unwrap_or_else(|| {
            let mut order: Vec<usize> = (0..self.labels.len()).collect();
            if self.lines > 1 {
                order.sort_by_key(|&place| self.labels.get(place).map(|l| natural(l)));
            }
            order
        });
        let labels = std::mem::take(&mut self.labels);
        let slots = std::mem::take(&mut self.slots);
        for from in order {
            self.labels.extend(labels.get(from).cloned());
            self.slots.extend(slots.get(from).copied());
        }
    }

    fn let_go(&mut self) -> Gathered {
        let slots = self.slots.iter_mut();
        let fields = slots.map(|slot| slot.take().unwrap_or((Field::Empty, None)));
        Gathered {
            fields: fields.collect(),
            // All channels get one timestamp: the middle of the lines that brought them.
            t_ns: self.first_ns + (self.last_ns - self.first_ns) / 2,
            last_ns: self.last_ns,
            lines: std::mem::take(&mut self.lines),
        }
    }
}

/// A key that puts T2 before T10: the label without the digits at its end, and their number.
fn natural(label: &str) -> (String, u64) {
    let stem = label.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = label.get(stem.len()..).unwrap_or_default();
    (stem.to_lowercase(), number.parse().unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(pairs: &[(&str, f64)]) -> Sample {
        Sample {
            fields: pairs
                .iter()
                .map(|&(_, value)| Field::Number { value, decimals: 1 })
                .collect(),
            labels: pairs.iter().map(|&(label, _)| label.into()).collect(),
            ..Sample::default()
        }
    }

    fn values(row: &Gathered) -> Vec<f64> {
        row.fields
            .iter()
            .map(|(field, _)| match field {
                Field::Number { value, .. } => *value,
                _ => f64::NAN,
            })
            .collect()
    }

    fn feed(lines: &[(i64, Sample)], named: &[String]) -> Vec<Gathered> {
        let mut assembler = Assembler::default();
        lines
            .iter()
            .flat_map(|(t_ns, sample)| assembler.take(sample, *t_ns, named, 5000).rows)
            .collect()
    }

    #[test]
    fn labels_on_one_line_make_a_row_each() {
        let lines = [
            (0, line(&[("slate", 24.9), ("moss", 23.3)])),
            (10, line(&[("slate", 25.0), ("moss", 23.4)])),
        ];
        let rows = feed(&lines, &[]);
        assert_eq!(rows.len(), 2);
        assert_eq!((values(&rows[0]), rows[0].t_ns), (vec![24.9, 23.3], 0));
        assert_eq!((values(&rows[1]), rows[1].lines), (vec![25.0, 23.4], 1));
    }

    #[test]
    fn labels_on_lines_of_their_own_share_one_timestamp() {
        let lines = [
            (0, line(&[("T1", 24.9)])),
            (100, line(&[("T2", 23.3)])),
            (1000, line(&[("T1", 25.0)])),
            (1100, line(&[("T2", 23.4)])),
        ];
        let rows = feed(&lines, &[]);
        assert_eq!(rows.len(), 2);
        assert_eq!((rows[0].t_ns, rows[0].lines), (50, 2));
        assert_eq!((values(&rows[1]), rows[1].t_ns), (vec![25.0, 23.4], 1050));
    }

    #[test]
    fn a_half_waits_as_long_as_it_is_not_old() {
        let late = |wait_ns: i64| {
            let begin = 77_000_000_000_000;
            let lines = [
                (begin, line(&[("T1", 1.0)])),
                (begin + 100, line(&[("T2", 2.0)])),
                (begin + 10_000, line(&[("T1", 3.0)])),
                (begin + 10_000 + wait_ns, line(&[("T2", 4.0)])),
            ];
            feed(&lines, &[])
        };
        assert_eq!(late(5000).len(), 2);
        assert_eq!(values(&late(5000)[1]), [3.0, 4.0]);
        // Its half is let go alone, and the other begins a row of its own.
        let alone = late(5001);
        assert_eq!(alone.len(), 2);
        assert!(values(&alone[1])[1].is_nan());
    }

    #[test]
    fn a_missing_label_leaves_its_cell_empty() {
        let lines = [
            (0, line(&[("T1", 1.0)])),
            (1, line(&[("T2", 2.0)])),
            (10, line(&[("T1", 3.0)])),
            (20, line(&[("T1", 4.0)])),
        ];
        let rows = feed(&lines, &[]);
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[1].fields[1].0, Field::Empty);
    }

    #[test]
    fn what_one_line_brings_stays_together_behind_a_damaged_one() {
        let lines = [
            (0, line(&[("slate", 1.0), ("moss", 2.0)])),
            (10, line(&[("slate", 3.0), ("moss", 4.0)])),
            // The first label was damaged.
            (20, line(&[("slbte", 5.0), ("moss", 6.0)])),
            (30, line(&[("slate", 7.0), ("moss", 8.0)])),
            (40, line(&[("slate", 9.0), ("moss", 10.0)])),
        ];
        let rows = feed(&lines, &[]);
        let found: Vec<Vec<f64>> = rows.iter().map(values).collect();
        assert!(found[2][0].is_nan());
        assert_eq!(found[2][1..], [6.0]);
        assert_eq!(found[3..], [[7.0, 8.0], [9.0, 10.0]]);
        assert!(rows.iter().all(|row| row.lines == 1));
        assert_eq!(rows[2].t_ns, 20);
    }

    #[test]
    fn names_that_are_labels_set_the_order() {
        let lines = [(0, line(&[("slate", 24.9), ("moss", 23.3)]))];
        let rows = feed(&lines, &["Moss".into(), "Slate".into()]);
        assert_eq!(values(&rows[0]), [23.3, 24.9]);
    }

    #[test]
    fn the_order_does_not_depend_on_when_the_port_was_opened() {
        let lines = [
            (0, line(&[("T10", 10.0)])),
            (1, line(&[("T1", 1.0)])),
            (2, line(&[("T2", 2.0)])),
            (10, line(&[("T10", 10.0)])),
        ];
        let rows = feed(&lines, &["slate".into(), "moss".into(), "air".into()]);
        assert_eq!(values(&rows[0]), [1.0, 2.0, 10.0]);
    }

    #[test]
    fn a_label_that_no_sample_is_named_after_does_not_take_a_samples_place() {
        let lines = [
            (0, line(&[("air", 20.0)])),
            (1, line(&[("slate", 24.0)])),
            (2, line(&[("moss", 23.0)])),
            (10, line(&[("air", 20.0)])),
        ];
        let rows = feed(&lines, &["slate".into(), "moss".into()]);
        // Three channels: whoever named two samples is asked again, and nothing is mixed up.
        assert_eq!(rows[0].fields.len(), 3);
    }

    #[test]
    fn each_line_keeps_its_own_unit_and_an_old_half_does_not_wait() {
        let mut celsius = line(&[("T1", 23.4)]);
        celsius.unit = Some(Unit::Degc);
        let mut fahrenheit = line(&[("T2", 75.0)]);
        fahrenheit.unit = Some(Unit::Degf);
        let lines = [
            (0, celsius.clone()),
            (100, fahrenheit.clone()),
            (1000, celsius),
            (900_000, fahrenheit),
        ];
        let rows = feed(&lines, &[]);
        assert_eq!(rows[0].fields[0].1, Some(Unit::Degc));
        assert_eq!(rows[0].fields[1].1, Some(Unit::Degf));
        assert_eq!(
            rows.len(),
            2,
            "the half of a quarter of an hour ago is a row of its own"
        );
        assert_eq!(rows[1].fields[1].0, Field::Empty);
    }
}
