//! `log`: runs a plan, or logs unattended.

use std::path::{Path, PathBuf};
use std::time::Duration;

use super::args::LogArgs;
use super::calibrate::Stock;
use super::exit::{Code, Failure};
use super::parse::Names;
use super::planning::plan;
use super::probes::probe_setup;
use super::session::{Session, Task};
use super::signals::Signals;
use super::stream_beside::Beside;
use super::target::{Target, line_pattern, targets};
use super::view::View;
use super::{advice, ask, page, results};
use crate::journal::Limits;
use crate::run::{Derived, Lags, Plan, RunSetup, lock_run, name, setup_in, unfinished};
use crate::sampler::SamplerSetup;

pub(super) fn run(args: &LogArgs, quiet: bool) -> Result<(), Failure> {
    let (mut plan, samples) = plan(&args.plan, args.samples.as_ref())?;
    check_free(&args.resume)?;
    let targets = targets(&args.board, &plan).map_err(|failure| with_port(args, failure))?;
    let pretends = !args.together && targets.iter().all(Target::is_virtual);
    let samples = samples.or_else(|| pretends.then(Names::invented));
    if let Some(groups) = args.plan.groups {
        plan.groups = Some(groups);
        plan.predictions = ask::predictions(groups, samples.as_ref())?;
    }
    let calibrations = Stock::read(&args.calibration, targets.len())?;
    let tasks = tasks(args, targets, &plan, samples.as_ref())?;
    let session = session(args, calibrations);
    let (page, deeds) = args.page.start(&args.out, quiet)?;
    let mut view = View::new(args.view, quiet, args.bell);
    view.page(page.as_ref());
    let beside = args.stream.as_ref().map(|_| Beside::start(&mut view));
    let show = |folder: &Path, derived: &Derived| {
        // Standard output is the stream's.
        let is_quiet = quiet || beside.is_some();
        results::show_run(folder, derived, args.json, is_quiet);
        if !args.json && !is_quiet {
            results::next(folder);
        }
    };
    let ends = runtime()?.block_on(async {
        let mut signals = Signals::new();
        let ends = session.run(tasks, &mut view, deeds, show).await;
        if let Some(page) = &page {
            page::stay(page, &mut signals, &ends).await;
        }
        ends
    });
    if let Some(beside) = beside {
        beside.finish();
    }
    ends.failure().map_or(Ok(()), Err)
}

/// One bench for each board, or with `--together` one for all.
fn tasks(
    args: &LogArgs,
    targets: Vec<Target>,
    plan: &Plan,
    samples: Option<&Names>,
) -> Result<Vec<Task>, Failure> {
    let several = targets.len() > 1;
    if args.together {
        if !several {
            let message = "--together needs two boards or more";
            return Err(Failure::new(Code::Usage, message).advise("Repeat --board."));
        }
        check_resumes(args, 1)?;
        let setup = setup(args, (plan, samples), targets.first(), None)?;
        Ok(vec![task(args, targets, setup, args.resume.first())?])
    } else {
        check_resumes(args, targets.len())?;
        targets
            .into_iter()
            .enumerate()
            .map(|(index, target)| {
                let setup = setup(
                    args,
                    (plan, samples),
                    Some(&target),
                    several.then_some(index),
                )?;
                task(args, vec![target], setup, args.resume.get(index))
            })
            .collect()
    }
}

/// What all benches of the session share.
fn session(args: &LogArgs, calibrations: Stock) -> Session {
    let limits = Limits::default();
    Session {
        out: args.out.clone(),
        wait: Duration::from_secs_f64(args.board.wait),
        sync: args.sync,
        limits: Limits {
            piece_bytes: args.piece_bytes.unwrap_or(limits.piece_bytes),
            ..limits
        },
        began_ns: None,
        ends_in_order: true,
        calibrations,
    }
}

/// One run to go on with for each bench, or `last` for all.
fn check_resumes(args: &LogArgs, benches: usize) -> Result<(), Failure> {
    let last = args.resume.iter().all(|run| run.as_os_str() == "last");
    if last || args.resume.len() == benches {
        return Ok(());
    }
    let (message, advice) = if args.together {
        let message = format!("{} runs for one bench", args.resume.len());
        (message, "Give --resume once: --together makes one run.")
    } else {
        let message = format!("{} runs for {benches} boards", args.resume.len());
        (
            message,
            "Give --resume once for each board, in their order.",
        )
    };
    Err(Failure::new(Code::Usage, message).advise(advice))
}

