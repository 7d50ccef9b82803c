//! What goes wrong between board and host costs rows and leaves flags; it never makes a wrong value.
//!
//! With a checksum that holds for every row. A checksum of 16 bits lets one damaged line in 65 536
//! pass, so a script that happens to make one is drawn again. Without a checksum it holds for
//! whatever befalls whole lines; of damage within lines no more can be promised than that each
//! damaged line spoils one row at most.

mod story;

use std::collections::{HashMap, HashSet};

use proptest::prelude::*;
use proptest::sample::Index;

use super::*;
use crate::wire::{Dialect, Field, Frame, Native};
use story::{Fault, Feed, Form, LINES, Story, True, story};

/// Cable and host take less than that, in seconds, where nothing stalls.
const WITHIN_S: f64 = 0.02;
/// No clock is further off: what the time base allows a clock (`MOST_SLOPE` in
/// `timebase/envelope.rs`).
const MOST_SKEW: f64 = 0.005;
/// Boards state whole milliseconds.
const ROUNDED_S: f64 = 0.001;

/// What befalls whole lines.
fn of_lines() -> impl Strategy<Value = Fault> {
    prop_oneof![
        Just(Fault::LostLine),
        Just(Fault::Twice),
        Just(Fault::Murmur),
        Just(Fault::ResetBetween),
        (0.1..4.0_f64).prop_map(Fault::Stall),
        any::<Index>().prop_map(Fault::Pulled),
    ]
}

/// Whatever can befall them.
fn of_bytes() -> impl Strategy<Value = Fault> {
    prop_oneof![
        3 => of_lines(),
        2 => (any::<Index>(), 1..60_usize).prop_map(|(at, count)| Fault::LostBytes(at, count)),
        2 => (any::<Index>(), 1..=255_u8).prop_map(|(at, bits)| Fault::Turned(at, bits)),
        1 => prop::collection::vec(any::<u8>(), 1..80).prop_map(Fault::Garbage),
        1 => any::<Index>().prop_map(Fault::Reset),
    ]
}

/// The same, but the board restarts only when the cable comes back: its hello is never spliced.
fn without_restarts() -> impl Strategy<Value = Fault> {
    of_bytes().prop_map(|fault| match fault {
        Fault::Reset(_) | Fault::ResetBetween => Fault::LostLine,
        other => other,
    })
}

fn script(fault: impl Strategy<Value = Fault>) -> impl Strategy<Value = HashMap<usize, Fault>> {
    prop::collection::hash_map(20..LINES - 10, fault, 0..10)
}

fn restarts_and_stalls() -> impl Strategy<Value = HashMap<usize, Fault>> {
    let fault = prop_oneof![
        1 => Just(Fault::LostLine),
        1 => any::<Index>().prop_map(Fault::Reset),
        2 => (0.1..4.0_f64).prop_map(Fault::Stall),
    ];
    prop::collection::hash_map(20..70_usize, fault, 2..7)
}

fn ns(t_s: f64) -> i64 {
    (t_s * 1e9).round() as i64
}

fn rows(story: &Story) -> Vec<Row> {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    for (at_s, feed) in &story.feeds {
        match feed {
            Feed::Bytes(bytes) => sampler.bytes(ns(*at_s), bytes, &mut out),
            Feed::Lost => sampler.lost(ns(*at_s), "pulled", &mut out),
            Feed::Opened => sampler.opened(ns(*at_s), "p", &mut out),
        }
    }
    let end_s = story.feeds.last().map_or(0.0, |feed| feed.0);
    sampler.finish(ns(end_s), &mut out);
    out.into_iter()
        .filter_map(|product| match product {
            Product::Row(row) => Some(row),
            Product::Event(_) => None,
        })
        .collect()
}

/// The lines that came, as the framer has them, and when each was whole; those of a session that was
/// cut off not counted.
fn came(story: &Story) -> Vec<(f64, Vec<u8>)> {
    let (mut framer, mut lines) = (Framer::new(), Vec::new());
    for (at_s, feed) in &story.feeds {
        match feed {
            Feed::Bytes(bytes) => {
                framer.push(bytes, |line| lines.push((*at_s, line.bytes.to_vec())));
            }
            Feed::Lost => framer.cut(|_| {}),
            Feed::Opened => framer.after_open(),
        }
    }
    lines
}

