//! A table of points, and a smooth curve through them that rises or falls everywhere.
//!
//! Between points stands a cubic Hermite curve whose tangents are limited after Fritsch and Carlson
//! (SIAM J. Numer. Anal. 17, 1980, 238–246). Where a resistance falls with temperature, the curve
//! is one of `1/T` over `ln R`, which is nearly straight for thermistors; else of `t` over the
//! signal.

use super::cubic::{Node, Piece, end_tangent, limited};
use super::{ANY_DEGC, Quantity, THERMISTOR_DEGC, ZERO_DEGC_K, platinum};

/// The most points of a table: one each 0.1 °C over a thermistor's range.
pub const MOST_POINTS: usize = 2048;

/// Points of signal and temperature, in the order of the signal, that one probe can have.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "Written", into = "Written")]
pub struct PointTable {
    quantity: Quantity,
    /// Signal in ohms or volts, and temperature in °C.
    points: Vec<(f64, f64)>,
    /// `1/T` over `ln R`.
    reciprocal: bool,
    nodes: Vec<Node>,
}

/// As it stands in files.
#[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    quantity: Quantity,
    points: Vec<(f64, f64)>,
}

/// Why points cannot be those of one probe. Points are counted from 1 as they were given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableFault {
    /// Fewer than two, or more than [`MOST_POINTS`].
    #[error("a table has 2 to {MOST_POINTS} points, not {given}")]
    Count {
        /// How many were given.
        given: usize,
    },
    /// A number is not finite, a resistance not above zero, or a temperature that nothing has.
    #[error("point {at} ({signal}, {degc} °C) is not possible")]
    Impossible {
        /// Which point.
        at: usize,
        /// Its signal.
        signal: f64,
        /// Its temperature.
        degc: f64,
    },
    /// One signal, or one temperature, stands there twice.
    #[error("points {first} and {second} have the same {what}; keep one of them")]
    Twice {
        /// Which point.
        first: usize,
        /// And which other.
        second: usize,
        /// What is the same.
        what: &'static str,
    },
    /// The temperature neither rises all the way nor falls all the way.
    #[error(
        "point {at} ({signal}, {degc} °C) goes back: along the signal the temperature must \
         only rise or only fall"
    )]
    TurnsBack {
        /// Which point.
        at: usize,
        /// Its signal.
        signal: f64,
        /// Its temperature.
        degc: f64,
    },
}

impl TryFrom<Written> for PointTable {
    type Error = TableFault;

    fn try_from(written: Written) -> Result<Self, TableFault> {
        Self::new(written.quantity, &written.points)
    }
}

impl From<PointTable> for Written {
    fn from(table: PointTable) -> Self {
        Self {
            quantity: table.quantity,
            points: table.points,
        }
    }
}

impl PointTable {
    /// From pairs of a signal in ohms or volts and a temperature in °C, in any order.
    ///
    /// # Errors
    /// [`TableFault`] says which point cannot be, or does not go with the others.
    pub fn new(quantity: Quantity, given: &[(f64, f64)]) -> Result<Self, TableFault> {
        if !(2..=MOST_POINTS).contains(&given.len()) {
            return Err(TableFault::Count { given: given.len() });
        }
        let mut numbered: Vec<(usize, f64, f64)> = Vec::with_capacity(given.len());
        for (index, &(signal, degc)) in given.iter().enumerate() {
            let at = index + 1;
            let is_signal = signal.is_finite() && (quantity == Quantity::Volt || signal > 0.0);
            let (least_degc, most_degc) = ANY_DEGC;
            if !(is_signal && degc > least_degc && degc <= most_degc) {
                return Err(TableFault::Impossible { at, signal, degc });
            }
            numbered.push((at, signal, degc));
        }
        numbered.sort_by(|one, other| one.1.total_cmp(&other.1));
        let rises = goes_one_way(&numbered)?;
        let points: Vec<(f64, f64)> = numbered.iter().map(|&(_, s, t)| (s, t)).collect();
        let reciprocal = quantity == Quantity::Ohm && !rises;
        let nodes = nodes(&points, reciprocal);
        Ok(Self {
            quantity,
            points,
            reciprocal,
            nodes,
        })
    }

