//! Pauses between rows, beside what is usual in their record.
//!
//! A hand changes how often it reads as it likes: every half minute while a sample warms, then every five
//! minutes. So a pause is what is long beside the steps of the rows next to it as well as beside most
//! steps of all, and a last reading long after the others is none.

use super::{RowsWarning, Warning};

/// So many usual steps are a pause.
const STEPS: f64 = 2.5;

/// Shorter ones are none, in seconds: a computer is as busy now and then.
const LEAST_S: f64 = 5.0;

/// Least rows before and behind a pause.
const ROWS: usize = 2;

/// So many steps to each side are those next to a pause.
const NEXT: usize = 5;

/// The part of all steps that are usual.
const MOST: f64 = 0.9;

/// Least steps of a record that has something usual.
const FEWEST: usize = 5;

/// What is to be told of the pauses of rows at these times in seconds.
pub(super) fn pauses(t_s: &[f64]) -> Option<Warning> {
    let step = |place: usize| Some(t_s.get(place + 1)? - t_s.get(place)?);
    let count = t_s.len().checked_sub(1).filter(|n| *n >= FEWEST)?;
    let mut steps: Vec<f64> = (0..count).filter_map(step).collect();
    let most_s = quantile(&mut steps, MOST)?;
    let usual_s = quantile(&mut steps, 0.5)?;
    drop(steps);
    let least_s = (STEPS * most_s).max(LEAST_S);
    // The larger of the middle steps before and behind one; only a few have to be asked.
    let next = |place: usize| {
        let middle = |places: std::ops::Range<usize>| {
            let mut part: Vec<f64> = places.filter_map(step).collect();
            quantile(&mut part, 0.5).unwrap_or(0.0)
        };
        let before = middle(place.saturating_sub(NEXT)..place);
        before.max(middle(place + 1..count.min(place + 1 + NEXT)))
    };
    let places = ROWS - 1..count + 1 - ROWS;
    let found = places.filter_map(|place| {
        let step_s = step(place)?;
        (step_s > least_s && step_s > STEPS * next(place)).then_some((place, step_s))
    });
    let found: Vec<(usize, f64)> = found.collect();
    let (place, longest_s) = found.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let doubt = RowsWarning::Pauses {
        count: found.len(),
        longest_s: tidy(*longest_s),
        at_s: *t_s.get(*place)?,
        usual_s: tidy(usual_s),
    };
    Some(doubt.into())
}

/// A length in seconds as finely as anybody reads it.
fn tidy(s: f64) -> f64 {
    let finer = [10.0, 1.0, 0.1].iter().filter(|size| s < **size);
    let digits: f64 = finer.map(|_| 10.0).product();
    (s * digits).round() / digits
}

/// The step that this part of all do not exceed; sorts them by halves.
fn quantile(steps: &mut [f64], part: f64) -> Option<f64> {
    let last = steps.len().checked_sub(1)?;
    let place = (part * last as f64).floor() as usize;
    Some(*steps.select_nth_unstable_by(place, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(times: &[f64]) -> Option<Warning> {
        let t_s: Vec<f64> = times.iter().map(|t| 60.0 * t).collect();
        pauses(&t_s)
    }

    #[test]
    fn a_hole_is_told_with_its_place_and_the_others_are_counted() {
        let mut t_s: Vec<f64> = (0..400).map(|i| 2.0 * f64::from(i)).collect();
        t_s.retain(|t| !(300.0..366.0).contains(t) && !(500.0..507.0).contains(t));
        let doubt = RowsWarning::Pauses {
            count: 2,
            longest_s: 68.0,
            at_s: 298.0,
            usual_s: 2.0,
        };
        assert_eq!(pauses(&t_s), Some(doubt.into()));
        // By hand, a bell.
        let bell = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 16.0, 17.0, 18.0, 19.0];
        assert!(minutes(&bell).is_some());
    }

    #[test]
    fn rows_that_somebody_took_when_he_liked_have_none() {
        for times in [
            &[0.0, 1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 30.0][..],
            &[
                0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 20.0,
            ],
            &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 9.0, 14.0],
            // A last look after the break.
            &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 30.0],
            // Every second row is late, one is left out.
            &[0.0, 1.2, 2.0, 3.3, 4.0, 5.1, 6.0, 8.0, 9.2, 10.0],
            &[0.0, 3.0, 30.0],
        ] {
            assert_eq!(minutes(times), None, "{times:?}");
        }
        // Three quarters of the record by the second, then by the minute.
        let quick = (0..600).map(f64::from);
        let slow = (10..40).map(|i| 60.0 * f64::from(i));
        let t_s: Vec<f64> = quick.chain(slow).collect();
        assert_eq!(pauses(&t_s), None);
        // Ten rows a second, and a busy computer.
        let mut t_s: Vec<f64> = (0..6000).map(|i| 0.1 * f64::from(i)).collect();
        t_s.retain(|t| !(300.0..304.0).contains(t));
        assert_eq!(pauses(&t_s), None);
    }
}
