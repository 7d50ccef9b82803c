//! A cubic between two points, with tangents so limited that it rises or falls everywhere
//! (Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980, 238–246).

/// Tangents are at most so many times the lesser of the two secants beside them. Three keeps the
/// curve monotone; less keeps it strictly so.
const STEEPEST: f64 = 2.5;

/// A point in the curve's own coordinates, and the curve's tangent there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) tangent: f64,
}

/// The parabola's slope at an end, from the secant there and the next one.
pub(super) fn end_tangent(h: f64, d: f64, next: Option<(f64, f64)>) -> f64 {
    let Some((h_next, d_next)) = next else {
        return d;
    };
    let slope = d + (d - d_next) * h / (h + h_next);
    // A parabola that turns at the end would make the curve flat there.
    let least = d.abs() / STEEPEST;
    d.signum() * (slope * d.signum()).clamp(least, STEEPEST * d.abs())
}

pub(super) fn limited(tangent: f64, d0: f64, d1: f64) -> f64 {
    let most = STEEPEST * d0.abs().min(d1.abs());
    tangent.signum() * tangent.abs().min(most)
}

/// The cubic between two nodes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    pub(super) from: Node,
    pub(super) to: Node,
}

impl Piece {
    pub(super) fn holds(&self, x: f64) -> bool {
        (self.from.x..=self.to.x).contains(&x)
    }

    /// Powers of `s = (x − x0)/(x1 − x0)` in `(y − y0)`: first, second and third.
    fn powers(&self) -> (f64, f64, f64) {
        let h = self.to.x - self.from.x;
        let rise = self.to.y - self.from.y;
        let (m0, m1) = (self.from.tangent * h, self.to.tangent * h);
        (m0, 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise)
    }

    pub(super) fn at(&self, x: f64) -> f64 {
        let s = (x - self.from.x) / (self.to.x - self.from.x);
        let (one, two, three) = self.powers();
        self.from.y + s * (one + s * (two + s * three))
    }

    pub(super) fn slope_at(&self, x: f64) -> f64 {
        let h = self.to.x - self.from.x;
        let s = (x - self.from.x) / h;
        let (one, two, three) = self.powers();
        (one + s * (2.0 * two + 3.0 * s * three)) / h
    }

    /// `x` at which the piece is `y`: Newton's method inside a bracket that halves whenever a step
    /// would leave it. NaN outside the piece.
    pub(super) fn root(&self, y: f64) -> f64 {
        let rise = self.to.y - self.from.y;
        let wanted = (y - self.from.y) / rise;
        if !(0.0..=1.0).contains(&wanted) {
            return f64::NAN;
        }
        let (one, two, three) = self.powers();
        let (one, two, three) = (one / rise, two / rise, three / rise);
        let (mut low, mut high, mut s) = (0.0_f64, 1.0_f64, wanted);
        for _ in 0..100 {
            let miss = s * (one + s * (two + s * three)) - wanted;
            if miss > 0.0 {
                high = s;
            } else {
                low = s;
            }
            let step = miss / (one + s * (2.0 * two + 3.0 * s * three));
            let next = s - step;
            let next = if next > low && next < high {
                next
            } else {
                f64::midpoint(low, high)
            };
            if miss == 0.0 || (next - s).abs() < 1e-16 {
                break;
            }
            s = next;
        }
        self.from.x + s * (self.to.x - self.from.x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64) {
        assert!((got - want).abs() < 1e-12, "{got} is not {want}");
    }

    #[test]
    fn the_tangent_at_an_end_is_the_parabolas() {
        // x² + 2x at 0, 1 and 3 begins with slope 2; x² is flat there, and is kept from it.
        near(end_tangent(1.0, 3.0, Some((2.0, 6.0))), 2.0);
        near(end_tangent(1.0, -3.0, Some((2.0, -6.0))), -2.0);
        near(end_tangent(1.0, 1.0, Some((2.0, 4.0))), 0.4);
        near(end_tangent(1.0, 1.0, Some((2.0, -20.0))), 2.5);
        near(end_tangent(2.0, 3.0, None), 3.0);
    }

    #[test]
    fn a_tangent_inside_is_no_steeper_than_the_lesser_secant_allows() {
        near(limited(5.0, 1.0, 2.0), 2.5);
        near(limited(-9.0, -3.0, -2.0), -5.0);
        near(limited(1.0, 1.0, 2.0), 1.0);
    }
}
