//! The set-up as a drawing of our own: one lamp with its guard, equal distances, a probe in each
//! tray.

use core::f64::consts::PI;

use super::Written;
use super::svg::{Drawing, INK, Pen, QUIET, cut, pen};

/// Dashes of a measured distance.
const MEASURE: Pen<'static> = Pen {
    colour: QUIET,
    width: 1.2,
    dashes: "5 4",
};
/// Size of letters in pixels.
const LETTER: f64 = 13.0;
/// Characters of a sample's name that fit below its tray.
const NAME: usize = 22;

impl Written<'_> {
    /// From the side for one or two samples, from above for more.
    pub(super) fn drawing(&self, title: &str) -> String {
        if self.labels.len() > 2 {
            self.seen_from_above(title)
        } else {
            self.seen_from_the_side(title)
        }
    }

    fn distance(&self) -> String {
        match &self.sheet.lamp_distance {
            Some(distance) => {
                let distance = distance.text(&self.words);
                let values = [("distance", super::Value::Text(&distance))];
                self.words.tell("sheet-distance-value", &values)
            }
            None if self.is_alone() => self.words.say("sheet-distance"),
            None => self.words.say("sheet-same-distance"),
        }
    }

    fn seen_from_the_side(&self, title: &str) -> String {
        let mut d = Drawing::default();
        let (width, table) = (430.0, 212.0);
        let lamp = (0.5 * width, 66.0);
        let centres = if self.is_alone() {
            vec![lamp.0]
        } else {
            vec![85.0, width - 85.0]
        };
        d.line((6.0, table), (width - 6.0, table), pen(INK, 2.0));
        draw_lamp(&mut d, lamp);
        d.text(
            (lamp.0 + 42.0, 40.0),
            LETTER,
            "start",
            &self.words.say("sheet-lamp"),
        );
        let board = (
            if self.is_alone() {
                330.0
            } else {
                lamp.0 - 32.0
            },
            table - 24.0,
        );
        d.rect(board, (64.0, 24.0), "#FFFFFF", pen(INK, 1.5));
        d.text(
            (board.0 + 32.0, table - 8.0),
            11.0,
            "middle",
            &self.words.say("sheet-board"),
        );
        for (centre, label) in centres.iter().zip(&self.labels) {
            d.line((lamp.0, lamp.1 + 17.0), (*centre, table - 26.0), MEASURE);
            draw_tray(&mut d, *centre, table);
            let is_left = self.is_alone() || *centre < lamp.0;
            let port = if is_left { board.0 } else { board.0 + 64.0 };
            draw_probe(&mut d, (*centre, table), is_left, port);
            d.text((*centre, table + 17.0), LETTER, "middle", &cut(label, NAME));
        }
        self.name_probe_and_distance(&mut d, &centres, lamp.0, table);
        d.finish(width, table + 24.0, title)
    }

    fn name_probe_and_distance(&self, d: &mut Drawing, centres: &[f64], lamp: f64, table: f64) {
        let first = centres.first().copied().unwrap_or(lamp);
        let probe = (first + 58.0, table - 36.0);
        d.text(probe, 11.0, "start", &self.words.say("sheet-probe"));
        let distance = self.distance();
        if self.is_alone() {
            d.text((lamp - 8.0, 128.0), 11.0, "end", &distance);
        } else {
            d.text((lamp - 92.0, 108.0), 11.0, "end", &distance);
            d.text((lamp + 92.0, 108.0), 11.0, "start", &distance);
        }
    }

    fn seen_from_above(&self, title: &str) -> String {
        let mut d = Drawing::default();
        let (centre, radius) = ((150.0, 140.0), 100.0);
        let count = self.labels.len();
        for (number, label) in self.labels.iter().enumerate() {
            let angle = 2.0 * PI * number as f64 / count as f64 - 0.5 * PI;
            let at = (
                centre.0 + radius * libm::cos(angle),
                centre.1 + radius * libm::sin(angle),
            );
            d.line(centre, at, MEASURE);
            d.rect(
                (at.0 - 27.0, at.1 - 18.0),
                (54.0, 36.0),
                "#FFFFFF",
                pen(INK, 1.5),
            );
            d.circle((at.0 + 14.0, at.1 - 6.0), 3.0, INK, pen(INK, 1.0));
            let number = (number + 1).to_string();
            d.text((at.0 - 6.0, at.1 + 6.0), 15.0, "middle", &number);
            let line = 60.0 + 20.0 * (number.parse::<f64>().unwrap_or(1.0) - 1.0);
            d.text(
                (300.0, line),
                LETTER,
                "start",
                &format!("{number} {}", cut(label, 18)),
            );
        }
        d.circle(centre, 24.0, "#FFFFFF", pen(INK, 2.0));
        for k in 0..4 {
            let (sin, cos) = (
                libm::sin(PI * f64::from(k) / 4.0),
                libm::cos(PI * f64::from(k) / 4.0),
            );
            let reach = (24.0 * cos, 24.0 * sin);
            let from = (centre.0 - reach.0, centre.1 - reach.1);
            d.line(
                from,
                (centre.0 + reach.0, centre.1 + reach.1),
                pen(QUIET, 1.0),
            );
        }
        let below = 60.0 + 20.0 * count as f64 + 8.0;
        d.text((300.0, below), 11.0, "start", &self.words.say("sheet-lamp"));
        d.text((300.0, below + 16.0), 11.0, "start", &self.distance());
        d.finish(450.0, 280.0, title)
    }
}

