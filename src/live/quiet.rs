//! When nothing comes any more: how old numbers may be that are shown as the samples' own, and what
//! people are told to do. The same on the terminal and on the page.

use super::words::{Stand, clock};

/// Numbers are old after so many seconds, and so many usual times between rows; and where only one row has
/// come, which may be a board that sends one a minute.
const OLD_S: f64 = 5.0;
const OLD_ROWS: f64 = 2.5;
const OLD_FIRST_S: f64 = 120.0;

/// Whether numbers are old, of a board from which nothing has come for so long.
#[must_use]
pub fn is_old(silent_s: f64, every_s: Option<f64>) -> bool {
    let usual_s = every_s.map(|every_s| OLD_S.max(OLD_ROWS * every_s));
    silent_s > usual_s.unwrap_or(OLD_FIRST_S)
}

/// The usual time between rows, from what it was and the latest: rows that waited in a cable's buffer come
/// all at once, and a gap is no usual time.
#[must_use]
pub fn usual_s(before_s: Option<f64>, latest_s: Option<f64>) -> Option<f64> {
    match (before_s, latest_s) {
        (Some(before_s), Some(latest_s)) => Some(latest_s.clamp(0.5 * before_s, 2.0 * before_s)),
        (before_s, latest_s) => before_s.or(latest_s),
    }
}

/// What stands in the place of a number that is old: `no reading for 0:12`.
#[must_use]
pub fn no_reading(silent_s: f64) -> String {
    format!("no reading for {}", clock(silent_s))
}

/// Boards of a bench that are unplugged, by what they are called beside others.
#[must_use]
pub fn unplugged<'a>(boards: impl Iterator<Item = &'a str>) -> Option<String> {
    let boards: Vec<&str> = boards.collect();
    let (who, it) = match boards.as_slice() {
        [] => return None,
        [""] => ("The board is".to_owned(), "it"),
        [one] => (format!("Board {one} is"), "it"),
        several => (format!("Boards {} are", several.join(" and ")), "them"),
    };
    Some(format!(
        "{who} unplugged: plug {it} in again, the run goes on."
    ))
}

/// What is to be done while nothing comes: first of all `trouble`, and a lamp that is to go off is still
/// one. To light one for probes that nobody reads would cost the beginning of the curve.
#[must_use]
pub fn to_do(trouble: &str, stand: Stand) -> String {
    match (stand, stand.to_do()) {
        (Stand::AwaitOff, Some(lamp)) => format!("{lamp}. {trouble}"),
        _ => trouble.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_old_when_more_than_two_rows_are_missing_or_five_seconds() {
        assert!(!is_old(4.9, Some(0.5)) && is_old(5.1, Some(0.5)));
        assert!(!is_old(140.0, Some(60.0)) && is_old(151.0, Some(60.0)));
        assert!(!is_old(100.0, None) && is_old(121.0, None));
        assert_eq!(usual_s(None, Some(1.0)), Some(1.0));
        assert_eq!(usual_s(Some(1.0), Some(300.0)), Some(2.0));
        assert_eq!(usual_s(Some(1.0), Some(0.0)), Some(0.5));
    }

    #[test]
    fn it_is_said_which_board_is_unplugged_and_what_to_do() {
        let said = |boards: &[&str]| unplugged(boards.iter().copied()).unwrap_or_default();
        assert_eq!(said(&[]), "");
        let one = said(&[""]);
        let words = "The board is unplugged: plug it in again, the run goes on.";
        assert_eq!(one, words);
        assert!(said(&["2"]).starts_with("Board 2 is unplugged: plug it"));
        assert!(said(&["1", "2"]).starts_with("Boards 1 and 2 are unplugged: plug them"));
        assert_eq!(to_do(&one, Stand::AwaitOn), words);
        let hot = format!("Switch the lamp OFF now. {words}");
        assert_eq!(to_do(&one, Stand::AwaitOff), hot);
    }
}
