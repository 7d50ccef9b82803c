//! Reading all pieces of a journal as one.
//!
//! A piece that was begun because a sync failed repeats records that may also stand in the pieces
//! before it. Its head says from which place on, and how many. Both copies may be damaged, so each
//! record is taken from where it can be read, once.

use std::collections::{BTreeSet, HashMap, VecDeque};
use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::{Path, PathBuf};

use super::piece::{Head, Place, piece_name, piece_number};
use super::reader::{Damage, Item, JournalError, Reader};
use super::{Kind, Record};

/// Of pieces before one whose head cannot be read, so many bytes are kept to tell copies.
const LOOK_BACK: u64 = 16 << 20;

/// Opens pieces by their number.
pub trait Shelf {
    /// A piece that can be read.
    type Piece: BufRead;
    /// Opens a piece.
    ///
    /// # Errors
    /// The system's.
    fn open(&mut self, piece: u32) -> io::Result<(Self::Piece, u64)>;
}

/// The pieces in a run's folder.
#[derive(Debug)]
pub struct FolderShelf(PathBuf);

impl Shelf for FolderShelf {
    type Piece = BufReader<File>;

    fn open(&mut self, piece: u32) -> io::Result<(Self::Piece, u64)> {
        let file = File::open(self.0.join(piece_name(piece)))?;
        let len = file.metadata()?.len();
        Ok((BufReader::with_capacity(1 << 16, file), len))
    }
}

/// What is known of a piece before it is read.
#[derive(Debug, Clone)]
struct Piece {
    number: u32,
    /// Where the records start that it repeats, and how many it may repeat.
    after: Place,
    again: u64,
    /// The first line cannot be read.
    headless: bool,
}

/// Yields the items of a journal in order, from all its pieces.
#[derive(Debug)]
pub struct Pieces<S: Shelf> {
    shelf: S,
    coming: VecDeque<Piece>,
    /// The pieces that there are.
    there: BTreeSet<u32>,
    /// Number of the last piece there is, and its length.
    end: Place,
    current: Option<(Piece, Reader<S::Piece>)>,
    /// Records of the current piece that may be repetitions, still to be read.
    again: u64,
    /// What is read and not given out yet, because a later piece may repeat it.
    held: VecDeque<(Place, Item)>,
    /// The repetitions of the current piece.
    repeated: Vec<(Place, Item)>,
    /// Its head.
    head: Option<(Place, Item)>,
    ready: VecDeque<Item>,
}

impl Pieces<FolderShelf> {
    /// The journal in a run's folder.
    ///
    /// # Errors
    /// [`JournalError`] if its first piece cannot be read or is none.
    pub fn in_folder(folder: &Path) -> Result<Self, JournalError> {
        let failed = |source| JournalError::Io { byte: 0, source };
        let mut numbers = Vec::new();
        for entry in std::fs::read_dir(folder).map_err(failed)? {
            let name = entry.map_err(failed)?.file_name();
            numbers.extend(name.to_str().and_then(piece_number));
        }
        Self::new(FolderShelf(folder.to_owned()), numbers)
    }
}

impl<S: Shelf> Pieces<S> {
    /// The pieces of these numbers.
    ///
    /// # Errors
    /// [`JournalError`] if the first piece cannot be read or is none, or a later one is of a later
    /// version of the format.
    pub fn new(mut shelf: S, mut numbers: Vec<u32>) -> Result<Self, JournalError> {
        numbers.retain(|n| *n > 1);
        numbers.push(1);
        numbers.sort_unstable();
        numbers.dedup();
        let mut coming = VecDeque::new();
        let mut ready = VecDeque::new();
        let mut end = Place { piece: 0, byte: 0 };
        for number in numbers {
            for missing in end.piece + 1..number {
                ready.push_back(Item::Damage(Damage {
                    piece: missing,
                    line: 0,
                    byte: 0,
                    bytes: 0,
                    reason: "this piece is not there",
                }));
            }
            let (piece, len) = look(&mut shelf, number, end)?;
            end = Place {
                piece: number,
                byte: len,
            };
            coming.push_back(piece);
        }
        Ok(Self {
            shelf,
            there: coming.iter().map(|piece: &Piece| piece.number).collect(),
            coming,
            end,
            current: None,
            again: 0,
            held: VecDeque::new(),
            repeated: Vec::new(),
            head: None,
            ready,
        })
    }

