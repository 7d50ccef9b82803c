//! A disk in memory for the tests of this room.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io;
use std::rc::Rc;

use super::disk::{Disk, Store};
use super::{Item, Kind, Pieces, Record, Shelf, piece_number};

/// What the tests set and look at while a writer holds the disk.
#[derive(Debug, Default)]
pub(super) struct State {
    pub(super) files: BTreeMap<String, Vec<u8>>,
    /// Bytes that fit in all.
    pub(super) room: usize,
    /// Bytes set aside of it, by file.
    pub(super) reserved: BTreeMap<String, usize>,
    pub(super) cannot_cut: bool,
    pub(super) cannot_reserve: bool,
    /// So many syncs to come fail.
    pub(super) failing_syncs: u32,
    /// So many succeed, and the one after fails.
    pub(super) failing_after: Option<u32>,
    pub(super) cannot_create: bool,
    pub(super) syncs: Vec<String>,
}

impl State {
    fn taken(&self) -> usize {
        let size = |(name, bytes): (&String, &Vec<u8>)| {
            bytes
                .len()
                .max(self.reserved.get(name).copied().unwrap_or(0))
        };
        self.files.iter().map(size).sum()
    }
}

#[derive(Debug, Clone)]
pub(super) struct SmallDisk(pub(super) Rc<RefCell<State>>);

#[derive(Debug)]
pub(super) struct SmallFile {
    name: String,
    disk: Rc<RefCell<State>>,
}

impl SmallDisk {
    pub(super) fn of(room: usize) -> Self {
        Self(Rc::new(RefCell::new(State {
            room,
            cannot_reserve: true,
            ..State::default()
        })))
    }

    pub(super) fn set(&self, change: impl FnOnce(&mut State)) {
        change(&mut self.0.borrow_mut());
    }

    /// Times of the records that are read back, and the number of damaged places.
    pub(super) fn read(&self) -> (Vec<i64>, usize) {
        let numbers: Vec<u32> = self
            .0
            .borrow()
            .files
            .keys()
            .filter_map(|n| piece_number(n))
            .collect();
        let mut pieces = Pieces::new(self.clone(), numbers).unwrap();
        let (mut times, mut damaged) = (Vec::new(), 0);
        while let Some(item) = pieces.next_item().unwrap() {
            match item {
                Item::Record(record) if record.kind == Kind::Piece => {}
                Item::Record(record) => times.push(record.t_ns),
                Item::Damage(_) | Item::TornTail(_) => damaged += 1,
            }
        }
        (times, damaged)
    }
}

impl Disk for SmallDisk {
    type Piece = SmallFile;

    fn create(&mut self, name: &str) -> io::Result<SmallFile> {
        let mut state = self.0.borrow_mut();
        if state.cannot_create {
            return Err(io::ErrorKind::ReadOnlyFilesystem.into());
        }
        if state.files.contains_key(name) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        state.files.insert(name.into(), Vec::new());
        Ok(SmallFile {
            name: name.into(),
            disk: Rc::clone(&self.0),
        })
    }

    fn remove(&mut self, name: &str) -> io::Result<()> {
        self.0.borrow_mut().files.remove(name);
        Ok(())
    }

    fn sync_names(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Store for SmallFile {
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.disk.borrow_mut();
        let len = state.files[&self.name].len();
        let own = state.reserved.get(&self.name).copied().unwrap_or(0);
        let free = state.room.saturating_sub(state.taken()) + own.saturating_sub(len);
        if free == 0 {
            return Err(io::ErrorKind::StorageFull.into());
        }
        let n = bytes.len().min(free);
        let file = state.files.get_mut(&self.name).unwrap();
        file.extend_from_slice(&bytes[..n]);
        Ok(n)
    }

    fn cut(&mut self, len: u64) -> io::Result<()> {
        let mut state = self.disk.borrow_mut();
        if state.cannot_cut {
            return Err(io::ErrorKind::PermissionDenied.into());
        }
        state.reserved.remove(&self.name);
        let file = state.files.get_mut(&self.name).unwrap();
        file.truncate(len as usize);
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.disk.borrow_mut();
        let name = self.name.clone();
        state.syncs.push(name);
        state.failing_after = match state.failing_after {
            Some(0) => {
                state.failing_syncs += 1;
                None
            }
            Some(n) => Some(n - 1),
            None => None,
        };
        if state.failing_syncs > 0 {
            state.failing_syncs -= 1;
            return Err(io::Error::other("input/output error"));
        }
        Ok(())
    }

    fn reserve(&mut self, len: u64) -> io::Result<()> {
        let mut state = self.disk.borrow_mut();
        if state.cannot_reserve {
            return Err(io::ErrorKind::Unsupported.into());
        }
        let now = state.reserved.get(&self.name).copied().unwrap_or(0);
        let now = now.max(state.files[&self.name].len());
        if state.taken() + (len as usize).saturating_sub(now) > state.room {
            return Err(io::ErrorKind::StorageFull.into());
        }
        state.reserved.insert(self.name.clone(), len as usize);
        Ok(())
    }
}

impl Shelf for SmallDisk {
    type Piece = io::Cursor<Vec<u8>>;

    fn open(&mut self, piece: u32) -> io::Result<(Self::Piece, u64)> {
        let bytes = self.0.borrow().files[&super::piece_name(piece)].clone();
        let len = bytes.len() as u64;
        Ok((io::Cursor::new(bytes), len))
    }
}

pub(super) fn record(n: i64) -> Record {
    Record {
        t_ns: n,
        port: 0,
        kind: Kind::Bytes,
        payload: b">1,2,3*0000\n".to_vec(),
    }
}
