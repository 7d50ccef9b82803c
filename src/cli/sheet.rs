//! `sheet`: the student's sheet for a plan, or the answer key from a run.

use std::path::{Path, PathBuf};

use super::asked::{LangArgs, ReadArgs, ScaleArgs};
use super::duration::parse_positive_s;
use super::exit::{Code, Failure};
use super::input::Asked;
use super::newest::meant;
use super::parse::{Names, split_names};
use super::quantity::parse_length;
use super::source::{Source, Written, stem};
use super::text::wrapped;
use crate::analysis::Summary;
use crate::graph::Degrees;
use crate::lamp::Kind;
use crate::report::{Key, Language, Quantity, Sheet};
use crate::run::set_up_in;

/// The usual lesson, as `demo` runs it.
const HEAT_S: f64 = 600.0;
const MARKS_S: f64 = 60.0;

#[derive(Debug, clap::Args)]
pub(super) struct SheetArgs {
    /// Run folder or table to fill the sheet from; without it the sheet is blank
    #[arg(value_name = "RUN|FILE", conflicts_with = "samples")]
    pub(super) input: Option<PathBuf>,
    /// Names of the samples of a blank sheet
    #[arg(long, value_name = "NAMES", value_parser = split_names)]
    pub(super) samples: Option<Names>,
    /// Lamp-on time (default 10m, or as the run was)
    #[arg(long, value_name = "TIME", value_parser = parse_positive_s)]
    pub(super) heat: Option<f64>,
    /// Lamp-off time (default: as long as the lamp-on time, or as the run was)
    #[arg(long, value_name = "TIME", value_parser = parse_positive_s)]
    pub(super) cool: Option<f64>,
    /// Interval of the marks, the rows of the table (default 1m, or as the run was)
    #[arg(long, value_name = "TIME", value_parser = parse_positive_s)]
    pub(super) marks: Option<f64>,
    /// From the lamp to the samples, like 30cm
    #[arg(long, value_name = "LENGTH", value_parser = parse_length)]
    pub(super) lamp_distance: Option<Quantity>,
    /// Folder for sheet.html (default: the run's, or beside the file; blank: here)
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Print one JSON object for the file written
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) lang: LangArgs,
    #[command(flatten)]
    pub(super) scale: ScaleArgs,
    #[command(flatten)]
    pub(super) read: ReadArgs,
}

pub(super) fn run(args: &SheetArgs, quiet: bool) -> Result<(), Failure> {
    match &args.input {
        Some(input) => key(input, args, quiet),
        None => blank(args, quiet),
    }
}

fn blank(args: &SheetArgs, quiet: bool) -> Result<(), Failure> {
    let Some(Names(samples)) = args.samples.clone() else {
        return Err(
            Failure::new(Code::Usage, "a blank sheet needs the samples' names")
                .advise("Give --samples slate,moss, or a run to fill the sheet from."),
        );
    };
    let heat_s = args.heat.unwrap_or(HEAT_S);
    let sheet = Sheet {
        samples,
        heat_s,
        cool_s: args.cool.unwrap_or(heat_s),
        marks_s: args.marks.unwrap_or(MARKS_S),
        lamp_distance: args.lamp_distance.clone(),
        degrees: args.scale.degrees(),
        key: None,
    };
    let intervals = sheet.heat_s / sheet.marks_s;
    if (intervals - intervals.round()).abs() > 1e-6 && !quiet {
        let better = better_marks(&sheet);
        super::say(&wrapped(&format!(
            "Note: no row of this table is at the lamp-off, where the samples are warmest. With \
             --marks {better} there is one; the last row may be missing for the same reason."
        )));
    }
    let files = Written {
        folder: args.out.clone().unwrap_or_else(|| PathBuf::from(".")),
        prefix: String::new(),
        source: "",
        json: args.json,
        quiet,
    };
    write(&sheet, args.lang.language(), &files)
}

/// Intervals that people write, in seconds.
const USUAL_S: [u32; 12] = [600, 300, 180, 120, 60, 30, 20, 15, 10, 5, 2, 1];

