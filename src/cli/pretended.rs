//! `--board virtual:…`: a virtual board, and what is to be with it.

use super::duration::parse_positive_s;
use super::exit::{Code, Failure};
use super::target::Target;
use crate::run::Plan;
use crate::sim::{BathSpec, BoardConfig, Fault, FaultKind, LampSpec, Speech, VirtualBoard, lesson};
use crate::wire::Unit;

/// A hand holds a probe so long, in seconds.
const HELD_S: f64 = 60.0;

/// A board that is pulled and not put back is away so long, in seconds.
const AWAY_S: f64 = 1e7;

/// What is asked of a virtual board.
struct Asked {
    speed: f64,
    config: BoardConfig,
}

/// `virtual`, or `virtual:seed=7,speed=10,period=250ms`.
///
/// # Errors
/// A [`Failure`] that names the first word that says nothing about a virtual board.
pub(super) fn target(text: &str, plan: &Plan, index: usize) -> Result<Target, Failure> {
    let options = || {
        let options = text.strip_prefix("virtual:").unwrap_or("");
        options.split(',').filter(|o| !o.is_empty())
    };
    let mut seed = 1 + index as u64;
    // The seed makes the bench that the others change.
    for option in options() {
        if let Some(value) = option.strip_prefix("seed=") {
            seed = value.parse().map_err(|_| refused(option))?;
        }
    }
    let mut asked = Asked {
        speed: 1.0,
        config: config(seed, plan),
    };
    for option in options() {
        let known = option
            .split_once('=')
            .and_then(|(key, value)| asked.take(key, value));
        known.ok_or_else(|| refused(option))?;
    }
    let Asked { speed, config } = asked;
    let board =
        VirtualBoard::new(config).map_err(|fault| Failure::new(Code::Usage, fault.to_string()))?;
    Ok(Target::Virtual {
        board: Box::new(board),
        speed,
    })
}

fn refused(option: &str) -> Failure {
    Failure::new(
        Code::Usage,
        format!("'{option}' says nothing about a virtual board"),
    )
    .advise(
        "Write it like virtual:seed=7,speed=10,period=250ms; in a bath like \
         virtual:bath=22,dip=20s,offsets=0.1/-0.1.",
    )
}

impl Asked {
    /// Takes a key and its value; none if they say nothing.
    fn take(&mut self, key: &str, value: &str) -> Option<()> {
        let seconds = |text: &str| parse_positive_s(text).ok();
        let config = &mut self.config;
        match key {
            "seed" => {}
            "speed" => self.speed = value.parse().ok().filter(|s: &f64| *s > 0.0)?,
            "period" => config.period_ms = (seconds(value)? * 1000.0).round() as u32,
            "id" => value.clone_into(&mut config.board_id),
            "offsets" => {
                for (sample, text) in config.samples.iter_mut().zip(value.split('/')) {
                    sample.probe.offset_degc = text.parse().ok()?;
                }
            }
            "lags" => {
                for (sample, text) in config.samples.iter_mut().zip(value.split('/')) {
                    sample.probe.lag_s = seconds(text)?;
                }
            }
            "unplug" => {
                let (at, back) = value.split_once('+').unwrap_or((value, ""));
                let for_s = if back.is_empty() {
                    AWAY_S
                } else {
                    seconds(back)?
                };
                config.faults.push(Fault {
                    at_s: seconds(at)?,
                    kind: FaultKind::Unplug { for_s },
                });
            }
            "unit" => {
                config.electronics.unit = match value {
                    "adc" => Unit::Adc,
                    "ohm" => Unit::Ohm,
                    "degc" => Unit::Degc,
                    _ => return None,
                }
            }
            "digits" => config.electronics.decimals = value.parse().ok()?,
            "speech" => {
                config.speech = match value {
                    "native" => Speech::Native,
                    "plain" => Speech::Plain,
                    "labelled" => Speech::Labelled,
                    "json" => Speech::Json,
                    _ => return None,
                }
            }
            _ => return self.take_bath(key, value),
        }
        Some(())
    }

    /// Takes what is said of a bath; none if it says nothing.
    fn take_bath(&mut self, key: &str, value: &str) -> Option<()> {
        let seconds = |text: &str| parse_positive_s(text).ok();
        let config = &mut self.config;
        match key {
            "bath" => bath(config).degc = value.parse().ok()?,
            "bath-drift" => bath(config).degc_per_min = value.parse().ok()?,
            "dip" => bath(config).dipped_s = seconds(value)?,
            "held" => {
                let (channel, at) = value.split_once('@')?;
                let (at, how_long) = at.split_once('+').unwrap_or((at, ""));
                let for_s = if how_long.is_empty() {
                    HELD_S
                } else {
                    seconds(how_long)?
                };
                let channel = channel.parse::<usize>().ok()?.checked_sub(1)?;
                bath(config).held = Some((channel, seconds(at)?, for_s));
            }
            _ => return None,
        }
        Some(())
    }
}

/// The bath that the probes stand in, from the beginning if nothing else is said.
fn bath(config: &mut BoardConfig) -> &mut BathSpec {
    let room_degc = config.air.mean_degc;
    config.bath.get_or_insert(BathSpec {
        degc: room_degc,
        degc_per_min: 0.0,
        dipped_s: 0.0,
        held: None,
    })
}

/// A bench whose lamp a pretended hand switches some seconds after each cue of the plan.
fn config(seed: u64, plan: &Plan) -> BoardConfig {
    let mut config = lesson(seed);
    config.end_s = None;
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
