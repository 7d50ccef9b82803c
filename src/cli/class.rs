//! `class`: all benches of a class in one table, one picture, one workbook.

use std::path::{Path, PathBuf};

use super::args::ClassArgs;
use super::exit::{Code, Failure};
use super::input::{Asked, each, read};
use super::out;
use super::report::PNG_SCALE;
use super::source::{Written, is_invented};
use super::text::{aligned, folded, printable, shortened, wrapped};
use crate::analysis::class::{Bench, Class, ClassWarning, Quantity, class};
use crate::analysis::{Series, Summary, by_number, expanded, rounded};
use crate::graph::{Style, png};
use crate::report::{ClassReport, Language};
use crate::run::{is_virtual_port, kept};

pub(super) fn run(args: &ClassArgs, quiet: bool) -> Result<(), Failure> {
    let (read, left_out) = read_all(&args.inputs, &args.read.asked());
    if read.is_empty() {
        return Err(Failure::new(
            Code::Failed,
            "none of the inputs could be read",
        ));
    }
    let unread = |w: &ClassWarning| matches!(w, ClassWarning::LeftOut { .. });
    let incomplete = left_out.iter().any(unread);
    let folder = args.out.clone().unwrap_or_else(dated);
    let language = args.lang.language();
    let title = args.name.clone();
    let title = title.unwrap_or_else(|| ClassReport::usual_title(language));
    let files = Written {
        folder,
        prefix: String::new(),
        source: &title,
        json: false,
        quiet: true,
    };
    let how = How {
        title: &title,
        language,
        style: args.look.style(),
    };
    let (class, written) = make(&read, left_out, &how, &files)?;
    if args.json {
        out(&format!(
            "{}\n",
            serde_json::to_string(&class).unwrap_or_default()
        ));
    } else if !quiet {
        out(&text(&class));
        out(&format!(
            "{}\n",
            printable(&files.folder.display().to_string())
        ));
        let names = written
            .iter()
            .map(|(name, bytes)| vec![(*name).to_owned(), format!("{bytes} bytes")]);
        out(&aligned(&names.collect::<Vec<_>>()));
    }
    if incomplete {
        return Err(Failure::told(Code::Incomplete));
    }
    Ok(())
}

/// What a class is called, in which language and look its files come.
pub(super) struct How<'a> {
    pub(super) title: &'a str,
    pub(super) language: Language,
    pub(super) style: Style,
}

