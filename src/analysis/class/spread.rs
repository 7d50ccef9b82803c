//! A quantity over the benches of a class: middle, spread, and the pooled value.

use serde::Serialize;

use super::bench::{BenchRow, BenchSample};
use super::pool::{FEWEST, Pooled, paule_mandel};

/// Fewest values of which one can be said to stand apart from the others.
const FEWEST_TO_JUDGE: usize = 5;

/// A value this many robust standard deviations from the median stands apart (B. Iglewicz and D. C.
/// Hoaglin, How to Detect and Handle Outliers, ASQC 1993; NIST/SEMATECH e-Handbook of Statistical
/// Methods, 1.3.5.17).
const APART: f64 = 3.5;

/// Ratio of standard deviation to median absolute deviation for a normal distribution.
const MAD_TO_SD: f64 = 1.4826;

/// A quantity of one sample, or of two against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Temperature before the lamp, in °C.
    #[serde(rename = "start_degc")]
    Start,
    /// Rise, in °C.
    #[serde(rename = "rise_degc")]
    Rise,
    /// Fall, in °C.
    #[serde(rename = "fall_degc")]
    Fall,
    /// Initial heating rate, in °C per minute.
    #[serde(rename = "heating_rate_degc_per_min")]
    HeatingRate,
    /// Initial cooling rate, in °C per minute.
    #[serde(rename = "cooling_rate_degc_per_min")]
    CoolingRate,
    /// Time constant of the cooling, in seconds.
    #[serde(rename = "time_constant_s")]
    TimeConstant,
    /// Ratio of two samples' rises.
    RiseRatio,
    /// Ratio of two samples' initial heating rates.
    InitialRateRatio,
}

impl Quantity {
    /// The quantities of one sample, in the order of a table.
    pub const OF_SAMPLE: [Self; 6] = [
        Self::Start,
        Self::Rise,
        Self::Fall,
        Self::HeatingRate,
        Self::CoolingRate,
        Self::TimeConstant,
    ];

    /// Value and standard uncertainty, where the sample has both.
    #[must_use]
    pub fn of(self, sample: &BenchSample) -> (Option<f64>, Option<f64>) {
        let pick = |v: &crate::analysis::SampleValues| match self {
            Self::Start => v.start_degc,
            Self::Rise | Self::RiseRatio => v.rise_degc,
            Self::Fall => v.fall_degc,
            Self::HeatingRate | Self::InitialRateRatio => v.heating_rate_degc_per_min,
            Self::CoolingRate => v.cooling_rate_degc_per_min,
            Self::TimeConstant => v.time_constant_s,
        };
        (pick(&sample.values), pick(&sample.u))
    }

    /// Whether a bench did what makes this quantity comparable with the others'.
    fn alike(self, row: &BenchRow) -> bool {
        match self {
            Self::Start | Self::TimeConstant => true,
            Self::HeatingRate | Self::InitialRateRatio => row.rows_alike,
            Self::Rise | Self::RiseRatio => row.heated_alike,
            Self::CoolingRate => row.heated_alike && row.rows_alike,
            Self::Fall => row.cooled_alike,
        }
    }

    /// The least difference that is worth a word, as a share of the median or in °C.
    fn least_sd(self, median: f64) -> f64 {
        match self {
            // Differences of 1 °C between places of a room, of 10 % between benches: 3.5 of these
            // (common practice, no source).
            Self::Start => 0.3,
            _ => 0.03 * median.abs(),
        }
    }
}

/// Why a quantity has no pooled value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Why {
    /// Too few benches have the quantity.
    #[serde(rename = "fewer than three benches have it")]
    Few,
    /// Too few of those that have it state an uncertainty.
    #[serde(rename = "fewer than three benches state its uncertainty")]
    FewKnown,
    /// Too few of them are left beside those that stand apart.
    #[serde(rename = "fewer than three benches are alike")]
    FewAlike,
}

