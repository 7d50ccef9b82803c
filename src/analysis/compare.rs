//! The samples side by side.

use super::sample::tidy;
use super::{Comparison, Prediction, Sample, Warning};

/// Differences count when they exceed this many standard uncertainties (about 95 %).
const COVERAGE: f64 = 2.0;

/// Compares all samples that have a rise; none unless there are at least two.
pub(super) fn compare(
    samples: &[Sample],
    prediction: Option<&str>,
    warnings: &mut Vec<Warning>,
) -> Option<Comparison> {
    let mut ranked: Vec<(&Sample, f64)> = samples
        .iter()
        .filter_map(|s| Some((s, s.values.rise_degc?)))
        .collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
    let (most, rise) = *ranked.first()?;
    let (least, small) = *ranked.last()?;
    if ranked.len() < 2 {
        return None;
    }
    let u = |s: &Sample| s.u.rise_degc.unwrap_or(0.0);
    let (second, next) = *ranked.get(1)?;
    let clear = rise - next > COVERAGE * u(most).hypot(u(second));
    if !clear {
        warnings.push(Warning::OrderOpen);
    }
    let mut ratio = |of: &'static str, a: f64, b: f64, ub: f64| {
        let known = b > COVERAGE * ub && a / b > 0.0;
        if !known {
            warnings.push(Warning::RatioOpen {
                of,
                sample: least.name.clone(),
            });
        }
        known.then(|| tidy(a / b))
    };
    let rate = |s: &Sample| s.values.heating_rate_degc_per_min;
    let u_rate = least.u.heating_rate_degc_per_min.unwrap_or(0.0);
    let rates = rate(most).zip(rate(least));
    let rise_ratio = ratio("rises", rise, small, u(least));
    let initial_rate_ratio = rates.and_then(|(a, b)| ratio("initial rates", a, b, u_rate));
    Some(Comparison {
        order: ranked.iter().map(|r| r.0.name.clone()).collect(),
        rise_ratio,
        initial_rate_ratio,
        prediction: prediction.and_then(|name| predicted(samples, most, name, clear, warnings)),
    })
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
