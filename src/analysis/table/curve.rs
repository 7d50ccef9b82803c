//! Slips that only their neighbours give away: a number ten degrees off, two numbers of a row swapped, a
//! row written twice.
//!
//! Two measures say how far a value is off. *Lines*: through the two values before it, through the two
//! after it, and between its neighbours. Where the curve is smooth all three come near; where the lamp
//! went on or off the value still lies on one of the outer two, or between them. Only a slip lies off all
//! three to the same side, by the least of three distances. *Bends*: what the lamp does it does to all
//! samples at once, so a value's distance from the line between its neighbours should be that of another
//! column, in proportion to their ranges and within a factor of [`ALIKE`]; what is beyond that is off.
//!
//! A value counts as a slip where it is off by more than is usual without it and by more than a least
//! share of its column's range, other columns are not off to the same side, and all else fits once it is
//! taken out.

use super::bends::{Bends, lines};
use super::head::Scale;
use super::repeats::{repeated, step};

/// Rows from which on neighbours say something, and beyond which nobody writes by hand.
const ROWS: std::ops::RangeInclusive<usize> = 6..=300;

/// Most columns that are looked at: a hand fills fewer, and each is held against all others.
const COLUMNS: usize = 16;

/// Least distance that counts, in degrees Celsius, as a share of the column's range and in steps of its
/// readings: off its lines, and off what other columns bend.
const LINES: Least = Least(1.0, 0.12, 3.0);
const BENDS: Least = Least(1.5, 0.2, 4.0);

/// In degrees Celsius, as a share of the range, in steps.
struct Least(f64, f64, f64);

/// So many times the distance that four values in five keep within counts.
const USUAL: f64 = 4.0;

/// From so many times what counts on a value is beyond what a curve can do, and left out.
const BEYOND: f64 = 1.5;

/// A distance is shared where another column's, as a part of its range, is so large a part of it.
const SHARED: f64 = 0.25;

/// The first and the last value are held against one side only: so much more must they be off.
const AT_ENDS: f64 = 3.0;

/// Once a slip is taken out, what is left of it in the rows around is less than this part.
const LEFT: f64 = 0.5;

/// Most slips in one column: what has more is no curve.
const MOST: usize = 3;

/// One column of degrees Celsius.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub(super) scale: Scale,
    pub(super) degc: Vec<f64>,
}

/// What does not fit the rows around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Odd {
    /// One number.
    Value {
        column: usize,
        row: usize,
        /// What may have been meant, in the unit that it was written in.
        perhaps: Option<f64>,
        left_out: bool,
    },
    /// Two numbers of one row that belong into each other's column.
    Swapped { columns: (usize, usize), row: usize },
    /// A row with all the values of the one before it.
    Repeated { row: usize },
}

/// What is odd in the columns of a table whose times are in seconds.
pub(super) fn odd(t_s: &[f64], curves: Vec<Curve>) -> Vec<Odd> {
    if !ROWS.contains(&t_s.len()) || curves.len() > COLUMNS {
        return Vec::new();
    }
    let mut table = Work { t_s, curves };
    let mut found = Vec::new();
    let most = MOST.min(t_s.len() / 5);
    let mut hits = vec![0; table.curves.len()];
    let repeated = |table: &Work| {
        Some(Odd::Repeated {
            row: repeated(&table.columns())?,
        })
    };
    while let Some(next) = repeated(&table).or_else(|| table.off()) {
        let places: Vec<(usize, usize)> = match next {
            Odd::Value { column, row, .. } => vec![(column, row)],
            Odd::Swapped { columns, row } => vec![(columns.0, row), (columns.1, row)],
            Odd::Repeated { row } => (0..table.curves.len()).map(|c| (c, row)).collect(),
        };
        for (column, row) in places {
            table.set(column, row, f64::NAN);
            if let Some(hits) = hits.get_mut(column) {
                *hits += 1;
            }
        }
        found.push(next);
        if hits.iter().any(|hits| *hits > most) {
            return Vec::new();
        }
    }
    found
}

/// The table while slips are looked for.
#[derive(Clone)]
struct Work<'a> {
    t_s: &'a [f64],
    curves: Vec<Curve>,
}

