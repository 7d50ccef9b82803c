//! A correction that changes with the reading, by least squares.

use super::points::{Point, PointsFault, check_readings};
use crate::analysis;
use crate::probe::Correction;

/// A correction line with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CorrectionLine {
    /// Standard uncertainty of the offset in °C.
    pub u_offset_degc: f64,
    /// Standard uncertainty of the slope in °C per °C.
    pub u_slope: f64,
    /// Correlation of the two, −1 to 1.
    pub correlation: f64,
    /// The line.
    pub line: Correction,
}

impl CorrectionLine {
    /// The same correction at every reading, known to `u_degc`.
    #[must_use]
    pub fn constant(offset_degc: f64, u_degc: f64) -> Self {
        Self {
            u_offset_degc: u_degc,
            line: Correction::constant(offset_degc),
            ..Self::default()
        }
    }

    /// Through two corrections at two readings in °C, each with its own standard uncertainty.
    #[must_use]
    pub fn through(first: (f64, f64, f64), second: (f64, f64, f64)) -> Self {
        let ((t1, b1, u1), (t2, b2, u2)) = (first, second);
        let span = t2 - t1;
        let slope = (b2 - b1) / span;
        let u_slope = u1.hypot(u2) / span.abs();
        Self {
            u_offset_degc: u1,
            u_slope,
            // Covariance of b1 and (b2 − b1)/span is −u1²/span.
            correlation: if u1 > 0.0 && u_slope > 0.0 {
                -u1 / span / u_slope
            } else {
                0.0
            },
            line: Correction {
                about_degc: t1,
                offset_degc: b1,
                slope,
            },
        }
    }

    /// The same with a further error that is alike at all readings, of this standard uncertainty in °C.
    #[must_use]
    pub(super) fn with_common(self, u_degc: f64) -> Self {
        let u_offset_degc = self.u_offset_degc.hypot(u_degc);
        // The covariance with the slope stays what it was.
        let share = self.u_offset_degc / u_offset_degc;
        Self {
            u_offset_degc,
            correlation: if share.is_finite() {
                self.correlation * share
            } else {
                self.correlation
            },
            ..self
        }
    }

    /// Standard uncertainty of the correction at a reading, both in °C (JCGM 100:2008, H.3.4).
    #[must_use]
    pub fn u_at(&self, degc: f64) -> f64 {
        let away = degc - self.line.about_degc;
        let slope = away * self.u_slope;
        let square = self.u_offset_degc.powi(2)
            + slope.powi(2)
            + 2.0 * self.correlation * self.u_offset_degc * slope;
        square.max(0.0).sqrt()
    }
}

/// A fitted correction line.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedLine {
    /// The line.
    pub line: CorrectionLine,
    /// Correction minus line at each point, in °C.
    pub residuals_degc: Vec<f64>,
    /// Standard deviation of the residuals in °C; none without a degree of freedom.
    pub residual_sd_degc: Option<f64>,
    /// Readings in °C between which the points lie.
    pub range_degc: (f64, f64),
}

