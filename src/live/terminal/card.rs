//! A sample's card: its number, where it is going, how its probe is.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

use super::digits::{ROWS, big};
use super::look::Look;
use super::state::{Bench, Sample};
use crate::live::words::{STILL_DEGC_PER_MIN, still};

/// Height of a card with a big number.
const TALL: u16 = 6;

/// Draws a card for each sample of a bench, one under the other.
pub(super) fn cards(buffer: &mut Buffer, area: Rect, bench: &Bench, look: Look) {
    let count = u16::try_from(bench.samples.len())
        .unwrap_or(u16::MAX)
        .max(1);
    let height = (area.height / count).clamp(1, TALL + 1);
    for (channel, sample) in (0_u16..).zip(&bench.samples) {
        let place = Rect {
            y: area.y + channel * height,
            height: height.min(area.height.saturating_sub(channel * height)),
            ..area
        };
        let trend = bench.history.trend_degc_per_min(channel.into());
        card(
            buffer,
            place,
            (channel.into(), sample, trend, bench.settles),
            look,
        );
    }
}

/// Channel, sample, where it is going, and whether its steadiness is waited for.
type Shown<'a> = (usize, &'a Sample, Option<f64>, bool);

fn card(buffer: &mut Buffer, area: Rect, shown: Shown, look: Look) {
    let (channel, sample, trend, settles) = shown;
    let mut line = area.y;
    let mut put = |text: &str, style: Style| {
        if line < area.bottom() {
            let text = look.text(text);
            buffer.set_stringn(area.x, line, text, area.width.into(), style);
        }
        line += 1;
    };
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let colour = look.channel(channel);
    let title = format!("{} {}", Look::marker(channel), sample.name);
    let number = number(sample);
    // Where it was going is old with the number.
    let trend = words(trend.filter(|_| sample.degc.is_finite()), settles, look);
    let state = if sample.health.alarm {
        look.alarm()
    } else {
        Style::new()
    };
    match area.height {
        0 => {}
        1 => {
            let mut text = format!("{title} {number} {}  {trend}", look.degc());
            if sample.health.alarm {
                text.push_str(&format!("  {}", sample.health.text));
            }
            put(&text, colour.patch(bold));
        }
        2..TALL => {
            put(
                &format!("{title}  {number} {}", look.degc()),
                colour.patch(bold),
            );
            put(&trend, Style::new());
            put(&sample.health.text, state);
        }
        _ => {
            put(&title, colour.patch(bold));
            if look.unicode && number != "-" {
                let rows = big(&number);
                for (row, text) in rows.iter().enumerate() {
                    let unit = if row + 1 == ROWS { look.degc() } else { "" };
                    put(&format!("{text}{unit}"), bold);
                }
            } else {
                put("", bold);
                put(&format!("  {number} {}", look.degc()), bold);
                put("", bold);
            }
            put(&trend, Style::new());
            put(&sample.health.text, state);
        }
    }
}

/// The number, or `-`.
fn number(sample: &Sample) -> String {
    if sample.degc.is_finite() {
        format!("{:.*}", sample.decimals, sample.degc)
    } else {
        "-".into()
    }
}

/// `rising 0.82 °C/min`.
fn words(trend: Option<f64>, settles: bool, look: Look) -> String {
    match trend {
        None => String::new(),
        Some(rate) if rate.abs() < STILL_DEGC_PER_MIN => still(settles).into(),
        Some(rate) => {
            let word = if rate > 0.0 { "rising" } else { "falling" };
            format!("{word} {:.2} {}/min", rate.abs(), look.degc())
        }
    }
}
