//! Sentences of a class that its page and its workbook share.

use super::ClassReport;
use super::together::{quantity_key, scale_of};
use crate::analysis::class::{Cause, ClassWarning, Outlying, Quantity, seconds};
use crate::analysis::rounded;
use crate::report::{Value, Words};

/// A bench that stands apart, with what may be the cause.
pub(super) fn outlying(words: &Words, report: &ClassReport<'_>, found: &Outlying) -> String {
    let cause = words.say(match found.cause {
        Cause::LampNearer => "class-cause-nearer",
        Cause::LampFarther => "class-cause-farther",
        Cause::Drier => "class-cause-drier",
        Cause::Wetter => "class-cause-wetter",
        Cause::ProbePlace => "class-cause-probe",
        Cause::Start => "class-cause-start",
        Cause::Exchanged => "class-cause-exchanged",
        Cause::Open => "class-cause-open",
    });
    let spread = report.class.samples.iter().flat_map(|s| &s.quantities);
    let u = spread
        .filter(|s| s.quantity == found.quantity)
        .find_map(|s| s.robust_sd);
    let scale = scale_of(found.quantity);
    let u = words.scaled(scale.of_uncertainty(), u.unwrap_or(0.0));
    let (value, _) = rounded(words.scaled(scale, found.value), u);
    let (median, _) = rounded(words.scaled(scale, found.median), u);
    let quantity = match (found.quantity, &found.sample) {
        (Quantity::RiseRatio | Quantity::InitialRateRatio, Some(both)) => {
            // Names may have a stroke of their own.
            let ratio = report.class.ratios.iter().find(|r| r.names() == *both);
            let (upper, lower) = ratio.map_or(("", ""), |r| (&r.upper, &r.lower));
            let names = [("upper", Value::Name(upper)), ("lower", Value::Name(lower))];
            words.tell(quantity_key(found.quantity), &names)
        }
        _ => words.say(quantity_key(found.quantity)),
    };
    let common = [
        ("bench", Value::Name(&found.bench)),
        ("quantity", Value::Text(&quantity)),
        ("value", Value::Number(&value)),
        ("median", Value::Number(&median)),
        ("cause", Value::Text(&cause)),
    ];
    match &found.sample {
        None => words.tell("class-apart-all", &common),
        Some(sample) => {
            let mut all = common.to_vec();
            all.push(("sample", Value::Name(sample)));
            words.tell("class-apart-one", &all)
        }
    }
}

/// What limits what the benches say together.
pub(super) fn limit(words: &Words, warning: &ClassWarning) -> String {
    let minutes = |s: &f64| format!("{:.1}", s / 60.0);
    let otherwise = |key, bench: &str, own: String, usual: String| {
        let values = [
            ("bench", Value::Name(bench)),
            ("own", Value::Number(&own)),
            ("usual", Value::Number(&usual)),
        ];
        words.tell(key, &values)
    };
    match warning {
        ClassWarning::NoHeating { bench } => {
            words.tell("class-warn-no-heating", &[("bench", Value::Name(bench))])
        }
        ClassWarning::HeatedOtherwise {
            bench,
            own_s,
            usual_s,
        } => otherwise("class-warn-heated", bench, minutes(own_s), minutes(usual_s)),
        ClassWarning::CooledOtherwise {
            bench,
            own_s,
            usual_s,
        } => otherwise("class-warn-cooled", bench, minutes(own_s), minutes(usual_s)),
        ClassWarning::RowsOtherwise {
            bench,
            own_s,
            usual_s,
        } => otherwise("class-warn-rows", bench, seconds(*own_s), seconds(*usual_s)),
        ClassWarning::NotInAll {
            sample,
            benches,
            of,
        } => {
            let counts = [("n", Value::Count(*benches)), ("of", Value::Count(*of))];
            words.tell(
                "class-warn-not-in-all",
                &[("sample", Value::Name(sample)), counts[0], counts[1]],
            )
        }
        ClassWarning::OneSample { bench } => {
            words.tell("class-warn-one-sample", &[("bench", Value::Name(bench))])
        }
        ClassWarning::Invented { benches } => {
            let names = benches.join(", ");
            words.tell("class-warn-invented", &[("benches", Value::Name(&names))])
        }
        ClassWarning::SameReadings { input, bench } => words.tell(
            "class-warn-same-readings",
            &[("input", Value::Name(input)), ("bench", Value::Name(bench))],
        ),
        ClassWarning::LeftOut { input, why } => words.tell(
            "class-warn-left-out",
            &[("input", Value::Name(input)), ("reason", Value::Name(why))],
        ),
    }
}