/// Refuses to go on with a run that is not there, or that another process logs: before boards are looked
/// for, whose ports that process has, and before a port is opened, which restarts some boards.
fn check_free(runs: &[PathBuf]) -> Result<(), Failure> {
    let named = runs.iter().filter(|run| run.as_os_str() != "last");
    for run in named {
        lock_run(run).map_err(|error| advice::of_run(&error))?;
    }
    Ok(())
}

/// A failure to find a board that also says which port the run to go on with had.
fn with_port(args: &LogArgs, failure: Failure) -> Failure {
    let port = args.resume.iter().find_map(|folder| last_port(folder));
    match port.filter(|_| failure.code == Code::NoBoard) {
        Some(port) => failure.advise(format!(
            "The run was logged from {}: plug that board in again, or name its port with --board.",
            super::text::printable(&port)
        )),
        None => failure,
    }
}

/// The port that a run was last logged from, as its events tell.
fn last_port(folder: &Path) -> Option<String> {
    let mut events = csv::Reader::from_path(folder.join(name::EVENTS)).ok()?;
    let opened = events.records().map_while(Result::ok);
    let opened = opened.filter(|event| event.get(2) == Some("port-open"));
    opened.last()?.get(4).map(str::to_owned)
}

/// What a bench is to do: a new run, or one that is there already.
fn task(
    args: &LogArgs,
    targets: Vec<Target>,
    setup: RunSetup,
    resume: Option<&PathBuf>,
) -> Result<Task, Failure> {
    let failed = |error| advice::of_run(&error);
    let resume = match resume {
        // One word for all boards.
        None if args.resume.is_empty() => None,
        Some(folder) if folder.as_os_str() != "last" => Some(folder.clone()),
        _ => unfinished(&args.out, &setup.name),
    };
    let setup = match &resume {
        Some(folder) => {
            let before = setup_in(folder).map_err(failed)?;
            check_boards(folder, before.together.len(), targets.len())?;
            before
        }
        None => setup,
    };
    Ok(Task {
        targets,
        setup,
        resume,
    })
}

/// Refuses to go on with a run of several boards with fewer or more of them. `before` is 0 for a
/// run of one board.
fn check_boards(folder: &Path, before: usize, now: usize) -> Result<(), Failure> {
    if before.max(1) == now {
        return Ok(());
    }
    let folder = folder.display().to_string();
    let folder = super::text::printable(&folder);
    let (begun, advice) = if before == 0 {
        ("one board".to_owned(), "Leave out --together.".to_owned())
    } else {
        let again = format!("Give --together and those {before} boards in their order.");
        (format!("{before} boards together"), again)
    };
    let message = format!("{folder} was begun with {begun}, not with {now}");
    Err(Failure::new(Code::Usage, message).advise(advice))
}

/// One thread for the runs: the ports have their own.
pub(super) fn runtime() -> Result<tokio::runtime::Runtime, Failure> {
    tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| Failure::new(Code::Failed, format!("cannot start: {error}")))
}

fn setup(
    args: &LogArgs,
    (plan, samples): (&Plan, Option<&Names>),
    target: Option<&Target>,
    index: Option<usize>,
) -> Result<RunSetup, Failure> {
    let lines = line_pattern(&args.board)?;
    let name = match (&args.name, index) {
        (Some(name), None) => name.clone(),
        (Some(name), Some(index)) => format!("{name} {}", index + 1),
        (None, index) => format!("bench {}", index.unwrap_or(0) + 1),
    };
    Ok(RunSetup {
        program: env!("CARGO_PKG_VERSION").into(),
        name,
        sampler: SamplerSetup {
            samples: match (samples, target) {
                (Some(names), _) => names.0.clone(),
                (None, Some(Target::Virtual { .. })) if !args.together => Names::invented().0,
                (None, _) => Vec::new(),
            },
            probes: probe_setup(&args.board)?,
            baud: target.and_then(Target::baud),
            lines,
            ..SamplerSetup::default()
        },
        plan: plan.clone(),
        lags: Lags {
            probe_s: args.lags.probe_lag.clone(),
            lamp_s: args.lags.lamp_lag,
        },
        utc_offset_s: utc_offset_s(),
        ..RunSetup::default()
    })
}

/// How far the clocks of this place are ahead of UTC now, in seconds.
fn utc_offset_s() -> Option<i32> {
    let now = jiff::Timestamp::now();
    let offset = jiff::tz::TimeZone::system().to_offset(now);
    Some(offset.seconds()).filter(|s| *s != 0)
}
