//! One bench: its row in the class's table, and whether it did the same as the others.

use serde::Serialize;

use super::names::Samples;
use super::spread::{Quantity, median};
use super::warning::ClassWarning;
use crate::analysis::{SampleValues, Series, Summary};
use crate::lamp::{Edge, Kind};

/// Lengths of heating or cooling that differ by more than this share are not the same plan. With
/// the time constants of a lesson the rise then differs by some per cent (common practice, no
/// source).
const SAME_LENGTH: f64 = 0.05;

/// A bench as it comes: an analysed run or table.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    /// What a person calls it; text from people.
    pub name: &'a str,
    /// What follows from its rows.
    pub summary: &'a Summary,
    /// Its rows.
    pub series: &'a Series,
}

/// One sample of one bench.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchSample {
    /// Which of the class's samples it is.
    pub sample: usize,
    /// Its name on this bench.
    pub name: String,
    /// The values.
    #[serde(flatten)]
    pub values: SampleValues,
    /// Standard uncertainty of each value.
    pub u: SampleValues,
}

/// One row of the class's table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchRow {
    /// The bench's name; different for each bench.
    pub name: String,
    /// Where its data came from.
    pub source: String,
    /// Its rows.
    pub rows: usize,
    /// How long the lamp was on, in seconds; none if it was not seen to go on and off.
    pub heated_s: Option<f64>,
    /// How long the cooling was watched, in seconds.
    pub cooled_s: Option<f64>,
    /// Whether it was heated as long as most others: only then its rises are put together with
    /// theirs.
    pub heated_alike: bool,
    /// Whether it cooled as long as most others.
    pub cooled_alike: bool,
    /// Typical time between its rows, in seconds.
    pub interval_s: Option<f64>,
    /// Whether its rows are as many or as few as most others': only then its first rates are put together
    /// with theirs.
    pub rows_alike: bool,
    /// Its samples, in its own order.
    pub samples: Vec<BenchSample>,
}

impl BenchRow {
    /// The bench's sample that is this one of the class.
    #[must_use]
    pub fn sample(&self, place: usize) -> Option<&BenchSample> {
        self.samples.iter().find(|s| s.sample == place)
    }

    /// The ratio of a quantity of two of the class's samples, with its standard uncertainty; none if
    /// one of the two might as well be zero, or its uncertainty is not known.
    #[must_use]
    pub fn ratio(&self, upper: usize, lower: usize, quantity: Quantity) -> Option<(f64, f64)> {
        let known = |place: usize| {
            let (value, u) = quantity.of(self.sample(place)?);
            let (value, u) = (value?, u?);
            (value > 2.0 * u).then_some((value, u))
        };
        let ((a, ua), (b, ub)) = (known(upper)?, known(lower)?);
        let ratio = a / b;
        Some((ratio, ratio * (ua / a).hypot(ub / b)))
    }
}

