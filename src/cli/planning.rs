//! From what was typed and what the settings name to the plan of a run.

use super::config::NamedPlan;
use super::exit::{Code, Failure};
use super::parse::{Names, Settle};
use super::plan_args::{PlanArgs, Span};
use super::text::printable;
use crate::analysis::Guess;
use crate::run::Plan;

/// Drift under which samples count as steady unless the plan says otherwise, in °C/min.
const STEADY: Settle = Settle(Some(0.1));

/// Characters of a group's number or word at most.
const LONGEST_GROUP: usize = 8;

/// The plan that was asked for, and the samples it names. `samples` are those of the command line.
///
/// # Errors
/// [`Failure`] if the settings cannot be used, or the parts do not make sense together.
pub(super) fn plan(
    args: &PlanArgs,
    samples: Option<&Names>,
) -> Result<(Plan, Option<Names>), Failure> {
    // What the settings say of a lesson does not hold for an unattended run.
    let unattended = PlanArgs {
        plan: None,
        heat: None,
        cool: None,
        cycles: None,
        ..args.clone()
    };
    let args = match args.for_s {
        Some(_) => &unattended,
        None => args,
    };
    let named = match &args.plan {
        Some(name) => NamedPlan::find(name)?,
        None => NamedPlan::default(),
    };
    let samples = samples.cloned().or(named.samples);
    let heat = args.heat.or(named.heat);
    let cool = args.cool.or(named.cool);
    if heat.is_none() && (cool.is_some() || args.cycles.is_some()) {
        let message = "there is no lamp-on time";
        return Err(
            Failure::new(Code::Usage, message).advise("Give --heat too, or a plan with one.")
        );
    }
    let settle = args.settle.or(named.settle).unwrap_or(STEADY);
    let mut plan = Plan {
        name: args.plan.clone(),
        settle_degc_per_min: heat.and(settle.0),
        heat_s: heat.and_then(Span::seconds),
        cool_s: cool.or(heat).and_then(Span::seconds),
        heat_until_key: heat == Some(Span::UntilKey),
        cool_until_key: cool.or(heat) == Some(Span::UntilKey),
        cycles: args.cycles.or(named.cycles).filter(|n| *n > 1),
        marks_s: args.marks.or(named.marks),
        for_s: args.for_s,
        place: args.place,
        ..Plan::default()
    };
    if let Some(text) = &args.prediction {
        predict(&mut plan, text, samples.as_ref())?;
    }
    if let (Some(marks_s), Some(length_s)) = (plan.marks_s, plan.length_s())
        && marks_s > length_s
    {
        let message = "the interval of the marks is longer than the plan";
        return Err(Failure::new(Code::Usage, message).advise("Choose a shorter --marks."));
    }
    Ok((plan, samples))
}

/// Takes in `slate`, or `1=slate,2=moss`.
fn predict(plan: &mut Plan, text: &str, samples: Option<&Names>) -> Result<(), Failure> {
    let names = samples.map(|names| names.0.as_slice());
    let is_name = names.is_some_and(|names| names.iter().any(|name| name == text));
    if is_name || !text.contains('=') {
        plan.prediction = match names {
            Some(names) => check_prediction(Some(text), names)?,
            None => Some(text.to_owned()),
        };
        return Ok(());
    }
    for part in text.split(',') {
        plan.predictions
            .push(guess(part, names, &plan.predictions)?);
    }
    Ok(())
}

/// `1=slate`.
fn guess(part: &str, names: Option<&[String]>, before: &[Guess]) -> Result<Guess, Failure> {
    let wrong = |message: String| {
        Failure::new(Code::Usage, message).advise("Write one for each group like 1=slate,2=moss.")
    };
    let Some((group, sample)) = part.split_once('=') else {
        return Err(wrong(format!("'{}' says no group", printable(part))));
    };
    let (group, sample) = (group.trim(), sample.trim());
    let short = (1..=LONGEST_GROUP).contains(&group.chars().count());
    if !short || !group.chars().all(char::is_alphanumeric) {
        let group = printable(group);
        return Err(wrong(format!(
            "'{group}' is no number or short word for a group"
        )));
    }
    if before.iter().any(|guess| guess.group == group) {
        return Err(wrong(format!("group {group} stands there twice")));
    }
    if let Some(names) = names {
        check_prediction(Some(sample), names)?;
    }
    Ok(Guess {
        group: group.to_owned(),
        sample: sample.to_owned(),
    })
}

