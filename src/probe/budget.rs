//! What one reading of a channel is worth: its uncertainty budget after the GUM (JCGM 100:2008).
//!
//! Each cause gives a standard uncertainty. An estimate between two bounds that are equally likely
//! anywhere between has `half-width/√3` (4.3.7), a step that a reading is rounded to `step/√12`
//! (F.2.2.1). Heat of its own and lag move a reading to one side by a known most; since readings are
//! not corrected for them, their mean square from nothing to that most counts, `most/√3`. The causes
//! are independent: their squares add (5.1.2, equation 10), and the degrees of freedom follow Welch
//! and Satterthwaite (G.4.1, equation G.2b). Nothing is made up: a cause that nobody has stated is
//! left out by name.

use super::{Converter, Quantity};
use crate::wire::Unit;

/// What makes a reading uncertain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// The converter's step, or the last printed digit.
    Resolution,
    /// Scatter of the readings.
    Noise,
    /// What the probe was compared with, and how well.
    Calibration,
    /// The divider's fixed resistor.
    FixedResistor,
    /// The converter's reference, where it does not cancel.
    Reference,
    /// The probe is warmed by the current that measures it.
    SelfHeating,
    /// The probe follows its sample late while the temperature moves.
    Lag,
}

/// How the values that a cause may have are spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Normal; the size is the standard deviation.
    Normal,
    /// Anywhere between two bounds alike; the size is the half-width.
    Rectangular,
    /// Anywhere from nothing to one side alike; the size is the most.
    OneSided,
}

/// One line of a budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// What it is of.
    pub cause: Cause,
    /// How it is spread.
    pub shape: Shape,
    /// Standard deviation, half-width or most, in °C.
    pub size_degc: f64,
    /// Degrees of freedom of an estimate from readings; none where it is taken as known.
    pub freedom: Option<f64>,
}

impl Component {
    /// The standard uncertainty in °C.
    #[must_use]
    pub fn u_degc(&self) -> f64 {
        match self.shape {
            Shape::Normal => self.size_degc,
            Shape::Rectangular | Shape::OneSided => self.size_degc / 3.0_f64.sqrt(),
        }
    }
}

/// Why a cause is not in a budget.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// What it follows from was not stated.
    NotStated,
    /// It cancels: divider and converter share one voltage.
    Cancels,
    /// The calibration was made with it, so what it makes is corrected, or in its uncertainty.
    InCalibration,
    /// It lies within the board, which sends temperatures or resistances.
    InBoard,
    /// Too few readings show it.
    NotSeen,
}

/// Scatter of a channel's readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation of a single reading about its trend, in °C, rounding included.
    pub sd_degc: f64,
    /// Degrees of freedom of that.
    pub freedom: f64,
}

/// What the budget of a reading is drawn up for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Conditions {
    /// The reading, in °C.
    pub degc: f64,
    /// Step of the last printed digit in °C, for boards that print.
    pub printed_step_degc: Option<f64>,
    /// How the readings scatter, where enough were seen.
    pub scatter: Option<Scatter>,
    /// Standard uncertainty of the probe's calibration in °C, and its degrees of freedom where it
    /// comes from readings.
    pub calibration: Option<(f64, Option<f64>)>,
    /// First-order lag of the probe in seconds, where it is known.
    pub lag_s: Option<f64>,
    /// How fast the temperature moves, in °C/s.
    pub rate_degc_per_s: f64,
}

/// A channel's budget.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Budget {
    /// What is in it.
    pub components: Vec<Component>,
    /// What is left out, and why.
    pub left_out: Vec<(Cause, Why)>,
}

impl Budget {
    /// The combined standard uncertainty in °C.
    #[must_use]
    pub fn combined_degc(&self) -> f64 {
        let squares = self.components.iter().map(|c| c.u_degc().powi(2));
        squares.sum::<f64>().sqrt()
    }

    /// Effective degrees of freedom; none where no component has any.
    #[must_use]
    pub fn freedom(&self) -> Option<f64> {
        let shares = self.components.iter().filter_map(|component| {
            let freedom = component.freedom?;
            Some(component.u_degc().powi(4) / freedom)
        });
        let sum: f64 = shares.sum();
        (sum > 0.0).then(|| self.combined_degc().powi(4) / sum)
    }

    /// The component of a cause.
    #[must_use]
    pub fn of(&self, cause: Cause) -> Option<&Component> {
        self.components.iter().find(|one| one.cause == cause)
    }

    /// Standard uncertainty in °C of what lasts from reading to reading: all but noise, resolution
    /// and lag, which other readings do not share. None where nothing of it is known.
    #[must_use]
    pub fn lasting_degc(&self) -> Option<f64> {
        let lasts =
            |c: &&Component| !matches!(c.cause, Cause::Noise | Cause::Resolution | Cause::Lag);
        let squares = self
            .components
            .iter()
            .filter(lasts)
            .map(|c| c.u_degc().powi(2));
        squares.reduce(|a, b| a + b).map(f64::sqrt)
    }

    fn take(&mut self, cause: Cause, found: Result<(Shape, f64, Option<f64>), Why>) {
        match found {
            Ok((shape, size_degc, freedom)) => self.components.push(Component {
                cause,
                shape,
                size_degc,
                freedom,
            }),
            Err(why) => self.left_out.push((cause, why)),
        }
    }
}