/// The rows of the table, before they are compared.
pub(super) fn rows(benches: &[Bench<'_>], samples: &Samples) -> Vec<BenchRow> {
    let mut out: Vec<BenchRow> = Vec::with_capacity(benches.len());
    for (bench, places) in benches.iter().zip(&samples.places) {
        let mut name = bench.name.to_owned();
        let mut n = 2;
        while out.iter().any(|row| row.name == name) {
            name = format!("{} ({n})", bench.name);
            n += 1;
        }
        let (heated_s, cooled_s) = lengths(bench);
        let own = places.iter().zip(&bench.summary.samples);
        out.push(BenchRow {
            name,
            source: bench.summary.source.clone(),
            rows: bench.summary.rows,
            heated_s,
            cooled_s,
            heated_alike: false,
            cooled_alike: false,
            interval_s: bench.summary.interval_s,
            rows_alike: true,
            samples: own
                .map(|(&sample, found)| BenchSample {
                    sample,
                    name: found.name.clone(),
                    values: found.values,
                    u: found.u,
                })
                .collect(),
        });
    }
    out
}

/// Lengths of the first heating and of the cooling after it, to a tenth of a second.
fn lengths(bench: &Bench<'_>) -> (Option<f64>, Option<f64>) {
    let edges = bench.summary.lamp.as_slice();
    let at = |kind: Kind| edges.iter().find(|e| e.edge == kind);
    let starts_on = edges.first().is_some_and(|e| e.edge == Kind::Off);
    let on = at(Kind::On).filter(|_| !starts_on);
    let off = at(Kind::Off);
    let after = |off: &Edge| edges.iter().find(|e| e.at_s > off.at_s).map(|e| e.at_s);
    let end_s = off.and_then(|off| after(off).or_else(|| bench.series.t_s.last().copied()));
    let tenth = |s: f64| (s * 10.0).round() / 10.0;
    let length = |from: Option<f64>, to: Option<f64>| Some(tenth(to? - from?)).filter(|s| *s > 0.0);
    let (on_s, off_s) = (on.map(|e| e.at_s), off.map(|e| e.at_s));
    (length(on_s, off_s), length(off_s, end_s))
}

/// Whether two lengths are the same but for how people switch.
fn is_alike(own_s: f64, usual_s: f64) -> bool {
    (own_s - usual_s).abs() <= SAME_LENGTH * usual_s
}

/// Rows this far apart, in seconds, do not show how a sample begins: what of it is faster goes between them,
/// and the rate told is too small by half.
const COARSE_S: f64 = 60.0;

/// Finds which benches have rows that tell first rates alike, and says of the others that they do not. Of
/// two kinds the commoner is kept, the finer of as many.
pub(super) fn rates_alike(rows: &mut [BenchRow], warnings: &mut Vec<ClassWarning>) {
    let is_coarse = |row: &BenchRow| row.interval_s.is_some_and(|s| s >= COARSE_S);
    let coarse = rows.iter().filter(|row| is_coarse(row)).count();
    let keeps_coarse = 2 * coarse > rows.len();
    let kept = rows.iter().filter(|row| is_coarse(row) == keeps_coarse);
    let intervals: Vec<f64> = kept.filter_map(|row| row.interval_s).collect();
    let Some(usual_s) = median(&intervals) else {
        return;
    };
    for row in rows {
        row.rows_alike = is_coarse(row) == keeps_coarse;
        if let (Some(own_s), false) = (row.interval_s, row.rows_alike) {
            let bench = row.name.clone();
            warnings.push(ClassWarning::RowsOtherwise {
                bench,
                own_s,
                usual_s,
            });
        }
    }
}

/// Finds which benches did the same, and says of the others that they did not.
pub(super) fn comparable(rows: &mut [BenchRow], warnings: &mut Vec<ClassWarning>) {
    // One that a bench had, and the most others too: between two halves of a class the median is nobody's.
    let usual = |pick: fn(&BenchRow) -> Option<f64>| {
        let lengths: Vec<f64> = rows.iter().filter_map(pick).collect();
        let middle = median(&lengths)?;
        let others = |own: f64| lengths.iter().filter(|s| is_alike(own, **s)).count();
        let far = |own: f64| (own - middle).abs();
        let best = lengths.iter().copied().max_by(|a, b| {
            let more = others(*a).cmp(&others(*b));
            more.then(far(*b).total_cmp(&far(*a)))
        })?;
        let alike: Vec<f64> = lengths
            .iter()
            .copied()
            .filter(|s| is_alike(*s, best))
            .collect();
        median(&alike)
    };
    let (heated, cooled) = (usual(|r| r.heated_s), usual(|r| r.cooled_s));
    let alike = |own: Option<f64>, usual: Option<f64>| {
        own.zip(usual)
            .is_some_and(|(own, usual)| is_alike(own, usual))
    };
    for row in rows {
        row.heated_alike = alike(row.heated_s, heated);
        row.cooled_alike = row.heated_alike && alike(row.cooled_s, cooled);
        let bench = row.name.clone();
        match (row.heated_s, heated) {
            (None, _) => warnings.push(ClassWarning::NoHeating { bench }),
            (Some(own_s), Some(usual_s)) if !row.heated_alike => {
                warnings.push(ClassWarning::HeatedOtherwise {
                    bench,
                    own_s,
                    usual_s,
                });
            }
            _ => {
                if let (Some(own_s), Some(usual_s), false) =
                    (row.cooled_s, cooled, row.cooled_alike)
                {
                    warnings.push(ClassWarning::CooledOtherwise {
                        bench,
                        own_s,
                        usual_s,
                    });
                }
            }
        }
    }
}
