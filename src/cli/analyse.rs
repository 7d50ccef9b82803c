//! `analyse`: edges, marks, fits and comparison of runs and of any table with a time column.

use super::args::AnalyseArgs;
use super::exit::Failure;
use super::input::{each, read, threads};
use super::newest::meant;
use super::results::Probes;
use super::text::printable;
use super::{out, results};

/// Inputs that one thread takes before what they gave is shown: few enough that summaries never
/// fill the memory, enough that threads seldom wait for the slowest of them.
const SHARE: usize = 16;

pub(super) fn run(args: &AnalyseArgs, quiet: bool) -> Result<(), Failure> {
    let asked = args.ask.asked();
    let mut worst = None;
    for inputs in args.inputs.chunks(threads() * SHARE) {
        let outcomes = each(inputs, |input| {
            read(&meant(input)?, &asked).map(|found| {
                let known = Probes::of(&found.series, &found.setup.calibrations);
                (known, found.summary)
            })
        });
        for (input, outcome) in inputs.iter().zip(outcomes) {
            match outcome {
                Ok((_, summary)) if args.json => results::show_json(&summary),
                Ok((known, summary)) => {
                    if !quiet {
                        if args.inputs.len() > 1 {
                            out(&format!("== {}\n", printable(&input.display().to_string())));
                        }
                        out(&results::summary_text(&summary, known));
                    }
                }
                // Told in its place; the others still come out.
                Err(failure) => {
                    super::print_failure(&failure);
                    worst = Some(failure.code);
                }
            }
        }
    }
    worst.map_or(Ok(()), |code| Err(Failure::told(code)))
}
