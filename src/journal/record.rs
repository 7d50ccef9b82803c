//! One record and its line.

use std::io::Write as _;

/// What a record tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// How to derive everything else from this journal (JSON).
    Setup,
    /// The wall clock at this time (RFC 3339).
    Clock,
    /// A port was opened.
    Open,
    /// Bytes arrived.
    Bytes,
    /// A port was lost.
    Lost,
    /// People were told to do something.
    Cue,
    /// People said something.
    Note,
    /// People pressed a key that the plan follows.
    Hand,
    /// A group predicted which sample will warm most.
    Predict,
    /// The run was ended in order.
    End,
    /// Head of a piece after the first: what it carries on (JSON, [`super::Head`]).
    Piece,
    /// Records were lost here, because neither disk nor memory had room (JSON,
    /// [`super::Missing`]).
    Missing,
    /// Which start of the computer the times belong to: the system's boot id.
    Boot,
    /// The run goes on after it was cut off or ended (JSON, by the room `run`).
    Resume,
    /// Something happened at a port that came back, and nobody knows yet whose board is there: the
    /// word of another kind, a space, and that one's payload ([`Record::held`]).
    Held,
    /// All that was held for this port belongs to this run.
    Claim,
    /// All that was held for this port belongs to another run, where it stands too (the board's id,
    /// where it is known).
    Moved,
}

impl Kind {
    const ALL: [(Self, &'static str); 17] = [
        (Self::Setup, "setup"),
        (Self::Clock, "clock"),
        (Self::Open, "open"),
        (Self::Bytes, "bytes"),
        (Self::Lost, "lost"),
        (Self::Cue, "cue"),
        (Self::Note, "note"),
        (Self::Hand, "hand"),
        (Self::Predict, "predict"),
        (Self::End, "end"),
        (Self::Piece, "piece"),
        (Self::Missing, "missing"),
        (Self::Boot, "boot"),
        (Self::Resume, "resume"),
        (Self::Held, "held"),
        (Self::Claim, "claim"),
        (Self::Moved, "moved"),
    ];

    /// The word in the file.
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::ALL
            .iter()
            .find_map(|&(kind, word)| (kind == self).then_some(word))
            .unwrap_or("note")
    }

    pub(super) fn from_word(word: &str) -> Option<Self> {
        Self::ALL
            .iter()
            .find_map(|&(kind, known)| (known == word).then_some(kind))
    }
}

/// One record.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Record {
    /// Time in ns on the host's boot clock.
    pub t_ns: i64,
    /// Number of the port, from 0.
    pub port: u16,
    /// What it tells.
    pub kind: Kind,
    /// The bytes, or UTF-8 text.
    pub payload: Vec<u8>,
}

impl Record {
    /// The payload as text; bytes that are not UTF-8 are shown as replacement characters.
    #[must_use]
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.payload).into_owned()
    }

    /// The same, of a port whose board is not known yet.
    #[must_use]
    pub fn held(self) -> Self {
        let mut payload = self.kind.word().as_bytes().to_vec();
        payload.push(b' ');
        payload.extend(self.payload);
        Self {
            kind: Kind::Held,
            payload,
            ..self
        }
    }

    /// What a held record holds; `None` if it is none, or of a kind that cannot be held.
    #[must_use]
    pub fn let_go(&self) -> Option<Self> {
        let space = self.payload.iter().position(|&byte| byte == b' ')?;
        let (word, rest) = self.payload.split_at_checked(space)?;
        let kind = Kind::from_word(std::str::from_utf8(word).ok()?)?;
        let holds = matches!(kind, Kind::Open | Kind::Bytes | Kind::Lost | Kind::Note);
        (self.kind == Kind::Held && holds).then(|| Self {
            kind,
            payload: rest.get(1..).unwrap_or_default().to_vec(),
            ..*self
        })
    }

    /// Whether it holds what a board said: such records alone may be done without where neither
    /// disk nor memory has room.
    #[must_use]
    pub fn is_speech(&self) -> bool {
        matches!(self.kind, Kind::Bytes | Kind::Held)
    }

    /// Appends the record's line, with its LF.
    pub fn encode(&self, out: &mut Vec<u8>) {
        let start = out.len();
        out.extend_from_slice(b"00000000 ");
        let body = out.len();
        let _ = write!(out, "{} {} {} ", self.t_ns, self.port, self.kind.word());
        escape(&self.payload, out);
        let sum = crc32fast::hash(out.get(body..).unwrap_or_default());
        let digits = format!("{sum:08x}");
        if let Some(place) = out.get_mut(start..start + 8) {
            place.copy_from_slice(digits.as_bytes());
        }
        out.push(b'\n');
    }

    /// The record of a line without its LF; `Err` says what is wrong, `Ok(None)` is a sound
    /// record of a kind that this version does not know.
    pub(crate) fn decode(line: &[u8]) -> Result<Option<Self>, &'static str> {
        let (sum, body) = line
            .split_at_checked(9)
            .filter(|(sum, _)| sum.ends_with(b" "))
            .ok_or("too short")?;
        let sum = std::str::from_utf8(sum).map_err(|_| "no checksum")?;
        let sum = u32::from_str_radix(sum.trim_end(), 16).map_err(|_| "no checksum")?;
        if crc32fast::hash(body) != sum {
            return Err("checksum does not match");
        }
        let body = std::str::from_utf8(body).map_err(|_| "not text")?;
        let mut fields = body.splitn(4, ' ');
        let mut field = || fields.next().ok_or("a field is missing");
        let t_ns = field()?.parse().map_err(|_| "time is not a number")?;
        let port = field()?.parse().map_err(|_| "port is not a number")?;
        let kind = field()?;
        let payload = unescape(field()?.as_bytes()).ok_or("a broken escape")?;
        Ok(Kind::from_word(kind).map(|kind| Self {
            t_ns,
            port,
            kind,
            payload,
        }))
    }
}

