//! `demo`: the whole lesson on a virtual bench, then a class of five.
//!
//! The same sessions as `log`, on boards that run as fast as the runs take them; the same pages and
//! workbooks as `report`, `sheet` and `class` make.

use std::path::Path;
use std::time::Duration;

use super::args::DemoArgs;
use super::calibrate::Stock;
use super::class::Input;
use super::deeds::Deeds;
use super::exit::{Code, Failure};
use super::input::each;
use super::log::runtime;
use super::planning::check_prediction;
use super::rebuild::declared;
use super::session::{Session, Task};
use super::source::{Source, Written};
use super::target::Target;
use super::text::printable;
use super::view::View;
use super::{class, out, report, results, sheet};
use crate::graph::Style;
use crate::journal::Limits;
use crate::report::{ClassReport, SetUp};
use crate::run::{Derived, Plan, RunSetup, SyncEvery, parse_rfc3339};
use crate::sampler::SamplerSetup;
use crate::sim::{BoardConfig, VirtualBoard, class_bench, fortnight, lesson};

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
    groups: None,
    predictions: Vec::new(),
    place: None,
};

const LESSON_TEXT: &str = "\
A tray of roof slate and a tray of wet moss under one work lamp: which roof
stays cooler? A virtual bench runs the lesson; its data are invented.

";

const FORTNIGHT_TEXT: &str = "\
A tray of roof slate and a tray of wet moss for a fortnight by a window. A
virtual bench logs them; its data are invented.

";

/// Benches of the class beside the demo's own: with five in all, one can be said to stand apart.
const OTHERS: [u64; 4] = [1, 2, 3, 4];

pub(super) fn run(args: &DemoArgs, quiet: bool) -> Result<(), Failure> {
    let began_ns = args.began.as_deref().map(began).transpose()?;
    let (config, plan, name) = if args.fortnight {
        (fortnight(args.seed), Plan::default(), "fortnight")
    } else {
        (lesson(args.seed), LESSON, "demo")
    };
    let plan = Plan {
        prediction: check_prediction(args.prediction.as_deref(), &samples())?,
        ..plan
    };
    if !quiet && !args.json {
        out(if args.fortnight {
            FORTNIGHT_TEXT
        } else {
            LESSON_TEXT
        });
    }
    let mut source = None;
    let show = |folder: &Path, derived: &Derived| {
        results::show_run(folder, derived, args.json, quiet);
        let found = (derived.summary.clone(), derived.series.clone());
        source = Some(Source::of_run(folder, derived, found, None));
    };
    let bench = Virtual {
        config,
        plan: &plan,
        name,
        out: &args.out,
        began_ns,
    };
    let outcome = bench.log(args, show);
    if let (Some(source), false) = (source, args.run_only) {
        let folder = source.folder.clone().unwrap_or_default();
        let files = Written {
            folder: folder.clone(),
            prefix: String::new(),
            source: &folder.display().to_string(),
            json: args.json,
            quiet: true,
        };
        pages(args, &source, &files)?;
        if !args.fortnight {
            class_of_five(args, (source, &plan), began_ns, &files)?;
        }
        if !quiet && !args.json {
            out(&to_open(&folder));
        }
    }
    outcome
}

fn samples() -> Vec<String> {
    super::parse::Names::invented().0
}

/// A virtual bench and its run.
struct Virtual<'a> {
    config: BoardConfig,
    plan: &'a Plan,
    name: &'a str,
    /// Folder for the run's folder.
    out: &'a Path,
    began_ns: Option<i64>,
}

