//! `fit`: constants of a thermistor, or a correction line, from reference points.

use serde_json::json;

use super::args::{FitArgs, LawArg};
use super::keep::{Outcome, finish, short};
use super::listen::Board;
use super::plot::{self, Residuals};
use super::points::read_points;
use super::subject::{Live, Subject};
use crate::analysis::{COVERAGE, expanded};
use crate::calibrate::{
    Constants, FittedConstants, FittedLine, Found, Point, PointsFault, fit_constants, fit_line,
    mean_of,
};
use crate::cli::exit::{Code, Failure};
use crate::cli::say;
use crate::cli::text::{aligned, printable};
use crate::probe::{ProbeLaw, Quantity};

/// Residuals beyond this are pointed out, in °C: a point was mistyped, or the law is the wrong one.
const LARGE_DEGC: f64 = 1.0;

const NEXT_BATH: &str = "Put the probes and the reference thermometer into the next bath, tips \
    together, and stir. Press Enter when they are in, or type 'end' when all baths are done. \
    Care: keep board and mains away from water; hot water scalds; your school's rules come first.";

/// What was fitted to one channel's points.
enum Fit {
    Constants(FittedConstants),
    Line(FittedLine),
}

pub(super) async fn run(args: &FitArgs, quiet: bool) -> Result<(), Failure> {
    let common = &args.common;
    let given = match &common.readings {
        Some(file) => read_points(file, args.law)?,
        None => args.points.iter().map(|(r, v)| point(*r, *v)).collect(),
    };
    let mut subject = subject(args, given.is_empty(), quiet).await?;
    if args.law != LawArg::Line {
        check_resistances(&subject)?;
    }
    let points: Vec<(usize, Vec<Point>)> = if given.is_empty() {
        measure(&mut subject, args).await?
    } else {
        let channel = subject.channels.first().copied().unwrap_or(0);
        vec![(channel, given)]
    };
    let mut found = Vec::new();
    let mut text = String::new();
    let mut channels = Vec::new();
    let mut drawn: Vec<(usize, Residuals)> = Vec::new();
    for (channel, points) in &points {
        let fit = fit(points, args).map_err(|fault| refused(&fault))?;
        text.push_str(&describe(&subject.title(*channel), points, &fit));
        channels.push(object(*channel, points, &fit));
        let (residuals, _) = residuals_of(&fit);
        let own = plot::residuals(subject.title(*channel), points, residuals, &fit_curve(&fit));
        drawn.push((*channel, own));
        found.push((*channel, stored(&fit)));
    }
    if let Some(file) = &args.plot {
        plot::write(file, &drawn)?;
        subject
            .guide
            .tell(&format!("Residuals drawn in {}.", file.display()));
    }
    let mut more = serde_json::Map::new();
    more.insert("channels".into(), json!(channels));
    let count = points.first().map_or(0, |(_, points)| points.len());
    let outcome = Outcome {
        text,
        more,
        kind: if args.law == LawArg::Line {
            "line"
        } else {
            "constants"
        },
        method: format!("least squares, {count} reference points"),
        conditions: [("u_reference_degc".to_owned(), args.reference_u)].into(),
        found,
    };
    finish(&subject, outcome, (common.json, quiet))
}

/// The board that is watched, only looked at, or not needed at all.
async fn subject(args: &FitArgs, measures: bool, quiet: bool) -> Result<Subject, Failure> {
    let common = &args.common;
    if measures {
        return Subject::open(common, quiet).await;
    }
    if common.channels.len() != 1 {
        return Err(Failure::new(
            Code::Usage,
            "the points are of one probe, and nobody says which",
        )
        .advise("Say it with --channel 1."));
    }
    // Points alone need no board if it is named, or nothing is kept.
    if common.keep.name.is_some() || common.keep.no_store {
        return Subject::named(common, quiet);
    }
    // The board says which it is and what divider it has.
    Subject::known(common, quiet).await
}

/// Refuses constants for a board that sends temperatures: they would change nothing.
fn check_resistances(subject: &Subject) -> Result<(), Failure> {
    let has_law = |channel: &usize| match (&subject.live, subject.probes.get(*channel)) {
        (Live::Board(board), _) => resistance_law(board, *channel).is_some(),
        (Live::Table(_), Some(Some(words))) => words.contains("; "),
        // Nobody knows.
        (Live::Table(_), _) => true,
    };
    if subject.channels.iter().all(has_law) {
        return Ok(());
    }
    let message = "this board sends no resistances of thermistors";
    Err(Failure::new(Code::Usage, message).advise("Fit a correction to it: --law line."))
}

