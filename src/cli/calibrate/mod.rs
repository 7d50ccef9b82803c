//! `calibrate`: probes that agree, and numbers that are known to be right.
//!
//! Each kind watches the board (or a recorded table) until there is something to sum up
//! ([`guide`], [`listen`], [`subject`]), leaves the sums to the pure room, and hands what came out to
//! [`keep`], which stores it whole or not at all.

mod apply;
mod args;
mod bath;
mod dip;
mod fit;
mod guide;
mod hand;
mod keep;
mod listen;
mod plot;
mod points;
mod show;
mod store;
mod subject;
mod table;

pub(super) use apply::{CalibrationArgs, InUse, Stock, correct};
pub(super) use args::CalibrateArgs;

use args::What;

use super::exit::Failure;
use super::log::runtime;

pub(super) fn run(args: &CalibrateArgs, quiet: bool) -> Result<(), Failure> {
    match &args.what {
        What::Match(args) => runtime()?.block_on(bath::matched(args, quiet)),
        What::Ice(args) => runtime()?.block_on(bath::ice(args, quiet)),
        What::Boil(args) => runtime()?.block_on(bath::boil(args, quiet)),
        What::Fit(args) => runtime()?.block_on(fit::run(args, quiet)),
        What::Lag(args) => runtime()?.block_on(dip::run(args, quiet)),
        What::Show(args) => show::run(args, quiet),
    }
}
