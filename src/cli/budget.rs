//! `boards --budget`: what a reading of each channel is worth, as a table.

use serde_json::{Value, json};

use super::args::BoardsArgs;
use super::text::printable;
use crate::analysis::{fit_line, rounded};
use crate::calibrate::Applied;
use crate::lamp::student_975;
use crate::probe::{Budget, Cause, Component, Conditions, Reading, Scatter, Shape, Why};
use crate::run::Greeting;
use crate::sampler::{Row, Sampler};

/// Fewer rows than this show no scatter.
const FEWEST_ROWS: usize = 8;

/// Self-heating that is worth a warning, in °C.
const HEAT_DEGC: f64 = 0.05;

/// One channel's budget, and what it was drawn up from.
pub(super) struct Drawn {
    name: String,
    /// Rows in which the channel had a reading.
    rows: usize,
    /// The reading, corrected, and its budget; none if there was no reading.
    found: Option<(f64, Budget)>,
}

/// The budgets of a board's channels, from the rows that it sent and the calibrations in use.
pub(super) fn draw(greeting: &Greeting, args: &BoardsArgs, applied: &[Applied]) -> Vec<Drawn> {
    let sampler = greeting.sampler();
    let Some(converter) = sampler.converter() else {
        return Vec::new();
    };
    let channels = sampler.names().into_iter().enumerate();
    channels
        .map(|(channel, name)| {
            let seen: Vec<(f64, f64)> = greeting
                .rows()
                .map(|row| (row.t_ns as f64 * 1e-9, row.degc(channel)))
                .filter(|(_, degc)| degc.is_finite())
                .collect();
            let found = seen.last().map(|&(_, degc)| {
                let applied = applied.get(channel);
                let lag_s = lag_s(args, channel);
                // Probes that were only compared with each other may be wrong alike.
                let against_reference = applied.filter(|one| one.is_absolute);
                let conditions = Conditions {
                    degc,
                    printed_step_degc: printed_step_degc(greeting, channel),
                    lag_s: lag_s.or(applied.and_then(|one| one.lag).map(|lag| lag.tau_s)),
                    calibration: against_reference
                        .and_then(|one| one.u_at(degc))
                        .map(|u_degc| (u_degc, None)),
                    ..seen_conditions(&seen, args.rate)
                };
                // As a run would write it.
                let law = converter.law(channel);
                let shown = applied.map_or(degc, |one| one.corrected(degc, law));
                (shown, converter.budget(channel, &conditions))
            });
            Drawn {
                name,
                rows: seen.len(),
                found,
            }
        })
        .collect()
}

/// The declared lag of a channel: one for all, or one each.
fn lag_s(args: &BoardsArgs, channel: usize) -> Option<f64> {
    match args.probe_lag.as_deref()? {
        [one] => Some(*one),
        each => each.get(channel).copied(),
    }
}

/// The last decimal in which a channel was read.
fn printed_step_degc(greeting: &Greeting, channel: usize) -> Option<f64> {
    let decimals = greeting
        .rows()
        .filter_map(|row| match row.readings.get(channel) {
            Some(Reading::Degc { decimals, .. }) => Some(*decimals),
            _ => None,
        });
    decimals.max().map(|d| 10_f64.powi(-i32::from(d)))
}

/// Scatter about the trend, and the trend where it stands out of it.
fn seen_conditions(seen: &[(f64, f64)], rate: Option<f64>) -> Conditions {
    let first_s = seen.first().map_or(0.0, |(t, _)| *t);
    let (t_s, degc): (Vec<f64>, Vec<f64>) = seen.iter().map(|(t, y)| (t - first_s, *y)).unzip();
    let line = fit_line(&t_s, &degc).filter(|_| seen.len() >= FEWEST_ROWS);
    let trend = line.filter(|line| line.slope.abs() > 2.0 * line.u_slope);
    Conditions {
        scatter: line.map(|line| Scatter {
            sd_degc: line.residual_sd,
            freedom: (seen.len() - 2) as f64,
        }),
        rate_degc_per_s: rate.or(trend.map(|line| line.slope)).unwrap_or(0.0),
        ..Conditions::default()
    }
}