/// The law by which a channel's reading was a resistance, where it was one.
fn resistance_law(board: &Board, channel: usize) -> Option<ProbeLaw> {
    let law = board.sampler.converter()?.law(channel)?;
    (law.quantity() == Quantity::Ohm).then(|| law.clone())
}

fn point(reference_degc: f64, value: f64) -> Point {
    Point {
        reference_degc,
        value,
    }
}

fn fit(points: &[Point], args: &FitArgs) -> Result<Fit, PointsFault> {
    match args.law {
        LawArg::Beta => fit_constants(points, false, args.reference_u).map(Fit::Constants),
        LawArg::SteinhartHart => fit_constants(points, true, args.reference_u).map(Fit::Constants),
        LawArg::Line => {
            let sum: f64 = points.iter().map(|p| p.value).sum();
            let about = (sum / points.len().max(1) as f64).round();
            fit_line(points, about, args.reference_u).map(Fit::Line)
        }
    }
}

fn refused(fault: &PointsFault) -> Failure {
    let advice = match fault {
        PointsFault::TooFew { wanted: 3, .. } => {
            "Take one more bath, or fit two constants: --law beta. Nothing was kept."
        }
        PointsFault::TooFew { .. } => "Take one more bath. Nothing was kept.",
        PointsFault::Implausible { .. } => {
            "Look for a mistyped point, or fit two constants: --law beta. Nothing was kept."
        }
        _ => "Look for a mistyped point, or a probe that was changed. Nothing was kept.",
    };
    Failure::new(Code::Failed, fault.to_string()).advise(advice)
}

/// Takes points bath by bath.
async fn measure(
    subject: &mut Subject,
    args: &FitArgs,
) -> Result<Vec<(usize, Vec<Point>)>, Failure> {
    if subject.guide.ready {
        let message = "a fit at the board asks for the reference thermometer's readings";
        return Err(Failure::new(Code::Usage, message)
            .advise("Leave out --ready, or give the points with --point or --readings."));
    }
    let channels = subject.channels.clone();
    let mut all: Vec<(usize, Vec<Point>)> = channels.iter().map(|c| (*c, Vec::new())).collect();
    let Live::Board(board) = &mut subject.live else {
        return Ok(all);
    };
    let law = |channel: &usize| resistance_law(board, *channel);
    let laws: Vec<ProbeLaw> = channels.iter().filter_map(law).collect();
    loop {
        let number = all.first().map_or(0, |(_, points)| points.len()) + 1;
        let text = format!("Bath {number}. {NEXT_BATH}");
        if subject
            .guide
            .ask(board, &text)
            .await?
            .eq_ignore_ascii_case("end")
        {
            return Ok(all);
        }
        let stretch = subject.guide.steady(board, &channels).await?;
        let reference_degc = loop {
            let text = "Read the reference thermometer now and type its temperature in °C.";
            let typed = subject.guide.ask(board, text).await?;
            match typed.replace(',', ".").parse::<f64>() {
                Ok(degc) if (-60.0..=200.0).contains(&degc) => break degc,
                _ => say(&format!("'{}' is no temperature in °C.", printable(&typed))),
            }
        };
        for (place, (channel, points)) in all.iter_mut().enumerate() {
            let Some(mean) = mean_of(stretch.channel(*channel)) else {
                let message = format!("probe {} gives no readings", *channel + 1);
                return Err(Failure::new(Code::Failed, message).advise(
                    "Look with 'duskmark boards' what is wrong with it. Nothing was kept.",
                ));
            };
            let law = laws.get(place);
            // The law that made the reading of a resistance takes it back.
            let value = match law.filter(|_| args.law != LawArg::Line) {
                Some(law) => law.signal_at(mean.degc),
                None => mean.degc,
            };
            points.push(point(reference_degc, value));
        }
    }
}

fn stored(fit: &Fit) -> Found {
    match fit {
        Fit::Constants(fit) => Found::Constants {
            constants: fit.constants,
            covariance: fit.covariance.clone(),
            from_degc: fit.range_degc.0,
            to_degc: fit.range_degc.1,
            residual_sd_degc: fit.residual_sd_degc.map(short),
        },
        Fit::Line(fit) => Found::Line {
            from_degc: fit.range_degc.0,
            to_degc: fit.range_degc.1,
            residual_sd_degc: fit.residual_sd_degc.map(short),
            correction: fit.line,
        },
    }
}

