//! The samples side by side.

use super::sample::tidy;
use super::{Comparison, GroupPrediction, Guess, Prediction, RatioUncertainty, Sample, Warning};

/// Differences count when they exceed this many standard uncertainties (about 95 %).
const COVERAGE: f64 = 2.0;

/// A sample that warmed by less than this share of the largest rise, beside two others that warmed, is the
/// room rather than a sample: with it as the smallest, no ratio would say anything.
const HARDLY: f64 = 0.05;

/// Compares all samples that have a rise; none unless there are at least two.
pub(super) fn compare(
    samples: &[Sample],
    (prediction, guesses): (Option<&str>, &[Guess]),
    warnings: &mut Vec<Warning>,
) -> Option<Comparison> {
    let mut ranked: Vec<(&Sample, f64)> = samples
        .iter()
        .filter_map(|s| Some((s, s.values.rise_degc?)))
        .collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
    leave_out_the_room(&mut ranked, warnings);
    let any = prediction.or(guesses.first().map(|guess| guess.sample.as_str()));
    if let (Some(name), 0 | 1) = (any, ranked.len()) {
        let name = name.to_owned();
        warnings.push(Warning::NothingToPredict { name });
    }
    if ranked.len() < 2 {
        return None;
    }
    let (most, rise) = *ranked.first()?;
    let (least, small) = *ranked.last()?;
    let u = |s: &Sample| s.u.rise_degc.unwrap_or(0.0);
    let (second, next) = *ranked.get(1)?;
    let clear = rise - next > COVERAGE * u(most).hypot(u(second));
    if !clear {
        warnings.push(Warning::OrderOpen);
    }
    let mut known = |of: &'static str, a: (f64, f64), b: (f64, f64)| {
        let known = ratio(a, b);
        if known.is_none() {
            warnings.push(Warning::RatioOpen {
                of,
                sample: least.name.clone(),
            });
        }
        known
    };
    let rate = |s: &Sample| {
        let u = s.u.heating_rate_degc_per_min.unwrap_or(0.0);
        s.values.heating_rate_degc_per_min.map(|rate| (rate, u))
    };
    let rises = known("rises", (rise, u(most)), (small, u(least)));
    let rates = rate(most).zip(rate(least));
    let rates = rates.and_then(|(a, b)| known("initial rates", a, b));
    let value = |r: Option<(f64, f64)>| r.map(|(value, _)| tidy(value));
    let spread = |r: Option<(f64, f64)>| r.map(|(_, u)| tidy(u));
    Some(Comparison {
        order: ranked.iter().map(|r| r.0.name.clone()).collect(),
        rise_ratio: value(rises),
        initial_rate_ratio: value(rates),
        u: RatioUncertainty {
            rise_ratio: spread(rises),
            initial_rate_ratio: spread(rates),
        },
        prediction: prediction.and_then(|name| predicted(samples, most, name, clear, warnings)),
        predictions: judged(samples, most, guesses, clear, warnings),
    })
}

/// Takes what hardly warmed from the end of those in order of their rises.
fn leave_out_the_room(ranked: &mut Vec<(&Sample, f64)>, warnings: &mut Vec<Warning>) {
    while let [(_, rise), _, .., (least, small)] = ranked.as_slice() {
        let u = COVERAGE * least.u.rise_degc.unwrap_or(0.0);
        if *rise <= 0.0 || (*small > u && *small > HARDLY * rise) {
            return;
        }
        warnings.push(Warning::NotCompared {
            sample: least.name.clone(),
        });
        ranked.pop();
    }
}

/// Ratio of two values, each with its standard uncertainty, and the ratio's own.
///
/// First-order propagation of uncorrelated inputs (GUM, JCGM 100:2008, 5.1.2): relative
/// uncertainties add in squares. None if the ratio is not above zero, or the lower value is so
/// loosely known that it might as well be zero, where first order says nothing.
fn ratio((a, ua): (f64, f64), (b, ub): (f64, f64)) -> Option<(f64, f64)> {
    let ratio = a / b;
    let known = b > COVERAGE * ub && ratio > 0.0;
    known.then(|| (ratio, ratio * (ua / a).hypot(ub / b)))
}

/// Each group's prediction beside its outcome.
fn judged(
    samples: &[Sample],
    most: &Sample,
    guesses: &[Guess],
    clear: bool,
    warnings: &mut Vec<Warning>,
) -> Vec<GroupPrediction> {
    let mut judge = |guess: &Guess| {
        let prediction = predicted(samples, most, &guess.sample, clear, warnings)?;
        let group = guess.group.clone();
        Some(GroupPrediction { group, prediction })
    };
    guesses.iter().filter_map(&mut judge).collect()
}

fn predicted(
    samples: &[Sample],
    most: &Sample,
    name: &str,
    clear: bool,
    warnings: &mut Vec<Warning>,
) -> Option<Prediction> {
    let same = |s: &&Sample| s.name.to_lowercase() == name.trim().to_lowercase();
    let Some(sample) = samples.iter().find(same) else {
        warnings.push(Warning::UnknownPrediction {
            name: name.to_owned(),
        });
        return None;
    };
    Some(Prediction {
        sample: sample.name.clone(),
        right: clear.then_some(sample.name == most.name),
    })
}

#[cfg(test)]
mod tests {
    use super::ratio;

    #[test]
    fn relative_uncertainties_of_a_ratio_add_in_squares() {
        // 3 % and 4 % give 5 % (JCGM 100:2008, 5.1.6: products of powers).
        let (value, u) = ratio((10.0, 0.3), (5.0, 0.2)).unwrap();
        assert!((value - 2.0).abs() < 1e-12 && (u - 0.1).abs() < 1e-12);
    }

    #[test]
    fn what_might_be_zero_is_no_divisor() {
        assert_eq!(ratio((10.0, 0.3), (0.3, 0.2)), None);
        assert_eq!(ratio((-1.0, 0.3), (5.0, 0.2)), None);
        assert_eq!(ratio((f64::NAN, 0.3), (5.0, 0.2)), None);
        assert_eq!(ratio((1.0, 0.3), (f64::NAN, 0.2)), None);
    }

    #[test]
    fn first_order_agrees_with_many_draws() {
        // An independent route: JCGM 101:2008 propagates the distributions themselves.
        use rand::SeedableRng;
        use rand_distr::{Distribution, Normal};
        let mut rng = rand_pcg::Pcg64::seed_from_u64(5);
        let (a, b) = ((12.0, 0.6), (6.0, 0.24));
        let first = Normal::new(a.0, a.1).unwrap();
        let second = Normal::new(b.0, b.1).unwrap();
        let draws: Vec<f64> = (0..20_000)
            .map(|_| first.sample(&mut rng) / second.sample(&mut rng))
            .collect();
        let mean = draws.iter().sum::<f64>() / 2e4;
        let sd = (draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 2e4).sqrt();
        let (_, u) = ratio(a, b).unwrap();
        assert!((sd / u - 1.0).abs() < 0.03, "{sd} {u}");
    }
}
