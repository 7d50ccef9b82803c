//! How the program ends: few codes, each documented and tested.

use std::process::ExitCode;

/// How a command ended, other than well.
#[derive(Debug)]
pub(super) struct Failure {
    pub(super) code: Code,
    /// What happened, where.
    pub(super) message: String,
    /// What to do next.
    pub(super) advice: Option<String>,
}

/// Exit codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Code {
    /// It failed.
    Failed = 1,
    /// The words on the command line do not make sense together.
    Usage = 2,
    /// No board was found, or its port is busy or denied.
    NoBoard = 3,
    /// It is finished, but data are missing: gaps, a lost board.
    Incomplete = 4,
}

impl From<Code> for ExitCode {
    fn from(code: Code) -> Self {
        Self::from(code as u8)
    }
}

impl Failure {
    pub(super) fn new(code: Code, message: impl Into<String>) -> Self {
        Self {
            code,
            message: message.into(),
            advice: None,
        }
    }

    /// A failure that was told already: only its code is left to be given.
    pub(super) fn told(code: Code) -> Self {
        Self::new(code, "")
    }

    pub(super) fn advise(mut self, advice: impl Into<String>) -> Self {
        self.advice = Some(advice.into());
        self
    }
}

/// An error with its whole chain of causes on one line.
pub(super) fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(inner) = cause {
        let inner_text = inner.to_string();
        if !text.ends_with(&inner_text) {
            text.push_str(": ");
            text.push_str(&inner_text);
        }
        cause = inner.source();
    }
    text
}