    /// Where the journal ends now.
    #[must_use]
    pub fn end(&self) -> Place {
        self.end
    }

    /// The next item, `None` at the end.
    ///
    /// # Errors
    /// [`JournalError::Io`] if a piece cannot be read on.
    pub fn next_item(&mut self) -> Result<Option<Item>, JournalError> {
        loop {
            // Missing pieces come first in `ready`, but nothing comes before the journal's setup.
            if self.current.is_some()
                && let Some(item) = self.ready.pop_front()
            {
                return Ok(Some(item));
            }
            let Some((piece, reader)) = &mut self.current else {
                if !self.next_piece()? {
                    let rest = self.held.drain(..).map(|(_, item)| item);
                    self.ready.extend(rest);
                    return Ok(self.ready.pop_front());
                }
                continue;
            };
            if let Some(item) = reader.next_item()? {
                let place = Place {
                    piece: piece.number,
                    byte: reader.start(),
                };
                self.take(place, item);
            } else {
                self.settle();
                self.current = None;
            }
        }
    }

    fn next_piece(&mut self) -> Result<bool, JournalError> {
        let Some(piece) = self.coming.pop_front() else {
            return Ok(false);
        };
        let failed = |source| JournalError::Io { byte: 0, source };
        let (input, len) = self.shelf.open(piece.number).map_err(failed)?;
        self.again = piece.again;
        match Reader::piece(input, piece.number) {
            Ok(reader) => self.current = Some((piece, reader)),
            Err(error) if piece.number == 1 => return Err(error),
            // Its first line is damaged: the lines after it may be sound.
            Err(_) if len > 0 => {
                let (mut input, _) = self.shelf.open(piece.number).map_err(failed)?;
                let first = input.skip_until(b'\n').map_err(failed)? as u64;
                let damage = Damage {
                    piece: piece.number,
                    line: 1,
                    byte: 0,
                    bytes: first,
                    reason: "its first line cannot be read",
                };
                let place = Place {
                    piece: piece.number,
                    byte: 0,
                };
                let reader = Reader::headless(input, piece.number, first);
                self.current = Some((piece, reader));
                self.take(place, Item::Damage(damage));
            }
            Err(_) => {}
        }
        Ok(true)
    }

    fn take(&mut self, place: Place, item: Item) {
        if self.again > 0 {
            // The head stands before what it repeats, and belongs behind it.
            if is_head(&item) {
                // As if it stood at the piece's end: what it repeats is behind no place before it.
                let place = Place {
                    byte: u64::MAX,
                    ..place
                };
                self.head = Some((place, item));
                return;
            }
            self.again -= 1;
            self.repeated.push((place, item));
            if self.again == 0 {
                self.settle();
            }
            return;
        }
        self.held.push_back((place, item));
        let later = match self.coming.front() {
            Some(next) if next.again > 0 => next.after,
            _ => Place {
                piece: place.piece,
                byte: u64::MAX,
            },
        };
        if place.piece == later.piece && place.byte < later.byte {
            self.give_out(self.held.len());
        }
    }

    /// The current piece's repetitions are read: one list of the copies is made.
    fn settle(&mut self) {
        self.again = 0;
        let Some((piece, _)) = &self.current else {
            return;
        };
        if !self.repeated.is_empty() {
            let before = held_before(&self.held, piece.after);
            let mut old: Vec<_> = self.held.drain(before..).collect();
            let new = std::mem::take(&mut self.repeated);
            // A copy that is whole makes damage in the other one harmless; not so where the piece
            // that the head speaks of is lost, since then the other one holds more.
            let whole = !piece.headless
                && self.there.contains(&piece.after.piece)
                && new.len() as u64 == piece.again
                && new.iter().all(|(_, item)| matches!(item, Item::Record(_)));
            if whole {
                old.retain(|(_, item)| matches!(item, Item::Record(_)));
            }
            self.held.extend(merged(old, new));
        }
        self.held.extend(self.head.take());
        let upto = match self.coming.front() {
            Some(next) if next.again > 0 => held_before(&self.held, next.after),
            _ => self.held.len(),
        };
        self.give_out(upto);
    }

