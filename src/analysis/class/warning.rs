//! What the reader of a class's table should know.

use serde::{Serialize, Serializer};

/// Something that limits what the class's benches say together.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ClassWarning {
    /// A bench without a heating from edge to edge.
    #[error(
        "{bench}: its lamp was not seen to go both on and off; its rise is not put together with the others'."
    )]
    NoHeating {
        /// The bench's name.
        bench: String,
    },
    /// A bench that was heated longer or shorter than those that are put together.
    #[error(
        "{bench}: heated for {own_s:.0} s, the benches that are put together for {usual_s:.0} s; rises and what follows from them are not put together."
    )]
    HeatedOtherwise {
        /// The bench's name.
        bench: String,
        /// Its heating in seconds.
        own_s: f64,
        /// The median heating in seconds.
        usual_s: f64,
    },
    /// A bench that was watched cooling longer or shorter than those.
    #[error(
        "{bench}: watched cooling for {own_s:.0} s, the benches that are put together for {usual_s:.0} s; ends and falls are not put together."
    )]
    CooledOtherwise {
        /// The bench's name.
        bench: String,
        /// Its cooling in seconds.
        own_s: f64,
        /// The median cooling in seconds.
        usual_s: f64,
    },
    /// A bench with rows minutes apart among ones with many in each, or the other way round: a quick
    /// beginning shows in the latter only.
    #[error(
        "{bench}: its rows are {} s apart, those of the benches that are put together {} s; its initial rates are not put together with theirs.",
        seconds(*own_s), seconds(*usual_s)
    )]
    RowsOtherwise {
        /// The bench's name.
        bench: String,
        /// Time between its rows in seconds.
        own_s: f64,
        /// The median time between rows of those in seconds.
        usual_s: f64,
    },
    /// A sample that some benches do not have.
    #[error("{sample}: {benches} of {of} benches have it.")]
    NotInAll {
        /// The sample's name.
        sample: String,
        /// How many benches have it.
        benches: usize,
        /// How many benches there are.
        of: usize,
    },
    /// A bench with a single sample.
    #[error("{bench}: one sample only, so no ratio.")]
    OneSample {
        /// The bench's name.
        bench: String,
    },
    /// Benches that are none: virtual ones.
    #[error("Invented readings, from virtual benches: {}.", benches.join(", "))]
    Invented {
        /// The benches' names.
        benches: Vec<String>,
    },
    /// An input with the readings of another one: it is counted once.
    #[error("{input} has the same readings as {bench}, and is not counted again.")]
    SameReadings {
        /// What was to be read.
        input: String,
        /// The bench that has them.
        bench: String,
    },
    /// An input that gave no bench.
    #[error("{input}: left out, because {why}")]
    LeftOut {
        /// What was to be read.
        input: String,
        /// Why it could not be.
        why: String,
    },
}

/// Times between rows, as far as people tell them apart.
#[must_use]
pub fn seconds(s: f64) -> String {
    let places = usize::from(s < 10.0) + usize::from(s < 1.0);
    format!("{s:.places$}")
}

impl Serialize for ClassWarning {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