/// A sentence for each probe that its own current warms by more than 0.05 °C, at what it reads or
/// else at 25 °C.
pub(super) fn heat_warnings(sampler: &Sampler, row: Option<&Row>) -> Vec<String> {
    let Some(converter) = sampler.converter() else {
        return Vec::new();
    };
    let names = sampler.names().into_iter().enumerate();
    names
        .filter_map(|(channel, name)| {
            let read = row.map(|row| row.degc(channel)).filter(|v| v.is_finite());
            let heat = converter.self_heating_degc(channel, read.unwrap_or(25.0));
            let heat = heat.ok().filter(|heat| *heat > HEAT_DEGC)?;
            Some(format!(
                "The current that measures {} warms it by {} °C: more than 0.05 °C. A greater \
                 fixed resistor or a lower voltage heats less.",
                printable(&name),
                two_digits(heat)
            ))
        })
        .collect()
}

/// A size in two significant digits, as uncertainties are given (JCGM 100:2008, 7.2.6).
fn two_digits(value: f64) -> String {
    if value <= 0.0 || !value.is_finite() {
        return "0".into();
    }
    // By way of the exponent form, which rounds 0.0996 to 1.0e-1 as it should.
    let rounded: f64 = format!("{value:.1e}").parse().unwrap_or(value);
    let decimals = (1.0 - rounded.log10().floor()).clamp(0.0, 9.0);
    format!("{rounded:.*}", decimals as usize)
}

impl Drawn {
    /// As a table of at most 80 columns.
    pub(super) fn text(&self) -> String {
        let name = printable(&self.name);
        let Some((degc, budget)) = &self.found else {
            return format!("\n  no budget of {name}: it has no reading\n");
        };
        let u_degc = budget.combined_degc();
        let (value, _) = rounded(*degc, u_degc);
        let mut text = format!(
            "\n  budget of {name} at {value} °C, from {} rows\n",
            self.rows
        );
        text.push_str(&row("cause", "spread", "u / °C", "freedom"));
        for one in &budget.components {
            let freedom = one.freedom.map(|f| format!("{f:.0}"));
            let freedom = freedom.as_deref().unwrap_or("∞");
            text.push_str(&row(
                word(one.cause),
                &spread(one),
                &two_digits(one.u_degc()),
                freedom,
            ));
        }
        let freedom = budget.freedom().filter(|f| *f < 1e4);
        let shown = freedom.map_or("∞".to_owned(), |f| format!("{:.0}", f.floor()));
        text.push_str(&row("combined", "", &two_digits(u_degc), &shown));
        let k = coverage_factor(budget);
        let expanded = format!("expanded, k = {k:.2} (95 %)");
        text.push_str(&row(&expanded, "", &two_digits(k * u_degc), ""));
        for (cause, why) in &budget.left_out {
            text.push_str(&format!(
                "    not in it: {}: {}\n",
                word(*cause),
                reason(*cause, *why)
            ));
        }
        text
    }

    pub(super) fn json(&self) -> Value {
        let Some((degc, budget)) = &self.found else {
            return json!({"name": self.name, "degc": null, "rows": self.rows});
        };
        let components: Vec<Value> = budget
            .components
            .iter()
            .map(|one| {
                json!({
                    "cause": key(one.cause),
                    "shape": shape(one.shape),
                    "size_degc": one.size_degc,
                    "u_degc": one.u_degc(),
                    "freedom": one.freedom,
                })
            })
            .collect();
        let left_out: Vec<Value> = budget
            .left_out
            .iter()
            .map(|(cause, why)| json!({"cause": key(*cause), "why": reason(*cause, *why)}))
            .collect();
        let (u_degc, k) = (budget.combined_degc(), coverage_factor(budget));
        json!({
            "name": self.name,
            "degc": degc,
            "rows": self.rows,
            "components": components,
            "left_out": left_out,
            "u_degc": u_degc,
            "freedom": budget.freedom(),
            "level": 0.95,
            "coverage_factor": k,
            "expanded_degc": k * u_degc,
        })
    }
}

