//! What `--board` names: ports, or virtual boards.

use tokio::sync::mpsc;

use super::advice;
use super::args::BoardArgs;
use super::config::NamedLines;
use super::exit::{Code, Failure};
use crate::port::{Keeper, Listed, OpenError, PortEvent, Pretender, SerialOpener, list};
use crate::probe::ProbeSetup;
use crate::run::Plan;
use crate::sim::{BoardConfig, LampSpec, VirtualBoard, lesson};
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
                targets.push(virtual_target(virtual_, plan, targets.len())?);
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

/// What the user says of board and probes.
pub(super) fn probe_setup(args: &BoardArgs) -> ProbeSetup {
    ProbeSetup {
        unit: args.unit.map(Into::into),
        full_scale: args.full_scale,
        fixed_ohm: args.fixed,
        ntc_side: args.ntc.map(Into::into),
        laws: args.thermistor.clone(),
    }
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

/// `virtual`, or `virtual:seed=7,speed=10,period=250ms`.
fn virtual_target(text: &str, plan: &Plan, index: usize) -> Result<Target, Failure> {
    let refuse = |what: &str| {
        Failure::new(
            Code::Usage,
            format!("'{what}' says nothing about a virtual board"),
        )
        .advise("Write it like virtual:seed=7,speed=10,period=250ms.")
    };
    let (mut seed, mut speed, mut period_ms) = (1 + index as u64, 1.0, None);
    let options = text.strip_prefix("virtual:").unwrap_or("");
    for option in options.split(',').filter(|o| !o.is_empty()) {
        let (key, value) = option.split_once('=').ok_or_else(|| refuse(option))?;
        let known = match key {
            "seed" => value.parse().map(|s| seed = s).is_ok(),
            "speed" => value.parse().is_ok_and(|s: f64| {
                speed = s;
                s > 0.0
            }),
            "period" => super::duration::parse_positive_s(value)
                .map(|s| period_ms = Some((s * 1000.0).round() as u32))
                .is_ok(),
            _ => false,
        };
        if !known {
            return Err(refuse(option));
        }
    }
    let board = VirtualBoard::new(virtual_config(seed, plan, period_ms))
        .map_err(|fault| Failure::new(Code::Usage, fault.to_string()))?;
    Ok(Target::Virtual {
        board: Box::new(board),
        speed,
    })
}

/// A bench whose lamp a pretended hand switches some seconds after each cue of the plan.
fn virtual_config(seed: u64, plan: &Plan, period_ms: Option<u32>) -> BoardConfig {
    let mut config = lesson(seed);
    config.end_s = None;
    config.period_ms = period_ms.unwrap_or(config.period_ms);
    config.board_id = format!("virtual-{seed}");
    let hand_s = config
        .lamp
        .on_off_s
        .first()
        .map_or(2.0, |(on_s, _)| on_s - 90.0);
    config.lamp = LampSpec {
        on_off_s: switchings(plan, hand_s),
        ..config.lamp
    };
    config
}

/// A hand that cannot press keys leaves a phase that a key would end after so many seconds.
const PRETENDED_S: f64 = 300.0;

/// When a pretended hand switches the lamp, so long after each cue.
fn switchings(plan: &Plan, hand_s: f64) -> Vec<(f64, f64)> {
    if !plan.has_lamp() {
        return Vec::new();
    }
    let heat_s = plan.heating_s().unwrap_or(PRETENDED_S);
    let cool_s = plan.cooling_s().unwrap_or(PRETENDED_S);
    let settle_s = plan.settle_degc_per_min.map_or(3.0, |_| 65.0);
    let mut on_s = settle_s + hand_s;
    let mut all = Vec::new();
    for _ in 0..plan.cycles() {
        all.push((on_s, on_s + heat_s + hand_s));
        on_s += heat_s + cool_s + hand_s;
    }
    all
}
