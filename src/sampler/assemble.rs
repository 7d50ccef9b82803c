//! Brings channels that come on lines of their own onto one row.
//!
//! Boards that label their numbers may print all of them on one line or each on its own. The
//! labels are learnt until one repeats (or as many as samples were named are known); from then on
//! a row is whole when every label has come, and is let go unfinished when one comes again first.

use arrayvec::ArrayVec;

use crate::wire::{Field, MAX_CHANNELS, Sample, Unit};

/// Fields of one instant, in the order of the channels.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Gathered {
    pub(super) t_ns: i64,
    pub(super) fields: ArrayVec<Field, MAX_CHANNELS>,
    pub(super) unit: Option<Unit>,
    pub(super) merged: bool,
}

#[derive(Debug, Default)]
pub(super) struct Assembler {
    labels: Vec<Box<str>>,
    complete: bool,
    slots: ArrayVec<Option<Field>, MAX_CHANNELS>,
    first_ns: i64,
    last_ns: i64,
    lines: u32,
    unit: Option<Unit>,
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

    /// Takes one labelled line and gives the rows that it completes; `named` are the samples'
    /// names as people gave them. `Err` names a label that does not belong to this bench.
    pub(super) fn take(
        &mut self,
        sample: &Sample,
        t_ns: i64,
        named: &[String],
    ) -> (ArrayVec<Gathered, 2>, Option<Box<str>>) {
        let mut rows = ArrayVec::new();
        let mut stranger = None;
        self.unit = sample.unit.or(self.unit);
        let mut counted = false;
        for (label, &field) in sample.labels.iter().zip(&sample.fields) {
            let known = self.labels.iter().position(|l| l == label);
            if let Some(place) = known
                && matches!(self.slots.get(place), Some(Some(_)))
            {
                self.learnt(named);
                let _ = rows.try_push(self.let_go());
                counted = false;
            }
            let Some(place) = self.place_of(label) else {
                stranger = Some(label.clone());
                continue;
            };
            if !std::mem::replace(&mut counted, true) {
                if self.lines == 0 {
                    self.first_ns = t_ns;
                }
                self.last_ns = t_ns;
                self.lines += 1;
            }
            if let Some(slot) = self.slots.get_mut(place) {
                *slot = Some(field);
            }
        }
        if !named.is_empty() && self.labels.len() == named.len() {
            self.learnt(named);
        }
        if self.complete && self.slots.iter().all(Option::is_some) && !self.slots.is_empty() {
            let _ = rows.try_push(self.let_go());
        }
        (rows, stranger)
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

    /// Ends the learning; where people named the samples as the board labels them, their order
    /// becomes that of the channels.
    fn learnt(&mut self, named: &[String]) {
        if std::mem::replace(&mut self.complete, true) {
            return;
        }
        let order: Option<Vec<usize>> = named
            .iter()
            .map(|name| {
                self.labels
                    .iter()
                    .position(|l| l.eq_ignore_ascii_case(name))
            })
            .collect();
        if let Some(order) = order
            && order.len() == self.labels.len()
        {
            let labels = std::mem::take(&mut self.labels);
            let slots = std::mem::take(&mut self.slots);
            for from in order {
                self.labels.extend(labels.get(from).cloned());
                self.slots.extend(slots.get(from).copied());
            }
        }
    }

    fn let_go(&mut self) -> Gathered {
        let fields = self
            .slots
            .iter_mut()
            .map(|slot| slot.take().unwrap_or(Field::Empty))
            .collect();
        Gathered {
            // All channels get one timestamp: the middle of the lines that brought them.
            t_ns: self.first_ns + (self.last_ns - self.first_ns) / 2,
            fields,
            unit: self.unit,
            merged: std::mem::take(&mut self.lines) > 1,
        }
    }
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
            .map(|field| match field {
                Field::Number { value, .. } => *value,
                _ => f64::NAN,
            })
            .collect()
    }

    fn feed(lines: &[(i64, Sample)], named: &[String]) -> Vec<Gathered> {
        let mut assembler = Assembler::default();
        lines
            .iter()
            .flat_map(|(t_ns, sample)| assembler.take(sample, *t_ns, named).0)
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
        assert_eq!(
            (values(&rows[1]), rows[1].merged),
            (vec![25.0, 23.4], false)
        );
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
        assert_eq!((rows[0].t_ns, rows[0].merged), (50, true));
        assert_eq!((values(&rows[1]), rows[1].t_ns), (vec![25.0, 23.4], 1050));
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
        assert_eq!(rows[1].fields[1], Field::Empty);
    }

    #[test]
    fn names_that_are_labels_set_the_order() {
        let lines = [(0, line(&[("slate", 24.9), ("moss", 23.3)]))];
        let rows = feed(&lines, &["Moss".into(), "Slate".into()]);
        assert_eq!(values(&rows[0]), [23.3, 24.9]);
    }
}