/// A value that is off.
#[derive(Clone, Copy)]
struct Off {
    column: usize,
    row: usize,
    /// In degrees Celsius, with its sign.
    by: f64,
    /// As a part of what counts.
    part: f64,
    /// What counts, in degrees Celsius.
    limit: f64,
}

impl Work<'_> {
    fn degc(&self, column: usize) -> &[f64] {
        self.curves.get(column).map_or(&[], |c| &c.degc)
    }

    fn at(&self, column: usize, row: usize) -> f64 {
        self.degc(column).get(row).copied().unwrap_or(f64::NAN)
    }

    fn set(&mut self, column: usize, row: usize, degc: f64) {
        let curve = self.curves.get_mut(column);
        if let Some(value) = curve.and_then(|c| c.degc.get_mut(row)) {
            *value = degc;
        }
    }

    fn with(&self, places: &[(usize, usize, f64)]) -> Self {
        let mut other = self.clone();
        for (column, row, degc) in places {
            other.set(*column, *row, *degc);
        }
        other
    }

    fn columns(&self) -> Vec<&[f64]> {
        self.curves.iter().map(|c| c.degc.as_slice()).collect()
    }

    fn bends(&self) -> Bends {
        Bends::of(self.t_s, &self.columns())
    }

    /// The value that is furthest off, or two that are swapped, if that is further than any may be.
    fn off(&self) -> Option<Odd> {
        let bends = self.bends();
        let mut all = Vec::new();
        for column in 0..self.curves.len() {
            let lines = lines(self.t_s, self.degc(column));
            for (row, line) in lines.iter().enumerate() {
                let bend = bends.off(column, row);
                let by = if bend.abs() > line.abs() { bend } else { *line };
                if by.abs() >= LINES.0 {
                    all.push((column, row, by, (*line, bend)));
                }
            }
        }
        let size = |column: usize, by: f64| by.abs() / bends.range(column);
        // What is beside the first or last value may make that look worse than itself.
        let end = |row: usize| row == 0 || row + 1 == self.t_s.len();
        all.sort_by(|a, b| {
            let larger = size(b.0, b.2).total_cmp(&size(a.0, a.2));
            end(a.1).cmp(&end(b.1)).then(larger)
        });
        // Far less than the largest is what it does to its neighbours, or nothing.
        let mut all = all.into_iter().take(3 * self.curves.len() + 6);
        all.find_map(|(column, row, by, measures)| {
            let swapped = self.swapped(column, row, by);
            swapped.or_else(|| self.slip(&bends, self.judge(column, row, measures)?))
        })
    }

    /// Holds a value against what is usual without it, by its distance from its lines and from what other
    /// columns bend.
    fn judge(&self, column: usize, row: usize, (line, bend): (f64, f64)) -> Option<Off> {
        let without = self.with(&[(column, row, f64::NAN)]);
        let bends = without.bends();
        let end = row == 0 || row + 1 == self.t_s.len();
        if end && self.curves.len() < 2 {
            return None;
        }
        // By its lines alone a value is off whatever is around it; by its bend only if all else fits.
        let left = (0..self.t_s.len()).map(|row| bends.off(column, row).abs());
        let bend = Some(bend).filter(|bend| left.fold(0.0, f64::max) < LEFT * bend.abs());
        let limits = without.limits(column, &bends);
        let more = if end { AT_ENDS } else { 1.0 };
        let measures = [(line, limits.0 * more), (bend.unwrap_or(0.0), limits.1)];
        let found = measures.map(|(by, limit)| Off {
            column,
            row,
            by,
            part: by.abs() / limit,
            limit,
        });
        found.into_iter().max_by(|a, b| a.part.total_cmp(&b.part))
    }

    /// What counts in a column from which a suspect is taken out, in degrees Celsius: off its lines, and
    /// off what other columns bend.
    fn limits(&self, column: usize, bends: &Bends) -> (f64, f64) {
        let step = step(self.degc(column)).min(1.0);
        let limit = |sizes: &mut Vec<f64>, Least(degc, share, steps): Least| {
            sizes.sort_by(f64::total_cmp);
            let usual = sizes.get(sizes.len() * 4 / 5).copied().unwrap_or(0.0);
            let least = degc.max(share * bends.range(column)).max(steps * step);
            (USUAL * usual).max(least)
        };
        let rows = 1..self.t_s.len().saturating_sub(1);
        let lines = lines(self.t_s, self.degc(column));
        let inner = lines.get(rows.clone()).unwrap_or_default();
        let mut off: Vec<f64> = inner.iter().map(|by| by.abs()).collect();
        let mut bent: Vec<f64> = rows.map(|row| bends.off(column, row).abs()).collect();
        (limit(&mut off, LINES), limit(&mut bent, BENDS))
    }

    fn slip(&self, bends: &Bends, off: Off) -> Option<Odd> {
        let Off { column, row, .. } = off;
        if off.part < 1.0 || self.is_shared(bends, off) {
            return None;
        }
        let perhaps = self.meant(off);
        let left_out = perhaps.is_some() || off.part >= BEYOND;
        Some(Odd::Value {
            column,
            row,
            perhaps,
            left_out,
        })
    }

    /// Whether other columns are off their lines to the same side in this row, so that it is no slip.
    fn is_shared(&self, bends: &Bends, off: Off) -> bool {
        let own = off.by / bends.range(off.column);
        let mut others = (0..self.curves.len()).filter(|other| *other != off.column);
        others.any(|other| {
            let lines = lines(self.t_s, self.degc(other));
            let by = lines.get(off.row).copied().unwrap_or(0.0) / bends.range(other);
            by * own.signum() >= SHARED * own.abs()
        })
    }

    /// How far a row's value would be off if it were another, in degrees Celsius.
    fn if_it_were(&self, column: usize, row: usize, degc: f64) -> f64 {
        let other = self.with(&[(column, row, degc)]);
        let line = lines(self.t_s, other.degc(column)).get(row).copied();
        other
            .bends()
            .off(column, row)
            .abs()
            .max(line.unwrap_or(0.0).abs())
    }

    /// What was meant: the number with another ten, with two digits swapped, with the other sign.
    fn meant(&self, off: Off) -> Option<f64> {
        let scale = self.curves.get(off.column)?.scale;
        let written = scale.of_degc(self.at(off.column, off.row));
        let tens = (1..=9).flat_map(|k| [10.0, -10.0].map(|ten| written + ten * f64::from(k)));
        let others = super::slips::swapped(written);
        let all = tens.chain(others).chain([-written]);
        let all = all.map(|v| (v * 1e3).round() / 1e3);
        let within = (0.25 * off.limit).max(0.3);
        let off_by = |v: f64| self.if_it_were(off.column, off.row, scale.to_degc(v));
        let near = all.map(|v| (v, off_by(v))).filter(|(_, by)| *by <= within);
        near.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(v, _)| v)
    }

    /// Whether a value and another of its row fit each other's column and not their own.
    fn swapped(&self, column: usize, row: usize, by: f64) -> Option<Odd> {
        let value = self.at(column, row);
        let mut others = (0..self.curves.len()).filter(|other| *other != column);
        let other = others.find(|other| {
            let its = self.at(*other, row);
            let changed = self.with(&[(column, row, its), (*other, row, value)]);
            let bends = changed.bends();
            let fits = |column: usize| {
                let line = lines(self.t_s, changed.degc(column)).get(row).copied();
                let limit = changed.limits(column, &bends).0;
                let off = bends.off(column, row).abs().max(line.unwrap_or(0.0).abs());
                off < (0.3 * by.abs()).min(0.6 * limit)
            };
            let limit = |column: usize| changed.limits(column, &bends).0;
            let limit = limit(column).max(limit(*other));
            let apart = (value - its).abs() > 1.2 * limit;
            // The other one is off too, the other way.
            let its_bend = self.bends().bend(*other, row).unwrap_or(0.0);
            let against = its_bend * by.signum() < -0.25 * by.abs() && (value - its) * by > 0.0;
            row > 0 && row + 1 < self.t_s.len() && apart && against && fits(column) && fits(*other)
        })?;
        let columns = (column.min(other), column.max(other));
        Some(Odd::Swapped { columns, row })
    }
}

#[cfg(test)]
mod tests;