/// One quantity over the benches.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spread {
    /// Which.
    pub quantity: Quantity,
    /// Benches that have it and are comparable.
    pub n: usize,
    /// Their median.
    pub median: Option<f64>,
    /// Lowest.
    pub lowest: Option<f64>,
    /// Highest.
    pub highest: Option<f64>,
    /// Standard deviation between benches from the median absolute deviation, which a few outlying
    /// benches do not move.
    pub robust_sd: Option<f64>,
    /// The pooled value of the benches that do not stand apart in this quantity.
    pub pooled: Option<Pooled>,
    /// The pooled value of all of them, where some stand apart.
    pub pooled_all: Option<Pooled>,
    /// Why there is no pooled value.
    pub why: Option<Why>,
    /// Places of the benches in the class's table that stand apart, with their value and how many
    /// robust standard deviations they are from the median.
    pub apart: Vec<Apart>,
}

/// A bench that stands apart in one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Apart {
    /// Its place in the class's table.
    pub bench: usize,
    /// Its value.
    pub value: f64,
    /// How many robust standard deviations it is above the median (below: negative).
    pub score: f64,
}

/// A quantity of one of the class's samples.
pub(super) fn of_sample(rows: &[BenchRow], sample: usize, quantity: Quantity) -> Spread {
    let one = |row: &BenchRow| {
        let (value, u) = quantity.of(row.sample(sample)?);
        Some((value?, u.unwrap_or(f64::NAN)))
    };
    spread(&gathered(rows, quantity, one), quantity, |x| x)
}

/// A ratio of two of the class's samples. It is pooled as a logarithm: a ratio and its inverse then
/// give the same answer, and relative uncertainties add (JCGM 100:2008, 5.1.6).
pub(super) fn of_ratio(
    rows: &[BenchRow],
    upper: usize,
    lower: usize,
    quantity: Quantity,
) -> Spread {
    let one = |row: &BenchRow| {
        let (ratio, u) = row.ratio(upper, lower, quantity)?;
        Some((ratio.ln(), u / ratio))
    };
    spread(&gathered(rows, quantity, one), quantity, f64::exp)
}

/// A bench's place, and its value and standard uncertainty (NaN where unknown).
type Entry = (usize, (f64, f64));

fn gathered(
    rows: &[BenchRow],
    quantity: Quantity,
    one: impl Fn(&BenchRow) -> Option<(f64, f64)>,
) -> Vec<Entry> {
    let own = rows
        .iter()
        .enumerate()
        .filter(|(_, row)| quantity.alike(row));
    own.filter_map(|(place, row)| Some((place, one(row).filter(|(x, _)| x.is_finite())?)))
        .collect()
}

/// Middle and spread of values; `shown` takes them from how they are pooled to how they are read.
fn spread(entries: &[Entry], quantity: Quantity, shown: fn(f64) -> f64) -> Spread {
    let values: Vec<f64> = entries.iter().map(|(_, (x, _))| *x).collect();
    let middle = median(&values);
    let sd = middle.and_then(|m| robust_sd(&values, m));
    let tidy = |x: f64| (shown(x) * 1e5).round() / 1e5;
    let apart = apart(entries, quantity, middle, sd, shown);
    let known: Vec<Entry> = entries
        .iter()
        .copied()
        .filter(|(_, (_, u))| *u > 0.0)
        .collect();
    let kept: Vec<(f64, f64)> = known
        .iter()
        .filter(|(place, _)| apart.iter().all(|a| a.bench != *place))
        .map(|(_, pair)| *pair)
        .collect();
    let all: Vec<(f64, f64)> = known.iter().map(|(_, pair)| *pair).collect();
    let pooled = paule_mandel(&kept).map(|p| as_shown(&p, quantity));
    let ends = |pick: fn(f64, f64) -> f64| values.iter().copied().reduce(pick).map(tidy);
    Spread {
        quantity,
        n: entries.len(),
        median: middle.map(tidy),
        lowest: ends(f64::min),
        highest: ends(f64::max),
        robust_sd: sd.zip(middle).map(|(sd, m)| {
            let scale = if is_ratio(quantity) { m.exp() } else { 1.0 };
            (sd * scale * 1e5).round() / 1e5
        }),
        pooled,
        pooled_all: paule_mandel(&all)
            .filter(|_| !apart.is_empty())
            .map(|p| as_shown(&p, quantity)),
        why: match pooled {
            Some(_) => None,
            None if entries.len() < FEWEST => Some(Why::Few),
            None if known.len() < FEWEST => Some(Why::FewKnown),
            None => Some(Why::FewAlike),
        },
        apart,
    }
}

fn is_ratio(quantity: Quantity) -> bool {
    matches!(quantity, Quantity::RiseRatio | Quantity::InitialRateRatio)
}

