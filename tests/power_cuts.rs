//! The plug pulled at every step of the journal's writer, on a disk that keeps what it likes of what
//! was not synced: dropped, torn and reordered sectors, names that vanish, syncs that fail, room
//! that runs out.
//!
//! The disk is a model. What a sync confirmed stays; of everything else each sector of 512 bytes is
//! there or not, by the throw of a seeded coin, and a file may be longer than what arrived in it,
//! with zeros between. A sync that fails drops the pages it was about, which later syncs then
//! pass over in silence while reading still shows them (Rebello et al., "Can Applications Recover
//! from fsync Failures?", USENIX ATC 2020, for ext4, XFS and Btrfs).
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io;
use std::rc::Rc;

use duskmark::journal::{
    Disk, Item, Kind, Limits, Pieces, Record, Shelf, Store, Trouble, Writer, piece_name,
    piece_number,
};

const SECTOR: usize = 512;

/// A small generator of our own: the states must be the same on every machine.
#[derive(Debug)]
struct Coin(u64);

impl Coin {
    /// `SplitMix64` (Steele, Lea, Flood 2014).
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

/// A file: what the system shows, what the disk has, and which sectors differ.
#[derive(Debug, Clone, Default)]
struct Inode {
    shown: Vec<u8>,
    kept: Vec<u8>,
    /// Sectors that the system means to write; those that a failed sync dropped are no longer.
    dirty: std::collections::BTreeSet<usize>,
    name_kept: bool,
}

#[derive(Debug)]
struct Model {
    files: BTreeMap<String, Inode>,
    coin: Coin,
    /// One in so many syncs fails, and one in so many writes finds no room.
    sync_fails: usize,
    write_fails: usize,
    /// States of the disk at each step, with what was confirmed by then.
    steps: Vec<(BTreeMap<String, Inode>, usize)>,
    confirmed: usize,
}

impl Model {
    fn step(&mut self) {
        self.steps.push((self.files.clone(), self.confirmed));
    }
}

#[derive(Debug, Clone)]
struct Bench(Rc<RefCell<Model>>);

#[derive(Debug)]
struct Handle(String, Rc<RefCell<Model>>);

impl Disk for Bench {
    type Piece = Handle;

    fn create(&mut self, name: &str) -> io::Result<Handle> {
        let mut model = self.0.borrow_mut();
        assert!(
            !model.files.contains_key(name),
            "{name} is there: never touched"
        );
        model.files.insert(name.into(), Inode::default());
        model.step();
        Ok(Handle(name.into(), Rc::clone(&self.0)))
    }

    fn remove(&mut self, name: &str) -> io::Result<()> {
        self.0.borrow_mut().files.remove(name);
        Ok(())
    }

    fn sync_names(&mut self) -> io::Result<()> {
        let mut model = self.0.borrow_mut();
        for inode in model.files.values_mut() {
            inode.name_kept = true;
        }
        model.step();
        Ok(())
    }
}

impl Store for Handle {
    fn append(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut model = self.1.borrow_mut();
        let fails = model.write_fails;
        let full = fails > 0 && model.coin.below(fails) == 0;
        let n = if full {
            // Half of the time nothing fits at all.
            model.coin.below(bytes.len()) * model.coin.below(2)
        } else {
            bytes.len()
        };
        let inode = model.files.get_mut(&self.0).unwrap();
        let from = inode.shown.len();
        inode.shown.extend_from_slice(&bytes[..n]);
        if n > 0 {
            inode.dirty.extend(from / SECTOR..=(from + n - 1) / SECTOR);
        }
        model.step();
        if n == 0 {
            return Err(io::ErrorKind::StorageFull.into());
        }
        Ok(n)
    }

    fn cut(&mut self, len: u64) -> io::Result<()> {
        let mut model = self.1.borrow_mut();
        let inode = model.files.get_mut(&self.0).unwrap();
        inode.shown.truncate(len as usize);
        model.step();
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut model = self.1.borrow_mut();
        let fails = model.sync_fails;
        let failed = fails > 0 && model.coin.below(fails) == 0;
        let dropped: Vec<bool> = (0..4096).map(|_| model.coin.below(2) == 0).collect();
        let inode = model.files.get_mut(&self.0).unwrap();
        // Whatever comes of it, the pages are clean afterwards.
        for sector in std::mem::take(&mut inode.dirty) {
            if !(failed && dropped[sector % 4096]) {
                keep(inode, sector);
            }
        }
        if inode.kept.len() > inode.shown.len() {
            inode.kept.truncate(inode.shown.len());
        }
        model.step();
        if failed {
            return Err(io::Error::other("input/output error"));
        }
        Ok(())
    }