fn escape(bytes: &[u8], out: &mut Vec<u8>) {
    for &byte in bytes {
        match byte {
            b'\\' => out.extend_from_slice(b"\\\\"),
            b'\n' => out.extend_from_slice(b"\\n"),
            b'\r' => out.extend_from_slice(b"\\r"),
            b'\t' => out.extend_from_slice(b"\\t"),
            b' '..=b'~' => out.push(byte),
            other => {
                let _ = write!(out, "\\x{other:02x}");
            }
        }
    }
}

fn unescape(text: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::with_capacity(text.len());
    let mut rest = text;
    while let [first, tail @ ..] = rest {
        rest = tail;
        if *first != b'\\' {
            out.push(*first);
            continue;
        }
        let [code, tail @ ..] = rest else { return None };
        rest = tail;
        out.push(match code {
            b'\\' => b'\\',
            b'n' => b'\n',
            b'r' => b'\r',
            b't' => b'\t',
            b'x' => {
                let (digits, tail) = rest.split_at_checked(2)?;
                rest = tail;
                u8::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok()?
            }
            _ => return None,
        });
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(record: &Record) -> Vec<u8> {
        let mut out = Vec::new();
        record.encode(&mut out);
        assert_eq!(out.pop(), Some(b'\n'));
        out
    }

    #[test]
    fn the_checksum_is_the_one_that_zlib_computes() {
        // CRC RevEng catalogue: CRC-32/ISO-HDLC of "123456789" is CBF43926.
        assert_eq!(crc32fast::hash(b"123456789"), 0xCBF4_3926);
        let record = Record {
            t_ns: 81_234_567_890_123,
            port: 0,
            kind: Kind::Bytes,
            payload: b">17,4250,33120,30011*1ECC\n".to_vec(),
        };
        // Computed with Python 3.11, zlib.crc32 of the text after the first space.
        let expected = b"ebdf4342 81234567890123 0 bytes >17,4250,33120,30011*1ECC\\n";
        assert_eq!(
            String::from_utf8(line(&record)),
            String::from_utf8(expected.to_vec())
        );
    }

    #[test]
    fn an_unknown_kind_is_sound_and_skipped() {
        let body = "5 0 weather cloudy";
        let text = format!("{:08x} {body}", crc32fast::hash(body.as_bytes()));
        assert_eq!(Record::decode(text.as_bytes()), Ok(None));
    }

    proptest! {
        #[test]
        fn any_payload_round_trips_on_one_printable_line(
            t_ns in any::<i64>(),
            port in any::<u16>(),
            payload in proptest::collection::vec(any::<u8>(), 0..200),
        ) {
            let record = Record { t_ns, port, kind: Kind::Bytes, payload };
            let text = line(&record);
            prop_assert!(text.iter().all(|b| (b' '..=b'~').contains(b)));
            prop_assert_eq!(Record::decode(&text), Ok(Some(record)));
        }

        #[test]
        fn what_was_held_is_let_go_as_it_was(
            payload in proptest::collection::vec(any::<u8>(), 0..200),
            kind in prop::sample::select(vec![Kind::Open, Kind::Bytes, Kind::Lost, Kind::Note]),
        ) {
            let record = Record { t_ns: 12, port: 3, kind, payload };
            let held = record.clone().held();
            let read = Record::decode(&line(&held)).unwrap().unwrap();
            prop_assert_eq!(read.let_go(), Some(record.clone()));
            // Nothing is held twice, and what was never held is not let go.
            prop_assert_eq!(held.held().let_go(), None);
            prop_assert_eq!(record.let_go(), None);
        }

        #[test]
        fn a_changed_byte_is_damage(
            payload in proptest::collection::vec(any::<u8>(), 0..40),
            place in any::<prop::sample::Index>(),
            bit in 0..8u8,
        ) {
            let record = Record { t_ns: 12, port: 0, kind: Kind::Bytes, payload };
            let mut text = line(&record);
            let place = place.index(text.len());
            text[place] ^= 1 << bit;
            // Upper-case hex in the checksum reads the same; nothing else may.
            let read = Record::decode(&text);
            prop_assert!(read.is_err() || read == Ok(Some(record)), "{:?}", read);
        }

        #[test]
        fn no_bytes_make_it_panic(text in proptest::collection::vec(any::<u8>(), 0..80)) {
            let _ = Record::decode(&text);
        }
    }
}
