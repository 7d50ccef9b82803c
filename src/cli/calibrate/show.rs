//! `show`: what is stored, and how old it is.

use serde_json::json;

use super::apply::{age_words, kind};
use super::args::ShowArgs;
use super::store::{store, stored};
use crate::analysis::plus_minus;
use crate::calibrate::{Calibration, Constants, Found, age_s, newest};
use crate::cli::exit::Failure;
use crate::cli::out;
use crate::cli::results::PLUS_MINUS;
use crate::cli::text::{aligned, printable, wrapped};
use crate::port::clock::wall_ns;
use crate::run::rfc3339_ms;

pub(super) fn run(args: &ShowArgs, quiet: bool) -> Result<(), Failure> {
    let path = store(args.store.as_deref())?;
    let all = stored(&path)?;
    let now = rfc3339_ms(wall_ns());
    let is_newest = |one: &Calibration| {
        let held = newest(&all, &one.board, one.channel);
        held.iter().any(|held| std::ptr::eq(*held, one))
    };
    let shown: Vec<&Calibration> = all
        .iter()
        .filter(|one| args.all || is_newest(one))
        .collect();
    if args.json {
        for one in shown {
            let mut object = json!(one);
            if let Some(object) = object.as_object_mut() {
                let age = age_s(&one.date, &now).map(f64::round);
                object.insert("age_s".into(), json!(age));
                object.insert("newest".into(), json!(is_newest(one)));
            }
            out(&format!("{object}\n"));
        }
        return Ok(());
    }
    if quiet {
        return Ok(());
    }
    let place = printable(&path.display().to_string());
    if shown.is_empty() {
        out(&format!("No calibrations in {place}.\n"));
        return Ok(());
    }
    out(&format!("Calibrations in {place}\n"));
    let rows: Vec<Vec<String>> = shown
        .into_iter()
        .map(|one| {
            vec![
                printable(&one.board),
                format!("probe {}", one.channel),
                kind(&one.found).to_owned(),
                words(&one.found),
                one.date.get(..10).unwrap_or_default().to_owned(),
                age_words(age_s(&one.date, &now).unwrap_or(0.0)),
            ]
        })
        .collect();
    out(&format!("{}\n{}", aligned(&rows), wrapped(PLUS_MINUS)));
    Ok(())
}

/// What was found, in a few words.
fn words(found: &Found) -> String {
    let degrees = |value: f64, u: f64| {
        let sum = plus_minus(value, u);
        let sign = if sum.starts_with('-') { "" } else { "+" };
        format!("adds ({sign}{sum}) °C")
    };
    match found {
        Found::Match {
            difference_degc,
            u_degc,
            ..
        } => degrees(-difference_degc, *u_degc),
        Found::Ice {
            correction_degc,
            u_degc,
            ..
        }
        | Found::Boil {
            correction_degc,
            u_degc,
            ..
        } => degrees(*correction_degc, *u_degc),
        Found::Constants { constants, .. } => match constants {
            Constants::Beta { r25_ohm, beta_k } => format!("{r25_ohm:.0} Ω, B {beta_k:.0} K"),
            Constants::SteinhartHart { .. } => "Steinhart–Hart".into(),
        },
        Found::Line {
            from_degc,
            to_degc,
            correction,
            ..
        } => {
            let middle = 0.5 * (from_degc + to_degc);
            degrees(correction.line.at(middle), correction.u_at(middle))
        }
        Found::Lag { tau_s, u_s } => {
            format!("({}) s", plus_minus(*tau_s, *u_s))
        }
    }
}
