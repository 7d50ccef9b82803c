//! Reference points: can they come from one probe?

/// Reference temperatures in °C that a probe of this kind survives.
const RANGE_DEGC: (f64, f64) = (-60.0, 200.0);

/// Points closer than this in reference temperature count as one when constants are counted, in °C.
const APART_DEGC: f64 = 1.0;

/// A probe's value at a reference temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The reference thermometer, in °C.
    pub reference_degc: f64,
    /// What the probe says: resistance in ohms, or reading in °C.
    pub value: f64,
}

/// Why no constants are fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PointsFault {
    /// A number is not one that a probe or a thermometer gives.
    #[error("point {number}: {value} {unit} is no {what}")]
    Value {
        /// The point, counted from 1.
        number: usize,
        /// What was given.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// What was expected.
        what: &'static str,
    },
    /// Two points are the same.
    #[error("points {first} and {second} are the same; a point counts once")]
    Duplicate {
        /// Counted from 1.
        first: usize,
        /// Counted from 1.
        second: usize,
    },
    /// The resistance does not fall as the temperature rises.
    #[error(
        "point {warmer} is warmer than point {colder}, but its resistance is not smaller; a \
         thermistor's falls as it warms"
    )]
    NotFalling {
        /// Counted from 1.
        colder: usize,
        /// Counted from 1.
        warmer: usize,
    },
    /// The reading does not rise with the temperature.
    #[error("point {warmer} is warmer than point {colder}, but its reading is not higher")]
    NotRising {
        /// Counted from 1.
        colder: usize,
        /// Counted from 1.
        warmer: usize,
    },
    /// Fewer temperatures than constants.
    #[error(
        "{wanted} constants need at least {wanted} points at temperatures 1 °C or more apart; here \
         are {given}"
    )]
    TooFew {
        /// Temperatures that are apart.
        given: usize,
        /// Constants.
        wanted: usize,
    },
    /// The constants that follow are those of no thermistor.
    #[error("these points make constants that no thermistor has: {why}")]
    Implausible {
        /// What is wrong with them.
        why: String,
    },
}

/// Points as tests write them: reference temperature in °C, value.
#[cfg(test)]
pub(super) fn points(pairs: &[(f64, f64)]) -> Vec<Point> {
    pairs
        .iter()
        .map(|&(reference_degc, value)| Point {
            reference_degc,
            value,
        })
        .collect()
}

/// Checks points of a resistance in ohms that falls as it warms, for so many constants.
pub(super) fn check_ohms(points: &[Point], constants: usize) -> Result<(), PointsFault> {
    for (point, number) in points.iter().zip(1..) {
        if !(point.value.is_finite() && point.value > 0.0) {
            return Err(PointsFault::Value {
                number,
                value: point.value,
                unit: "Ω",
                what: "resistance of a thermistor",
            });
        }
    }
    check(points, constants, |colder, warmer| {
        let (colder_is, warmer_is) = (colder.1, warmer.1);
        (warmer.0.value >= colder.0.value).then_some(PointsFault::NotFalling {
            colder: colder_is,
            warmer: warmer_is,
        })
    })
}

/// Checks points of a reading in °C that rises with the temperature, for so many constants.
pub(super) fn check_readings(points: &[Point], constants: usize) -> Result<(), PointsFault> {
    for (point, number) in points.iter().zip(1..) {
        if !(-100.0..=300.0).contains(&point.value) {
            return Err(PointsFault::Value {
                number,
                value: point.value,
                unit: "°C",
                what: "reading of a probe",
            });
        }
    }
    check(points, constants, |colder, warmer| {
        (warmer.0.value <= colder.0.value).then_some(PointsFault::NotRising {
            colder: colder.1,
            warmer: warmer.1,
        })
    })
}

/// What all points must keep; `order` looks at neighbours in temperature with their numbers.
fn check(
    points: &[Point],
    constants: usize,
    order: impl Fn((Point, usize), (Point, usize)) -> Option<PointsFault>,
) -> Result<(), PointsFault> {
    for (point, number) in points.iter().zip(1..) {
        if !(RANGE_DEGC.0..=RANGE_DEGC.1).contains(&point.reference_degc) {
            return Err(PointsFault::Value {
                number,
                value: point.reference_degc,
                unit: "°C",
                what: "temperature that such a probe survives",
            });
        }
        let same = |other: &Point| {
            (other.reference_degc - point.reference_degc).abs() <= 0.0
                && (other.value - point.value).abs() <= 0.0
        };
        if let Some(before) = points.iter().take(number - 1).position(same) {
            return Err(PointsFault::Duplicate {
                first: before + 1,
                second: number,
            });
        }
    }
    let mut sorted: Vec<(Point, usize)> = points.iter().copied().zip(1..).collect();
    sorted.sort_by(|a, b| a.0.reference_degc.total_cmp(&b.0.reference_degc));
    let mut apart = 0;
    let mut last_degc = f64::NEG_INFINITY;
    for (place, point) in sorted.iter().enumerate() {
        if point.0.reference_degc - last_degc >= APART_DEGC {
            apart += 1;
            last_degc = point.0.reference_degc;
        }
        let before = place.checked_sub(1).and_then(|p| sorted.get(p));
        let warmer = before.filter(|b| point.0.reference_degc > b.0.reference_degc);
        if let Some(fault) = warmer.and_then(|colder| order(*colder, *point)) {
            return Err(fault);
        }
    }
    if apart < constants {
        return Err(PointsFault::TooFew {
            given: apart,
            wanted: constants,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_that_no_thermistor_gives_are_refused_with_their_numbers() {
        let said = |pairs: &[(f64, f64)], constants| {
            check_ohms(&points(pairs), constants)
                .unwrap_err()
                .to_string()
        };
        let rising = said(&[(0.0, 27_000.0), (25.0, 30_000.0)], 2);
        assert!(
            rising.contains("point 2 is warmer than point 1"),
            "{rising}"
        );
        let twice = said(&[(0.0, 27_000.0), (25.0, 1e4), (0.0, 27_000.0)], 2);
        assert!(twice.contains("points 1 and 3 are the same"), "{twice}");
        let few = said(&[(0.0, 27_000.0), (25.0, 1e4)], 3);
        assert!(
            few.contains("3 constants need at least 3") && few.contains("are 2"),
            "{few}"
        );
        let close = said(&[(25.0, 10_000.0), (25.2, 9_910.0)], 2);
        assert!(close.contains("are 1"), "{close}");
        for bad in [0.0, -5.0, f64::NAN, f64::INFINITY] {
            assert!(said(&[(0.0, bad), (25.0, 1e4)], 2).starts_with("point 1"));
        }
        assert!(said(&[(0.0, 27e3), (400.0, 1.0)], 2).contains("point 2: 400 °C"));
        assert!(check_ohms(&points(&[(25.0, 1e4), (0.0, 27_000.0)]), 2).is_ok());
    }

    #[test]
    fn readings_must_rise() {
        let falling = check_readings(&points(&[(0.0, 0.5), (20.0, 0.2)]), 2).unwrap_err();
        assert_eq!(
            falling,
            PointsFault::NotRising {
                colder: 1,
                warmer: 2
            }
        );
        assert!(check_readings(&points(&[(0.0, 0.5), (20.0, 20.2)]), 2).is_ok());
    }
}
