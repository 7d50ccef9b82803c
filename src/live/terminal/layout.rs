//! Where everything stands.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::card::cards;
use super::look::Look;
use super::plot::plot;
use super::state::{Bench, State};
use super::strip;
use crate::live::words::counted;

/// Below this the parts would not hold together: then there are lines alone.
const LEAST: (u16, u16) = (60, 16);

/// Columns for the cards.
const CARDS: u16 = 24;

/// What the keys do.
const KEYS: &str = "n note  m mark now  l lamp switched now  Enter go on  e end the run";

/// Draws all of it.
pub fn draw(frame: &mut Frame, state: &State) {
    let area = frame.area();
    let buffer = frame.buffer_mut();
    let look = state.look;
    let Some(bench) = state.bench() else {
        line(
            buffer,
            area,
            area.y,
            "waiting for a board",
            Style::new(),
            look,
        );
        foot(buffer, area, state);
        return;
    };
    if area.width < LEAST.0 || area.height < LEAST.1 {
        small(buffer, area, state, bench);
        return;
    }
    let y = upper(buffer, area, state, bench);
    let bottom = area.bottom() - 2 - messages(area) - u16::from(state.page.is_some());
    let height = bottom.saturating_sub(y);
    lower(buffer, Rect { y, height, ..area }, bench, look);
    let style = if bench.health.alarm {
        look.alarm()
    } else {
        Style::new()
    };
    line(buffer, area, bottom, &bench.health.text, style, look);
    if let Some(page) = &state.page {
        line(buffer, area, bottom + 1, page, Style::new(), look);
    }
    foot(buffer, area, state);
}

/// Name, benches, what to do now, and the plan strip. Gives the row below them.
fn upper(buffer: &mut Buffer, area: Rect, state: &State, bench: &Bench) -> u16 {
    let look = state.look;
    let mut y = area.y;
    head(buffer, area, bench, look);
    y += 1;
    if state.benches.len() > 1 {
        y += benches(
            buffer,
            Rect {
                y,
                height: 2,
                ..area
            },
            state,
        );
    }
    cue(
        buffer,
        Rect {
            y,
            height: 1,
            ..area
        },
        bench,
        look,
    );
    y += 1;
    let strip_height = strip::height(bench);
    let place = Rect {
        x: area.x + 1,
        y,
        width: area.width - 2,
        height: strip_height,
    };
    strip::strip(buffer, place, bench, look);
    y += strip_height;
    y
}

/// The graph, and beside it the cards.
fn lower(buffer: &mut Buffer, body: Rect, bench: &Bench, look: Look) {
    let graph = Rect {
        width: body.width - CARDS - 1,
        ..body
    };
    plot(buffer, graph, bench, look);
    let side = Rect {
        x: graph.right() + 1,
        width: CARDS,
        ..body
    };
    cards(buffer, side, bench, look);
}

/// Name, time, phase; rows at the right.
fn head(buffer: &mut Buffer, area: Rect, bench: &Bench, look: Look) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let text = format!("{}  {}  {}", bench.name, minutes(bench.now_s), bench.phase);
    line(buffer, area, area.y, &text, bold, look);
    let rows = format!("{} ", counted(bench.rows, "row"));
    let width = u16::try_from(rows.len()).unwrap_or(0);
    if area.width > width {
        buffer.set_string(area.right() - width, area.y, rows, Style::new());
    }
}

/// `12:04`, `1:02:03`.
fn minutes(seconds: f64) -> String {
    let total = seconds.max(0.0) as u64;
    let (h, m, s) = (total / 3600, total / 60 % 60, total % 60);
    if h > 0 {
        format!("{h}:{m:02}:{s:02}")
    } else {
        format!("{m}:{s:02}")
    }
}

