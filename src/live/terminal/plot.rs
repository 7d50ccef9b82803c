//! The graph: one curve for each sample, told apart by colour, by the sign along it and by the name
//! at its end.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::look::Look;
use super::state::{Bench, Stretch};

/// Columns left of the graph: a number and the axis.
const AXIS: u16 = 6;

/// Columns right of it: a sample's sign and name.
const NAMES: u16 = 9;

/// Least range of the temperature axis in °C: noise alone must not fill the graph.
const LEAST_DEGC: f64 = 1.0;

/// A sign along a curve every so many columns.
const MARKER_EVERY: u16 = 12;

/// The graph's own axes.
#[derive(Debug, Clone, Copy)]
struct Frame {
    area: Rect,
    from_s: f64,
    to_s: f64,
    low_degc: f64,
    high_degc: f64,
}

impl Frame {
    /// The frame for what there is: at least the plan's length from the first row, and all values.
    fn new(area: Rect, bench: &Bench) -> Option<Self> {
        let (from_s, to_s) = bench.history.times_s()?;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for channel in 0..bench.samples.len() {
            for (_, degc) in bench.history.points(channel).filter(|(_, d)| d.is_finite()) {
                (low, high) = (low.min(degc), high.max(degc));
            }
        }
        if !low.is_finite() {
            return None;
        }
        let missing = (LEAST_DEGC - (high - low)).max(0.0) / 2.0 + 0.05 * (high - low);
        let planned = bench
            .strip
            .spans
            .iter()
            .filter(|s| s.stretch != Stretch::Settling);
        let planned_s: Option<f64> = planned.map(|s| s.length_s).sum();
        let end_s = bench
            .strip
            .zero_s
            .zip(planned_s)
            .map_or(to_s, |(zero, length)| zero + length);
        // What is still to come has its room, so that the curves grow to the right.
        let room_s = (to_s - from_s).max(60.0) * 1.25 + from_s;
        Some(Self {
            area,
            from_s,
            to_s: to_s.max(end_s.min(room_s)).max(from_s + 10.0),
            low_degc: low - missing,
            high_degc: high + missing,
        })
    }

    /// Dot column and row, in dots of a cell's half and quarter.
    fn dot(&self, t_s: f64, degc: f64) -> Option<(u16, u16)> {
        let x = (t_s - self.from_s) / (self.to_s - self.from_s);
        let y = (self.high_degc - degc) / (self.high_degc - self.low_degc);
        let inside = (0.0..=1.0).contains(&x) && (0.0..=1.0).contains(&y);
        let columns = f64::from(self.area.width * 2 - 1);
        let rows = f64::from(self.area.height * 4 - 1);
        inside.then(|| ((x * columns).round() as u16, (y * rows).round() as u16))
    }
}

/// Draws the graph with its axes.
pub(super) fn plot(buffer: &mut Buffer, area: Rect, bench: &Bench, look: Look) {
    if area.width < AXIS + NAMES + 10 || area.height < 4 {
        return;
    }
    let inner = Rect {
        x: area.x + AXIS,
        y: area.y,
        width: area.width - AXIS - NAMES,
        height: area.height - 2,
    };
    let Some(frame) = Frame::new(inner, bench) else {
        let text = "no readings yet";
        buffer.set_stringn(inner.x, inner.y, text, inner.width.into(), Style::new());
        return;
    };
    axes(buffer, area, &frame, bench, look);
    let mut ends = Vec::new();
    for channel in 0..bench.samples.len() {
        let end = curve(buffer, &frame, bench, channel, look);
        ends.extend(end.map(|(x, y)| (y, channel, x)));
    }
    names(buffer, inner, ends, bench, look);
}

fn axes(buffer: &mut Buffer, area: Rect, frame: &Frame, bench: &Bench, look: Look) {
    let inner = frame.area;
    let style = Style::new().add_modifier(Modifier::DIM);
    for y in inner.y..inner.bottom() {
        let sign = look.sign('│', '|').to_string();
        buffer.set_string(inner.x - 1, y, sign, style);
    }
    for x in inner.x - 1..inner.right() {
        let sign = look.sign('─', '-').to_string();
        buffer.set_string(x, inner.bottom(), sign, style);
    }
    let step = step(
        frame.high_degc - frame.low_degc,
        f64::from(inner.height) / 3.0,
    );
    let decimals = usize::from(step < 0.95);
    let mut tick = (frame.low_degc / step).ceil() * step;
    while tick <= frame.high_degc {
        if let Some((_, y)) = frame.dot(frame.from_s, tick) {
            let text = format!("{tick:>5.decimals$}");
            buffer.set_stringn(
                area.x,
                inner.y + y / 4,
                text,
                usize::from(AXIS - 1),
                Style::new(),
            );
        }
        tick += step;
    }
    // Minutes from the first mark, or from the start where there is none yet.
    let zero_s = bench.strip.zero_s.unwrap_or(frame.from_s);
    let minutes = (frame.to_s - frame.from_s) / 60.0;
    let step = self::step(minutes, f64::from(inner.width) / 9.0);
    let mut tick = ((frame.from_s - zero_s) / 60.0 / step).ceil() * step;
    while zero_s + tick * 60.0 <= frame.to_s {
        if let Some((x, _)) = frame.dot(zero_s + tick * 60.0, frame.low_degc) {
            let text = format!("{}", (tick * 100.0).round() / 100.0 + 0.0);
            let x = (inner.x + x / 2).saturating_sub(u16::try_from(text.len() / 2).unwrap_or(0));
            buffer.set_stringn(x, inner.bottom() + 1, text, 6, Style::new());
        }
        tick += step;
    }
    buffer.set_stringn(area.x, inner.bottom(), look.degc(), 4, Style::new());
    buffer.set_stringn(
        inner.right() + 1,
        inner.bottom() + 1,
        "min",
        4,
        Style::new(),
    );
}