impl Virtual<'_> {
    /// Logs the run to its end.
    fn log(self, args: &DemoArgs, show: impl FnMut(&Path, &Derived)) -> Result<(), Failure> {
        let board = VirtualBoard::new(self.config)
            .map_err(|fault| Failure::new(Code::Failed, fault.to_string()))?;
        let target = Target::Virtual {
            board: Box::new(board),
            speed: f64::INFINITY,
        };
        let setup = RunSetup {
            program: env!("CARGO_PKG_VERSION").into(),
            name: self.name.into(),
            sampler: SamplerSetup {
                samples: samples(),
                baud: target.baud(),
                ..SamplerSetup::default()
            },
            plan: self.plan.clone(),
            lags: declared(&args.lags),
            ..RunSetup::default()
        };
        let task = Task {
            targets: vec![target],
            setup,
            resume: None,
        };
        let session = Session {
            out: self.out.to_owned(),
            wait: Duration::from_secs(30),
            sync: SyncEvery::Time(Duration::from_secs(1)),
            limits: Limits::default(),
            began_ns: self.began_ns,
            // Nothing is measured: who has seen enough need not wait.
            ends_in_order: false,
            calibrations: Stock::default(),
        };
        let mut view = View::silent_one();
        let ends = runtime()?.block_on(session.run(vec![task], &mut view, Deeds::none(), show));
        ends.failure().map_or(Ok(()), Err)
    }
}

/// Report and answer key of the run.
fn pages(args: &DemoArgs, source: &Source, files: &Written<'_>) -> Result<(), Failure> {
    let language = args.lang.language();
    let look = report::Look {
        language,
        ..report::Look::default()
    };
    report::write(source, SetUp::default(), &look, files)?;
    // Where there was no lamp there is nothing to fill in.
    match sheet::filled(source, (None, None)) {
        Some(key) => sheet::write(&key, language, files),
        None => Ok(()),
    }
}

/// A small class: the demo's bench and four others, each a run of its own.
fn class_of_five(
    args: &DemoArgs,
    (own, plan): (Source, &Plan),
    began_ns: Option<i64>,
    files: &Written<'_>,
) -> Result<(), Failure> {
    let folder = files.folder.join("class");
    let other = |n: &u64| {
        let name = format!("bench {}", n + 1);
        let bench = Virtual {
            config: class_bench(args.seed, *n),
            plan,
            name: &name,
            out: &folder,
            began_ns,
        };
        let mut found = None;
        bench.log(args, |_, derived| {
            found = Some((derived.summary.clone(), derived.series.clone()));
        })?;
        Ok(found.map(|(summary, series)| Input {
            name,
            summary,
            series,
            is_invented: true,
        }))
    };
    let others: Result<Vec<_>, Failure> = each(&OTHERS, other).into_iter().collect();
    let own = Input {
        name: "bench 1".into(),
        summary: own.summary,
        series: own.series,
        is_invented: true,
    };
    let benches: Vec<Input> = std::iter::once(own)
        .chain(others?.into_iter().flatten())
        .collect();
    let language = args.lang.language();
    let how = class::How {
        title: &ClassReport::usual_title(language),
        language,
        style: Style::page(),
    };
    let files = Written {
        folder: folder.clone(),
        prefix: files.prefix.clone(),
        ..*files
    };
    class::make(&benches, Vec::new(), &how, &files).map(|_| ())
}

/// Which files to look at, as far as they are there.
fn to_open(folder: &Path) -> String {
    let all = [
        ("report.html", "what happened, for the class; prints well"),
        ("lesson.xlsx", "the same for a spreadsheet"),
        ("sheet.html", "the pupils' sheet, filled in"),
        ("graph.png", "the graph alone"),
        ("class/class.html", "five benches together"),
        ("class/class.xlsx", "the same for a spreadsheet"),
    ];
    let there = all.iter().filter(|(name, _)| folder.join(name).is_file());
    let mut out = format!(
        "\nOpen these, in {}:\n",
        printable(&folder.display().to_string())
    );
    for (name, what) in there {
        out += &format!("  {name:16}  {what}\n");
    }
    out
}

/// The time at which the run pretends to begin, in ns since 1970.
fn began(text: &str) -> Result<i64, Failure> {
    parse_rfc3339(text).ok_or_else(|| {
        Failure::new(Code::Usage, format!("'{text}' is no time"))
            .advise("Write it like 2026-03-14T10:32:05Z.")
    })
}