/// Names and values of what was fitted, each with its standard uncertainty and unit.
fn parameters(fit: &Fit) -> Vec<(&'static str, f64, f64, &'static str)> {
    let u = |fit: &FittedConstants, i: usize| fit.u.get(i).copied().unwrap_or(f64::NAN);
    match fit {
        Fit::Constants(own) => match own.constants {
            Constants::Beta { r25_ohm, beta_k } => vec![
                ("r25_ohm", r25_ohm, u(own, 0), "Ω"),
                ("beta_k", beta_k, u(own, 1), "K"),
            ],
            Constants::SteinhartHart { a, b, c } => vec![
                ("a", a, u(own, 0), "1/K"),
                ("b", b, u(own, 1), "1/K"),
                ("c", c, u(own, 2), "1/K"),
            ],
        },
        Fit::Line(own) => vec![
            (
                "offset_degc",
                own.line.line.offset_degc,
                own.line.u_offset_degc,
                "°C",
            ),
            ("slope", own.line.line.slope, own.line.u_slope, "°C per °C"),
        ],
    }
}

fn residuals_of(fit: &Fit) -> (&[f64], Option<f64>) {
    match fit {
        Fit::Constants(fit) => (&fit.residuals_degc, fit.residual_sd_degc),
        Fit::Line(fit) => (&fit.residuals_degc, fit.residual_sd_degc),
    }
}

/// The standard uncertainty of the fitted law over reference temperatures.
fn fit_curve(fit: &Fit) -> impl Fn(f64) -> f64 + '_ {
    move |degc| match fit {
        Fit::Constants(fit) => fit.u_at(degc),
        Fit::Line(fit) => fit.line.u_at(degc),
    }
}

fn describe(title: &str, points: &[Point], fit: &Fit) -> String {
    let mut text = format!("Fit of {title} to {} points\n", points.len());
    let rows: Vec<Vec<String>> = parameters(fit)
        .into_iter()
        .map(|(name, value, u, unit)| {
            // The constants of the three-constant law are small: they need their exponent.
            let cells = if value.abs() < 0.01 && unit == "1/K" {
                (format!("{value:.6e}"), format!("{:.1e}", COVERAGE * u))
            } else {
                expanded(value, u)
            };
            vec![
                name.to_owned(),
                cells.0,
                format!("± {}", cells.1),
                unit.to_owned(),
            ]
        })
        .collect();
    text.push_str(&aligned(&rows));
    if let Fit::Line(fit) = fit {
        let about = fit.line.line.about_degc;
        text.push_str(&format!("  (the offset is that at {about:.0} °C)\n"));
    }
    text.push_str(&residuals_text(points, fit));
    text.push_str("  (±: expanded uncertainty, k = 2)\n");
    text
}

/// Each point with its residual, and how large they are on the whole.
fn residuals_text(points: &[Point], fit: &Fit) -> String {
    let mut text = String::new();
    let (residuals, sd) = residuals_of(fit);
    let curve = fit_curve(fit);
    let mut rows = vec![vec![
        "reference".into(),
        "probe".into(),
        "residual".into(),
        "± of the fit".into(),
    ]];
    for (point, residual) in points.iter().zip(residuals) {
        rows.push(vec![
            format!("{:.2} °C", point.reference_degc),
            match fit {
                Fit::Constants(_) => format!("{:.1} Ω", point.value),
                Fit::Line(_) => format!("{:.3} °C", point.value),
            },
            format!("{residual:+.3} °C"),
            format!("{:.3} °C", COVERAGE * curve(point.reference_degc)),
        ]);
    }
    text.push_str(&aligned(&rows));
    match sd {
        Some(sd) => text.push_str(&format!(
            "  standard deviation of the residuals {sd:.3} °C\n"
        )),
        None => text.push_str("  as many points as constants: the residuals say nothing\n"),
    }
    if let Some(worst) = residuals
        .iter()
        .map(|r| r.abs())
        .reduce(f64::max)
        .filter(|r| *r > LARGE_DEGC)
    {
        text.push_str(&format!(
            "  CAUTION: a point is off by {worst:.1} °C: mistyped, or no probe of this law\n"
        ));
    }
    text
}

fn object(channel: usize, points: &[Point], fit: &Fit) -> serde_json::Value {
    let mut values = serde_json::Map::new();
    let mut u = serde_json::Map::new();
    for (name, value, uncertainty, _) in parameters(fit) {
        values.insert(name.into(), json!(value));
        u.insert(name.into(), json!(uncertainty));
    }
    let (residuals, sd) = residuals_of(fit);
    let curve = fit_curve(fit);
    let rows: Vec<serde_json::Value> = points
        .iter()
        .zip(residuals)
        .map(|(p, r)| {
            json!({"reference_degc": p.reference_degc, "value": p.value,
                "residual_degc": short(*r), "u_degc": short(curve(p.reference_degc))})
        })
        .collect();
    json!({"channel": channel + 1, "values": values, "u": u, "points": rows,
        "residual_sd_degc": sd.map(short)})
}
