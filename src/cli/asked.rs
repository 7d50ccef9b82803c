//! The words that several commands share: how inputs are read, what is asked of them, in which
//! language and look the answer comes.

use clap::{Args, ValueEnum};

use super::args::LagArgs;
use super::duration::parse_positive_s;
use super::input::Asked;
use super::rebuild::declared;
use crate::graph::{Degrees, Style, Theme};
use crate::report::Language;

/// How runs and tables are read.
#[derive(Debug, Clone, Args)]
pub(super) struct ReadArgs {
    /// Sheet of a workbook (default: the first that holds a table)
    #[arg(long, value_name = "SHEET")]
    pub(super) worksheet: Option<String>,
    #[command(flatten)]
    pub(super) lags: LagArgs,
}

impl ReadArgs {
    /// Nothing beyond what the run itself was asked.
    pub(super) fn asked(&self) -> Asked<'_> {
        Asked {
            marks_s: None,
            prediction: None,
            worksheet: self.worksheet.as_deref(),
            lags: declared(&self.lags),
        }
    }
}

/// What is asked of every input.
#[derive(Debug, Clone, Args)]
pub(super) struct AskArgs {
    /// Interval of the marks
    #[arg(long, value_name = "TIME", value_parser = parse_positive_s)]
    pub(super) marks: Option<f64>,
    /// Name of the sample that is predicted to warm more (one: those of groups are kept by log)
    #[arg(long, value_name = "NAME")]
    pub(super) prediction: Option<String>,
    #[command(flatten)]
    pub(super) read: ReadArgs,
}

impl AskArgs {
    pub(super) fn asked(&self) -> Asked<'_> {
        Asked {
            marks_s: self.marks,
            prediction: self.prediction.as_deref(),
            ..self.read.asked()
        }
    }
}

/// In which language pages, pictures and workbooks are.
#[derive(Debug, Clone, Args)]
pub(super) struct LangArgs {
    /// Language of pages, pictures and workbooks: en, de or fr (default: that of the system)
    #[arg(long, value_name = "LANG", value_parser = parse_language)]
    lang: Option<Language>,
}

impl LangArgs {
    /// The language asked for, else that of the environment, else English.
    pub(super) fn language(&self) -> Language {
        // The first that is set counts, as POSIX has it (Base Specifications, 8.2).
        let set = ["LC_ALL", "LC_MESSAGES", "LANG"]
            .into_iter()
            .find_map(|name| {
                let value = std::env::var(name).ok()?;
                (!value.is_empty()).then_some(value)
            });
        self.lang
            .or_else(|| Language::asked_by(&set?))
            .unwrap_or_default()
    }
}

/// The value of `--lang`.
fn parse_language(text: &str) -> Result<Language, String> {
    Language::asked_by(text).ok_or_else(|| {
        let all: Vec<&str> = Language::ALL.into_iter().map(Language::tag).collect();
        format!("no pages in '{text}'; there are {}", all.join(", "))
    })
}

/// How pictures look.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Pictures")]
pub(super) struct PictureArgs {
    /// What the picture files are for; the picture in the page fits page and phone by itself
    #[arg(long, value_enum, value_name = "PLACE", default_value = "page")]
    picture: PlaceArg,
    /// Their ground (default: white; stronger colours on a projector)
    #[arg(long, value_enum, value_name = "GROUND")]
    theme: Option<ThemeArg>,
    #[command(flatten)]
    scale: ScaleArgs,
}

/// In which degrees temperatures are shown.
#[derive(Debug, Clone, Args)]
pub(super) struct ScaleArgs {
    /// Temperatures on pages and in pictures; files of numbers are always in °C
    #[arg(long, value_enum, value_name = "SCALE", default_value = "celsius")]
    degrees: DegreesArg,
}

impl ScaleArgs {
    pub(super) fn degrees(&self) -> Degrees {
        match self.degrees {
            DegreesArg::Celsius => Degrees::Celsius,
            DegreesArg::Fahrenheit => Degrees::Fahrenheit,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum PlaceArg {
    Page,
    Projector,
    Phone,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ThemeArg {
    White,
    Dark,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum DegreesArg {
    #[value(alias = "degc")]
    Celsius,
    #[value(alias = "degf")]
    Fahrenheit,
}

impl PictureArgs {
    /// The look of the picture files.
    pub(super) fn style(&self) -> Style {
        let style = match self.picture {
            PlaceArg::Page => Style::page(),
            PlaceArg::Projector => Style::projector(),
            PlaceArg::Phone => Style::phone(),
        };
        let theme = match self.theme {
            None => style.theme,
            Some(ThemeArg::White) => Theme::Paper,
            Some(ThemeArg::Dark) => Theme::Dark,
        };
        let degrees = self.scale.degrees();
        Style {
            theme,
            degrees,
            ..style
        }
    }
}
