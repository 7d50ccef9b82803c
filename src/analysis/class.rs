//! Many benches of one class: one table, the spread between benches, pooled values.
//!
//! Each bench is one analysed run or table. Samples are the same where their names are, whatever
//! the case of the letters; values are put together only where the benches did the same (heated as
//! long, cooled as long), and what is left out is said. Spread is told apart: *within* a bench is
//! what its own readings leave open, *between* is what benches differ by beyond that.

mod bench;
mod causes;
mod names;
mod pool;
mod spread;
mod warning;

use serde::Serialize;

pub use bench::{Bench, BenchRow, BenchSample};
pub use causes::{Cause, Outlying};
pub use pool::{Pooled, paule_mandel};
pub use spread::{Apart, Quantity, Spread, Why};
pub use warning::{ClassWarning, seconds};

use bench::{comparable, rates_alike};
use names::Samples;

/// Name and version of the class's format.
pub const CLASS_FORMAT: &str = "duskmark-class-1";

/// One sample over all benches.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassSample {
    /// The name, as the first bench with it gives it.
    pub name: String,
    /// How many benches have it.
    pub benches: usize,
    /// Each quantity over the benches.
    pub quantities: Vec<Spread>,
}

/// A ratio of two samples over all benches.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassRatio {
    /// The sample above the line: the one that rose more in the middle of the class.
    pub upper: String,
    /// The sample below the line.
    pub lower: String,
    /// The ratio over the benches.
    pub ratio: Spread,
}

impl ClassRatio {
    /// Both samples, as one that stands apart in their ratio is told of.
    #[must_use]
    pub fn names(&self) -> String {
        format!("{} / {}", self.upper, self.lower)
    }
}

/// What a class's benches say together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Class {
    /// Always [`CLASS_FORMAT`].
    pub format: &'static str,
    /// The table: one row per bench, in the order given.
    pub benches: Vec<BenchRow>,
    /// The samples, those that most benches have first.
    pub samples: Vec<ClassSample>,
    /// Ratios of rises, then of initial heating rates, of the sample that rose most to each other.
    pub ratios: Vec<ClassRatio>,
    /// Benches that stand apart, with what may be the cause.
    pub outlying: Vec<Outlying>,
    /// What the reader should know.
    pub warnings: Vec<ClassWarning>,
}

/// Puts the benches of a class together. Never fails: what they do not support is none, with a
/// reason.
#[must_use]
pub fn class(benches: &[Bench<'_>]) -> Class {
    let mut warnings = Vec::new();
    let samples = Samples::of(benches);
    let mut rows = bench::rows(benches, &samples);
    comparable(&mut rows, &mut warnings);
    rates_alike(&mut rows, &mut warnings);
    samples.say(&rows, &mut warnings);
    let of_sample = |(place, name): (usize, &String)| ClassSample {
        name: name.clone(),
        benches: rows
            .iter()
            .filter(|row| row.sample(place).is_some())
            .count(),
        quantities: Quantity::OF_SAMPLE
            .iter()
            .map(|q| spread::of_sample(&rows, place, *q))
            .collect(),
    };
    let all: Vec<ClassSample> = samples.names.iter().enumerate().map(of_sample).collect();
    let ratios = ratios(&rows, &all);
    let outlying = causes::outlying(&rows, &all, &ratios);
    Class {
        format: CLASS_FORMAT,
        benches: rows,
        samples: all,
        ratios,
        outlying,
        warnings,
    }
}

/// The sample that rose most in the middle of the class over each other one. What fewer than half as many
/// benches have as the commonest sample (a name that one bench wrote otherwise) is left aside.
fn ratios(rows: &[BenchRow], samples: &[ClassSample]) -> Vec<ClassRatio> {
    let rise = |sample: &ClassSample| {
        let mut own = sample.quantities.iter();
        let own = own.find(|s| s.quantity == Quantity::Rise)?;
        Some((own.n, own.median?))
    };
    let all = samples.iter().enumerate();
    let all = all.filter_map(|(place, sample)| Some((place, rise(sample)?)));
    let all: Vec<(usize, (usize, f64))> = all.collect();
    let most = all.iter().map(|(_, (n, _))| *n).max().unwrap_or(0);
    let common = all.iter().filter(|(_, (n, _))| 2 * n >= most);
    let mut ranked: Vec<(usize, f64)> = common
        .map(|(place, (_, median))| (*place, *median))
        .collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
    let Some((&(upper, _), others)) = ranked.split_first() else {
        return Vec::new();
    };
    let name = |place: usize| samples.get(place).map_or(String::new(), |s| s.name.clone());
    let mut out = Vec::new();
    for quantity in [Quantity::RiseRatio, Quantity::InitialRateRatio] {
        for &(lower, _) in others {
            out.push(ClassRatio {
                upper: name(upper),
                lower: name(lower),
                ratio: spread::of_ratio(rows, upper, lower, quantity),
            });
        }
    }
    out
}
