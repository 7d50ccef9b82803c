//! Benches that stand apart, and what may be the cause, in careful words.
//!
//! What a cause does to a bench's numbers follows from the energy balance that
//! [`Comparison`](crate::analysis::Comparison) states: a nearer lamp gives every sample more power,
//! so that all rise more while their ratio stays; water takes heat away by evaporation and stores
//! it, so that one sample alone rises less; a probe that is not inside its sample shows something
//! else's temperature, with another time constant. Other causes do the same to the numbers, so a
//! cause is only ever named as possible.

use serde::Serialize;

use super::bench::BenchRow;
use super::spread::{Quantity, Spread};
use super::{ClassRatio, ClassSample};

/// What may be the cause that a bench stands apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// All its samples rose more than those of the others.
    LampNearer,
    /// All rose less.
    LampFarther,
    /// One sample rose more.
    Drier,
    /// One sample rose less.
    Wetter,
    /// One sample followed another time constant.
    ProbePlace,
    /// One sample began warmer or colder.
    Start,
    /// Two samples rose each as the other one does on the other benches.
    Exchanged,
    /// A number stands apart of which more than one of these may be the cause.
    Open,
}

impl Cause {
    /// Why that may be, for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::LampNearer => {
                "all its samples warmed more than those of the other benches: the lamp may have been nearer or brighter there"
            }
            Self::LampFarther => {
                "all its samples warmed less than those of the other benches: the lamp may have been farther away, weaker or not aimed at the trays"
            }
            Self::Drier => {
                "this sample alone warmed more: it may have been drier, thinner or darker than on the other benches, or its probe may have lain in the lamp's light"
            }
            Self::Wetter => {
                "this sample alone warmed less: it may have been wetter or thicker than on the other benches, in shade, or its probe may have touched the glass or the tray"
            }
            Self::ProbePlace => {
                "this sample warmed and cooled at another pace: its probe may have touched the glass or the tray, or have lain elsewhere than on the other benches"
            }
            Self::Exchanged => {
                "two samples warmed each as the other one on the other benches: their names or their probes may be exchanged"
            }
            Self::Open => "the numbers do not tell why",
            Self::Start => {
                "this sample began at another temperature: it may not have been left to settle, or its probe may read otherwise; compare the probes in one bath"
            }
        }
    }
}

/// A bench that stands apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outlying {
    /// The bench's name.
    pub bench: String,
    /// The sample; none if it is all of them.
    pub sample: Option<String>,
    /// In which quantity.
    pub quantity: Quantity,
    /// Its value; for all samples that of the first.
    pub value: f64,
    /// The median of the class.
    pub median: f64,
    /// How many robust standard deviations lie between them.
    pub score: f64,
    /// What may be the cause.
    pub cause: Cause,
    /// The cause in words.
    pub words: &'static str,
}

/// All benches that stand apart, in the order of the table.
pub(super) fn outlying(
    rows: &[BenchRow],
    samples: &[ClassSample],
    ratios: &[ClassRatio],
) -> Vec<Outlying> {
    let benches = rows.iter().enumerate();
    let of_one = |(bench, row): (usize, &BenchRow)| match of_bench(bench, row, samples) {
        none if none.is_empty() => open(bench, row, samples, ratios),
        some => some,
    };
    benches.flat_map(of_one).collect()
}

/// What else of a bench stands apart, where nothing does that a cause is named for: whatever has an
/// asterisk in a table is told.
fn open(
    bench: usize,
    row: &BenchRow,
    samples: &[ClassSample],
    ratios: &[ClassRatio],
) -> Vec<Outlying> {
    let told = |sample: Option<String>, spread: &Spread| {
        let apart = spread.apart.iter().find(|a| a.bench == bench)?;
        Some(Outlying {
            bench: row.name.clone(),
            sample,
            quantity: spread.quantity,
            value: apart.value,
            median: spread.median?,
            score: apart.score,
            cause: Cause::Open,
            words: Cause::Open.words(),
        })
    };
    let own = samples.iter().flat_map(|sample| {
        let all = sample.quantities.iter();
        all.filter_map(|spread| told(Some(sample.name.clone()), spread))
    });
    let of_two = |ratio: &ClassRatio| told(Some(ratio.names()), &ratio.ratio);
    own.chain(ratios.iter().filter_map(of_two)).collect()
}

/// Value, median and score of what stands apart.
type Found = (f64, f64, f64);

fn of_bench(bench: usize, row: &BenchRow, samples: &[ClassSample]) -> Vec<Outlying> {
    let apart = |place: usize, quantity: Quantity| -> Option<Found> {
        let mut own = samples.get(place)?.quantities.iter();
        let own = own.find(|s| s.quantity == quantity)?;
        let apart = own.apart.iter().find(|a| a.bench == bench)?;
        Some((apart.value, own.median?, apart.score))
    };
    let told = |place: Option<usize>, quantity: Quantity, found: Found, cause: Cause| Outlying {
        bench: row.name.clone(),
        sample: place.and_then(|p| samples.get(p)).map(|s| s.name.clone()),
        quantity,
        value: found.0,
        median: found.1,
        score: found.2,
        cause,
        words: cause.words(),
    };
    let places = || row.samples.iter().map(|s| s.sample);
    let rises: Vec<(usize, Option<Found>)> =
        places().map(|p| (p, apart(p, Quantity::Rise))).collect();
    let all = |up: bool| {
        let same = |(_, rise): &(usize, Option<Found>)| rise.is_some_and(|r| (r.2 > 0.0) == up);
        rises.len() > 1 && rises.iter().all(same)
    };
    let mut out = Vec::new();
    match rises.first() {
        Some((_, Some(first))) if all(true) => {
            out.push(told(None, Quantity::Rise, *first, Cause::LampNearer));
        }
        Some((_, Some(first))) if all(false) => {
            out.push(told(None, Quantity::Rise, *first, Cause::LampFarther));
        }
        Some((_, Some(first))) if exchanged(&rises) => {
            out.push(told(None, Quantity::Rise, *first, Cause::Exchanged));
        }
        _ => out.extend(rises.iter().filter_map(|(place, rise)| {
            let found = (*rise)?;
            let cause = if found.2 > 0.0 {
                Cause::Drier
            } else {
                Cause::Wetter
            };
            Some(told(Some(*place), Quantity::Rise, found, cause))
        })),
    }
    let is_exchanged = out.iter().any(|found| found.cause == Cause::Exchanged);
    // The rest follows from that.
    for place in places().filter(|_| !is_exchanged) {
        for (quantity, cause) in [
            (Quantity::TimeConstant, Cause::ProbePlace),
            (Quantity::Start, Cause::Start),
        ] {
            let found = apart(place, quantity);
            out.extend(found.map(|f| told(Some(place), quantity, f, cause)));
        }
    }
    out
}

/// Whether the first two samples' rises stand apart, and would not if they were each other's.
fn exchanged(rises: &[(usize, Option<Found>)]) -> bool {
    let [(_, Some(a)), (_, Some(b))] = rises else {
        return false;
    };
    let is_others =
        |own: &Found, other: &Found| (own.0 - other.1).abs() < 0.3 * (own.0 - own.1).abs();
    is_others(a, b) && is_others(b, a)
}
