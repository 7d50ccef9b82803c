//! Least squares of a curve with derivatives, by Levenberg and Marquardt's method.

use rmpfit::{MPConfig, MPError, MPFitter, MPPar, MPResult};

/// Goes on until the misfit changes by less than that share, and the parameters by less than a hundred
/// times as much.
pub(super) fn until(share: f64) -> MPConfig {
    MPConfig {
        ftol: share,
        xtol: 100.0 * share,
        gtol: share,
        ..MPConfig::new()
    }
}

/// Points that a curve of `N` parameters is held against.
pub(super) struct Points<'a, const N: usize, R, S> {
    pub(super) x: &'a [f64],
    pub(super) y: &'a [f64],
    pub(super) bounds: [MPPar; N],
    pub(super) config: MPConfig,
    /// By how much a point lies above the curve, from parameters, x and y.
    pub(super) residual: R,
    /// How that changes with one parameter, from parameters, x and the parameter's place.
    pub(super) slope: S,
}

impl<const N: usize, R, S> MPFitter for Points<'_, N, R, S>
where
    R: Fn(&[f64; N], f64, f64) -> f64,
    S: Fn(&[f64; N], f64, usize) -> f64,
{
    fn eval(&mut self, p: &[f64], deviates: &mut [f64]) -> MPResult<()> {
        let p = p.try_into().map_err(|_| MPError::Eval)?;
        for ((d, x), y) in deviates.iter_mut().zip(self.x).zip(self.y) {
            *d = (self.residual)(p, *x, *y);
        }
        Ok(())
    }

    fn number_of_points(&self) -> usize {
        self.y.len()
    }

    fn config(&self) -> &MPConfig {
        &self.config
    }

    fn parameters(&self) -> &[MPPar] {
        &self.bounds
    }

    fn jacobian(
        &mut self,
        p: &[f64],
        deviates: &mut [f64],
        derivs: &mut [Option<Vec<f64>>],
    ) -> MPResult<()> {
        self.eval(p, deviates)?;
        let p = p.try_into().map_err(|_| MPError::Eval)?;
        for (index, column) in derivs.iter_mut().enumerate() {
            let Some(column) = column else { continue };
            for (slope, x) in column.iter_mut().zip(self.x) {
                *slope = (self.slope)(p, *x, index);
            }
        }
        Ok(())
    }
}
