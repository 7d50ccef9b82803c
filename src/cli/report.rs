//! `report`: graph, page and workbook of a run or table.

use std::path::{Path, PathBuf};

use super::advice;
use super::args::LagArgs;
use super::duration::parse_positive_s;
use super::exit::{Code, Failure};
use super::input::Asked;
use super::quantity::{parse_length, parse_mass, parse_volume};
use super::rebuild::declared;
use super::source::{Source, Written, language, parse_language, stem};
use crate::graph;
use crate::journal;
use crate::report::workbook;
use crate::report::{Language, Lesson, Quantity, SetUp, Words, in_language};
use crate::run::{SetUpNotes, keep_set_up, lock_run, name, set_up_in};

/// Pixels of the PNG for each of the drawing's: sharp in a document and on a projector.
const PNG_SCALE: f64 = 2.0;

#[derive(Debug, clap::Args)]
pub(super) struct ReportArgs {
    /// Run folders, or tables with a time column (CSV, xlsx, ods)
    #[arg(required = true, value_name = "RUN|FILE")]
    pub(super) inputs: Vec<PathBuf>,
    /// Folder for the files (default: the run's, or beside the file under its name)
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Language of the page: en, de or fr (default: that of the system)
    #[arg(long, value_name = "LANG", value_parser = parse_language)]
    pub(super) lang: Option<Language>,
    /// Interval of the marks
    #[arg(long, value_name = "TIME", value_parser = parse_positive_s)]
    pub(super) marks: Option<f64>,
    /// Name of the sample that is predicted to warm more
    #[arg(long, value_name = "NAME")]
    pub(super) prediction: Option<String>,
    /// Sheet of a workbook (default: the first that holds a table)
    #[arg(long, value_name = "SHEET")]
    pub(super) worksheet: Option<String>,
    /// Print one JSON object per file written
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) set_up: SetUpArgs,
    #[command(flatten)]
    pub(super) lags: LagArgs,
}

/// What stood where; kept in the run's run.toml.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Set-up (told in the report, kept in run.toml)")]
pub(super) struct SetUpArgs {
    /// Masses in the order of the samples, one for all or one each like 250g,180g
    #[arg(long, value_name = "MASSES", value_delimiter = ',', value_parser = parse_mass)]
    pub(super) sample_mass: Vec<Quantity>,
    /// Volumes likewise, like 200mL,200mL
    #[arg(long, value_name = "VOLUMES", value_delimiter = ',', value_parser = parse_volume)]
    pub(super) sample_volume: Vec<Quantity>,
    /// From the lamp to the samples, like 30cm
    #[arg(long, value_name = "LENGTH", value_parser = parse_length)]
    pub(super) lamp_distance: Option<Quantity>,
}

pub(super) fn run(args: &ReportArgs, quiet: bool) -> Result<(), Failure> {
    let mut worst = None;
    for input in &args.inputs {
        // Told in its place; the others still come out.
        if let Err(failure) = report(input, args, quiet) {
            super::print_failure(&failure);
            worst = Some(failure.code);
        }
    }
    worst.map_or(Ok(()), |code| Err(Failure::told(code)))
}

fn report(input: &Path, args: &ReportArgs, quiet: bool) -> Result<(), Failure> {
    let asked = Asked {
        marks_s: args.marks,
        prediction: args.prediction.as_deref(),
        worksheet: args.worksheet.as_deref(),
        lags: declared(&args.lags),
    };
    let source = Source::load(input, &asked)?;
    let set_up = set_up(&source, &args.set_up)?;
    let words = Words::of(language(args.lang));
    let drawn = graph::of_series(source.title.clone(), &source.series, &source.summary);
    let svg = graph::svg(&drawn, &graph::Style::default());
    let narrow = graph::svg(&drawn, &graph::Style::phone());
    let caption = words.say(if source.summary.lamp.is_empty() {
        "report-graph-caption-open"
    } else {
        "report-graph-caption"
    });
    let own_svg = in_language(&svg, &words, &caption);
    let lesson = Lesson {
        title: &source.title,
        summary: &source.summary,
        graph_svg: &svg,
        narrow_svg: &narrow,
        steps: source.steps.clone(),
        set_up,
        record: source.record.clone(),
        version: env!("CARGO_PKG_VERSION"),
    };
    let named = input.display().to_string();
    let files = Written {
        folder: folder(input, &source, args),
        prefix: match source.folder {
            Some(_) => String::new(),
            None => format!("{}.", stem(input)),
        },
        source: &named,
        json: args.json,
        quiet,
    };
    let failed = |message: String| Failure::new(Code::Failed, format!("{named}: {message}"));
    files.write("graph.svg", own_svg.as_bytes())?;
    let png = graph::png(&own_svg, PNG_SCALE).map_err(|e| failed(e.to_string()))?;
    files.write("graph.png", &png)?;
    files.write("report.html", lesson.html(words.language()).as_bytes())?;
    let book = workbook::lesson(&workbook::Lesson {
        title: &source.title,
        summary: &source.summary,
        series: &source.series,
    });
    files.write("lesson.xlsx", &book.map_err(|e| failed(e.to_string()))?)
}

