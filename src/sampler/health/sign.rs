//! What can be wrong with a probe that still gives numbers.

/// Something that a channel's numbers show and those of a sound probe do not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sign {
    /// The same number again and again, where it should move.
    Stuck,
    /// The same number again and again, at the end of what the channel has shown.
    Saturated,
    /// Far noisier than before.
    Noisy,
    /// Far quieter than before.
    Quiet,
    /// Single readings far off.
    Spike,
    /// Moves evenly while the samples settle and the others are steady.
    Drift,
    /// The contact comes and goes.
    Loose,
    /// Wanders up and down over minutes while the others do not.
    Wander,
}

/// All of them, in the order in which they are told.
pub(super) const ALL: [Sign; 8] = [
    Sign::Stuck,
    Sign::Saturated,
    Sign::Noisy,
    Sign::Quiet,
    Sign::Spike,
    Sign::Drift,
    Sign::Loose,
    Sign::Wander,
];

impl Sign {
    /// The code that stands in the `flags` column behind the column's slug.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Stuck => "stuck",
            Self::Saturated => "saturated",
            Self::Noisy => "noisy",
            Self::Quiet => "quiet",
            Self::Spike => "spike",
            Self::Drift => "drift",
            Self::Loose => "loose",
            Self::Wander => "wander",
        }
    }

    /// What to look at first.
    #[must_use]
    pub fn hint(self) -> &'static str {
        match self {
            Self::Stuck => {
                "unplug the board and plug it in again; if the number stays, swap the two probes and \
                 see whether the trouble moves with the probe"
            }
            Self::Saturated => {
                "the board or its program may not be able to show more; move the lamp away, or use \
                 another fixed resistor"
            }
            Self::Noisy => {
                "press the plug home, and keep the probe's lead away from the mains lead and from \
                 draughts"
            }
            Self::Quiet => {
                "look whether the probe still touches its sample, and whether somebody changed the \
                 board's program"
            }
            Self::Spike => "a bad contact or a switch nearby; press the plug home",
            Self::Drift => {
                "a large or damp sample may need longer to come to room temperature; if not, swap the \
                 two probes and see whether the drift moves with the probe"
            }
            Self::Loose => "press the plug home, and look for a broken lead where it bends",
            Self::Wander => {
                "look for water in the probe's joint or on the board, and for a draught or sun on \
                 this sample alone"
            }
        }
    }

    fn bit(self) -> u8 {
        1 << (self as u8)
    }
}

/// The signs that one channel shows at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Signs(u8);

impl Signs {
    /// Whether the sign is among them.
    #[must_use]
    pub fn has(self, sign: Sign) -> bool {
        self.0 & sign.bit() != 0
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// With one more.
    pub(super) fn add(&mut self, sign: Sign) {
        self.0 |= sign.bit();
    }

    /// All that are there, in the order in which they are told.
    pub fn iter(self) -> impl Iterator<Item = Sign> {
        ALL.into_iter().filter(move |sign| self.has(*sign))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_a_set_in_the_order_in_which_they_are_told() {
        let mut signs = Signs::default();
        assert!(signs.is_empty() && signs.iter().next().is_none());
        for sign in [Sign::Wander, Sign::Stuck, Sign::Spike, Sign::Stuck] {
            signs.add(sign);
        }
        assert_eq!(
            signs.iter().collect::<Vec<_>>(),
            [Sign::Stuck, Sign::Spike, Sign::Wander]
        );
        assert!(signs.has(Sign::Spike) && !signs.has(Sign::Noisy) && !signs.is_empty());
        let codes: Vec<&str> = ALL.iter().map(|s| s.code()).collect();
        let all = "stuck saturated noisy quiet spike drift loose wander";
        assert_eq!(codes, all.split(' ').collect::<Vec<_>>());
        assert!(ALL.iter().all(|s| s.hint().len() > 40));
    }
}