    /// Gives out the first of what is held, which no later piece repeats.
    fn give_out(&mut self, upto: usize) {
        let done = self.held.drain(..upto).map(|(_, item)| item);
        self.ready.extend(done);
    }
}

fn is_head(item: &Item) -> bool {
    matches!(item, Item::Record(record) if record.kind == Kind::Piece)
}

/// How many of the held items lie before a place. Items of older pieces that stand behind the last
/// one before it are leftovers that are still to be repeated.
fn held_before(held: &VecDeque<(Place, Item)>, place: Place) -> usize {
    held.iter()
        .rposition(|(at, _)| at.piece == place.piece && at.byte < place.byte)
        .map_or(0, |last| last + 1)
}

/// Reads the head of a piece; `end` is where the piece before it ends.
fn look<S: Shelf>(shelf: &mut S, number: u32, end: Place) -> Result<(Piece, u64), JournalError> {
    let failed = |source| JournalError::Io { byte: 0, source };
    let (input, len) = shelf.open(number).map_err(failed)?;
    let unknown = Piece {
        number,
        after: Place {
            byte: end.byte.saturating_sub(LOOK_BACK),
            ..end
        },
        again: u64::MAX,
        headless: true,
    };
    let first = Piece {
        again: 0,
        headless: false,
        ..unknown.clone()
    };
    let mut reader = match Reader::piece(input, number) {
        Ok(reader) => reader,
        Err(error) if number == 1 => return Err(error),
        Err(error @ (JournalError::Newer { .. } | JournalError::Io { .. })) => return Err(error),
        Err(JournalError::NotAJournal { .. }) => return Ok((unknown, len)),
    };
    if number == 1 {
        return Ok((first, len));
    }
    let head = match reader.next_item()? {
        Some(Item::Record(record)) => Head::of(&record),
        _ => None,
    };
    let piece = match head {
        Some(head) => Piece {
            number,
            after: head.after,
            again: head.again,
            headless: false,
        },
        None => unknown,
    };
    Ok((piece, len))
}

/// One list of two that are parts of the same list, each with gaps of its own.
fn merged(old: Vec<(Place, Item)>, new: Vec<(Place, Item)>) -> Vec<(Place, Item)> {
    let mut places: HashMap<&Record, VecDeque<usize>> = HashMap::new();
    for (n, (_, item)) in new.iter().enumerate() {
        if let Item::Record(record) = item {
            places.entry(record).or_default().push_back(n);
        }
    }
    let mut copy_of = |item: &Item, from: usize| -> Option<usize> {
        let Item::Record(record) = item else {
            return None;
        };
        let known = places.get_mut(record)?;
        while known.front().is_some_and(|n| *n < from) {
            known.pop_front();
        }
        known.front().copied()
    };
    // Which of the new ones each old one is, if any, in rising order.
    let mut from = 0;
    let copies: Vec<Option<usize>> = old
        .iter()
        .map(|(_, item)| {
            let copy = copy_of(item, from)?;
            from = copy + 1;
            Some(copy)
        })
        .collect();
    let mut out = Vec::with_capacity(old.len().max(new.len()));
    let mut anchors = copies.iter().flatten().copied().peekable();
    let mut rest = new.into_iter().enumerate().peekable();
    for (item, copy) in old.into_iter().zip(&copies) {
        if let Some(copy) = copy {
            anchors.next();
            while let Some((_, newer)) = rest.next_if(|(n, _)| n <= copy) {
                out.push(newer);
            }
            continue;
        }
        // Between two records that both have, time tells the order of those that one has.
        let anchor = anchors.peek().copied().unwrap_or(usize::MAX);
        let earlier = |newer: &Item| match (newer, &item.1) {
            (Item::Record(newer), Item::Record(older)) if older.kind == Kind::Piece => {
                newer.t_ns <= older.t_ns
            }
            (Item::Record(newer), Item::Record(older)) => newer.t_ns < older.t_ns,
            (_, Item::Record(_)) => true,
            _ => false,
        };
        while let Some((_, newer)) = rest.next_if(|(n, (_, newer))| *n < anchor && earlier(newer)) {
            out.push(newer);
        }
        out.push(item);
    }
    out.extend(rest.map(|(_, newer)| newer));
    out
}

#[cfg(test)]
mod tests;
