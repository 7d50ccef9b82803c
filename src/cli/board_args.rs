//! Which boards, and what the user knows of their probes.

use clap::{Args, ValueEnum};

use super::duration::parse_positive_s;
use super::probes::parse_volt;
use super::probes::{ProbeText, parse_dissipation, parse_fixed_ohm, parse_probe, parse_share};
use crate::wire::{NtcSide, Unit};

/// Which boards, and what the user knows of them.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Board and probes")]
pub(super) struct BoardArgs {
    /// Port, 'auto', 'all' or 'virtual' (repeat for several benches)
    ///
    /// Linux /dev/ttyACM0 or /dev/ttyUSB0, macOS /dev/cu.usbserial-…, Windows COM3. `auto` takes
    /// the one USB port that is there; `all` takes each. `virtual:seed=7,speed=10` sets the virtual
    /// board's seed and how many times faster than life it runs.
    #[arg(
        long = "board",
        value_name = "PORT",
        default_value = "auto",
        env = "DUSKMARK_BOARD"
    )]
    pub(super) boards: Vec<String>,
    /// Speed of the serial line
    #[arg(long, default_value_t = 115_200, value_parser = clap::value_parser!(u32).range(300..=4_000_000))]
    pub(super) baud: u32,
    /// Longest wait for a board's first readable line
    #[arg(long, value_name = "TIME", default_value = "5s", value_parser = parse_positive_s)]
    pub(super) wait: f64,
    /// What the numbers are, for boards that do not say it
    #[arg(long, value_enum)]
    pub(super) unit: Option<UnitArg>,
    /// Converter counts that stand for the reference voltage
    #[arg(long, value_name = "COUNTS", value_parser = clap::value_parser!(u32).range(1..))]
    pub(super) full_scale: Option<u32>,
    /// The probe's law: R25,B like 10k,3950 (help says the other kinds)
    ///
    /// Once for all probes, or once for each in their order.
    ///
    ///   10k,3950            thermistor: resistance at 25 °C and B value
    ///   a,b,c               thermistor: Steinhart–Hart, 1/T = a + b·ln R + c·(ln R)³
    ///   a,b,c2,c            the same with a square: … + c2·(ln R)² + c·(ln R)³
    ///   10k,c0,c1,c2,c3     the same in ln(R/10k), as data sheets print it
    ///   platinum:100        IEC 60751, resistance at 0 °C
    ///   linear:0.5V,10mV    voltage at 0 °C, and per degree
    ///   points:FILE.csv     a table with the columns ohm (or volt) and degc
    ///
    /// Usual thermistors: 10k,3380 (the same part as 10k,3435), 10k,3950, 10k,3977, 50k,3950,
    /// 100k,3950. The part's data sheet says which.
    #[arg(
        long = "probe",
        visible_alias = "thermistor",
        value_name = "LAW",
        value_parser = parse_probe,
        verbatim_doc_comment
    )]
    pub(super) probes: Vec<ProbeText>,
    /// How the board's lines are written, by a pattern that duskmark.toml names
    ///
    /// `[dialect.NAME]` there has `pattern`, a regular expression with a named group for
    /// each probe, and perhaps `unit`, `scale`, `offset`. Without it the program finds
    /// out by itself. Try it with `duskmark boards --try 'LINE'`.
    #[arg(long, value_name = "NAME", env = "DUSKMARK_DIALECT")]
    pub(super) dialect: Option<String>,
    /// The divider's fixed resistor, like 10k or 4700
    #[arg(long, value_name = "OHM", value_parser = parse_fixed_ohm)]
    pub(super) fixed: Option<f64>,
    /// Where the probe sits: to ground (low) or to the supply (high)
    #[arg(long, value_enum)]
    pub(super) ntc: Option<NtcArg>,
    /// Voltage at which the converter is full, like 3.3V
    #[arg(long, value_name = "VOLT", value_parser = parse_volt)]
    pub(super) reference: Option<f64>,
    /// Voltage across the divider, where it is not the converter's reference
    #[arg(long, value_name = "VOLT", value_parser = parse_volt)]
    pub(super) supply: Option<f64>,
    /// What the fixed resistor may be off by, like 1%
    #[arg(long, value_name = "SHARE", value_parser = parse_share)]
    pub(super) fixed_tolerance: Option<f64>,
    /// What the reference may be off by or drift, like 1%
    #[arg(long, value_name = "SHARE", value_parser = parse_share)]
    pub(super) reference_tolerance: Option<f64>,
    /// Milliwatts that warm a probe by 1 °C where it sits, like 2mW (data sheet: in still air)
    #[arg(long, value_name = "MILLIWATTS", value_parser = parse_dissipation)]
    pub(super) dissipation: Option<f64>,
}

impl BoardArgs {
    /// Whether all boards that are named are virtual ones.
    pub(super) fn all_virtual(&self) -> bool {
        self.boards
            .iter()
            .all(|board| crate::run::is_virtual_port(board))
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum UnitArg {
    Degc,
    Degf,
    Kelvin,
    Ohm,
    Volt,
    Adc,
}

impl From<UnitArg> for Unit {
    fn from(unit: UnitArg) -> Self {
        match unit {
            UnitArg::Degc => Self::Degc,
            UnitArg::Degf => Self::Degf,
            UnitArg::Kelvin => Self::Kelvin,
            UnitArg::Ohm => Self::Ohm,
            UnitArg::Volt => Self::Volt,
            UnitArg::Adc => Self::Adc,
        }
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum NtcArg {
    Low,
    High,
}

impl From<NtcArg> for NtcSide {
    fn from(side: NtcArg) -> Self {
        match side {
            NtcArg::Low => Self::Low,
            NtcArg::High => Self::High,
        }
    }
}
