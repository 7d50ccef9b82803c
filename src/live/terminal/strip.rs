//! The plan strip: one bar from settling to the end of cooling. Marks are notches that fill with the
//! samples' values as they pass; "now" is the bar's moving edge.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::look::Look;
use super::state::{Bench, Span, Stretch, Strip};

/// Share of the width that settling has: how long it takes is not known before it is over.
const SETTLING_SHARE: f64 = 0.12;

/// Half of the settling's share is filled after so many seconds.
const SETTLING_S: f64 = 60.0;

/// Columns of a value and the space beside it.
const VALUE: u16 = 5;

/// Rows above the values: names of the phases, the bar, times.
const HEAD: u16 = 3;

/// Rows that a bench's strip wants: without marks there are no values to show.
pub(super) fn height(bench: &Bench) -> u16 {
    match bench.strip.marks_s {
        Some(_) => HEAD + u16::try_from(bench.samples.len()).unwrap_or(0).min(3),
        None => HEAD - 1,
    }
}

/// Where along the bar an instant lies, as a share of its width.
#[derive(Debug, Clone, Copy)]
struct Scale {
    /// Where settling ends.
    settling: f64,
    zero_s: Option<f64>,
    /// From the first mark to the end of the bar, in seconds.
    length_s: f64,
}

impl Scale {
    fn new(strip: &Strip, now_s: f64) -> Self {
        let settles = strip.spans.iter().any(|s| s.stretch == Stretch::Settling);
        let rest = || {
            strip
                .spans
                .iter()
                .filter(|s| s.stretch != Stretch::Settling)
        };
        let known_s: f64 = rest().filter_map(|s| s.length_s).sum();
        let open = rest().any(|s| s.length_s.is_none());
        let since_s = strip.zero_s.map_or(0.0, |zero_s| now_s - zero_s).max(0.0);
        Self {
            settling: if settles { SETTLING_SHARE } else { 0.0 },
            zero_s: strip.zero_s,
            // A phase that a key ends has no length yet: the bar grows with it.
            length_s: if open {
                (known_s + 30.0).max(since_s * 1.25).max(60.0)
            } else {
                known_s.max(since_s).max(1.0)
            },
        }
    }

    fn share(self, t_s: f64) -> f64 {
        match self.zero_s {
            Some(zero_s) if t_s >= zero_s => {
                self.settling + (1.0 - self.settling) * ((t_s - zero_s) / self.length_s).min(1.0)
            }
            Some(zero_s) => self.settling * (t_s / zero_s.max(1e-9)).max(0.0),
            None => self.settling * t_s.max(0.0) / (t_s.max(0.0) + SETTLING_S),
        }
    }

    fn of_length(self, since_s: f64) -> f64 {
        self.settling + (1.0 - self.settling) * (since_s / self.length_s).clamp(0.0, 1.0)
    }
}

/// Draws the strip.
pub(super) fn strip(buffer: &mut Buffer, area: Rect, bench: &Bench, look: Look) {
    if area.height < HEAD - 1 || area.width < 20 {
        return;
    }
    let scale = Scale::new(&bench.strip, bench.now_s);
    let column = |share: f64| {
        let last = f64::from(area.width - 1);
        area.x + (share.clamp(0.0, 1.0) * last).round() as u16
    };
    let now = column(scale.share(bench.now_s));
    phases(buffer, area, (&bench.strip, scale), column, now, look);
    let Some(marks_s) = bench
        .strip
        .marks_s
        .filter(|s| *s > 0.0 && area.height >= HEAD)
    else {
        return;
    };
    let count = (scale.length_s / marks_s + 1e-6).floor();
    // Every notch that there is room for, and among them every one whose value there is room for.
    let columns = f64::from(area.width) * (1.0 - scale.settling);
    let every = |least: f64| nice((least * count / columns).max(1.0));
    let (notches, values) = (every(2.0), every(f64::from(VALUE + 1)));
    let mut mark = 0.0;
    while mark <= count {
        let x = column(scale.of_length(mark * marks_s));
        let passed = scale
            .zero_s
            .is_some_and(|zero_s| zero_s + mark * marks_s <= bench.now_s);
        let notch = look.sign(
            if passed { '╋' } else { '┼' },
            if passed { '#' } else { '|' },
        );
        // The moving edge stays visible where it stands on a notch.
        if x != now {
            put(buffer, x, area.y + 1, &notch.to_string(), Style::new());
        }
        if mark % values < 0.5 {
            notch_values(buffer, area, (bench, mark * marks_s, passed), x, look);
        }
        mark += notches;
    }
}

