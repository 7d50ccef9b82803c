//! Ports: what is plugged in, opening it, keeping it open, and the clocks that stamp what comes.

mod again;
mod ask;
mod boot;
pub mod clock;
mod hold;
mod keeper;
mod link;
mod list;
mod open;
mod pretend;
mod serial;

pub use boot::boot_id;
pub use keeper::{CHANNEL_DEPTH, Keeper, PortEvent, What};
pub use link::{Link, Opener, READ_TIMEOUT_MS, is_gone};
pub use list::{Again, Listed, UsbIdentity, find_again, list};
pub use open::{OpenError, holder_of};
pub use pretend::Pretender;
pub use serial::SerialOpener;
