//! Pieces of a journal: their names, their heads, and the mark for what was lost.

use super::{Kind, Record};

/// A place in a journal.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize,
)]
pub struct Place {
    /// Number of the piece, from 1.
    pub piece: u32,
    /// Byte in it.
    pub byte: u64,
}

/// Why a piece was begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// The one before is large enough.
    Size,
    /// The one before holds a day.
    Day,
    /// The disk could not confirm the one before.
    SyncFailed,
    /// The run goes on in a new process.
    Resume,
    /// The disk took no more, and the rest was put elsewhere.
    Rescue,
}

/// The first record of every piece after the first.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Head {
    /// Number of this piece.
    pub piece: u32,
    /// Why it was begun.
    pub why: Why,
    /// All before this place is confirmed, and what follows it is written again here.
    pub after: Place,
    /// So many records that follow the head may stand behind `after` as well.
    pub again: u64,
}

impl Head {
    /// The head as a record.
    #[must_use]
    pub fn record(&self, t_ns: i64) -> Record {
        Record {
            t_ns,
            port: 0,
            kind: Kind::Piece,
            payload: serde_json::to_vec(self).unwrap_or_default(),
        }
    }

    /// The head that a record states.
    #[must_use]
    pub fn of(record: &Record) -> Option<Self> {
        (record.kind == Kind::Piece).then(|| serde_json::from_slice(&record.payload).ok())?
    }
}

/// Records that neither disk nor memory had room for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Missing {
    /// How many.
    pub records: u64,
    /// Bytes of their payloads.
    pub bytes: u64,
    /// Time of the first, in ns on the run's clock.
    pub from_ns: i64,
    /// Time of the last.
    pub to_ns: i64,
}

impl Missing {
    /// One record.
    #[must_use]
    pub fn one(record: &Record) -> Self {
        Self {
            records: 1,
            bytes: record.payload.len() as u64,
            from_ns: record.t_ns,
            to_ns: record.t_ns,
        }
    }

    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            records: self.records + other.records,
            bytes: self.bytes + other.bytes,
            from_ns: self.from_ns.min(other.from_ns),
            to_ns: self.to_ns.max(other.to_ns),
        }
    }

    /// As a record.
    #[must_use]
    pub fn record(&self) -> Record {
        Record {
            t_ns: self.to_ns,
            port: 0,
            kind: Kind::Missing,
            payload: serde_json::to_vec(self).unwrap_or_default(),
        }
    }

    /// What a record states.
    #[must_use]
    pub fn of(record: &Record) -> Option<Self> {
        (record.kind == Kind::Missing).then(|| serde_json::from_slice(&record.payload).ok())?
    }
}

/// `journal.dmj`, then `journal-0002.dmj` and on.
#[must_use]
pub fn piece_name(piece: u32) -> String {
    match piece {
        0 | 1 => super::FILE_NAME.to_owned(),
        n => format!("journal-{n:04}.dmj"),
    }
}

/// The number of the piece of this name.
#[must_use]
pub fn piece_number(name: &str) -> Option<u32> {
    if name == super::FILE_NAME {
        return Some(1);
    }
    let digits = name.strip_prefix("journal-")?.strip_suffix(".dmj")?;
    let piece: u32 = digits.parse().ok()?;
    (piece_name(piece) == name).then_some(piece)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_have_names_that_sort_and_read_back() {
        for (piece, name) in [
            (1, "journal.dmj"),
            (2, "journal-0002.dmj"),
            (9999, "journal-9999.dmj"),
            (10_000, "journal-10000.dmj"),
        ] {
            assert_eq!(piece_name(piece), name);
            assert_eq!(piece_number(name), Some(piece));
        }
        for other in [
            "journal-0001.dmj",
            "journal-2.dmj",
            "journal-x.dmj",
            "run.toml",
        ] {
            assert_eq!(piece_number(other), None, "{other}");
        }
    }

    #[test]
    fn heads_and_marks_round_trip() {
        let head = Head {
            piece: 2,
            why: Why::SyncFailed,
            after: Place { piece: 1, byte: 77 },
            again: 3,
        };
        assert_eq!(Head::of(&head.record(5)), Some(head.clone()));
        let text = head.record(5).text();
        assert_eq!(
            text,
            r#"{"piece":2,"why":"sync-failed","after":{"piece":1,"byte":77},"again":3}"#
        );
        let lost = Missing::one(&head.record(5)).and(Missing::one(&head.record(9)));
        assert_eq!((lost.records, lost.from_ns, lost.to_ns), (2, 5, 9));
        assert_eq!(Missing::of(&lost.record()), Some(lost));
        assert_eq!(Missing::of(&head.record(5)), None);
    }
}
