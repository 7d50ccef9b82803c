//! Slips of the pen among a few readings.

/// A slip of the pen is so many times farther from its neighbours than four fifths of the changes are
/// large, and half a degree; at either end of the table farther yet.
const SLIP_DEGC: f64 = 0.5;
const SLIP_WITHIN: f64 = 4.0;
const SLIP_AT_END: f64 = 8.0;

/// From the row before a slip to the one after it a curve goes no farther than so many usual changes.
const GOES_ON: f64 = 3.0;

/// Large changes that one other slip makes.
const SLIPS_BESIDE: usize = 2;

/// Which of a few readings are slips of the pen: between rows minutes apart the temperature itself
/// goes so far that neighbours on both sides must disown it, and a last row hardly can be told.
///
/// A slip makes two large changes itself, which of a dozen rows are as many as a fifth. So it is also judged by
/// the other changes alone: then the curve must go on beyond it as if it were not there, which a sample
/// that warmed from row to row and cools again does not.
pub(super) fn slips(y: &[f64]) -> Vec<bool> {
    let changes: Vec<f64> = y.iter().zip(y.iter().skip(1)).map(|(a, b)| b - a).collect();
    let usual = usual_change(&changes, 0);
    let goes_on = |i: usize, a: f64, b: f64| {
        let others = changes.iter().enumerate();
        let others = others.filter(|(k, _)| *k != i && k + 1 != i);
        let others: Vec<f64> = others.map(|(_, d)| *d).collect();
        let usual = usual_change(&others, SLIPS_BESIDE);
        (a + b).abs() <= GOES_ON * usual && a.abs().min(b.abs()) > SLIP_WITHIN * usual
    };
    let slip = |i: usize| {
        let before = i.checked_sub(1).and_then(|i| changes.get(i)).copied();
        let after = changes.get(i).copied();
        match (before, after) {
            (Some(a), Some(b)) => {
                a * b < 0.0 && (a.abs().min(b.abs()) > SLIP_WITHIN * usual || goes_on(i, a, b))
            }
            (Some(one), None) | (None, Some(one)) => one.abs() > SLIP_AT_END * usual,
            (None, None) => false,
        }
    };
    (0..y.len()).map(slip).collect()
}

/// What four fifths of the changes stay below, and half a degree; at least so many `beside` are beyond, where
/// there are three times as many.
fn usual_change(changes: &[f64], beside: usize) -> f64 {
    let mut sizes: Vec<f64> = changes.iter().map(|d| d.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let most = if sizes.len() >= 3 * beside {
        sizes.len().saturating_sub(beside + 1)
    } else {
        sizes.len()
    };
    let place = (sizes.len() * 4 / 5).min(most);
    sizes.get(place).copied().unwrap_or(0.0) + SLIP_DEGC
}
