//! The chart: temperatures over time, native, so that a class can change it.

use rust_xlsxwriter::{
    Chart, ChartAxisLabelPosition, ChartLegendPosition, ChartLine, ChartLineDashType, ChartMarker,
    ChartType, Color, Worksheet, XlsxError,
};

use super::rows::Rows;
use super::{Book, Lesson, Value};
use crate::lamp::Kind;
use crate::report::words::Words;

/// The palette of Okabe and Ito in the order of our pictures; colour never stands alone.
pub(in crate::report) const COLOURS: [u32; 8] = [
    0x0000_72B2,
    0x00D5_5E00,
    0x0000_9E73,
    0x00CC_79A7,
    0x00E6_9F00,
    0x0056_B4E9,
    0x0000_0000,
    0x007F_7F00,
];

/// Line styles beside the colours.
const DASHES: [ChartLineDashType; 4] = [
    ChartLineDashType::Solid,
    ChartLineDashType::Dash,
    ChartLineDashType::DashDot,
    ChartLineDashType::RoundDot,
];

/// Row of the little table that the lamp's lines are drawn from, below the chart.
const LAMP_ROW: u32 = 34;

/// Most of the lamp's edges that are drawn.
const MOST_EDGES: usize = 40;

pub(super) fn sheet(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
    rows: &Rows<'_>,
) -> Result<(), XlsxError> {
    let own = book.words.say("book-graph");
    sheet.set_name(&own)?;
    Book::lying(sheet, 1);
    let mut chart = Chart::new(ChartType::ScatterStraight);
    let (name, last) = match &rows.overview {
        Some(overview) => ("book-overview", overview.rows.len() as u32),
        None => ("book-rows", lesson.series.t_s.len() as u32),
    };
    let name = book.words.say(name);
    let name = name.as_str();
    let (low, high) = span(lesson);
    for (channel, place) in (0..lesson.series.channels.len()).zip(2_u16..) {
        let colour = COLOURS.get(channel % COLOURS.len()).copied().unwrap_or(0);
        let dash = DASHES
            .get(channel % DASHES.len())
            .copied()
            .unwrap_or(ChartLineDashType::Solid);
        let mut line = line(colour, 1.75);
        line.set_dash_type(dash);
        chart
            .add_series()
            .set_categories((name, 1, 1, last.max(1), 1))
            .set_values((name, 1, place, last.max(1), place))
            .set_name((name, 0, place))
            .set_marker(ChartMarker::new().set_none())
            .set_format(&mut line);
    }
    lamp(sheet, book, lesson, (&own, &mut chart), (low, high))?;
    chart.title().set_hidden();
    axes(&mut chart, &book.words, rows, (low, high));
    chart.legend().set_position(ChartLegendPosition::Bottom);
    chart.set_alt_text(book.words.say("book-chart"));
    chart.set_width(960).set_height(560);
    // A chart without a series is none.
    if !lesson.series.channels.is_empty() {
        sheet.insert_chart(2, 0, &chart)?;
    }
    book.put_title(sheet, lesson.title, lesson.is_invented)
}

/// Steps in minutes that an axis of time may have.
const STEPS_MIN: [f64; 12] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 60.0, 120.0, 360.0, 720.0, 1440.0, 2880.0, 10_080.0,
];

/// Axes with quantity and unit; ticks at whole minutes, hours or days.
fn axes(chart: &mut Chart, words: &Words, rows: &Rows<'_>, (low, high): (f64, f64)) {
    let times = &rows.lesson.series.t_s;
    let (from, to) = (rows.minutes(0), rows.minutes(times.len().saturating_sub(1)));
    let pale = || line(0x00D9_D9D9, 0.75);
    let x = chart.x_axis();
    x.set_name(&words.say("report-column-time"))
        .set_label_position(ChartAxisLabelPosition::Low);
    x.set_major_gridlines(true)
        .set_major_gridlines_line(&pale());
    if from < to {
        let step = STEPS_MIN.into_iter().find(|s| (to - from) / s <= 12.0);
        let step = step.unwrap_or((to - from) / 10.0);
        x.set_min((from / step).floor() * step);
        x.set_max((to / step).ceil() * step).set_major_unit(step);
    }
    let y = chart.y_axis();
    y.set_name(&format!("{} / °C", words.say("graph-temperature")));
    y.set_min(low).set_max(high);
    y.set_major_gridlines_line(&pale());
    // Time before mark 0 must not push this axis into the picture.
    y.set_label_position(ChartAxisLabelPosition::Low);
}

fn line(colour: u32, width: f64) -> ChartLine {
    let mut line = ChartLine::new();
    line.set_color(Color::RGB(colour)).set_width(width);
    line
}

/// Whole degrees below and above everything that is drawn.
fn span(lesson: &Lesson<'_>) -> (f64, f64) {
    let values = lesson.series.channels.iter().flat_map(|c| &c.degc);
    let finite = values.copied().filter(|v| v.is_finite());
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
        (l.min(v), h.max(v))
    });
    if low > high {
        return (0.0, 1.0);
    }
    (low.floor(), high.ceil().max(low.floor() + 1.0))
}

/// An upright line at each edge, from a little table below the chart.
fn lamp(
    sheet: &mut Worksheet,
    book: &Book,
    lesson: &Lesson<'_>,
    (own, chart): (&str, &mut Chart),
    (low, high): (f64, f64),
) -> Result<(), XlsxError> {
    if lesson.summary.lamp.is_empty() {
        return Ok(());
    }
    let heads = ["report-lamp-edge", "report-column-time", "book-line"];
    book.put_heads(sheet, (LAMP_ROW, 0), heads)?;
    let edges = lesson.summary.lamp.iter().take(MOST_EDGES);
    for (row, edge) in (LAMP_ROW + 1..).step_by(2).zip(edges) {
        let (word, dash) = match edge.edge {
            Kind::On => ("graph-lamp-on", ChartLineDashType::Solid),
            Kind::Off => ("graph-lamp-off", ChartLineDashType::SquareDot),
        };
        book.put_said(sheet, (row, 0), word, &book.text)?;
        for (row, degc) in (row..).zip([low, high]) {
            book.put(
                sheet,
                (row, 1),
                Some(super::rows::minutes(edge.at_s, lesson)),
                Value::Time,
            )?;
            book.put(sheet, (row, 2), Some(degc), Value::Degc)?;
        }
        let mut line = line(0x0059_5959, 1.25);
        line.set_dash_type(dash);
        chart
            .add_series()
            .set_categories((own, row, 1, row + 1, 1))
            .set_values((own, row, 2, row + 1, 2))
            .set_name((own, row, 0))
            .set_marker(ChartMarker::new().set_none())
            .set_format(&mut line);
    }
    Ok(())
}
