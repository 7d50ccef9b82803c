//! `demo`: the whole lesson on a virtual bench.
//!
//! The same session as `log`, on a board that runs as fast as the run takes it.

use std::path::Path;
use std::time::Duration;

use super::args::DemoArgs;
use super::deeds::Deeds;
use super::exit::{Code, Failure};
use super::log::runtime;
use super::planning::check_prediction;
use super::session::{Session, Task};
use super::target::Target;
use super::view::View;
use super::{out, results};
use crate::journal::Limits;
use crate::run::{Derived, Lags, Plan, RunSetup, SyncEvery, parse_rfc3339};
use crate::sampler::SamplerSetup;
use crate::sim::{VirtualBoard, fortnight, lesson};

/// The lesson's plan, as a teacher would set it.
const LESSON: Plan = Plan {
    settle_degc_per_min: Some(0.1),
    heat_s: Some(600.0),
    cool_s: Some(600.0),
    marks_s: Some(60.0),
    name: None,
    heat_until_key: false,
    cool_until_key: false,
    cycles: None,
    for_s: None,
    prediction: None,
    predictions: Vec::new(),
};

const LESSON_TEXT: &str = "\
A tray of roof slate and a tray of wet moss under one work lamp: which roof
stays cooler? A virtual bench runs the lesson; its data are invented.

";

const FORTNIGHT_TEXT: &str = "\
A tray of roof slate and a tray of wet moss for a fortnight by a window. A
virtual bench logs them; its data are invented.

";

pub(super) fn run(args: &DemoArgs, quiet: bool) -> Result<(), Failure> {
    let began_ns = args.began.as_deref().map(began).transpose()?;
    let (config, plan, name) = if args.fortnight {
        (fortnight(args.seed), Plan::default(), "fortnight")
    } else {
        (lesson(args.seed), LESSON, "demo")
    };
    let samples = vec!["slate".into(), "moss".into()];
    let plan = Plan {
        prediction: check_prediction(args.prediction.as_deref(), &samples)?,
        ..plan
    };
    let board =
        VirtualBoard::new(config).map_err(|fault| Failure::new(Code::Failed, fault.to_string()))?;
    let target = Target::Virtual {
        board: Box::new(board),
        speed: f64::INFINITY,
    };
    let setup = RunSetup {
        program: env!("CARGO_PKG_VERSION").into(),
        name: name.into(),
        sampler: SamplerSetup {
            samples,
            baud: target.baud(),
            lines: None,
            ..SamplerSetup::default()
        },
        plan,
        lags: Lags {
            probe_s: args.lags.probe_lag.clone(),
            lamp_s: args.lags.lamp_lag,
        },
        together: Vec::new(),
    };
    let task = Task {
        targets: vec![target],
        setup,
        resume: None,
    };
    let session = Session {
        out: args.out.clone(),
        wait: Duration::from_secs(30),
        sync: SyncEvery::Time(Duration::from_secs(1)),
        limits: Limits::default(),
        began_ns,
    };
    if !quiet && !args.json {
        out(if args.fortnight {
            FORTNIGHT_TEXT
        } else {
            LESSON_TEXT
        });
    }
    let mut view = View::silent_one();
    let show = |folder: &Path, derived: &Derived| {
        results::show_run(folder, derived, args.json, quiet);
    };
    let ends = runtime()?.block_on(session.run(vec![task], &mut view, Deeds::none(), show));
    ends.failure().map_or(Ok(()), Err)
}

/// The time at which the run pretends to begin, in ns since 1970.
fn began(text: &str) -> Result<i64, Failure> {
    parse_rfc3339(text).ok_or_else(|| {
        Failure::new(Code::Usage, format!("'{text}' is no time"))
            .advise("Write it like 2026-03-14T10:32:05Z.")
    })
}