/// The longest usual interval, no longer than was asked for, that has rows at the lamp-off and the end, and
/// one between; as the option takes it.
fn better_marks(sheet: &Sheet<'_>) -> String {
    let is_whole = |s: f64| (s - s.round()).abs() < 1e-6;
    let fits = |step: &u32| {
        let step_s = f64::from(*step);
        step_s <= sheet.marks_s
            && 2.0 * step_s <= sheet.heat_s
            && is_whole(sheet.heat_s / step_s)
            && is_whole(sheet.cool_s / step_s)
    };
    match USUAL_S.into_iter().find(fits) {
        Some(step) if step % 60 == 0 => format!("{}m", step / 60),
        Some(step) => format!("{step}s"),
        None => format!("{}s", sheet.heat_s / (sheet.heat_s / sheet.marks_s).ceil()),
    }
}

fn key(input: &Path, args: &SheetArgs, quiet: bool) -> Result<(), Failure> {
    let input = meant(input)?;
    let input = input.as_path();
    let asked = Asked {
        marks_s: args.marks,
        ..args.read.asked()
    };
    let mut source = Source::load(input, &asked)?;
    if source.summary.marks.is_empty() {
        // A run without marks was not planned with a table: a row a minute is the usual one.
        let marks_s = Some(asked.marks_s.unwrap_or(MARKS_S));
        source = Source::load(
            input,
            &Asked {
                marks_s,
                ..asked.clone()
            },
        )?;
    }
    let Some(sheet) = filled(&source, (args.heat, args.cool)) else {
        let message = format!(
            "{}: the lamp was not seen to go on and off",
            input.display()
        );
        return Err(Failure::new(Code::Failed, message)
            .advise("Say how long it was on with --heat, or print a blank sheet with --samples."));
    };
    let sheet = Sheet {
        lamp_distance: args.lamp_distance.clone().or(sheet.lamp_distance),
        degrees: args.scale.degrees(),
        ..sheet
    };
    let beside = || input.parent().unwrap_or(Path::new("")).to_owned();
    let (folder, prefix) = match &source.folder {
        Some(folder) => (folder.clone(), String::new()),
        None => (beside(), format!("{}.", stem(input))),
    };
    let files = Written {
        folder: args.out.clone().unwrap_or(folder),
        prefix,
        source: &input.display().to_string(),
        json: args.json,
        quiet,
    };
    write(&sheet, args.lang.language(), &files)
}

/// The answer key from a run; none where nobody knows how long the lamp was on. Lamp-on and lamp-off
/// times that are said now stand over those that the run has.
pub(super) fn filled(
    source: &Source,
    (heat_s, cool_s): (Option<f64>, Option<f64>),
) -> Option<Sheet<'_>> {
    let steps = &source.steps;
    let marks_s = steps.marks_s.unwrap_or(MARKS_S);
    let seen = seen(&source.summary, marks_s);
    let heat_s = heat_s.or(steps.heat_s).or(seen.map(|s| s.0))?;
    let planned = steps.heat_s.map(|heat_s| steps.cool_s.unwrap_or(heat_s));
    let cool_s = cool_s.or(planned).or(seen.map(|s| s.1));
    Some(Sheet {
        samples: source.names(),
        heat_s,
        cool_s: cool_s.unwrap_or(heat_s),
        marks_s,
        lamp_distance: distance(source),
        degrees: Degrees::default(),
        key: Some(Key {
            title: &source.title,
            summary: &source.summary,
            is_invented: source.record.is_virtual,
        }),
    })
}

/// The lamp's distance that a run's settings keep.
fn distance(source: &Source) -> Option<Quantity> {
    let kept = set_up_in(source.folder.as_deref()?).lamp_distance?;
    parse_length(&kept).ok()
}

/// Lamp-on and lamp-off time as the data show them, in whole intervals of the table.
fn seen(summary: &Summary, marks_s: f64) -> Option<(f64, f64)> {
    let at = |kind| summary.lamp.iter().find(|e| e.edge == kind).map(|e| e.at_s);
    let (on_s, off_s) = (at(Kind::On)?, at(Kind::Off)?);
    let whole = |s: f64| (s / marks_s).round() * marks_s;
    let last_s = summary.marks.last()?.at_s;
    let heat_s = whole(off_s - on_s);
    (heat_s > 0.0).then(|| (heat_s, whole(last_s - on_s - heat_s).max(0.0)))
}

/// Writes a sheet as `sheet.html`.
pub(super) fn write(
    sheet: &Sheet<'_>,
    language: Language,
    files: &Written<'_>,
) -> Result<(), Failure> {
    let html = sheet.html(language).map_err(|error| {
        Failure::new(Code::Usage, error.to_string())
            .advise("Give --heat, --cool and --marks like 10m, 10m and 1m.")
    })?;
    files.write("sheet.html", html.as_bytes())
}
