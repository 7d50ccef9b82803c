//! Where a run stands, in a line and for the terminal view.

use super::duration::clock;
use super::text::shortened;
use crate::live::quiet::{is_old, no_reading, usual_s};
use crate::live::terminal::{Bench, Health, Sample, Span, Stretch, Strip};
use crate::live::words::{Stand, after_cooling};
use crate::probe::Reading;
use crate::run::{Plan, Recorder, Step};
use crate::sampler::Row;

/// `2: 31.2 27.8`: a bench among several.
pub(super) fn short(bench: usize, row: &Row) -> String {
    let cells = row.readings.iter().map(|reading| match reading {
        Reading::Degc { value, .. } => format!(" {value:.1}"),
        Reading::Fault(_) => " -".to_owned(),
    });
    format!("{}:{}", bench + 1, cells.collect::<String>())
}

/// `12:04 heating  slate 31.25 °C  moss 27.81 °C  next mark in 0:41  lamp off in 2:10`.
pub(super) fn status(recorder: &Recorder, t_s: f64, row: &Row) -> String {
    let conductor = recorder.conductor();
    let mut line = clock(t_s);
    let phase = conductor.phase();
    if !phase.is_empty() {
        line.push(' ');
        line.push_str(phase);
    }
    for (name, reading) in recorder.names().iter().zip(&row.readings) {
        let value = match reading {
            Reading::Degc { value, decimals } => {
                format!("{value:.*} °C", usize::from((*decimals).min(2)))
            }
            Reading::Fault(fault) => fault.code().to_owned(),
        };
        line.push_str(&format!("  {} {value}", shortened(name)));
    }
    line.push_str(&match conductor.step() {
        Step::Settling => match recorder.drift_degc_per_min() {
            Some((drift, expanded)) => {
                let wait = wait(recorder);
                format!("  drift {drift:+.2} ± {expanded:.2} °C/min{wait}")
            }
            None => format!("  {}", Stand::Settling.words()),
        },
        Step::Heating { presumed: true, .. } => "  lamp not seen, counted as planned".into(),
        step => {
            let to_do = Stand::from(step).to_do();
            to_do.map_or(String::new(), |to_do| format!("  {to_do}"))
        }
    });
    if let Some(s) = conductor.next_mark_in_s(t_s) {
        line.push_str(&format!("  mark in {}", clock(s)));
    }
    if let Some(s) = conductor.remaining_s(t_s) {
        let what = match conductor.step() {
            Step::Heating { .. } => "lamp off",
            _ => "end",
        };
        line.push_str(&format!("  {what} in {}", clock(s)));
    }
    line
}

/// What comes next, in one line.
fn next(recorder: &Recorder, now_s: f64) -> String {
    let conductor = recorder.conductor();
    let mut parts = Vec::new();
    match conductor.step() {
        Step::Settling => {
            parts.push(match recorder.drift_degc_per_min() {
                Some((drift, expanded)) => {
                    let limit = conductor.plan().settle_degc_per_min.unwrap_or(0.0);
                    format!(
                        "waiting for drift below {limit} °C/min: it is {drift:+.2} ± {expanded:.2}{}",
                        wait(recorder)
                    )
                }
                None => Stand::Settling.words().into(),
            });
            parts.push("Enter: go on now".into());
        }
        Step::AwaitOn { .. } | Step::AwaitOff { .. } => {
            parts.push("l: done, or it is seen".into());
        }
        Step::Heating { presumed: true, .. } | Step::Cooling { presumed: true, .. } => {
            parts.push("lamp not seen yet".into());
        }
        Step::Done => parts.push(Stand::Done.words().into()),
        _ => {}
    }
    if let Some(s) = conductor.next_mark_in_s(now_s) {
        parts.push(format!("next mark in {}", clock(s)));
    }
    if let Some(s) = conductor.remaining_s(now_s) {
        parts.push(format!("{} in {}", what_ends(recorder), clock(s)));
    } else if matches!(
        conductor.step(),
        Step::Heating { .. } | Step::Cooling { .. }
    ) {
        parts.push(format!("Enter: {}", what_ends(recorder)));
    }
    parts.join(" · ")
}

/// What the end of this step is.
fn what_ends(recorder: &Recorder) -> &'static str {
    let conductor = recorder.conductor();
    match conductor.step() {
        Step::Heating { .. } => "lamp OFF",
        Step::Cooling { .. } => after_cooling(conductor.plan(), conductor.cycle()),
        _ => "end",
    }
}

/// A heating that a key ends is drawn this long at least, in seconds.
const LEAST_OPEN_S: f64 = 60.0;

/// The plan's stretches.
fn spans(plan: &Plan) -> Vec<Span> {
    let span = |stretch, length_s| Span { stretch, length_s };
    if !plan.has_lamp() {
        return vec![span(Stretch::Open, plan.for_s)];
    }
    let mut spans = Vec::new();
    if plan.settle_degc_per_min.is_some() {
        spans.push(span(Stretch::Settling, None));
    }
    for _ in 0..plan.cycles() {
        spans.push(span(Stretch::Heating, plan.heating_s()));
        spans.push(span(Stretch::Cooling, plan.cooling_s()));
    }
    spans
}