/// Fits the correction `reference − reading` as a line in the reading, about `about_degc`
/// (JCGM 100:2008, H.3); `u_reference_degc` is the standard uncertainty of the one thermometer that told
/// all reference temperatures.
///
/// Its error is common to all points, and no number of them averages it out (5.2.2, note 1). What a point
/// has of its own is what the residuals show, and never less than as much again: few residuals are small
/// by luck, and two points show none.
///
/// # Errors
/// [`PointsFault`] for points that cannot come from one probe.
pub fn fit_line(
    points: &[Point],
    about_degc: f64,
    u_reference_degc: f64,
) -> Result<FittedLine, PointsFault> {
    check_readings(points, 2)?;
    let x: Vec<f64> = points.iter().map(|p| p.value - about_degc).collect();
    let y: Vec<f64> = points.iter().map(|p| p.reference_degc - p.value).collect();
    let n = points.len() as f64;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let (mx, my) = (mean(&x), mean(&y));
    let xx: f64 = x.iter().map(|x| (x - mx).powi(2)).sum();
    let xy: f64 = x.iter().zip(&y).map(|(x, y)| (x - mx) * (y - my)).sum();
    let fitted = analysis::fit_line(&x, &y);
    let (offset_degc, slope) = match fitted {
        Some(line) => (line.intercept, line.slope),
        None => (my - xy / xx * mx, xy / xx),
    };
    let residual_sd_degc = fitted.map(|line| line.residual_sd);
    let sd = residual_sd_degc.unwrap_or(0.0).max(u_reference_degc);
    let square_mean = x.iter().map(|x| x * x).sum::<f64>() / n;
    let range =
        |pick: fn(f64, f64) -> f64, from: f64| points.iter().map(|p| p.value).fold(from, pick);
    Ok(FittedLine {
        line: CorrectionLine {
            u_offset_degc: sd * (square_mean / xx).sqrt(),
            u_slope: sd / xx.sqrt(),
            correlation: -mx / square_mean.sqrt(),
            line: Correction {
                about_degc,
                offset_degc,
                slope,
            },
        }
        .with_common(u_reference_degc),
        residuals_degc: x
            .iter()
            .zip(&y)
            .map(|(x, y)| y - offset_degc - slope * x)
            .collect(),
        residual_sd_degc,
        range_degc: (
            range(f64::min, f64::INFINITY),
            range(f64::max, f64::NEG_INFINITY),
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008, table H.6: readings and corrections of a thermometer in °C.
    const GUM: [(f64, f64); 11] = [
        (21.521, -0.171),
        (22.012, -0.169),
        (22.512, -0.166),
        (23.003, -0.159),
        (23.507, -0.164),
        (23.999, -0.165),
        (24.513, -0.156),
        (25.002, -0.157),
        (25.503, -0.159),
        (26.010, -0.161),
        (26.511, -0.160),
    ];

    fn gum() -> FittedLine {
        let points: Vec<Point> = GUM
            .iter()
            .map(|(reading, correction)| Point {
                reference_degc: reading + correction,
                value: *reading,
            })
            .collect();
        fit_line(&points, 20.0, 0.0).unwrap()
    }

    #[test]
    fn the_gums_thermometer_comes_out_as_published() {
        // JCGM 100:2008, H.3: the published results, to their last digit.
        let fit = gum();
        let CorrectionLine {
            u_offset_degc,
            u_slope,
            correlation,
            line,
        } = fit.line;
        let near = |got: f64, want: f64, tolerance: f64| {
            assert!((got - want).abs() <= tolerance, "{got} is not {want}");
        };
        near(line.offset_degc, -0.1712, 5e-5);
        near(u_offset_degc, 0.0029, 5e-5);
        near(line.slope, 0.002_18, 5e-6);
        near(u_slope, 0.000_67, 5e-6);
        near(correlation, -0.930, 5e-4);
        near(fit.residual_sd_degc.unwrap(), 0.0035, 5e-5);
        near(line.at(30.0), -0.1494, 5e-5);
        near(fit.line.u_at(30.0), 0.0041, 5e-5);
        near(fit.residuals_degc[3], 0.0056, 5e-5);
    }

    #[test]
    fn where_the_line_is_taken_about_does_not_matter() {
        let points: Vec<Point> = [(0.3, 0.0), (25.1, 25.0), (50.0, 49.6)]
            .map(|(value, reference_degc)| Point {
                reference_degc,
                value,
            })
            .to_vec();
        let (a, b) = (
            fit_line(&points, 0.0, 0.1).unwrap().line,
            fit_line(&points, 37.0, 0.1).unwrap().line,
        );
        for t in [-10.0, 20.0, 80.0] {
            assert!((a.line.at(t) - b.line.at(t)).abs() < 1e-9);
            assert!((a.u_at(t) - b.u_at(t)).abs() < 1e-9);
        }
    }

    #[test]
    fn two_points_are_met_and_known_as_well_as_they_are() {
        let points = [
            Point {
                reference_degc: 0.0,
                value: 0.4,
            },
            Point {
                reference_degc: 100.0,
                value: 99.0,
            },
        ];
        let fit = fit_line(&points, 20.0, 0.2).unwrap();
        assert_eq!(fit.residual_sd_degc, None);
        assert!((fit.line.line.corrected(0.4)).abs() < 1e-9);
        assert!((fit.line.line.corrected(99.0) - 100.0).abs() < 1e-9);
        // To the thermometer's 0.2 °C, and as much again of the point's own.
        let point = 0.2 * 2.0_f64.sqrt();
        for t in [0.4, 99.0] {
            assert!((fit.line.u_at(t) - point).abs() < 1e-9);
        }
        let through = CorrectionLine::through((0.4, -0.4, 0.2), (99.0, 1.0, 0.2));
        for t in [0.4, 30.0, 99.0, 120.0] {
            assert!((through.line.at(t) - fit.line.line.at(t)).abs() < 1e-9);
            let own = through.u_at(t).hypot(0.2);
            assert!((own - fit.line.u_at(t)).abs() < 1e-9, "{t}");
        }
    }

    /// JCGM 100:2008, 5.2.2, note 1: what inputs have in common does not average out.
    #[test]
    fn one_thermometers_error_stays_however_many_baths_it_saw() {
        for baths in [3_u32, 16, 400] {
            let points: Vec<Point> = (0..baths)
                .map(|i| 60.0 * f64::from(i) / f64::from(baths - 1))
                .map(|degc| Point {
                    reference_degc: degc,
                    value: degc + 0.2 + 0.02 * (7.0 * degc).sin(),
                })
                .collect();
            let line = fit_line(&points, 20.0, 0.3).unwrap().line;
            for degc in [0.0, 22.0, 60.0] {
                let u = line.u_at(degc);
                assert!((0.3..0.42).contains(&u), "{baths} at {degc}: {u}");
            }
            assert!((line.u_at(30.0) - 0.3 * (1.0 + 1.0 / f64::from(baths)).sqrt()).abs() < 1e-3);
        }
    }
}