/// Refuses a prediction that names none of the samples.
///
/// # Errors
/// [`Failure`] that lists them.
pub(super) fn check_prediction(
    prediction: Option<&str>,
    samples: &[String],
) -> Result<Option<String>, Failure> {
    let Some(name) = prediction else {
        return Ok(None);
    };
    let same = |sample: &String| sample.to_lowercase() == name.trim().to_lowercase();
    if samples.iter().any(same) {
        return Ok(Some(name.to_owned()));
    }
    let name = printable(name);
    let message = format!("the prediction '{name}' is none of the samples");
    Err(Failure::new(Code::Usage, message)
        .advise(format!("The samples are: {}.", samples.join(", "))))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lesson() -> PlanArgs {
        PlanArgs {
            heat: Some(Span::For(600.0)),
            ..PlanArgs::default()
        }
    }

    fn names() -> Names {
        Names(vec!["slate".into(), "moss".into()])
    }

    #[test]
    fn what_is_not_said_has_its_usual_value() {
        let (plan, _) = super::plan(&lesson(), None).unwrap();
        assert_eq!(plan.cool_s, Some(600.0));
        assert_eq!(plan.settle_degc_per_min, Some(0.1));
        assert_eq!((plan.cycles(), plan.length_s()), (1, Some(1200.0)));
        let unattended = PlanArgs {
            for_s: Some(60.0),
            ..PlanArgs::default()
        };
        let (plan, _) = super::plan(&unattended, None).unwrap();
        assert!(!plan.has_lamp() && plan.settle_degc_per_min.is_none());
    }

    #[test]
    fn a_key_ends_the_phase_that_it_is_asked_for() {
        let args = PlanArgs {
            heat: Some(Span::UntilKey),
            cool: Some(Span::For(60.0)),
            ..PlanArgs::default()
        };
        let (plan, _) = super::plan(&args, None).unwrap();
        assert!(plan.has_lamp() && plan.heat_until_key && !plan.cool_until_key);
        assert_eq!(
            (plan.heating_s(), plan.cooling_s(), plan.length_s()),
            (None, Some(60.0), None)
        );
        let both = PlanArgs {
            heat: Some(Span::UntilKey),
            ..PlanArgs::default()
        };
        assert!(super::plan(&both, None).unwrap().0.cool_until_key);
    }

    #[test]
    fn groups_predict_one_sample_each() {
        let with = |text: &str| PlanArgs {
            prediction: Some(text.into()),
            ..lesson()
        };
        let (plan, _) = super::plan(&with("1=slate, 2=Moss"), Some(&names())).unwrap();
        assert_eq!(plan.prediction, None);
        let groups: Vec<_> = plan
            .predictions
            .iter()
            .map(|g| (&*g.group, &*g.sample))
            .collect();
        assert_eq!(groups, [("1", "slate"), ("2", "Moss")]);
        for text in [
            "1=grass",
            "grass",
            "1=slate,1=moss",
            "=slate",
            "1=slate,moss",
            "a long group=slate",
        ] {
            let failure = super::plan(&with(text), Some(&names())).unwrap_err();
            assert_eq!(failure.code, Code::Usage, "{text}");
        }
        // A sample may be called so.
        let odd = Names(vec!["n=1".into(), "n=2".into()]);
        let (plan, _) = super::plan(&with("n=1"), Some(&odd)).unwrap();
        assert_eq!(plan.prediction.as_deref(), Some("n=1"));
    }

    #[test]
    fn parts_that_do_not_fit_are_refused() {
        let cool = PlanArgs {
            cool: Some(Span::For(60.0)),
            ..PlanArgs::default()
        };
        assert!(super::plan(&cool, None).is_err());
        let marks = PlanArgs {
            marks: Some(3600.0),
            ..lesson()
        };
        assert!(super::plan(&marks, None).is_err());
    }
}
