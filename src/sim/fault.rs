//! What can go wrong with a board and its cable, on purpose and at a set time.

/// One thing that goes wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// When, in seconds of the run's true time, 0 or more.
    pub at_s: f64,
    /// What.
    pub kind: FaultKind,
}

/// What goes wrong. Times in seconds, greater than 0; channels count from 0.
#[derive(Debug, Clone, PartialEq)]
pub enum FaultKind {
    /// Seeded bytes of every value arrive that no board meant.
    Garbage {
        /// How many, 1 to 4096.
        bytes: usize,
    },
    /// One bit of the next sample line is turned over on the wire, never into a line end.
    FlippedBit,
    /// The next sample line never arrives; its sequence number is used up.
    LostLine,
    /// The thermistor's circuit is broken.
    OpenThermistor {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
    },
    /// The thermistor's leads touch.
    ShortedThermistor {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
    },
    /// The channel says the same number again and again.
    StuckReading {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
    },
    /// The channel shows no temperature above a highest one.
    Saturated {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
        /// The highest temperature in °C.
        top_degc: f64,
    },
    /// The channel scatters.
    Noisy {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
        /// Standard deviation of the added noise in °C, greater than 0.
        degc: f64,
    },
    /// One reading is far off.
    Spike {
        /// Which channel.
        channel: usize,
        /// By how much, in °C.
        degc: f64,
    },
    /// The circuit opens and closes.
    LooseWire {
        /// Which channel.
        channel: usize,
        /// How long.
        for_s: f64,
        /// From one opening to the next; it is open for three tenths of that.
        every_s: f64,
    },
    /// The channel drifts away evenly, and is back when it is over.
    Drift {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
        /// How fast, in °C/min.
        degc_per_min: f64,
    },
    /// The channel goes up and down over minutes, as with water in a joint.
    Wander {
        /// Which one.
        channel: usize,
        /// How long.
        for_s: f64,
        /// How far either way, in °C, greater than 0.
        degc: f64,
    },
    /// The board restarts in mid-line: clock and sequence number begin again, and its hello is
    /// spliced to the half line.
    Reset,
    /// The board samples nothing and sends nothing; its clock runs on.
    Silence {
        /// How long.
        for_s: f64,
    },
    /// The host's side holds all bytes back and hands them over at once.
    Hold {
        /// How long, at most 60 s.
        for_s: f64,
    },
    /// The cable is pulled in mid-line and put back: the board loses power and boots.
    Unplug {
        /// How long it is out.
        for_s: f64,
    },
}

impl Fault {
    /// Whether the numbers are finite and in range for a board of so many channels.
    #[must_use]
    pub fn is_sound(&self, channels: usize) -> bool {
        let lasts = |for_s: f64| for_s.is_finite() && for_s > 0.0;
        let kind = match self.kind {
            FaultKind::Garbage { bytes } => (1..=4096).contains(&bytes),
            FaultKind::FlippedBit | FaultKind::LostLine | FaultKind::Reset => true,
            FaultKind::OpenThermistor { channel, for_s }
            | FaultKind::ShortedThermistor { channel, for_s }
            | FaultKind::StuckReading { channel, for_s } => channel < channels && lasts(for_s),
            FaultKind::Spike { channel, degc } => channel < channels && degc.is_finite(),
            FaultKind::Saturated {
                channel,
                for_s,
                top_degc: by,
            }
            | FaultKind::Drift {
                channel,
                for_s,
                degc_per_min: by,
            } => channel < channels && lasts(for_s) && by.is_finite(),
            FaultKind::Noisy {
                channel,
                for_s,
                degc: by,
            }
            | FaultKind::Wander {
                channel,
                for_s,
                degc: by,
            }
            | FaultKind::LooseWire {
                channel,
                for_s,
                every_s: by,
            } => channel < channels && lasts(for_s) && lasts(by),
            FaultKind::Silence { for_s } | FaultKind::Unplug { for_s } => lasts(for_s),
            FaultKind::Hold { for_s } => lasts(for_s) && for_s <= 60.0,
        };
        self.at_s.is_finite() && self.at_s >= 0.0 && kind
    }
}