/// A pooled logarithm as a ratio: small uncertainties become relative ones.
fn as_shown(pooled: &Pooled, quantity: Quantity) -> Pooled {
    let tidy = |x: f64| (x * 1e5).round() / 1e5;
    let (value, low, high, scale) = if is_ratio(quantity) {
        let value = pooled.value.exp();
        (value, pooled.low.exp(), pooled.high.exp(), value)
    } else {
        (pooled.value, pooled.low, pooled.high, 1.0)
    };
    Pooled {
        value: tidy(value),
        u: tidy(pooled.u * scale),
        low: tidy(low),
        high: tidy(high),
        between_sd: tidy(pooled.between_sd * scale),
        within_u: tidy(pooled.within_u * scale),
        n: pooled.n,
    }
}

/// The values that stand apart from the others.
fn apart(
    entries: &[Entry],
    quantity: Quantity,
    middle: Option<f64>,
    sd: Option<f64>,
    shown: fn(f64) -> f64,
) -> Vec<Apart> {
    let (Some(middle), Some(sd), true) = (middle, sd, entries.len() >= FEWEST_TO_JUDGE) else {
        return Vec::new();
    };
    // A logarithm's own size says nothing: there a share is a difference.
    let least = quantity.least_sd(if is_ratio(quantity) { 1.0 } else { middle });
    let score = |x: f64, u: f64| (x - middle) / sd.max(least).max(if u > 0.0 { u } else { 0.0 });
    let scored = entries
        .iter()
        .map(|(bench, (x, u))| (*bench, *x, score(*x, *u)));
    scored
        .filter(|(.., score)| score.abs() > APART)
        .map(|(bench, x, score)| Apart {
            bench,
            value: (shown(x) * 1e5).round() / 1e5,
            score: (score * 10.0).round() / 10.0,
        })
        .collect()
}

/// Median; none of nothing.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = *sorted.get(sorted.len() / 2 - 1)?;
    Some(0.5 * (lower + upper))
}

/// Standard deviation from the median absolute deviation; none of fewer than three. Of few values
/// the median absolute deviation is too small on average: the factors are those of C. Croux and P.
/// J. Rousseeuw, Time-efficient algorithms for two highly robust estimators of scale, COMPSTAT 1992
/// (values from memory; a test draws samples and compares).
fn robust_sd(values: &[f64], middle: f64) -> Option<f64> {
    const FACTORS: [f64; 10] = [
        1.0, 1.0, 1.196, 1.495, 1.363, 1.206, 1.2, 1.14, 1.129, 1.107,
    ];
    let n = values.len();
    if n < FEWEST {
        return None;
    }
    let sizes: Vec<f64> = values.iter().map(|x| (x - middle).abs()).collect();
    let of_many = n as f64 / (n as f64 - 0.8);
    let factor = FACTORS.get(n).copied().unwrap_or(of_many);
    Some(MAD_TO_SD * factor * median(&sizes)?)
}

#[cfg(test)]
mod tests {
    use super::{median, robust_sd};
    use rand::SeedableRng as _;
    use rand_distr::{Distribution as _, StandardNormal};

    #[test]
    fn the_middle_is_the_middle() {
        assert_eq!(median(&[]), None);
        assert!(median(&[3.0, 1.0, 2.0]).is_some_and(|m| (m - 2.0).abs() < 1e-12));
        assert!(median(&[4.0, 1.0, 2.0, 3.0]).is_some_and(|m| (m - 2.5).abs() < 1e-12));
    }

    #[test]
    fn few_values_scatter_as_much_as_many_do() {
        // Drawn from a normal distribution of unit standard deviation, the mean must be 1.
        let mut rng = rand_pcg::Pcg64::seed_from_u64(3);
        for n in [3, 4, 5, 6, 7, 8, 9, 12, 30] {
            let draws = 20_000;
            let one = |_| {
                let values: Vec<f64> = (0..n).map(|_| StandardNormal.sample(&mut rng)).collect();
                robust_sd(&values, median(&values).unwrap()).unwrap()
            };
            let mean = (0..draws).map(one).sum::<f64>() / f64::from(draws);
            assert!((mean - 1.0).abs() < 0.03, "{n}: {mean}");
        }
        assert_eq!(robust_sd(&[1.0, 2.0], 1.5), None);
    }
}