/// The same, where a key ends the heating: that is as long as it was, and while it goes on the bar has
/// nothing else to grow by.
fn passed(mut spans: Vec<Span>, step: Step, now_s: f64) -> Vec<Span> {
    // Of several heatings the lengths of those before are not at hand: all stay open.
    if spans
        .iter()
        .filter(|s| s.stretch == Stretch::Heating)
        .count()
        > 1
    {
        return spans;
    }
    let is_open = |s: &&mut Span| s.stretch == Stretch::Heating && s.length_s.is_none();
    let heated_s = match step {
        Step::Heating { since_s, .. } => 1.25 * (now_s - since_s),
        Step::AwaitOff { on_s, .. } => now_s - on_s,
        Step::Cooling { on_s, since_s, .. } => since_s - on_s,
        _ => return spans,
    };
    if let Some(heating) = spans.iter_mut().find(is_open) {
        let least_s = if matches!(step, Step::Heating { .. }) {
            LEAST_OPEN_S
        } else {
            0.0
        };
        heating.length_s = Some(heated_s.max(least_s));
    }
    spans
}

/// Where the plan stands at `now_s`, for the view.
pub(super) fn look_at_plan(bench: &mut Bench, recorder: &Recorder, now_s: f64) {
    let conductor = recorder.conductor();
    bench.now_s = now_s;
    bench.rows = recorder.rows();
    if bench.name.is_empty() {
        let name = recorder.folder().file_name();
        bench.name = name.map_or(String::new(), |name| name.to_string_lossy().into_owned());
    }
    hide_old(bench);
    conductor.phase().clone_into(&mut bench.phase);
    let plan = conductor.plan();
    if plan.cycles() > 1 {
        bench.phase.push_str(&format!(
            ", cycle {} of {}",
            conductor.cycle(),
            plan.cycles()
        ));
    }
    bench.settles = conductor.step() == Step::Settling;
    bench.cue = Stand::from(conductor.step()).to_do().map(str::to_owned);
    bench.next = next(recorder, now_s);
    bench.strip = Strip {
        spans: passed(spans(plan), conductor.step(), now_s),
        zero_s: conductor.zero_s(),
        marks_s: plan.marks_s,
    };
}

/// Takes numbers off the view that are no longer the samples'.
fn hide_old(bench: &mut Bench) {
    let Some(silent_s) = bench.row_s.map(|row_s| bench.now_s - row_s) else {
        return;
    };
    if bench.trouble.is_none() && !is_old(silent_s, bench.every_s) {
        return;
    }
    let text = no_reading(silent_s);
    for sample in &mut bench.samples {
        sample.degc = f64::NAN;
        sample.health = Health {
            alarm: true,
            text: text.clone(),
        };
    }
}

/// A row, for the view.
pub(super) fn look_at_row(bench: &mut Bench, recorder: &Recorder, t_s: f64, row: &Row) {
    let latest_s = bench.row_s.replace(t_s).map(|before_s| t_s - before_s);
    bench.every_s = usual_s(bench.every_s, latest_s);
    let degc: Vec<f64> = (0..row.readings.len()).map(|c| row.degc(c)).collect();
    bench.history.push(t_s, &degc);
    let names = recorder.names().iter();
    bench.samples = names
        .zip(&row.readings)
        .map(|(name, reading)| sample(name, reading))
        .collect();
    bench.health = Health {
        alarm: false,
        text: match bench.every_s {
            Some(every_s) => format!("board ok, a row every {every_s:.2} s"),
            None => "board ok".into(),
        },
    };
    look_at_plan(bench, recorder, t_s);
}

fn sample(name: &str, reading: &Reading) -> Sample {
    let health = |alarm, text: &str| Health {
        alarm,
        text: text.to_owned(),
    };
    let (degc, decimals, health) = match *reading {
        Reading::Degc { value, decimals } => (value, decimals.min(2), health(false, "probe ok")),
        Reading::Fault(fault) => (
            f64::NAN,
            0,
            health(true, &format!("probe {}", fault.code())),
        ),
    };
    Sample {
        name: name.to_owned(),
        degc,
        decimals: decimals.into(),
        health,
    }
}

/// `, about 4 min to go`, where the settling tells.
fn wait(recorder: &Recorder) -> String {
    let told = |s: f64| format!(", about {:.0} min to go", (s / 60.0).max(1.0));
    recorder.settling_wait_s().map(told).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heating_that_goes_on_does_not_fill_the_cooling() {
        let plan = Plan {
            heat_until_key: true,
            cool_until_key: true,
            ..Plan::default()
        };
        let lengths = |step, now_s| {
            let spans = passed(spans(&plan), step, now_s);
            spans.iter().map(|s| s.length_s).collect::<Vec<_>>()
        };
        let heating = Step::Heating {
            since_s: 10.0,
            presumed: false,
        };
        // Longer than it has lasted.
        assert_eq!(lengths(heating, 410.0), [Some(500.0), None]);
        assert_eq!(lengths(heating, 12.0), [Some(LEAST_OPEN_S), None]);
        let cooling = Step::Cooling {
            on_s: 10.0,
            since_s: 410.0,
            presumed: false,
        };
        assert_eq!(lengths(cooling, 500.0), [Some(400.0), None]);
    }
}
