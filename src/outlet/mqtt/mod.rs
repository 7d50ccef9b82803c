//! Runs to an MQTT 5 broker: each row and event once and in order, whatever the broker does.
//!
//! There is no queue to fill: what waits for a broker waits in the runs' own files. What the broker
//! has acknowledged stands in a small file in each run's folder (`cursor.rs`), and sending goes on
//! from there. What was on its way when a connection broke is sent again (at least once, as MQTT calls it), and
//! is known by its bench, run and place as the same.
//!
//! ```text
//! TOPIC/SITE/BENCH/run     what is logged (retained)
//! TOPIC/SITE/BENCH/row     each row; the last one retained
//! TOPIC/SITE/BENCH/event   each event
//! TOPIC/SITE/BENCH/end     the run's results (retained)
//! TOPIC/SITE/BENCH/state   running, finished or cut-off, and who sends it (retained)
//! TOPIC/SITE/_link/CLIENT  whether that sender is there (retained; "lost" is the last will)
//! ```
//!
//! Without TLS: rumqttc 0.25 is bound to a rustls whose certificate checks have open advisories.
//! `firmware-notes/broker` has a broker on this computer that passes on with TLS.

mod cursor;
mod feed;
mod hold;
mod link;
mod sender;
mod trouble;
mod window;

use std::io;
use std::path::PathBuf;
use std::time::Duration;

use crate::follow::Source;

pub use sender::send;

/// What is to be sent, and where.
#[derive(Debug, Clone)]
pub struct MqttSetup {
    /// What is sent.
    pub source: Source,
    /// The broker's name or address.
    pub host: String,
    /// Its port; 1883 by convention (IANA service name `mqtt`).
    pub port: u16,
    /// User and password, where the broker asks for them.
    pub login: Option<(String, String)>,
    /// First level or levels of all topics.
    pub topic: String,
    /// Where the benches stand: the level below.
    pub site: String,
    /// End when all that is in the files now is acknowledged.
    pub once: bool,
}

impl MqttSetup {
    /// What all topics begin with.
    #[must_use]
    pub fn root(&self) -> String {
        format!("{}/{}", self.topic, super::word(&self.site))
    }

    /// `host:port`.
    #[must_use]
    pub fn broker(&self) -> String {
        format!("{}:{}", self.host, self.port)
    }
}

/// What was sent and acknowledged.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct Tally {
    /// Rows.
    pub rows: u64,
    /// Events.
    pub events: u64,
    /// Ends of runs.
    pub ends: u64,
    /// Messages that were sent again because a connection broke before their acknowledgement.
    pub again: u64,
    /// Connections that were made.
    pub connections: u64,
    /// Results of runs that were larger than the broker takes, and were left out.
    pub too_large: u64,
}

/// What people should know meanwhile.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// The broker is there.
    Connected,
    /// It is not, and is tried again after so long.
    Away {
        /// Why.
        why: String,
        /// Until the next try.
        again_in: Duration,
    },
    /// A run's results are larger than the broker takes; the end is sent without them.
    TooLarge {
        /// The run's folder.
        run: PathBuf,
        /// Their size in bytes.
        bytes: usize,
    },
    /// What was acknowledged cannot be kept; it will be sent again.
    NotKept {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        why: String,
    },
    /// A run's files cannot be read now; they are tried again.
    NotRead {
        /// Which.
        path: PathBuf,
        /// The system's answer.
        why: String,
    },
}

/// Why sending ended. What is not acknowledged waits in the runs' files.
#[derive(Debug, thiserror::Error)]
pub enum MqttError {
    /// The broker cannot be reached (told only where trying again is not wanted).
    #[error("the broker {broker} cannot be reached: {why}")]
    Away {
        /// `host:port`.
        broker: String,
        /// What the system said last.
        why: String,
    },
    /// User or password are wrong or missing.
    #[error("the broker {broker} refuses the user or the password ({code})")]
    Login {
        /// `host:port`.
        broker: String,
        /// The broker's reason.
        code: String,
    },
    /// The broker refuses the connection for another reason.
    #[error("the broker {broker} refuses the connection ({code})")]
    Refused {
        /// `host:port`.
        broker: String,
        /// The broker's reason.
        code: String,
    },
    /// The broker lets nobody of this name write there.
    #[error("the broker {broker} does not allow writing to {topic}")]
    Denied {
        /// `host:port`.
        broker: String,
        /// Which topic.
        topic: String,
    },
    /// The broker took a message and could not keep it.
    #[error("the broker {broker} does not take what is sent to {topic} ({code})")]
    NotTaken {
        /// `host:port`.
        broker: String,
        /// Which topic.
        topic: String,
        /// The broker's reason.
        code: String,
    },
    /// Not even a row is small enough.
    #[error("the broker {broker} takes no message of {bytes} bytes (to {topic})")]
    TooLarge {
        /// `host:port`.
        broker: String,
        /// Which topic.
        topic: String,
        /// The message's size.
        bytes: usize,
    },
    /// Another client of the same name connected.
    #[error("another program sends these runs to {broker} already (client {client})")]
    TakenOver {
        /// `host:port`.
        broker: String,
        /// The client's name, made from the folder's.
        client: String,
    },
    /// A run's file or folder cannot be read.
    #[error("{path} cannot be read", path = path.display())]
    Read {
        /// Which.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
}
