//! What names an event, whichever file of the run it was read from.

use std::fmt;

use sha2::{Digest as _, Sha256};

/// The fingerprint of an event's line: the same event has the same one in the file that grows and
/// in the final one, where others may stand before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct EventId(u64);

impl EventId {
    /// Of a line without its line end: the first 64 bits of its SHA-256.
    #[must_use]
    pub fn of(line: &str) -> Self {
        let digest = Sha256::digest(line.trim_end_matches('\r').as_bytes());
        let first = digest.iter().take(8);
        Self(first.fold(0, |bits, byte| bits << 8 | u64::from(*byte)))
    }

    /// As [`fmt::Display`] writes it: 16 hexadecimal digits.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        (text.len() == 16)
            .then(|| u64::from_str_radix(text, 16).ok())?
            .map(Self)
    }
}

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

impl serde::Serialize for EventId {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for EventId {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        Self::parse(&text).ok_or_else(|| serde::de::Error::custom("no fingerprint of an event"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_its_text_and_back() {
        // SHA-256 of "abc" begins ba7816bf 8f01cfea (FIPS 180-2, appendix B.1).
        let id = EventId::of("abc");
        assert_eq!(id.to_string(), "ba7816bf8f01cfea");
        assert_eq!(EventId::parse("ba7816bf8f01cfea"), Some(id));
        assert_eq!(EventId::of("abc\r"), id);
        for bad in ["", "ba78", "ba7816bf8f01cfeg", "+a7816bf8f01cfea0"] {
            assert_eq!(EventId::parse(bad), None, "{bad}");
        }
    }
}
