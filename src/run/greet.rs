//! Before a run: is the board there, and is it the one that was meant?
//!
//! Listens to a port until the board's way of speaking and its channels are known. Everything that
//! came is kept with its time and goes into the run's journal first.

use std::collections::VecDeque;

use crate::port::{OpenError, What};
use crate::probe::SetupFault;
use crate::sampler::{EventKind, Product, Row, Sampler, SamplerSetup};
use crate::wire::Verdict;

/// Rows kept for showing what the probes read and how they scatter.
const SHOWN_ROWS: usize = 64;

/// Bytes kept for showing what a board said that is not understood.
const SHOWN_BYTES: usize = 60;

/// Why a run cannot begin on this board.
#[derive(Debug, thiserror::Error)]
pub enum GreetFault {
    /// The port cannot be opened.
    #[error(transparent)]
    Port(#[from] OpenError),
    /// The port was lost before the board was understood.
    #[error("the port was lost while waiting for the board: {reason}")]
    Lost {
        /// Why.
        reason: String,
    },
    /// Nothing came.
    #[error("the board says nothing")]
    Silent,
    /// Bytes came, but no line that can be read.
    #[error("{bytes} bytes came, but no line of readings: {hint}")]
    NotUnderstood {
        /// How many bytes.
        bytes: usize,
        /// What they look like.
        hint: String,
        /// The first of them, escaped.
        shown: String,
        /// They are characters that people write, so the speed is right and the lines are not known.
        is_text: bool,
    },
    /// The board's numbers cannot become temperatures.
    #[error(transparent)]
    Setup(#[from] SetupFault),
    /// Sample lines of the native protocol came, but never a hello to say what they are.
    #[error("lines of numbers come, but the board does not say what they are when asked")]
    NoHello,
    /// The samples that were named are not as many as the board's probes.
    #[error("probes of the board: {board}; samples named: {named}")]
    Channels {
        /// The board's channels.
        board: usize,
        /// The samples named.
        named: usize,
    },
}

/// A port's first words.
#[derive(Debug)]
pub struct Greeting {
    named: usize,
    sampler: Sampler,
    products: Vec<Product>,
    held: Vec<(i64, What)>,
    bytes: usize,
    shown: Vec<u8>,
    last_bad: Option<String>,
    lost: Option<String>,
    rows: VecDeque<Row>,
}

impl Greeting {
    /// Listens with what the user says of board and samples.
    #[must_use]
    pub fn new(setup: &SamplerSetup) -> Self {
        Self {
            named: setup.samples.len(),
            sampler: Sampler::new(setup.clone()),
            products: Vec::new(),
            held: Vec::new(),
            bytes: 0,
            shown: Vec::new(),
            last_bad: None,
            lost: None,
            rows: VecDeque::new(),
        }
    }

    /// Takes in what happened at the port; true once the board is understood.
    ///
    /// # Errors
    /// [`GreetFault`] if no run can begin on this port.
    pub fn port(&mut self, t_ns: i64, what: What) -> Result<bool, GreetFault> {
        match what {
            What::Refused(error) => return Err(error.into()),
            What::Ended => {
                let reason = "it ended".into();
                return Err(GreetFault::Lost { reason });
            }
            // Some boards leave and come back when they restart: the time to wait decides.
            What::Lost(ref reason) => {
                self.lost = Some(reason.clone());
                self.sampler.lost(t_ns, reason, &mut self.products);
            }
            What::Opened(ref port) => {
                self.lost = None;
                self.sampler.opened(t_ns, port, &mut self.products);
            }
            What::Bytes(ref bytes) => {
                self.bytes += bytes.len();
                let room = SHOWN_BYTES.saturating_sub(self.shown.len());
                self.shown.extend(bytes.iter().take(room));
                self.sampler.bytes(t_ns, bytes, &mut self.products);
            }
            What::Waiting(_) => {}
        }
        self.held.push((t_ns, what));
        for product in self.products.drain(..) {
            match product {
                Product::Row(row) => {
                    if self.rows.len() == SHOWN_ROWS {
                        self.rows.pop_front();
                    }
                    self.rows.push_back(row);
                }
                Product::Event(event) if event.kind == EventKind::BadLine => {
                    self.last_bad = Some(event.detail);
                }
                Product::Event(_) => {}
            }
        }
        self.understood()
    }

    fn understood(&self) -> Result<bool, GreetFault> {
        if let Some(fault) = self.sampler.fault() {
            return Err(fault.clone().into());
        }
        match self.sampler.channels() {
            Some(board) if self.named > 0 && board != self.named => Err(GreetFault::Channels {
                board,
                named: self.named,
            }),
            channels => Ok(channels.is_some()),
        }
    }

    /// Whether the board is understood.
    #[must_use]
    pub fn is_understood(&self) -> bool {
        self.understood().is_ok_and(|understood| understood)
    }

    /// The time to wait is over: why the board is not understood.
    #[must_use]
    pub fn give_up(&self) -> GreetFault {
        if let Some(reason) = &self.lost {
            return GreetFault::Lost {
                reason: reason.clone(),
            };
        }
        if self.bytes == 0 {
            return GreetFault::Silent;
        }
        if self.sampler.wants_hello() {
            return GreetFault::NoHello;
        }
        let mut finder = self.sampler.finding().clone();
        let odd = match finder.conclude() {
            Verdict::Unknown(statistics) => statistics.looks_like_another_baud_rate(),
            _ => false,
        };
        let hint = match &self.last_bad {
            Some(bad) if !odd => bad.clone(),
            _ => finder.reason(),
        };
        GreetFault::NotUnderstood {
            bytes: self.bytes,
            hint,
            shown: self.shown.escape_ascii().to_string(),
            is_text: !odd && is_written(&self.shown),
        }
    }

    /// Whether it would help to ask the board for its hello.
    #[must_use]
    pub fn wants_hello(&self) -> bool {
        self.sampler.channels().is_none() || self.sampler.wants_hello()
    }

    /// What was found out about the board.
    #[must_use]
    pub fn sampler(&self) -> &Sampler {
        &self.sampler
    }

    /// The last row that came, if one did.
    #[must_use]
    pub fn last_row(&self) -> Option<&Row> {
        self.rows.back()
    }

    /// The last rows that came, 64 at most, oldest first.
    #[must_use]
    pub fn rows(&self) -> impl ExactSizeIterator<Item = &Row> {
        self.rows.iter()
    }

    /// All that came so far.
    #[must_use]
    pub fn held(&self) -> &[(i64, What)] {
        &self.held
    }

    /// All that came, for the run's journal.
    #[must_use]
    pub fn into_held(self) -> Vec<(i64, What)> {
        self.held
    }
}

/// Whether nearly all bytes are characters that people write; a degree sign may be of any encoding.
fn is_written(bytes: &[u8]) -> bool {
    let plain = |b: &&u8| b.is_ascii_graphic() || b.is_ascii_whitespace();
    bytes.iter().filter(plain).count() * 10 >= bytes.len() * 9
}