/// Names of files and their bytes.
type Sizes = Vec<(&'static str, usize)>;

/// Puts benches together and writes the class's files.
pub(super) fn make(
    read: &[Input],
    left_out: Vec<ClassWarning>,
    how: &How<'_>,
    files: &Written<'_>,
) -> Result<(Class, Sizes), Failure> {
    let benches: Vec<Bench<'_>> = read
        .iter()
        .map(|input| Bench {
            name: &input.name,
            summary: &input.summary,
            series: &input.series,
        })
        .collect();
    let mut class = class(&benches);
    let invented = read.iter().filter(|input| input.is_invented);
    let invented: Vec<String> = invented.map(|input| input.name.clone()).collect();
    if !invented.is_empty() {
        let benches = invented;
        class.warnings.push(ClassWarning::Invented { benches });
    }
    class.warnings.extend(left_out);
    let report = ClassReport {
        title: how.title,
        language: how.language,
        degrees: how.style.degrees,
        class: &class,
        benches: &benches,
    };
    let mut json = serde_json::to_string_pretty(&class).unwrap_or_default();
    json.push('\n');
    let failed = |error: &dyn std::fmt::Display| Failure::new(Code::Failed, error.to_string());
    let svg = report.svg(&how.style);
    let all = [
        ("class.html", report.html().into_bytes()),
        ("class.json", json.into_bytes()),
        ("class.png", png(&svg, PNG_SCALE).map_err(|e| failed(&e))?),
        ("class.svg", svg.into_bytes()),
        ("class.xlsx", report.workbook().map_err(|e| failed(&e))?),
    ];
    let mut written = Vec::new();
    for (name, bytes) in all {
        files.write(name, &bytes)?;
        written.push((name, bytes.len()));
    }
    Ok((class, written))
}

/// One bench as it was read; of a run no more than this is kept, for there may be hundreds.
pub(super) struct Input {
    pub(super) name: String,
    pub(super) summary: Summary,
    pub(super) series: Series,
    /// A virtual bench.
    pub(super) is_invented: bool,
}

impl Input {
    /// Whether another input has the same readings at the same times, as a copied file has, or a run
    /// and its own table.
    fn has_all_of(&self, other: &Self) -> bool {
        let alike = |a: &[f64], b: &[f64]| {
            let near = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-6 || a.is_nan() && b.is_nan();
            a.len() == b.len() && a.iter().zip(b).all(near)
        };
        let (a, b) = (&self.series, &other.series);
        alike(&a.t_s, &b.t_s)
            && a.channels.len() == b.channels.len()
            && a.channels
                .iter()
                .zip(&b.channels)
                .all(|(a, b)| alike(&a.degc, &b.degc))
    }
}

/// Reads a bench: a run whose results are kept and still good is not derived again.
fn input(path: &Path, asked: &Asked<'_>) -> Result<Input, Failure> {
    let path = &super::newest::meant(path)?;
    let is_invented = is_invented(path);
    if let Some(kept) = kept(path, &asked.lags) {
        tracing::info!("{}: results as kept", path.display());
        return Ok(Input {
            name: kept.setup.name,
            summary: Summary {
                source: path.display().to_string(),
                ..kept.summary
            },
            series: kept.series,
            is_invented,
        });
    }
    let found = read(path, asked)?;
    Ok(Input {
        name: found.name(path),
        summary: found.summary,
        series: found.series,
        // What a run that was cut off was logged from only its journal tells.
        is_invented: found
            .derived
            .map_or(is_invented, |run| is_virtual_port(&run.found.port)),
    })
}

/// Reads all inputs; what could not be read is told and listed.
fn read_all(inputs: &[PathBuf], asked: &Asked<'_>) -> (Vec<Input>, Vec<ClassWarning>) {
    let (mut found, mut left_out) = (Vec::new(), Vec::new());
    for (path, outcome) in inputs.iter().zip(each(inputs, |path| input(path, asked))) {
        match outcome {
            Ok(input) => match found.iter().find(|other: &&Input| other.has_all_of(&input)) {
                Some(other) => left_out.push(ClassWarning::SameReadings {
                    input: file_name(path),
                    bench: other.name.clone(),
                }),
                None => found.push(input),
            },
            Err(failure) => {
                super::print_failure(&failure);
                left_out.push(ClassWarning::LeftOut {
                    input: file_name(path),
                    why: failure.message,
                });
            }
        }
    }
    found.sort_by(|a, b| by_number(&a.name, &b.name));
    (found, left_out)
}

fn file_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or(path.as_os_str());
    name.to_string_lossy().into_owned()
}

/// `class-2026-03-14`, by the computer's own date in UTC; where that is there already, with `-2` and so on.
fn dated() -> PathBuf {
    let now = jiff::Timestamp::now().to_string();
    let name = format!("class-{}", now.get(..10).unwrap_or_default());
    let more = (2..).map(|n| PathBuf::from(format!("{name}-{n}")));
    let mut all = std::iter::once(PathBuf::from(&name)).chain(more);
    all.find(|path| !path.exists()).unwrap_or_default()
}

/// Most benches shown on a terminal; the files have them all.
const MOST_SHOWN: usize = 40;

/// The class in words and tables.
fn text(class: &Class) -> String {
    let mut out = match class.benches.len() {
        1 => "1 bench.\n\n".to_owned(),
        n => format!("{n} benches.\n\n"),
    };
    out.push_str(&benches(class));
    out.push_str(&together(class));
    for found in &class.outlying {
        let sample = found
            .sample
            .as_deref()
            .map(|s| format!(", {s}"))
            .unwrap_or_default();
        let line = format!(
            "{}{sample}: {} (only a possible cause).",
            found.bench, found.words
        );
        out.push_str(&wrapped(&format!("Apart: {}", printable(&line))));
    }
    for warning in &class.warnings {
        // What could not be read was told already.
        if !matches!(warning, ClassWarning::LeftOut { .. }) {
            out.push_str(&wrapped(&format!(
                "Note: {}",
                printable(&warning.to_string())
            )));
        }
    }
    out.push('\n');
    out
}