fn is_meant(story: &Story, line: &[u8]) -> bool {
    story.meant.contains(&[line, b"\n"].concat())
}

/// Lines that came and that nobody sent so.
fn damaged(story: &Story) -> Vec<Vec<u8>> {
    let lines = came(story).into_iter().map(|(_, line)| line);
    lines.filter(|line| !is_meant(story, line)).collect()
}

/// Whether a damaged line passes its checksum, as one in 65 536 does.
fn a_damaged_line_passes(story: &Story) -> bool {
    let passes =
        |line: &Vec<u8>| matches!(Native.parse(line), Ok(Frame::Sample(_) | Frame::Hello(_)));
    damaged(story).iter().any(passes)
}

/// Which sample a row is of: both values, or the one that it has; `None` if it is of none.
fn sample_of(row: &Row) -> Option<usize> {
    let near = |value: f64| (value - value.round()).abs() < 1e-6 && value > -0.5;
    let ks = [(row.degc(0) - 20.0) * 1000.0, (60.0 - row.degc(1)) * 1000.0];
    let read: Vec<f64> = ks.into_iter().filter(|k| !k.is_nan()).collect();
    let first = *read.first()?;
    let one = read.iter().all(|k| near(*k) && (k - first).abs() < 0.5);
    (one && row.readings.len() == 2 && (first.round() as usize) < LINES)
        .then_some(first.round() as usize)
}

/// The samples that came as they were meant: which one, with what number, and when its line was
/// whole. Its end may have been lost, and that of the next line taken for it.
fn samples(story: &Story) -> Vec<(usize, u32, f64)> {
    came(story)
        .iter()
        .filter(|(_, line)| is_meant(story, line))
        .filter_map(|(at_s, line)| match Native.parse(line) {
            Ok(Frame::Sample(sample)) => {
                let Field::Number { value, .. } = sample.fields[0] else {
                    return None;
                };
                let k = ((value - 20.0) * 1000.0).round() as usize;
                Some((k, sample.seq?, *at_s))
            }
            _ => None,
        })
        .collect()
}

/// Whether a restart shows: the first line after it that comes states less than the last before.
/// One that hides behind lost lines can be told by nobody.
fn every_restart_shows(story: &Story) -> bool {
    let boot = |k: usize| story.truth[k].boot;
    samples(story)
        .windows(2)
        .all(|pair| boot(pair[0].0) == boot(pair[1].0) || pair[1].1 < pair[0].1)
}

/// What holds of the time of each row of a board with a clock.
#[derive(Debug, Default)]
struct Times {
    /// When each sample was first there.
    arrival_s: HashMap<usize, f64>,
    boot: Option<u32>,
    /// When the first sample was taken that this clock was heard with.
    first_s: f64,
    /// A line came promptly since.
    prompt: bool,
}

impl Times {
    fn of(story: &Story) -> Self {
        let mut times = Self::default();
        for (k, _, at_s) in samples(story) {
            times.arrival_s.entry(k).or_insert(at_s);
        }
        times
    }

    /// Never after the line was there. Once a line came promptly, within what cable and host take
    /// of the sample, whatever is held up after it; where nothing stalls, never before it either.
    /// What a skew that no clock has would make of the time since the first line is allowed for: a
    /// clock that was heard for seconds has shown no more of itself.
    fn look(
        &mut self,
        k: usize,
        truth: True,
        row: &Row,
        stalls: bool,
    ) -> Result<(), TestCaseError> {
        let arrival_s = self.arrival_s[&k];
        if self.boot.replace(truth.boot) != Some(truth.boot) {
            (self.first_s, self.prompt) = (truth.t_s, false);
        }
        self.prompt |= arrival_s - truth.t_s < WITHIN_S;
        let error_s = row.t_ns as f64 / 1e9 - truth.t_s;
        let skew_s = MOST_SKEW * (truth.t_s - self.first_s);
        prop_assert!(error_s > -skew_s - ROUNDED_S, "{}: {} s", k, error_s);
        prop_assert!(stalls || error_s > -WITHIN_S, "{}: {} s", k, error_s);
        if row.doubts.late {
            return Ok(());
        }
        prop_assert!(row.t_ns <= ns(arrival_s), "{}: {} s", k, error_s);
        let most_s = WITHIN_S + if stalls { skew_s } else { 0.0 };
        prop_assert!(!self.prompt || error_s < most_s, "{}: {} s", k, error_s);
        Ok(())
    }
}