impl Converter {
    /// The budget of a channel's reading, the channels counted from 0.
    #[must_use]
    pub fn budget(&self, channel: usize, at: &Conditions) -> Budget {
        let step_degc = self.count_degc(channel, at.degc).or(at.printed_step_degc);
        let rectangular = |half_degc: f64| (Shape::Rectangular, half_degc, None);
        let mut budget = Budget::default();
        budget.take(
            Cause::Resolution,
            step_degc
                .map(|step| rectangular(step / 2.0))
                .ok_or(Why::NotStated),
        );
        budget.take(
            Cause::Noise,
            at.scatter
                .map(|scatter| {
                    // What is seen holds the rounding too, which is counted already.
                    let rounding = step_degc.unwrap_or(0.0).powi(2) / 12.0;
                    let sd = (scatter.sd_degc.powi(2) - rounding).max(0.0).sqrt();
                    (Shape::Normal, sd, Some(scatter.freedom))
                })
                .ok_or(Why::NotSeen),
        );
        budget.take(
            Cause::Calibration,
            at.calibration
                .map(|(u_degc, freedom)| (Shape::Normal, u_degc, freedom))
                .ok_or(Why::NotStated),
        );
        let outside = |found: Result<f64, Why>| match (found, at.calibration) {
            (Ok(_), Some(_)) => Err(Why::InCalibration),
            (found, _) => found.map(rectangular),
        };
        let fixed = self.fixed_resistor_degc(channel, at.degc);
        budget.take(Cause::FixedResistor, outside(fixed));
        let reference = self.reference_degc(channel, at.degc);
        budget.take(Cause::Reference, outside(reference));
        let one_sided = |most_degc: f64| (Shape::OneSided, most_degc, None);
        let heating = self.self_heating_degc(channel, at.degc);
        budget.take(Cause::SelfHeating, heating.map(one_sided));
        budget.take(
            Cause::Lag,
            at.lag_s
                .map(|lag_s| one_sided((lag_s * at.rate_degc_per_s).abs()))
                .ok_or(Why::NotStated),
        );
        budget
    }

    /// How far the current that measures a probe warms it, in °C, at a temperature in °C.
    ///
    /// # Errors
    /// [`Why`] nobody can say: the board measures in a way of its own, or supply or dissipation
    /// constant are not stated.
    pub fn self_heating_degc(&self, channel: usize, degc: f64) -> Result<f64, Why> {
        let (law, divider) = self.behind_divider(channel)?;
        let stated = self
            .stated
            .supply_volt
            .zip(self.stated.dissipation_mw_per_k);
        let (supply_volt, mw_per_k) = stated.ok_or(Why::NotStated)?;
        let heat_mw = 1e3 * divider.heat_w(law.signal_at(degc), supply_volt);
        finite(heat_mw / mw_per_k)
    }

    /// What the fixed resistor's tolerance makes of a reading, half-width in °C.
    fn fixed_resistor_degc(&self, channel: usize, degc: f64) -> Result<f64, Why> {
        let (law, _) = self.behind_divider(channel)?;
        let share = self.stated.fixed_tolerance.ok_or(Why::NotStated)?;
        // The probe's resistance is a multiple of the fixed one.
        let ohm = law.signal_at(degc);
        finite(law.slope_at(ohm).abs() * ohm * share)
    }

    /// What the reference's tolerance makes of a reading, half-width in °C.
    fn reference_degc(&self, channel: usize, degc: f64) -> Result<f64, Why> {
        let law = self.laws.get(channel).ok_or(Why::InBoard)?;
        let divider = self.divider.as_ref().ok_or(Why::InBoard)?;
        let signal = law.signal_at(degc);
        let per_part = match law.quantity() {
            Quantity::Volt => signal.abs(),
            Quantity::Ohm if self.is_ratiometric() => return Err(Why::Cancels),
            Quantity::Ohm => divider.ohm_per_part_of_reference(signal),
        };
        let share = self.stated.reference_tolerance.ok_or(Why::NotStated)?;
        finite(law.slope_at(signal).abs() * per_part * share)
    }

    /// Whether divider and converter share one voltage, so that it cancels.
    fn is_ratiometric(&self) -> bool {
        let quotient = self.divider.map_or(1.0, |d| d.supply_per_reference);
        (quotient - 1.0).abs() < f64::EPSILON
    }

    /// The law and the divider of a channel that is a resistor in our divider.
    fn behind_divider(&self, channel: usize) -> Result<(&super::ProbeLaw, &super::Divider), Why> {
        let law = self.laws.get(channel).filter(|_| self.unit == Unit::Adc);
        law.filter(|law| law.quantity() == Quantity::Ohm)
            .zip(self.divider.as_ref())
            .ok_or(Why::InBoard)
    }
}

/// A temperature at which the law has no signal gives no uncertainty either.
fn finite(degc: f64) -> Result<f64, Why> {
    if degc.is_finite() {
        Ok(degc)
    } else {
        Err(Why::NotSeen)
    }
}

#[cfg(test)]
mod tests;