/// A reflector with its bulb and the bars of its guard, held at two points.
fn draw_lamp(d: &mut Drawing, (x, y): (f64, f64)) {
    let bar = y - 58.0;
    d.line((x - 60.0, bar), (x + 34.0, bar), pen(INK, 3.0));
    d.line((x - 8.0, bar), (x - 8.0, y - 30.0), pen(INK, 2.0));
    d.line((x + 8.0, bar), (x + 8.0, y - 30.0), pen(INK, 2.0));
    let shade = [
        (x - 12.0, y - 30.0),
        (x + 12.0, y - 30.0),
        (x + 34.0, y),
        (x - 34.0, y),
        (x - 12.0, y - 30.0),
    ];
    d.path(&shade, "#EDEDED", pen(INK, 2.0));
    d.circle((x, y), 9.0, "#FFFFFF", pen(INK, 1.5));
    // The guard: a basket below the bulb.
    let basket = [
        (x - 34.0, y),
        (x - 26.0, y + 16.0),
        (x + 26.0, y + 16.0),
        (x + 34.0, y),
    ];
    d.path(&basket, "none", pen(INK, 1.5));
    for k in [-14.0, 0.0, 14.0] {
        d.line((x + k * 1.3, y), (x + k, y + 16.0), pen(QUIET, 1.0));
    }
}

/// A tray with a sample in it, standing on the table.
fn draw_tray(d: &mut Drawing, centre: f64, table: f64) {
    d.rect(
        (centre - 48.0, table - 20.0),
        (96.0, 17.0),
        "#EDEDED",
        pen(QUIET, 1.0),
    );
    let tray = [
        (centre - 56.0, table - 26.0),
        (centre - 50.0, table - 2.0),
        (centre + 50.0, table - 2.0),
        (centre + 56.0, table - 26.0),
    ];
    d.path(&tray, "none", pen(INK, 2.0));
}

/// A probe in a tray, leaning towards the board, and its lead to the board's side at `port`.
fn draw_probe(d: &mut Drawing, (centre, table): (f64, f64), is_left: bool, port: f64) {
    let side = if is_left { 1.0 } else { -1.0 };
    let top = (centre + side * 28.0, table - 44.0);
    d.line((centre + side * 16.0, table - 16.0), top, pen(INK, 3.0));
    let knee = (top.0 + side * 24.0, table - 12.0);
    let lead = [top, (knee.0, top.1 + 4.0), knee, (port, table - 12.0)];
    d.path(&lead, "none", pen(INK, 1.2));
}