    /// The points in the order of their signal: ohms or volts, and °C.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    pub(super) fn quantity(&self) -> Quantity {
        self.quantity
    }

    pub(super) fn range_degc(&self) -> (f64, f64) {
        let ends = [self.points.first(), self.points.last()];
        let mut range = (f64::INFINITY, f64::NEG_INFINITY);
        for (_, degc) in ends.into_iter().flatten() {
            range = (range.0.min(*degc), range.1.max(*degc));
        }
        range
    }

    /// Signals at the cold and at the hot end of what probes of this kind can be at, along the
    /// tangents at the table's ends.
    pub(super) fn limits(&self) -> (f64, f64) {
        let (coldest, hottest) = self.range_degc();
        let (least, most) = match (self.quantity, self.reciprocal) {
            (Quantity::Ohm, true) => THERMISTOR_DEGC,
            (Quantity::Ohm, false) => platinum::RANGE_DEGC,
            // A sensor with an output of its own shows no broken lead.
            (Quantity::Volt, _) => (coldest, hottest),
        };
        let beyond = |degc: f64| {
            let y = self.y_of(degc);
            let nearest = |a: &&Node, b: &&Node| (a.y - y).abs().total_cmp(&(b.y - y).abs());
            let end = [self.nodes.first(), self.nodes.last()];
            let end = end.into_iter().flatten().min_by(nearest);
            end.map_or(f64::NAN, |end| {
                self.signal_of(end.x + (y - end.y) / end.tangent)
            })
        };
        let (cold, hot) = (beyond(least.min(coldest)), beyond(most.max(hottest)));
        // A resistance falls to nothing sooner than a tangent goes on; and rounding must not put a
        // point of the table outside.
        let signals = [self.points.first(), self.points.last()];
        let signals = signals.into_iter().flatten().map(|point| point.0);
        signals.fold((cold.min(hot), cold.max(hot)), |(least, most), signal| {
            (least.min(signal), most.max(signal))
        })
    }

    pub(super) fn degc_at(&self, signal: f64) -> f64 {
        let x = self.x_of(signal);
        self.interval(|node| node.x <= x)
            .filter(|piece| piece.holds(x))
            .map_or(f64::NAN, |piece| self.degc_of(piece.at(x)))
    }

    pub(super) fn signal_at(&self, degc: f64) -> f64 {
        let y = self.y_of(degc);
        let rises = self.nodes.first().is_some_and(|node| node.tangent > 0.0);
        self.interval(|node| if rises { node.y <= y } else { node.y >= y })
            .map_or(f64::NAN, |piece| self.signal_of(piece.root(y)))
    }

    pub(super) fn slope_at(&self, signal: f64) -> f64 {
        let x = self.x_of(signal);
        let piece = self
            .interval(|node| node.x <= x)
            .filter(|piece| piece.holds(x));
        let Some(piece) = piece else { return f64::NAN };
        let slope = piece.slope_at(x);
        if self.reciprocal {
            let t_k = self.degc_of(piece.at(x)) + ZERO_DEGC_K;
            -t_k * t_k * slope / signal
        } else {
            slope
        }
    }

    fn x_of(&self, signal: f64) -> f64 {
        x_of(signal, self.reciprocal)
    }

    fn y_of(&self, degc: f64) -> f64 {
        y_of(degc, self.reciprocal)
    }

    fn signal_of(&self, x: f64) -> f64 {
        if self.reciprocal { x.exp() } else { x }
    }

    fn degc_of(&self, y: f64) -> f64 {
        if self.reciprocal {
            1.0 / y - ZERO_DEGC_K
        } else {
            y
        }
    }

    /// The piece of the curve behind the last node that is `before` the wanted place.
    fn interval(&self, before: impl Fn(&Node) -> bool) -> Option<Piece> {
        let after = self.nodes.partition_point(before);
        let last = self.nodes.len().checked_sub(2)?;
        let from = after.saturating_sub(1).min(last);
        match self.nodes.get(from..from + 2)? {
            [from, to] => Some(Piece {
                from: *from,
                to: *to,
            }),
            _ => None,
        }
    }
}

fn x_of(signal: f64, reciprocal: bool) -> f64 {
    if reciprocal { signal.ln() } else { signal }
}

fn y_of(degc: f64, reciprocal: bool) -> f64 {
    if reciprocal {
        1.0 / (degc + ZERO_DEGC_K)
    } else {
        degc
    }
}

/// Whether the temperature rises with the signal.
fn goes_one_way(sorted: &[(usize, f64, f64)]) -> Result<bool, TableFault> {
    let mut rises = None;
    for pair in sorted.windows(2) {
        let &[(first, s0, t0), (second, s1, t1)] = pair else {
            continue;
        };
        let twice = |what| TableFault::Twice {
            first: first.min(second),
            second: first.max(second),
            what,
        };
        if s1 <= s0 {
            return Err(twice("signal"));
        }
        let rise = t1 - t0;
        if rise == 0.0 {
            return Err(twice("temperature"));
        }
        if *rises.get_or_insert(rise > 0.0) != (rise > 0.0) {
            let (at, signal, degc) = (second, s1, t1);
            return Err(TableFault::TurnsBack { at, signal, degc });
        }
    }
    Ok(rises.unwrap_or(true))
}

/// The points in the curve's coordinates, with a tangent each: the slope of the parabola through a
/// point and its neighbours, no steeper than keeps the curve monotone.
fn nodes(points: &[(f64, f64)], reciprocal: bool) -> Vec<Node> {
    let place = |&(signal, degc): &(f64, f64)| (x_of(signal, reciprocal), y_of(degc, reciprocal));
    let places: Vec<(f64, f64)> = points.iter().map(place).collect();
    let secants: Vec<(f64, f64)> = places
        .windows(2)
        .filter_map(|pair| match pair {
            &[(x0, y0), (x1, y1)] => Some((x1 - x0, (y1 - y0) / (x1 - x0))),
            _ => None,
        })
        .collect();
    let secant = |index: Option<usize>| index.and_then(|index| secants.get(index)).copied();
    let tangent = |index: usize| {
        let (before, after) = (secant(index.checked_sub(1)), secant(Some(index)));
        match (before, after) {
            (Some((h0, d0)), Some((h1, d1))) => limited((h1 * d0 + h0 * d1) / (h0 + h1), d0, d1),
            (Some((h, d)), None) => end_tangent(h, d, secant(index.checked_sub(2))),
            (None, Some((h, d))) => end_tangent(h, d, secant(Some(index + 1))),
            (None, None) => 0.0,
        }
    };
    places
        .iter()
        .enumerate()
        .map(|(index, &(x, y))| Node {
            x,
            y,
            tangent: tangent(index),
        })
        .collect()
}