/// Rises by bench, and their ratio where there are two samples.
fn benches(class: &Class) -> String {
    let ratio = class
        .ratios
        .iter()
        .find(|r| r.ratio.quantity == Quantity::RiseRatio)
        .filter(|_| class.samples.len() == 2);
    let names = class
        .samples
        .iter()
        .map(|s| format!("{} rise / °C", shortened(&s.name)));
    let mut rows = vec![
        std::iter::once("bench".to_owned())
            .chain(names)
            .collect::<Vec<_>>(),
    ];
    if let Some(head) = rows.first_mut().filter(|_| ratio.is_some()) {
        head.push("ratio".to_owned());
    }
    for (place, bench) in class.benches.iter().enumerate().take(MOST_SHOWN) {
        let mut row = vec![shortened(&bench.name)];
        for (sample, all) in class.samples.iter().enumerate() {
            let own = bench.sample(sample);
            let value = own.and_then(|s| Some((s.values.rise_degc?, s.u.rise_degc.unwrap_or(0.0))));
            let spread = all.quantities.iter().find(|s| s.quantity == Quantity::Rise);
            let apart = spread.is_some_and(|s| s.apart.iter().any(|a| a.bench == place));
            row.push(shown(value, apart));
        }
        if let Some(ratio) = ratio {
            let sample = |name: &str| class.samples.iter().position(|s| s.name == name);
            let places = sample(&ratio.upper).zip(sample(&ratio.lower));
            let own = places.and_then(|(a, b)| bench.ratio(a, b, Quantity::RiseRatio));
            let apart = ratio.ratio.apart.iter().any(|a| a.bench == place);
            row.push(shown(own, apart));
        }
        rows.push(row);
    }
    let more = match class.benches.len().saturating_sub(MOST_SHOWN) {
        0 => String::new(),
        n => format!("  … {n} more in class.html\n"),
    };
    format!(
        "{}{more}  (* stands apart from the others)\n\n",
        folded(&rows, 1)
    )
}

fn shown(value: Option<(f64, f64)>, apart: bool) -> String {
    let star = if apart { "*" } else { " " };
    match value {
        Some((value, u)) => format!("{}{star}", expanded(value, u).0),
        None => format!("-{star}"),
    }
}

/// The pooled ratios, with what is within benches and what between them.
fn together(class: &Class) -> String {
    let mut out = String::new();
    for ratio in class.ratios.iter().filter(|r| r.ratio.n > 0) {
        let what = match ratio.ratio.quantity {
            Quantity::RiseRatio => "rises",
            _ => "initial heating rates",
        };
        let title = format!("{what}, {} over {}", ratio.upper, ratio.lower);
        let Some(pooled) = ratio.ratio.pooled else {
            let n = ratio.ratio.n;
            let benches = if n == 1 { "bench" } else { "benches" };
            out.push_str(&wrapped(&printable(&format!(
                "Ratio of the {title}: {n} {benches} that can be put together; one value for the class needs three."
            ))));
            continue;
        };
        let told = |x: f64| rounded(x, pooled.half()).0;
        let line = format!(
            "Ratio of the {title}: {}, with 95 % confidence {} to {}, {} benches; standard uncertainty within a bench {}, standard deviation between benches {}.",
            told(pooled.value),
            told(pooled.low),
            told(pooled.high),
            pooled.n,
            rounded(0.0, pooled.within_u).1,
            if pooled.between_sd > 0.0 {
                rounded(0.0, pooled.between_sd).1
            } else {
                "0".into()
            },
        );
        out.push_str(&wrapped(&printable(&line)));
    }
    out.push('\n');
    out
}