/// The next of 1, 2, 5, 10, 20 … that is not less.
fn nice(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|s| s * power >= least - 1e-9);
    (step.unwrap_or(10.0) * power).max(1.0)
}

/// The time of a mark, and under it what the samples were at.
fn notch_values(
    buffer: &mut Buffer,
    area: Rect,
    (bench, since_s, passed): (&Bench, f64, bool),
    x: u16,
    look: Look,
) {
    let left = |width: usize| {
        let width = u16::try_from(width).unwrap_or(0);
        x.saturating_sub(width / 2)
            .clamp(area.x, area.right().saturating_sub(width).max(area.x))
    };
    let minutes = since_s / 60.0;
    // `15'`, `0.5'`, `0.25'`
    let time = format!("{}'", (minutes * 100.0).round() / 100.0);
    put(buffer, left(time.len()), area.y + 2, &time, Style::new());
    let zero_s = bench.strip.zero_s.filter(|_| passed);
    for (row, channel) in (0..area.height - HEAD).zip(0..bench.samples.len()) {
        let degc = zero_s.and_then(|zero_s| bench.history.at(channel, zero_s + since_s));
        let text = degc.map_or(String::new(), |degc| format!("{degc:.1}"));
        put(
            buffer,
            left(text.len()),
            area.y + HEAD + row,
            &text,
            look.channel(channel),
        );
    }
}

/// The bar and the names of its stretches.
fn phases(
    buffer: &mut Buffer,
    area: Rect,
    (strip, scale): (&Strip, Scale),
    column: impl Fn(f64) -> u16,
    now: u16,
    look: Look,
) {
    let mut since_s = 0.0;
    let open: Vec<&Span> = strip
        .spans
        .iter()
        .filter(|s| s.length_s.is_none())
        .collect();
    let open = open
        .iter()
        .filter(|s| s.stretch != Stretch::Settling)
        .count()
        .max(1) as f64;
    let known_s: f64 = strip.spans.iter().filter_map(|s| s.length_s).sum();
    for span in &strip.spans {
        let (from, to) = if span.stretch == Stretch::Settling {
            (column(0.0), column(scale.settling))
        } else {
            let from = column(scale.of_length(since_s));
            since_s += span
                .length_s
                .unwrap_or((scale.length_s - known_s).max(0.0) / open);
            (from, column(scale.of_length(since_s)))
        };
        for x in from..=to {
            let sign = sign(span.stretch, x <= now, look);
            put(buffer, x, area.y + 1, &sign.to_string(), Style::new());
        }
        let width = usize::from(to.saturating_sub(from));
        buffer.set_stringn(from, area.y, name(span.stretch), width, Style::new());
    }
    let edge = look.sign('▌', '>');
    let style = Style::new().add_modifier(Modifier::BOLD);
    put(buffer, now, area.y + 1, &edge.to_string(), style);
}

fn name(stretch: Stretch) -> &'static str {
    match stretch {
        Stretch::Settling => "settling",
        Stretch::Heating => "lamp ON",
        Stretch::Cooling => "lamp OFF, cooling",
        Stretch::Open => "logging",
    }
}

/// What the bar is made of: passed time is full, the lamp's time denser than the rest.
fn sign(stretch: Stretch, passed: bool, look: Look) -> char {
    match (stretch, passed) {
        (Stretch::Heating, true) => look.sign('█', '='),
        (_, true) => look.sign('▒', '-'),
        (Stretch::Heating, false) => look.sign('═', ':'),
        (_, false) => look.sign('─', '.'),
    }
}

fn put(buffer: &mut Buffer, x: u16, y: u16, text: &str, style: Style) {
    if buffer.area.contains((x, y).into()) {
        buffer.set_string(x, y, text, style);
    }
}