/// A checksum: every row is a true one with both values of one sample, in order and at its time; what
/// is missing before it is counted, and a restart is told where there was one.
fn rows_are_true(story: &Story) -> Result<(), TestCaseError> {
    prop_assume!(!a_damaged_line_passes(story));
    prop_assume!(every_restart_shows(story));
    let mut times = Times::of(story);
    let mut before: Option<(usize, i64)> = None;
    for row in rows(story) {
        let k = sample_of(&row);
        prop_assert!(k.is_some(), "no sample was like this: {:?}", row);
        let k = k.unwrap_or_default();
        let truth = story.truth[k];
        prop_assert!(row.degc(0).is_finite() && row.degc(1).is_finite());
        if let Some((last, last_ns)) = before {
            let again = row.doubts.late && k == last;
            prop_assert!(k > last || again, "sample {} after {}", k, last);
            prop_assert!(row.t_ns > last_ns);
            let restarted = truth.boot != story.truth[last].boot;
            prop_assert_eq!(row.doubts.reset, restarted, "{}", k);
            if !restarted {
                let missing = k.saturating_sub(last + 1);
                prop_assert_eq!(row.doubts.lost as usize, missing, "before {}", k);
            }
        }
        times.look(k, truth, &row, story.stalls)?;
        before = Some((k, row.t_ns));
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn behind_a_checksum_rows_are_true_whatever_happens(script in script(of_bytes())) {
        rows_are_true(&story(Form::Native, &script))?;
    }

    /// A clock that is young when the host stalls, again and again.
    #[test]
    fn behind_a_checksum_rows_are_true_around_restarts_and_stalls(script in restarts_and_stalls()) {
        rows_are_true(&story(Form::Native, &script))?;
    }

    /// What came whole makes a row, where the board could introduce itself.
    #[test]
    fn behind_a_checksum_no_sound_line_is_lost(script in script(without_restarts())) {
        let story = story(Form::Native, &script);
        prop_assume!(!a_damaged_line_passes(&story));
        let lines = came(&story);
        let passes = |line: &&Vec<u8>| matches!(Native.parse(line), Ok(Frame::Sample(_)));
        let sound: HashSet<_> = lines.iter().map(|(_, line)| line).filter(passes).collect();
        prop_assert!(sound.len() + 4 * script.len() + 1 >= LINES, "the script spoilt too much");
        let made: HashSet<usize> = rows(&story).iter().filter_map(sample_of).collect();
        prop_assert_eq!(made.len(), sound.len());
    }

    /// No checksum, but nothing happens within lines: every row is a true one, in order.
    #[test]
    fn without_a_checksum_rows_are_true_where_lines_stay_whole(script in script(of_lines())) {
        for form in [Form::Plain, Form::Labelled, Form::Json] {
            let story = story(form, &script);
            let mut last = None;
            let rows = rows(&story);
            for row in &rows {
                let k = sample_of(row);
                prop_assert!(k.is_some(), "{:?}: no sample was like this: {:?}", form, row);
                prop_assert!(k >= last, "{:?}", form);
                last = k;
            }
            // The first lines tell the dialect and wait; the first after each opening may be half.
            let lost = script.values().filter(|f| matches!(f, Fault::LostLine)).count();
            let pulled = script.values().filter(|f| matches!(f, Fault::Pulled(_))).count();
            prop_assert!(rows.len() + lost + 2 * pulled + 1 >= LINES, "{:?}: {} rows", form, rows.len());
        }
    }

    /// No checksum, and lines are damaged: each damaged line spoils one row at most.
    #[test]
    fn without_a_checksum_a_damaged_line_spoils_one_row_at_most(script in script(of_bytes())) {
        for form in [Form::Plain, Form::Labelled, Form::Json] {
            let story = story(form, &script);
            let damaged = damaged(&story).len();
            let wrong = rows(&story).iter().filter(|row| sample_of(row).is_none()).count();
            prop_assert!(wrong <= damaged, "{:?}: {} rows of {} damaged lines", form, wrong, damaged);
        }
    }
}
