//! Asks groups for their predictions before a run begins. Groups have numbers: nobody's name is asked.

use std::io::{self, BufRead, IsTerminal as _, Write};

use super::exit::{Code, Failure};
use super::parse::Names;
use super::text::printable;
use crate::analysis::Guess;

/// Asks each of `groups` groups at the terminal.
///
/// # Errors
/// [`Failure`] if there is no terminal to ask at, or the samples have no names yet.
pub(super) fn predictions(groups: u8, samples: Option<&Names>) -> Result<Vec<Guess>, Failure> {
    let Some(samples) = samples else {
        let message = "--groups asks which sample will warm most, and the samples have no names";
        return Err(Failure::new(Code::Usage, message).advise("Name them with --samples."));
    };
    if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
        let message = "--groups asks at a terminal, and there is none";
        return Err(Failure::new(Code::Usage, message)
            .advise("Give the answers with --prediction 1=slate,2=moss."));
    }
    Ok(ask(
        groups,
        &samples.0,
        &mut io::stdin().lock(),
        &mut io::stderr(),
    ))
}

/// Asks until each group has named a sample or passed; the end of the answers passes for the rest.
fn ask(groups: u8, names: &[String], from: &mut impl BufRead, to: &mut impl Write) -> Vec<Guess> {
    let choices: Vec<String> = (1..)
        .zip(names)
        .map(|(number, name)| format!("{number} {}", printable(name)))
        .collect();
    let _ = writeln!(
        to,
        "Which will warm most? {}.\n(Number or name; Enter alone: no prediction.)",
        choices.join(", ")
    );
    let mut guesses = Vec::new();
    for group in 1..=groups {
        loop {
            let _ = write!(to, "Group {group}: ");
            let _ = to.flush();
            let mut line = String::new();
            match from.read_line(&mut line) {
                Ok(n) if n > 0 => {}
                _ => return guesses,
            }
            let answer = line.trim();
            if answer.is_empty() {
                break;
            }
            if let Some(sample) = chosen(answer, names) {
                guesses.push(Guess {
                    group: group.to_string(),
                    sample: sample.to_owned(),
                });
                break;
            }
            let _ = writeln!(to, "'{}' is none of them.", printable(answer));
        }
    }
    guesses
}

/// The sample of a name, or of a number from 1.
fn chosen<'a>(answer: &str, names: &'a [String]) -> Option<&'a str> {
    let same = |name: &&String| name.to_lowercase() == answer.to_lowercase();
    let numbered = || {
        let number: usize = answer.parse().ok()?;
        names.get(number.checked_sub(1)?)
    };
    names
        .iter()
        .find(same)
        .or_else(numbered)
        .map(String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_group_answers_passes_or_is_asked_again() {
        let names = ["slate".to_owned(), "moss".to_owned()];
        let mut said = Vec::new();
        let guesses = ask(
            4,
            &names,
            &mut "2\n\ngrass\nSlate\n0\n".as_bytes(),
            &mut said,
        );
        let pairs: Vec<_> = guesses.iter().map(|g| (&*g.group, &*g.sample)).collect();
        assert_eq!(pairs, [("1", "moss"), ("3", "slate")]);
        let said = String::from_utf8(said).unwrap();
        assert!(
            said.contains("1 slate, 2 moss") && said.contains("'grass' is none"),
            "{said}"
        );
    }
}
