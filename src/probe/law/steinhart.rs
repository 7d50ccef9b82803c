//! `a + b·L + c2·L² + c·L³` in `L = ln R`, and its one real root.

/// The polynomial in `ln R` that gives `1/T`. It rises everywhere: `c > 0` and `c2² < 3·b·c`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cubic {
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) c2: f64,
    pub(super) c: f64,
}

impl Cubic {
    /// `1/T` at `L`.
    pub(super) fn at(self, l: f64) -> f64 {
        self.a + l * (self.b + l * (self.c2 + l * self.c))
    }

    /// Its derivative at `L`.
    pub(super) fn slope_at(self, l: f64) -> f64 {
        self.b + l * (2.0 * self.c2 + 3.0 * l * self.c)
    }

    /// `L` at a given `1/T`: the hyperbolic closed form of a cubic with one real root, which unlike
    /// Cardano's radicals subtracts nothing, then two Newton steps for the last digits.
    pub(super) fn root(self, inverse_k: f64) -> f64 {
        // With L = y − s: y³ + 3·p·y + 2·q = 0.
        let (b, c2) = (self.b / self.c, self.c2 / self.c);
        let s = c2 / 3.0;
        let p = b / 3.0 - s * s;
        let q = s * (s * s - b / 2.0) + (self.a - inverse_k) / (2.0 * self.c);
        let y = -2.0 * p.sqrt() * ((q / (p * p.sqrt())).asinh() / 3.0).sinh();
        let mut l = y - s;
        for _ in 0..2 {
            l -= (self.at(l) - inverse_k) / self.slope_at(l);
        }
        l
    }
}