/// 1, 2 or 5 times a power of ten, so that a range has so many steps at most.
fn step(range: f64, most: f64) -> f64 {
    let least = range / most.max(1.0);
    let power = 10_f64.powf(least.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|s| s * power >= least);
    step.unwrap_or(10.0) * power
}

/// Draws one curve; gives the column and row of its end.
fn curve(
    buffer: &mut Buffer,
    frame: &Frame,
    bench: &Bench,
    channel: usize,
    look: Look,
) -> Option<(u16, u16)> {
    let style = look.channel(channel);
    let area = frame.area;
    let usual_s = (frame.to_s - frame.from_s) / f64::from(area.width) * 2.0;
    let mut last: Option<(f64, u16, u16)> = None;
    let mut gap_s = f64::INFINITY;
    for (t_s, degc) in bench.history.points(channel) {
        let Some((x, y)) = frame.dot(t_s, degc) else {
            last = None;
            continue;
        };
        // Points are joined unless something is missing between them.
        let joined = last.filter(|(before_s, ..)| t_s - before_s <= usual_s.max(4.0 * gap_s));
        if let Some((before_s, ..)) = last {
            gap_s = gap_s.min(t_s - before_s);
        }
        let (from_x, from_y) = joined.map_or((x, y), |(_, x, y)| (x, y));
        let steps = x.abs_diff(from_x).max(y.abs_diff(from_y)).max(1);
        for k in 0..=steps {
            let share = f64::from(k) / f64::from(steps);
            let along = |a: u16, b: u16| {
                (f64::from(a) + share * (f64::from(b) - f64::from(a))).round() as u16
            };
            dot(
                buffer,
                area,
                along(from_x, x),
                along(from_y, y),
                (style, look, channel),
            );
        }
        last = Some((t_s, x, y));
    }
    let (_, end_x, end_y) = last?;
    let mut x = MARKER_EVERY / 2 + u16::try_from(channel).unwrap_or(0) * 3;
    while x < end_x / 2 {
        marker(buffer, frame, (bench, channel), x, look);
        x += MARKER_EVERY;
    }
    Some((area.x + end_x / 2, area.y + end_y / 4))
}

/// Sets a curve's sign on it.
fn marker(
    buffer: &mut Buffer,
    frame: &Frame,
    (bench, channel): (&Bench, usize),
    x: u16,
    look: Look,
) {
    let t_s = frame.from_s
        + (frame.to_s - frame.from_s) * (f64::from(x) + 0.25) / f64::from(frame.area.width);
    let degc = bench.history.at(channel, t_s);
    if let Some((_, y)) = degc.and_then(|degc| frame.dot(t_s, degc)) {
        let sign = Look::marker(channel).to_string();
        let style = look.channel(channel).add_modifier(Modifier::BOLD);
        buffer.set_string(frame.area.x + x, frame.area.y + y / 4, sign, style);
    }
}

/// Sets one dot: a braille dot, or without Unicode the sample's sign.
fn dot(
    buffer: &mut Buffer,
    area: Rect,
    x: u16,
    y: u16,
    (style, look, channel): (Style, Look, usize),
) {
    const BITS: [[u32; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];
    let Some(cell) = buffer.cell_mut((area.x + x / 2, area.y + y / 4)) else {
        return;
    };
    if !look.unicode {
        cell.set_char(Look::marker(channel)).set_style(style);
        return;
    }
    let before = cell.symbol().chars().next().map_or(0, u32::from);
    let before = before
        .checked_sub(0x2800)
        .filter(|bits| *bits < 0x100)
        .unwrap_or(0);
    let bit = BITS
        .get(usize::from(y % 4))
        .and_then(|row| row.get(usize::from(x % 2)));
    let sign = char::from_u32(0x2800 + (before | bit.copied().unwrap_or(0)));
    cell.set_char(sign.unwrap_or(' ')).set_style(style);
}

/// Names beside the curves' ends, one under the other where they would meet. Each end is its row, its
/// channel, and its column.
fn names(
    buffer: &mut Buffer,
    inner: Rect,
    mut ends: Vec<(u16, usize, u16)>,
    bench: &Bench,
    look: Look,
) {
    ends.sort_unstable();
    let mut free = inner.y;
    for (place, (y, channel, x)) in ends.iter().enumerate() {
        let below = u16::try_from(ends.len() - place).unwrap_or(1);
        let y = (*y)
            .max(free)
            .min(inner.bottom().saturating_sub(below).max(free));
        let Some(sample) = bench.samples.get(*channel) else {
            continue;
        };
        let text = look.text(&format!("{} {}", Look::marker(*channel), sample.name));
        let style = look.channel(*channel).add_modifier(Modifier::BOLD);
        let room = usize::from((inner.right() + NAMES).saturating_sub(x + 2));
        buffer.set_stringn(x + 2, y, text, room, style);
        free = y + 1;
    }
}