/// Where the files go. Of several inputs each run has a folder of its own below `--out`.
fn folder(input: &Path, source: &Source, args: &ReportArgs) -> PathBuf {
    match (&args.out, &source.folder) {
        (Some(out), Some(run)) if args.inputs.len() > 1 => out.join(stem(run)),
        (Some(out), _) => out.clone(),
        (None, Some(run)) => run.clone(),
        (None, None) => input.parent().unwrap_or(Path::new("")).to_owned(),
    }
}

/// What stood where: what is said now over what `run.toml` keeps; what is said now is kept there.
fn set_up(source: &Source, args: &SetUpArgs) -> Result<SetUp, Failure> {
    let samples = source.summary.samples.len();
    let kept = source.folder.as_deref().map(set_up_in).unwrap_or_default();
    let masses = each(&args.sample_mass, &kept.sample_mass, parse_mass, samples)?;
    let volumes = each(
        &args.sample_volume,
        &kept.sample_volume,
        parse_volume,
        samples,
    )?;
    let before = kept
        .lamp_distance
        .as_deref()
        .and_then(|text| parse_length(text).ok());
    let lamp_distance = args.lamp_distance.clone().or(before);
    let said = SetUpNotes {
        sample_mass: typed(&masses),
        sample_volume: typed(&volumes),
        lamp_distance: lamp_distance
            .as_ref()
            .map(|q| format!("{} {}", q.digits, q.unit)),
    };
    if said != kept && args.says_something() {
        keep(source.folder.as_deref(), &said)?;
    }
    let of = |all: &[Quantity], sample: usize| all.get(sample).cloned();
    Ok(SetUp {
        samples: (0..samples)
            .map(|sample| {
                [of(&masses, sample), of(&volumes, sample)]
                    .into_iter()
                    .flatten()
                    .collect()
            })
            .collect(),
        lamp_distance,
    })
}

impl SetUpArgs {
    fn says_something(&self) -> bool {
        let samples = self.sample_mass.iter().chain(&self.sample_volume);
        samples.chain(&self.lamp_distance).next().is_some()
    }
}

/// Keeps what was said in a run's `run.toml`, which while it is logged is another process's.
fn keep(folder: Option<&Path>, said: &SetUpNotes) -> Result<(), Failure> {
    let Some(folder) = folder.filter(|f| f.join(name::SETTINGS).is_file()) else {
        return Ok(());
    };
    let has_journal = folder.join(journal::FILE_NAME).is_file();
    let lock = has_journal.then(|| lock_run(folder)).transpose();
    let _lock = lock.map_err(|error| advice::of_run(&error))?;
    keep_set_up(folder, said).map_err(|error| advice::of_run(&error))
}

/// One quantity for each sample; none where none is known.
fn each(
    said: &[Quantity],
    kept: &[String],
    parse: fn(&str) -> Result<Quantity, String>,
    samples: usize,
) -> Result<Vec<Quantity>, Failure> {
    match said {
        [] => {
            let kept: Result<Vec<Quantity>, String> = kept.iter().map(|text| parse(text)).collect();
            Ok(kept
                .ok()
                .filter(|all| all.len() == samples)
                .unwrap_or_default())
        }
        [one] => Ok(vec![one.clone(); samples]),
        all if all.len() == samples => Ok(all.to_vec()),
        all => {
            let message = format!("{} quantities for {samples} samples", all.len());
            Err(Failure::new(Code::Usage, message)
                .advise("Give one for all, or one for each sample."))
        }
    }
}

fn typed(quantities: &[Quantity]) -> Vec<String> {
    quantities
        .iter()
        .map(|q| format!("{} {}", q.digits, q.unit))
        .collect()
}
