//! What pages say, in the reader's language.
//!
//! Messages stand in Fluent files (`en/page.ftl` and so on), one folder a language; a test holds
//! them to the same keys and the same values in all languages, none unused. Numbers are written as
//! the language writes them ([`Language::number`]); text from people goes through [`Value::Name`].
//! Messages are written with plain spaces; where a line must not break is said in `spacing`.

mod doubt;
mod graph;
mod language;
mod number;
mod quantity;
mod rows;
mod spacing;
#[cfg(test)]
mod tests;
mod value;

use std::fmt;

use fluent_bundle::{FluentArgs, FluentBundle, FluentResource, FluentValue};

use crate::analysis::Phase;
use crate::graph::Degrees;

pub use language::Language;
pub use value::{Value, plain};

/// The files of one language.
type Sources = [(&'static str, &'static str); 7];

/// The files of a folder.
macro_rules! files {
    ($folder:literal: $($file:literal)+) => {
        [$(($file, include_str!(concat!($folder, "/", $file, ".ftl")))),+]
    };
}

/// Every language's files; the same ones in each.
const SOURCES: [(Language, Sources); 3] = [
    (
        Language::English,
        files!("en": "page" "notes" "report" "sheet" "class" "graph" "book"),
    ),
    (
        Language::German,
        files!("de": "page" "notes" "report" "sheet" "class" "graph" "book"),
    ),
    (
        Language::French,
        files!("fr": "page" "notes" "report" "sheet" "class" "graph" "book"),
    ),
];

/// What a number measures, which says how it goes from degrees Celsius to others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// A temperature in °C.
    Temperature,
    /// A difference, rate or uncertainty of temperatures.
    Difference,
    /// A time or a ratio.
    Other,
}

impl Scale {
    /// What the number's uncertainty is.
    #[must_use]
    pub fn of_uncertainty(self) -> Self {
        match self {
            Self::Temperature | Self::Difference => Self::Difference,
            Self::Other => Self::Other,
        }
    }
}

/// All messages of one language.
pub struct Words {
    language: Language,
    degrees: Degrees,
    bundle: FluentBundle<FluentResource>,
}

impl fmt::Debug for Words {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Words").field(&self.language).finish()
    }
}

impl Words {
    /// The messages of a language, which speak of degrees Celsius.
    #[must_use]
    pub fn of(language: Language) -> Self {
        Self::showing(language, Degrees::Celsius)
    }

    /// The messages of a language for pages that show these degrees: what is told in them goes
    /// through [`scaled`](Self::scaled).
    #[must_use]
    pub fn showing(language: Language, degrees: Degrees) -> Self {
        let mut bundle = FluentBundle::new(vec![language.identifier()]);
        // Names bring their own isolation where they need it (see `plain`); numbers need none.
        bundle.set_use_isolating(false);
        bundle.set_formatter(Some(match language {
            Language::English => |value, _| counted(Language::English, value),
            Language::German => |value, _| counted(Language::German, value),
            Language::French => |value, _| counted(Language::French, value),
        }));
        let sources = SOURCES.iter().filter(|(of, _)| *of == language);
        for (_, text) in sources.flat_map(|(_, files)| files) {
            // A file with a fault in it loses that message alone; the tests see to it that none has.
            let text = text.replace(Degrees::Celsius.symbol(), degrees.symbol());
            let resource = match FluentResource::try_new(text) {
                Ok(resource) | Err((resource, _)) => resource,
            };
            bundle.add_resource_overriding(resource);
        }
        Self {
            language,
            degrees,
            bundle,
        }
    }

    /// Which language these are.
    #[must_use]
    pub fn language(&self) -> Language {
        self.language
    }

    /// A message without values.
    #[must_use]
    pub fn say(&self, key: &str) -> String {
        self.tell(key, &[])
    }

    /// A message with its values.
    ///
    /// # Panics
    /// In builds with debug assertions, if there is no such message or a value is missing in it.
    #[must_use]
    pub fn tell(&self, key: &str, values: &[(&str, Value<'_>)]) -> String {
        let mut args = FluentArgs::with_capacity(values.len());
        for (name, value) in values {
            args.set((*name).to_owned(), value.for_fluent(self.language));
        }
        let message = self.bundle.get_message(key);
        let Some(pattern) = message.and_then(|message| message.value()) else {
            debug_assert!(false, "no message {key} in {}", self.language.tag());
            return key.to_owned();
        };
        let mut faults = Vec::new();
        let text = self
            .bundle
            .format_pattern(pattern, Some(&args), &mut faults);
        debug_assert!(faults.is_empty(), "{key}: {faults:?}");
        spacing::spaced(self.language, &text)
    }

    /// The degrees that are shown.
    #[must_use]
    pub fn degrees(&self) -> Degrees {
        self.degrees
    }

    /// A number in the degrees that are shown.
    #[must_use]
    pub fn scaled(&self, scale: Scale, value: f64) -> f64 {
        match scale {
            Scale::Temperature => self.degrees.of(value),
            Scale::Difference => self.degrees.of_difference(value),
            Scale::Other => value,
        }
    }

    /// The word for a phase.
    #[must_use]
    pub fn phase(&self, phase: Phase) -> String {
        self.say(match phase {
            Phase::Settling => "phase-settling",
            Phase::Heating => "phase-heating",
            Phase::Cooling => "phase-cooling",
        })
    }

    /// So many rows.
    #[must_use]
    pub fn rows(&self, n: usize) -> String {
        self.tell("rows-counted", &[("n", Value::Count(n))])
    }

    /// A machine-written decimal as this language writes it.
    #[must_use]
    pub fn number(&self, digits: &str) -> String {
        self.language.number(digits)
    }
}

/// A count within a message.
fn counted(language: Language, value: &FluentValue<'_>) -> Option<String> {
    match value {
        FluentValue::Number(number) => Some(language.number(&number.as_string())),
        _ => None,
    }
}
