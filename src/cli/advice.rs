//! What to do next: the front end's word to each failure.

use super::exit::{Code, Failure, chain};
use super::text::as_word;
use crate::port::OpenError;
use crate::probe::SetupFault;
use crate::run::{GreetFault, RunError};

/// Why a run cannot begin on a port, and what to do.
pub(super) fn of_greeting(port: &str, fault: &GreetFault) -> Failure {
    let port = super::text::printable(port);
    let said = |message: String| Failure::new(Code::NoBoard, message);
    match fault {
        GreetFault::Port(error) => of_port(error),
        GreetFault::Lost { .. } => {
            said(format!("{port}: {fault}")).advise("Check the cable, then try again.")
        }
        GreetFault::Silent => said(format!("{port}: {fault}")).advise(
            "Is it the right port ('duskmark boards')? Does the board's program run? \
             A board that prints seldom needs a longer wait, like --wait 5m.",
        ),
        GreetFault::NotUnderstood {
            shown,
            is_text: true,
            ..
        } => said(format!("{port}: {fault}\n  it said: {shown}")).advise(
            "'duskmark boards --try LINE' with one of its lines in quotes says what is not \
             understood. Change what the board's program prints, or describe its lines under \
             [dialect.NAME] in duskmark.toml (firmware-notes/settings.md).",
        ),
        GreetFault::NotUnderstood { shown, .. } => {
            said(format!("{port}: {fault}\n  it said: {shown}")).advise(
                "Set the speed that the board's program uses with --baud; \
                 firmware-notes says which lines are understood.",
            )
        }
        GreetFault::NoHello => said(format!("{port}: {fault}")).advise(
            "Press the board's reset button, or say what its numbers are: \
             --unit adc --full-scale 65536.",
        ),
        GreetFault::Setup(SetupFault::NoFullScale) => {
            Failure::new(Code::Usage, format!("{port}: {fault}"))
                .advise("Say it with --full-scale, 1024 for a ten-bit converter.")
        }
        GreetFault::Setup(SetupFault::NoReference { .. }) => {
            Failure::new(Code::Usage, format!("{port}: {fault}"))
                .advise("Say it with --reference, like --reference 3.3V.")
        }
        GreetFault::Setup(SetupFault::Quantity { .. }) => {
            Failure::new(Code::Usage, format!("{port}: {fault}"))
                .advise("Describe the probe with --probe, and the board's numbers with --unit.")
        }
        GreetFault::Setup(_) => Failure::new(Code::Usage, format!("{port}: {fault}"))
            .advise("Check --probe, --fixed, --full-scale and what else is said of the board."),
        GreetFault::Channels { board, named } => {
            let failure = Failure::new(Code::Usage, format!("{port}: {fault}"));
            failure.advise(if board > named {
                format!(
                    "Name {board} with --samples, with commas between them. Is one of its numbers a \
                     clock or a counter? Then describe its lines under [dialect.NAME] in \
                     duskmark.toml (firmware-notes/settings.md)."
                )
            } else {
                format!("Name {board} with --samples, or connect the board with the other probe.")
            })
        }
    }
}

/// Why a port cannot be opened, and what to do.
pub(super) fn of_port(error: &OpenError) -> Failure {
    let failure = Failure::new(Code::NoBoard, chain(error));
    match error {
        OpenError::NotFound { .. } => failure
            .advise("'duskmark boards' lists the ports that are there. Is the cable a data cable?"),
        OpenError::Busy { .. } => {
            failure.advise("Close the other program: two readers would share the board's bytes.")
        }
        OpenError::Denied { group, .. } => match group {
            Some(group) => failure.advise(format!(
                "Join the port's group with 'sudo usermod -aG {group} $USER', \
                 then log out and in again."
            )),
            None => failure.advise("Ask who looks after this computer for access to serial ports."),
        },
        OpenError::Ambiguous { .. } => failure.advise("Name the port with --board."),
        OpenError::Other { .. } => {
            failure.advise("Is it a serial port? 'duskmark boards' lists them.")
        }
    }
}

/// Why a run's folder failed, and what to do.
pub(super) fn of_run(error: &RunError) -> Failure {
    let failure = Failure::new(Code::Failed, chain(error));
    match error {
        RunError::Folder { .. } | RunError::Exists { .. } => {
            failure.advise("Make room, or choose a folder that you may write to with --out.")
        }
        RunError::Write { .. } => failure.advise(
            "What was logged is in journal.dmj. Make room or allow writing, \
             then 'duskmark rebuild' the folder.",
        ),
        RunError::Read { .. } => {
            failure.advise("Is it the folder of a run? It must hold journal.dmj.")
        }
        RunError::Unsaved {
            journal,
            rescued: Some(copy),
            piece,
            ..
        }
        | RunError::Unconfirmed {
            journal,
            copy: Some(copy),
            piece,
            ..
        } => failure.advise(format!(
            "Make room, or change the disk, and put that file beside the journal: mv {} {}; \
             then 'duskmark rebuild' the folder.",
            as_word(copy),
            as_word(&journal.with_file_name(piece))
        )),
        RunError::Unconfirmed { .. } | RunError::NoAnswer { .. } => failure.advise(
            "Copy the folder to another disk before this one is used again, \
             then 'duskmark rebuild' the copy.",
        ),
        RunError::InUse { .. } => {
            failure.advise("End that process first, or wait until its run is over.")
        }
        RunError::Through { .. } => failure.advise("Begin a new run: log without --resume."),
        RunError::Scribe => failure.advise(
            "This is a fault of duskmark. 'duskmark rebuild' the folder for what was written.",
        ),
        RunError::Unsaved { .. } => {
            failure.advise("Make room, then 'duskmark rebuild' the folder for what was written.")
        }
        RunError::Journal { .. } | RunError::Setup { .. } => {
            failure.advise("Keep the file: it is text, and what is in it can be read.")
        }
    }
}