/// Student's t for the effective degrees of freedom, rounded down (JCGM 100:2008, G.4.1).
fn coverage_factor(budget: &Budget) -> f64 {
    student_975(budget.freedom().map_or(f64::INFINITY, f64::floor))
}

/// One line of the table.
fn row(cause: &str, spread: &str, u: &str, freedom: &str) -> String {
    let line = format!("    {cause:<16}{spread:<36}{u:>10}{freedom:>9}");
    // A long first word takes the room of the spread.
    let line = if spread.is_empty() {
        format!("    {cause:<52}{u:>10}{freedom:>9}")
    } else {
        line
    };
    format!("{}\n", line.trim_end())
}

fn spread(one: &Component) -> String {
    let size = two_digits(one.size_degc);
    match one.shape {
        Shape::Normal => format!("s = {size} °C, normal"),
        Shape::Rectangular => format!("±{size} °C, rectangular"),
        Shape::OneSided => format!("0 to {size} °C, to one side"),
    }
}

fn shape(shape: Shape) -> &'static str {
    match shape {
        Shape::Normal => "normal",
        Shape::Rectangular => "rectangular",
        Shape::OneSided => "one-sided",
    }
}

fn word(cause: Cause) -> &'static str {
    match cause {
        Cause::Resolution => "resolution",
        Cause::Noise => "noise",
        Cause::Calibration => "calibration",
        Cause::FixedResistor => "fixed resistor",
        Cause::Reference => "reference",
        Cause::SelfHeating => "self-heating",
        Cause::Lag => "lag",
    }
}

fn key(cause: Cause) -> &'static str {
    match cause {
        Cause::FixedResistor => "fixed_resistor",
        Cause::SelfHeating => "self_heating",
        other => word(other),
    }
}

fn reason(cause: Cause, why: Why) -> &'static str {
    match (cause, why) {
        (_, Why::Cancels) => "cancels, divider and converter share one voltage",
        (_, Why::InBoard) => "lies within the board",
        (_, Why::InCalibration) => "in the calibration, which was made with it",
        (_, Why::NotSeen) => "too few rows to see it",
        (Cause::Calibration, _) => "none against a reference, so a constant error hides",
        (Cause::FixedResistor, _) => "say --fixed-tolerance",
        (Cause::Reference, _) => "say --reference-tolerance",
        (Cause::SelfHeating, _) => "say --supply and --dissipation",
        (Cause::Lag, _) => "say --probe-lag",
        (Cause::Resolution | Cause::Noise, _) => "not known",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uncertainties_have_two_digits() {
        for (value, text) in [
            (0.012_34, "0.012"),
            (0.0996, "0.10"),
            (0.099_4, "0.099"),
            (1.26, "1.3"),
            (12.6, "13"),
            (126.0, "130"),
            (0.0, "0"),
        ] {
            assert_eq!(two_digits(value), text);
        }
    }

    #[test]
    fn a_table_is_narrow_and_says_what_is_left_out() {
        let one = |cause, shape, size_degc, freedom| Component {
            cause,
            shape,
            size_degc,
            freedom,
        };
        let drawn = Drawn {
            name: "slate".into(),
            rows: 40,
            found: Some((
                23.456_7,
                Budget {
                    components: vec![
                        one(Cause::Resolution, Shape::Rectangular, 0.000_67, None),
                        one(Cause::Noise, Shape::Normal, 0.0079, Some(38.0)),
                        one(Cause::SelfHeating, Shape::OneSided, 0.04, None),
                    ],
                    left_out: vec![
                        (Cause::Calibration, Why::NotStated),
                        (Cause::Reference, Why::Cancels),
                    ],
                },
            )),
        };
        let text = drawn.text();
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        for part in [
            "budget of slate at 23.457 °C, from 40 rows",
            "±0.00067 °C, rectangular",
            "0 to 0.040 °C, to one side",
            "expanded, k = 1.96 (95 %)",
            "not in it: calibration: none against a reference",
        ] {
            assert!(text.contains(part), "{part} is missing in\n{text}");
        }
        let json = drawn.json();
        assert_eq!(json["components"][2]["cause"], "self_heating");
        assert_eq!(json["left_out"].as_array().unwrap().len(), 2);
    }
}
