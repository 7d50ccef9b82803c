//! `report`: graph, page and workbook of a run or table.

use std::path::{Path, PathBuf};

use super::advice;
use super::asked::{AskArgs, LangArgs, PictureArgs};
use super::exit::{Code, Failure};
use super::newest::meant;
use super::quantity::{parse_length, parse_mass, parse_volume};
use super::source::{Source, Written, stem};
use crate::analysis::reading_uncertainty;
use crate::graph::{self, Band, Picture, Style};
use crate::journal;
use crate::report::workbook;
use crate::report::{Language, Lesson, Quantity, SetUp, Words};
use crate::run::{SetUpNotes, keep_set_up, lock_run, name, set_up_in};

/// Pixels of the PNG for each of the drawing's: sharp in a document and on a projector.
pub(super) const PNG_SCALE: f64 = 2.0;

#[derive(Debug, clap::Args)]
pub(super) struct ReportArgs {
    /// Run folders, or tables with a time column (CSV, xlsx, ods)
    #[arg(required = true, value_name = "RUN|FILE")]
    pub(super) inputs: Vec<PathBuf>,
    /// Folder for the files (default: the run's, or beside the file under its name)
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Print one JSON object per file written
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) lang: LangArgs,
    #[command(flatten)]
    pub(super) ask: AskArgs,
    #[command(flatten)]
    pub(super) set_up: SetUpArgs,
    #[command(flatten)]
    pub(super) look: PictureArgs,
    /// Shade around each curve how far its readings are uncertain (expanded uncertainty, 95 %)
    #[arg(long, help_heading = "Pictures")]
    pub(super) bands: bool,
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
    let input = meant(input)?;
    let input = input.as_path();
    let source = Source::load(input, &args.ask.asked())?;
    let look = Look {
        language: args.lang.language(),
        style: args.look.style(),
        bands: args.bands,
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
    let set_up = set_up(&source, &args.set_up)?;
    write(&source, set_up, &look, &files)
}

/// In which language and look a report comes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Look {
    pub(super) language: Language,
    /// Of the picture files; its degrees are the page's too.
    pub(super) style: Style,
    /// Whether the readings' uncertainty is shaded.
    pub(super) bands: bool,
}

/// Writes graph, page and workbook of a source.
pub(super) fn write(
    source: &Source,
    set_up: SetUp,
    look: &Look,
    files: &Written<'_>,
) -> Result<(), Failure> {
    let failed =
        |message: String| Failure::new(Code::Failed, format!("{}: {message}", files.source));
    let words = Words::of(look.language);
    let mut drawn = graph::of_series(source.title.clone(), &source.series, &source.summary);
    drawn.is_invented = source.record.is_virtual;
    if look.bands {
        shade(&mut drawn, source, &words);
    }
    let degrees = look.style.degrees;
    let in_page = |style: Style| graph::svg_in(&drawn, &Style { degrees, ..style }, &words);
    let svg = graph::svg_in(&drawn, &look.style, &words);
    files.write("graph.svg", svg.as_bytes())?;
    let png = graph::png(&svg, PNG_SCALE).map_err(|e| failed(e.to_string()))?;
    files.write("graph.png", &png)?;
    let lesson = Lesson {
        title: &source.title,
        summary: &source.summary,
        graph_svg: &in_page(Style::page()),
        narrow_svg: &in_page(Style::phone()),
        degrees,
        steps: source.steps.clone(),
        set_up,
        record: source.record.clone(),
        version: env!("CARGO_PKG_VERSION"),
    };
    files.write("report.html", lesson.html(look.language).as_bytes())?;
    let book = workbook::lesson(&workbook::Lesson {
        title: &source.title,
        language: look.language,
        summary: &source.summary,
        series: &source.series,
        is_invented: source.record.is_virtual,
    });
    files.write("lesson.xlsx", &book.map_err(|e| failed(e.to_string()))?)
}

/// Twice the standard uncertainty covers some 95 % (GUM, JCGM 100:2008, 6.3.3 and G.6.6).
const COVERAGE: f64 = 2.0;

/// Puts a band around each curve whose readings' uncertainty is known.
fn shade(picture: &mut Picture<'_>, source: &Source, words: &Words) {
    let meaning = words.say("graph-band");
    let known = reading_uncertainty(&source.series);
    for (curve, u) in picture.curves.iter_mut().zip(known) {
        let around = |u: f64| Band::around(&curve.degc, COVERAGE * u, meaning.clone());
        curve.band = u.map(around);
    }
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
