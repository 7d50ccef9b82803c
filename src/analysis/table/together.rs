//! Tables beside or below one another as one.
//!
//! Tables of different samples are put together row by row of the same time; those of the same samples
//! only where one begins after the other ends.

use super::Table;
use super::column::{Column, ColumnRead};
use super::work::Work;
use crate::analysis::{RowsWarning, TableError, Warning};

/// The tables of a file as one.
pub(super) fn together(works: Vec<Work>, mut warnings: Vec<Warning>) -> Result<Table, TableError> {
    let mut refused = None;
    let mut times: Vec<ColumnRead> = Vec::new();
    let mut whole: Option<Work> = None;
    for mut work in works {
        if work.t_s.is_empty() {
            refused = refused.or(Some(work.no_rows()));
            continue;
        }
        let mut own = Vec::new();
        let settled = work.settle(&mut own);
        own.retain(|doubt| !warnings.contains(doubt));
        let below = work.below.filter(|_| whole.is_some());
        let left_out = match below {
            Some(line) => RowsWarning::TableBelow { line }.into(),
            None => Warning::TableBeside {
                place: work.time_place + 1,
            },
        };
        let read = match settled {
            // What is below is another matter, whatever is wrong with it.
            Err(_) if below.is_some() => {
                warnings.push(left_out);
                continue;
            }
            read => read?,
        };
        let Some(first) = &mut whole else {
            warnings.extend(own);
            times.push(read);
            whole = Some(work);
            continue;
        };
        if first.takes(&work) {
            warnings.extend(own);
            first.join(work);
            if !times.contains(&read) {
                times.push(read);
            }
        } else {
            warnings.push(left_out);
        }
    }
    let whole = whole.ok_or(refused.unwrap_or(TableError::NoRows))?;
    whole.finish(times, warnings)
}

impl Work {
    /// Whether another table can be put together with this one.
    fn takes(&self, other: &Self) -> bool {
        let ends = |work: &Self| Some((*work.t_s.first()?, *work.t_s.last()?));
        let apart = ends(self)
            .zip(ends(other))
            .is_some_and(|((a, b), (c, d))| b < c || d < a);
        let mut names = other.columns.iter().map(Column::key);
        apart || !names.any(|name| self.columns.iter().any(|c| c.key() == name))
    }

    /// Puts another table's rows among its own; both are in order of time.
    fn join(&mut self, other: Self) {
        let mut rows: Vec<(Option<usize>, Option<usize>)> = Vec::new();
        let (mut t_s, mut lines) = (Vec::new(), Vec::new());
        let (mut own, mut its) = (0, 0);
        loop {
            let (mine_s, its_s) = (self.t_s.get(own), other.t_s.get(its));
            let at_s = match (mine_s, its_s) {
                (None, None) => break,
                (a, b) => a.into_iter().chain(b).fold(f64::INFINITY, |a, b| a.min(*b)),
            };
            let mine = mine_s.is_some_and(|t| *t <= at_s).then_some(own);
            let theirs = its_s.is_some_and(|t| *t <= at_s).then_some(its);
            lines.push(match (mine, theirs) {
                (Some(row), _) => self.line(row),
                (None, row) => other.line(row.unwrap_or(0)),
            });
            t_s.push(at_s);
            rows.push((mine, theirs));
            own += usize::from(mine.is_some());
            its += usize::from(theirs.is_some());
        }
        self.times.join(&other.times);
        self.t_s = t_s;
        self.set_lines(&lines);
        let pick = |degc: &[f64], row: Option<usize>| {
            row.and_then(|row| degc.get(row))
                .copied()
                .unwrap_or(f64::NAN)
        };
        let mut others = other.columns;
        for column in &mut self.columns {
            let same = others.iter().position(|c| c.key() == column.key());
            let added = same.map(|at| others.remove(at));
            let more: &[f64] = added.as_ref().map_or(&[], |c| &c.degc);
            let values = rows.iter().map(|(mine, its)| match mine {
                Some(_) => pick(&column.degc, *mine),
                None => pick(more, *its),
            });
            column.degc = values.collect();
            if let Some(added) = added {
                column.count_also(&added);
            }
        }
        for mut column in others {
            let values = rows.iter().map(|(_, its)| pick(&column.degc, *its));
            column.degc = values.collect();
            self.columns.push(column);
        }
    }
}
