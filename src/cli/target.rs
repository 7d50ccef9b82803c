//! What `--board` names: ports, or virtual boards.

use tokio::sync::mpsc;

use super::board_args::BoardArgs;
use super::config::NamedLines;
use super::exit::{Code, Failure};
use super::{advice, pretended};
use crate::port::{Keeper, Listed, OpenError, PortEvent, Pretender, SerialOpener, list};
use crate::run::Plan;
use crate::sim::VirtualBoard;
use crate::wire::LinePattern;

/// One board to talk to.
#[derive(Debug)]
pub(super) enum Target {
    /// A port by its name.
    Port { path: String, baud: u32 },
    /// A virtual board, so many times faster than life.
    Virtual {
        board: Box<VirtualBoard>,
        speed: f64,
    },
}

/// A board that was started.
#[derive(Debug)]
pub(super) enum Source {
    Port(Keeper),
    Virtual(Pretender),
}

impl Source {
    pub(super) fn send(&self, bytes: &[u8]) {
        match self {
            Self::Port(keeper) => keeper.send(bytes),
            Self::Virtual(pretender) => pretender.send(bytes),
        }
    }

    pub(super) fn is_virtual(&self) -> bool {
        matches!(self, Self::Virtual(_))
    }

    /// How long the thread that speaks for the board has been stuck.
    pub(super) fn stuck(&self) -> std::time::Duration {
        match self {
            Self::Port(keeper) => keeper.stuck(),
            Self::Virtual(pretender) => pretender.stuck(),
        }
    }

    /// Now on the clock that stamps this board's events.
    pub(super) fn now_ns(&self) -> i64 {
        match self {
            Self::Port(_) => crate::port::clock::boot_ns(),
            Self::Virtual(pretender) => pretender.now_ns(),
        }
    }
}

impl Target {
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Port { path, .. } => path,
            Self::Virtual { .. } => "virtual",
        }
    }

    pub(super) fn is_virtual(&self) -> bool {
        matches!(self, Self::Virtual { .. })
    }

    /// Speed of the line in baud, where there is one.
    pub(super) fn baud(&self) -> Option<u32> {
        match self {
            Self::Port { baud, .. } => Some(*baud),
            Self::Virtual { board, .. } => board.config().link.baud,
        }
    }

    pub(super) fn start(self, bench: usize, events: mpsc::Sender<PortEvent>) -> Source {
        match self {
            Self::Port { path, baud } => {
                let opener = Box::new(SerialOpener::new(&path, baud));
                Source::Port(Keeper::start(bench, opener, events))
            }
            Self::Virtual { board, speed } => {
                Source::Virtual(Pretender::start(bench, *board, speed, events))
            }
        }
    }
}

/// The boards that were named.
///
/// # Errors
/// A [`Failure`] if none is there, or a name makes no sense.
pub(super) fn targets(args: &BoardArgs, plan: &Plan) -> Result<Vec<Target>, Failure> {
    let mut targets = Vec::new();
    for name in &args.boards {
        match name.as_str() {
            "auto" => targets.push(only_one(usb_ports()?, args.baud)?),
            "all" => {
                let ports = usb_ports()?;
                targets.extend(ports.into_iter().map(|port| Target::Port {
                    path: port.path,
                    baud: args.baud,
                }));
            }
            virtual_ if virtual_ == "virtual" || virtual_.starts_with("virtual:") => {
                targets.push(pretended::target(virtual_, plan, targets.len())?);
            }
            path => targets.push(Target::Port {
                path: path.to_owned(),
                baud: args.baud,
            }),
        }
    }
    if targets.len() > 64 {
        let message = format!("{} boards; one process takes at most 64", targets.len());
        return Err(Failure::new(Code::Usage, message));
    }
    Ok(targets)
}

/// How the board's lines are written, where the user named a description.
///
/// # Errors
/// A [`Failure`] if the settings have none of that name, or cannot be used.
pub(super) fn line_pattern(args: &BoardArgs) -> Result<Option<LinePattern>, Failure> {
    args.dialect.as_deref().map(NamedLines::find).transpose()
}

fn usb_ports() -> Result<Vec<Listed>, Failure> {
    let ports = list().map_err(|error| {
        advice::of_port(&OpenError::Other {
            port: "the list of ports".into(),
            source: error.into(),
        })
    })?;
    let usb: Vec<Listed> = ports
        .into_iter()
        .filter(|port| port.usb.is_some())
        .collect();
    if usb.is_empty() {
        return Err(
            Failure::new(Code::NoBoard, "no board found: no USB serial port is there").advise(
                "Plug the board in with a data cable, name its port with --board, \
                 or try without hardware: --board virtual.",
            ),
        );
    }
    Ok(usb)
}

fn only_one(mut ports: Vec<Listed>, baud: u32) -> Result<Target, Failure> {
    match (ports.pop(), ports.is_empty()) {
        (Some(port), true) => Ok(Target::Port {
            path: port.path,
            baud,
        }),
        (last, _) => {
            ports.extend(last);
            let names: Vec<String> = ports.into_iter().map(|port| port.path).collect();
            Err(Failure::new(
                Code::NoBoard,
                format!("several boards are plugged in: {}", names.join(", ")),
            )
            .advise("Name one with --board, or take each with --board all."))
        }
    }
}