    fn reserve(&mut self, _len: u64) -> io::Result<()> {
        Err(io::ErrorKind::Unsupported.into())
    }
}

/// A sector arrives on the disk.
fn keep(inode: &mut Inode, sector: usize) {
    let from = sector * SECTOR;
    let upto = inode.shown.len().min(from + SECTOR);
    if from >= upto {
        return;
    }
    if inode.kept.len() < upto {
        inode.kept.resize(upto, 0);
    }
    inode.kept[from..upto].copy_from_slice(&inode.shown[from..upto]);
}

/// What is found after the plug was pulled at this step.
fn after_the_cut(files: &BTreeMap<String, Inode>, coin: &mut Coin) -> BTreeMap<u32, Vec<u8>> {
    let mut found = BTreeMap::new();
    for (name, inode) in files {
        if !inode.name_kept && coin.below(2) == 0 {
            continue;
        }
        let mut inode = inode.clone();
        let dirty = std::mem::take(&mut inode.dirty);
        let mode = coin.below(4);
        for sector in dirty {
            let arrives = match mode {
                0 => false,
                1 => true,
                _ => coin.below(2) == 0,
            };
            if arrives {
                keep(&mut inode, sector);
            }
        }
        // The size may arrive without the bytes.
        if coin.below(4) == 0 && inode.kept.len() < inode.shown.len() {
            inode.kept.resize(inode.shown.len(), 0);
        }
        found.insert(piece_number(name).unwrap(), inode.kept);
    }
    found
}

#[derive(Debug)]
struct Found(BTreeMap<u32, Vec<u8>>);

impl Shelf for Found {
    type Piece = io::Cursor<Vec<u8>>;