/// All benches, each with its numbers; the one that is shown stands out. Gives the rows used.
fn benches(buffer: &mut Buffer, area: Rect, state: &State) -> u16 {
    let look = state.look;
    let (mut x, mut y) = (area.x + 1, area.y);
    for (index, bench) in state.benches.iter().enumerate() {
        let numbers = bench.samples.iter().map(|sample| match sample.degc {
            degc if degc.is_finite() => format!(" {degc:.1}"),
            _ => " -".to_owned(),
        });
        let sign = match (&bench.cue, bench.health.alarm) {
            (Some(_), _) => " <lamp>",
            (None, true) => " !",
            _ => "",
        };
        let text = format!(" {}:{}{sign} ", index + 1, numbers.collect::<String>());
        let width = u16::try_from(text.chars().count()).unwrap_or(u16::MAX);
        if x + width > area.right() {
            (x, y) = (area.x + 1, y + 1);
        }
        if y >= area.bottom() {
            break;
        }
        let style = if index == state.selected {
            Style::new().add_modifier(Modifier::REVERSED)
        } else {
            Style::new()
        };
        buffer.set_stringn(x, y, look.text(&text), area.width.into(), style);
        x += width + 1;
    }
    (y + 1).min(area.bottom()) - area.y
}

/// What to do now, or what comes next.
fn cue(buffer: &mut Buffer, area: Rect, bench: &Bench, look: Look) {
    // Nothing that is to be done helps while nothing comes.
    match bench.trouble.as_ref().or(bench.cue.as_ref()) {
        Some(cue) => {
            buffer.set_style(area, Look::loud());
            let text = format!(">>> {cue}   {}", bench.next);
            line(buffer, area, area.y, &text, Look::loud(), look);
        }
        None => line(buffer, area, area.y, &bench.next, Style::new(), look),
    }
}

/// Rows for what was said.
fn messages(area: Rect) -> u16 {
    match area.height {
        0..22 => 1,
        22..40 => 2,
        40.. => 4,
    }
}

/// The last messages, the note that is being typed, and the keys.
fn foot(buffer: &mut Buffer, area: Rect, state: &State) {
    let look = state.look;
    let rows = messages(area);
    if area.height < rows + 2 {
        return;
    }
    let mut y = area.bottom() - 1;
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let note = state
        .note
        .as_ref()
        .map(|note| (format!("note: {note}_"), bold));
    let said = state
        .messages
        .iter()
        .rev()
        .map(|said| (said.text.clone(), Style::new()));
    for (text, style) in note.into_iter().chain(said).take(rows.into()) {
        y -= 1;
        line(buffer, area, y, &text, style, look);
    }
    let keys = match &state.note {
        Some(_) => "Enter keeps the note  Esc drops it".to_owned(),
        None => keys(state),
    };
    let reversed = Style::new().add_modifier(Modifier::REVERSED);
    let last = area.bottom() - 1;
    buffer.set_style(
        Rect {
            y: last,
            height: 1,
            ..area
        },
        reversed,
    );
    line(buffer, area, last, &keys, reversed, look);
}

/// What can be typed now.
fn keys(state: &State) -> String {
    let code = state.code.as_ref().map_or("", |_| "  c code");
    let bench = if state.benches.len() > 1 {
        "  Tab bench"
    } else {
        ""
    };
    format!("{KEYS}{code}{bench}")
}

/// Lines alone, what matters most first.
fn small(buffer: &mut Buffer, area: Rect, state: &State, bench: &Bench) {
    let look = state.look;
    let mut lines = Vec::new();
    let to_do = bench.trouble.as_ref().or(bench.cue.as_ref());
    lines.extend(to_do.map(|cue| format!(">>> {cue}")));
    lines.push(format!("{} {}", minutes(bench.now_s), bench.phase));
    for (channel, sample) in bench.samples.iter().enumerate() {
        let degc = if sample.degc.is_finite() {
            format!("{:.*} {}", sample.decimals, sample.degc, look.degc())
        } else {
            sample.health.text.clone()
        };
        lines.push(format!("{} {} {degc}", Look::marker(channel), sample.name));
    }
    lines.push(bench.next.clone());
    lines.push(bench.health.text.clone());
    let room = area.height.saturating_sub(1 + messages(area));
    for (y, text) in (0..room).zip(&lines) {
        let style = if text.starts_with(">>>") {
            Look::loud()
        } else {
            Style::new()
        };
        line(buffer, area, area.y + y, text, style, look);
    }
    foot(buffer, area, state);
}

fn line(buffer: &mut Buffer, area: Rect, y: u16, text: &str, style: Style, look: Look) {
    if y < area.bottom() && area.width > 1 {
        let width = usize::from(area.width - 1);
        buffer.set_stringn(
            area.x + 1,
            y,
            look.text(text),
            width.saturating_sub(1),
            style,
        );
    }
}
