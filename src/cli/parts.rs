//! What a bench's boards turned out to be, against what was asked.

use super::exit::{Code, Failure};
use super::planning::check_prediction;
use super::rebuild::check_lags;
use crate::run::{Greeting, Part, RunSetup};
use crate::sampler::SamplerSetup;
use crate::wire::MAX_CHANNELS;

/// Checks the boards that were understood, and completes the setup of a bench of several. A run that
/// is gone on with (`again`) has its setup already, which the boards must fit.
pub(super) fn settle(
    setup: &mut RunSetup,
    again: bool,
    greetings: &[Greeting],
) -> Result<(), Failure> {
    let channels: Vec<usize> = greetings
        .iter()
        .map(|greeting| greeting.sampler().channels().unwrap_or(0))
        .collect();
    check_lags(&setup.lags, channels.iter().sum())?;
    if !again {
        check_predictions(setup, greetings)?;
    }
    if greetings.len() < 2 {
        return Ok(());
    }
    if !again {
        setup.together = parts(&setup.sampler, &channels)?;
        return Ok(());
    }
    let before: Vec<usize> = setup.together.iter().map(|part| part.channels).collect();
    if before == channels {
        return Ok(());
    }
    let words = |channels: &[usize]| {
        let words: Vec<String> = channels.iter().map(usize::to_string).collect();
        words.join(" and ")
    };
    let (now, before) = (words(&channels), words(&before));
    let message = format!("the boards have {now} probes; the run was begun with {before}");
    Err(Failure::new(Code::Usage, message)
        .advise("Name the boards in the order in which the run was begun with them."))
}

/// Only now is it known whether a prediction names a sample, where nobody but the board names them. Of
/// several boards without names each counts its own probes: there a prediction may name any.
fn check_predictions(setup: &RunSetup, greetings: &[Greeting]) -> Result<(), Failure> {
    let names = match greetings {
        _ if !setup.sampler.samples.is_empty() => setup.sampler.samples.clone(),
        [one] => one.sampler().names(),
        _ => return Ok(()),
    };
    let plan = &setup.plan;
    let groups = plan.predictions.iter().map(|guess| guess.sample.as_str());
    for prediction in plan.prediction.as_deref().into_iter().chain(groups) {
        check_prediction(Some(prediction), &names)?;
    }
    Ok(())
}

/// A bench of several boards: the samples' names go to the boards in their order.
fn parts(sampler: &SamplerSetup, channels: &[usize]) -> Result<Vec<Part>, Failure> {
    let all: usize = channels.iter().sum();
    let names = &sampler.samples;
    if all > MAX_CHANNELS {
        let message = format!("the boards have {all} probes; a bench has at most {MAX_CHANNELS}");
        return Err(Failure::new(Code::Usage, message).advise("Leave out --together."));
    }
    if !names.is_empty() && names.len() != all {
        let message = format!(
            "probes of the boards together: {all}; samples named: {}",
            names.len()
        );
        let advice = format!("Name {all} with --samples, in the order of the boards.");
        return Err(Failure::new(Code::Usage, message).advise(advice));
    }
    let mut rest = names.as_slice();
    let part = |&channels: &usize| {
        let (own, others) = rest.split_at(channels.min(rest.len()));
        rest = others;
        Part {
            channels,
            sampler: SamplerSetup {
                samples: own.to_vec(),
                ..sampler.clone()
            },
        }
    };
    Ok(channels.iter().map(part).collect())
}