    fn open(&mut self, piece: u32) -> io::Result<(Self::Piece, u64)> {
        let bytes = self.0.get(&piece).ok_or(io::ErrorKind::NotFound)?.clone();
        let len = bytes.len() as u64;
        Ok((io::Cursor::new(bytes), len))
    }
}

fn record(n: usize, coin: &mut Coin) -> Record {
    let mut payload = format!("{n},").into_bytes();
    payload.extend((0..coin.below(120)).map(|_| b' ' + coin.below(94) as u8));
    payload.push(b'\n');
    Record {
        t_ns: i64::try_from(n).unwrap(),
        port: 0,
        kind: Kind::Bytes,
        payload,
    }
}

#[derive(Debug, Default)]
struct Tally {
    states: usize,
    cuts: usize,
    records_confirmed: usize,
    records_more: usize,
    moved: usize,
    held: usize,
    damaged: usize,
    lost: usize,
    wrong: usize,
}

/// Writes a run of records on a disk of that kind, then pulls the plug at each of its steps.
fn campaign(seed: u64, sync_fails: usize, write_fails: usize, tally: &mut Tally) {
    let model = Rc::new(RefCell::new(Model {
        files: BTreeMap::new(),
        coin: Coin(seed),
        sync_fails: 0,
        write_fails: 0,
        steps: Vec::new(),
        confirmed: 0,
    }));
    let limits = Limits {
        piece_bytes: 3000,
        ..Limits::default()
    };
    let mut writer = Writer::create(Bench(Rc::clone(&model)), limits).unwrap();
    writer.sync().unwrap();
    model.borrow_mut().sync_fails = sync_fails;
    model.borrow_mut().write_fails = write_fails;
    let mut coin = Coin(seed ^ 0xfeed);
    let mut given = Vec::new();
    for _ in 0..40 {
        for _ in 0..=coin.below(3) {
            let next = record(given.len(), &mut coin);
            writer.push(&next);
            given.push(next);
            tally.held += usize::from(matches!(writer.flush(), Err(Trouble::Holding { .. })));
        }
        let confirmed = match writer.sync() {
            Ok(()) => true,
            Err(Trouble::Moved { .. }) => {
                tally.moved += 1;
                true
            }
            Err(_) => false,
        };
        if confirmed {
            model.borrow_mut().confirmed = given.len();
        }
    }
    let steps = std::mem::take(&mut model.borrow_mut().steps);
    let mut coin = Coin(seed ^ 0xc07);
    for (files, confirmed) in &steps {
        tally.cuts += 1;
        for _ in 0..3 {
            check(after_the_cut(files, &mut coin), *confirmed, &given, tally);
        }
    }
}

fn check(found: BTreeMap<u32, Vec<u8>>, confirmed: usize, given: &[Record], tally: &mut Tally) {
    tally.states += 1;
    let numbers: Vec<u32> = found.keys().copied().collect();
    let names: Vec<String> = numbers.iter().map(|n| piece_name(*n)).collect();
    let mut read = Vec::new();
    match Pieces::new(Found(found), numbers) {
        Ok(mut pieces) => {
            while let Some(item) = pieces.next_item().unwrap() {
                match item {
                    Item::Record(record) if record.kind == Kind::Piece => {}
                    Item::Record(record) => read.push(record),
                    Item::Damage(_) | Item::TornTail(_) => tally.damaged += 1,
                }
            }
        }
        // Before the first sync there may be nothing at all.
        Err(_) if confirmed == 0 => {}
        Err(error) => panic!("{error} in {names:?}"),
    }
    // Each record that is read was given, unchanged, once, in its order.
    let mut next = 0;
    for record in &read {
        let n = usize::try_from(record.t_ns).unwrap();
        if n < next || given.get(n) != Some(record) {
            tally.wrong += 1;
        }
        next = n + 1;
    }
    let kept = read
        .iter()
        .filter(|r| usize::try_from(r.t_ns).is_ok_and(|n| n < confirmed));
    let kept = kept.count();
    tally.lost += confirmed.saturating_sub(kept);
    tally.records_confirmed += confirmed;
    tally.records_more += read.len() - kept;
}

#[test]
fn no_cut_of_the_power_costs_a_confirmed_record_or_makes_a_wrong_one() {
    let runs: u64 = std::env::var("DUSKMARK_POWER_RUNS").map_or(100, |n| n.parse().unwrap());
    let mut all = Tally::default();
    for (kind, sync_fails, write_fails) in [
        ("sound disk", 0, 0),
        ("failing syncs", 4, 0),
        ("full now and then", 0, 6),
        ("both", 4, 6),
    ] {
        let mut tally = Tally::default();
        for seed in 0..runs {
            campaign(seed * 977 + 1, sync_fails, write_fails, &mut tally);
        }
        println!(
            "{kind}: {} states of {} cuts; {} confirmed records looked for, {} lost, {} wrong; \
             {} more were there; {} moves to a new piece, {} writes held back",
            tally.states,
            tally.cuts,
            tally.records_confirmed,
            tally.lost,
            tally.wrong,
            tally.records_more,
            tally.moved,
            tally.held
        );
        assert_eq!((tally.lost, tally.wrong), (0, 0), "{kind}: {tally:#?}");
        assert!(tally.damaged > 0, "{kind}: the cuts did nothing");
        assert_eq!(tally.moved > 0, sync_fails > 0, "{kind}");
        assert_eq!(tally.held > 0, write_fails > 0, "{kind}");
        all.states += tally.states;
    }
    assert!(all.states >= 5000, "only {} states", all.states);
    println!("{} states in all", all.states);
}

/// The check itself must be able to fail: a writer that trusts a second sync loses records here.
#[test]
fn the_model_takes_what_a_trusting_writer_would_lose() {
    let model = Rc::new(RefCell::new(Model {
        files: BTreeMap::new(),
        coin: Coin(3),
        sync_fails: 1,
        write_fails: 0,
        steps: Vec::new(),
        confirmed: 0,
    }));
    let mut disk = Bench(Rc::clone(&model));
    let mut file = disk.create("journal.dmj").unwrap();
    disk.sync_names().unwrap();
    let text = vec![b'x'; 20 * SECTOR];
    assert_eq!(file.append(&text).unwrap(), text.len());
    assert!(file.sync().is_err());
    model.borrow_mut().sync_fails = 0;
    file.sync().unwrap();
    let files = model.borrow().files.clone();
    assert_eq!(files["journal.dmj"].shown, text, "reading shows it");
    let found = after_the_cut(&files, &mut Coin(1));
    assert_ne!(found[&1], text, "and the disk does not have it");
}
