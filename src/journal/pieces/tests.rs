//! Pieces that repeat each other, with damage in either copy.

use proptest::prelude::*;

use super::super::testing::{SmallDisk, record};
use super::super::{Limits, MAGIC, Why, Writer};
use super::*;

fn file(head: Option<Head>, times: impl IntoIterator<Item = i64>) -> Vec<u8> {
    let mut bytes = format!("{MAGIC}\n").into_bytes();
    if let Some(head) = head {
        head.record(0).encode(&mut bytes);
    }
    for n in times {
        record(n).encode(&mut bytes);
    }
    bytes
}

fn head(piece: u32, after: Place, again: u64) -> Head {
    Head {
        piece,
        why: Why::SyncFailed,
        after,
        again,
    }
}

/// Two pieces: records 0..10, of which 4..10 are in doubt, then 4..15.
fn twice() -> SmallDisk {
    let disk = SmallDisk::of(0);
    let after = Place {
        piece: 1,
        byte: file(None, 0..4).len() as u64,
    };
    disk.set(|d| {
        d.files.insert("journal.dmj".into(), file(None, 0..10));
        let again = file(Some(head(2, after, 6)), 4..15);
        d.files.insert("journal-0002.dmj".into(), again);
    });
    disk
}

#[test]
fn a_piece_that_was_only_created_is_no_damage() {
    let disk = SmallDisk::of(0);
    disk.set(|d| {
        d.files.insert("journal.dmj".into(), file(None, 0..10));
        d.files.insert("journal-0002.dmj".into(), Vec::new());
    });
    assert_eq!(disk.read(), ((0..10).collect(), 0));
    disk.set(|d| d.files.get_mut("journal-0002.dmj").unwrap().push(b'x'));
    assert_eq!(disk.read(), ((0..10).collect(), 1));
}

#[test]
fn what_no_later_piece_repeats_is_not_held() {
    let disk = SmallDisk::of(0);
    let after = Place {
        piece: 1,
        byte: file(None, 0..490).len() as u64,
    };
    disk.set(|d| {
        d.files.insert("journal.dmj".into(), file(None, 0..500));
        let again = file(Some(head(2, after, 10)), 490..1000);
        d.files.insert("journal-0002.dmj".into(), again);
    });
    let mut pieces = Pieces::new(disk, vec![1, 2]).unwrap();
    let mut most = 0;
    while pieces.next_item().unwrap().is_some() {
        most = most.max(pieces.held.len() + pieces.ready.len());
    }
    // What is in doubt at the end of the first piece, and the head of the second.
    assert!((10..=12).contains(&most), "{most} items were held at once");
}

fn spoil(disk: &SmallDisk, name: &str, at: usize) {
    disk.set(|d| d.files.get_mut(name).unwrap()[at] ^= 0x10);
}

#[test]
fn what_stands_twice_is_read_once_from_either_copy() {
    assert_eq!(twice().read(), ((0..15).collect(), 0));
    let old = twice().0.borrow().files["journal.dmj"].len();
    let new = twice().0.borrow().files["journal-0002.dmj"].len();
    let second = file(None, []).len() + 60;
    for at in file(None, 0..4).len()..old {
        let disk = twice();
        spoil(&disk, "journal.dmj", at);
        assert_eq!(disk.read(), ((0..15).collect(), 0), "byte {at}");
    }
    let repeated = new - (file(None, 10..15).len() - file(None, []).len());
    // Without the last line end: spoilt, it joins a record to the next, which stands here only.
    for at in second..repeated - 1 {
        let disk = twice();
        spoil(&disk, "journal-0002.dmj", at);
        let (times, _) = disk.read();
        assert_eq!(times, (0..15).collect::<Vec<_>>(), "byte {at}");
    }
}

#[test]
fn a_second_copy_cut_anywhere_costs_only_what_was_never_confirmed() {
    let new = twice().0.borrow().files["journal-0002.dmj"].len();
    for cut in 0..new {
        let disk = twice();
        disk.set(|d| d.files.get_mut("journal-0002.dmj").unwrap().truncate(cut));
        let (times, damaged) = disk.read();
        assert!(
            (10..=15).contains(&times.len()) && damaged <= 2,
            "cut {cut}: {times:?}"
        );
        assert_eq!(
            times,
            (0..15).take(times.len()).collect::<Vec<_>>(),
            "cut {cut}"
        );
    }
}

#[test]
fn a_spoilt_head_still_gives_each_record_once() {
    for at in 0..file(Some(head(2, Place { piece: 1, byte: 99 }, 6)), []).len() - 1 {
        let disk = twice();
        spoil(&disk, "journal-0002.dmj", at);
        let mut pieces = Pieces::new(disk.clone(), vec![1, 2]);
        // A digit of the version may turn it into a later one, which is refused in words.
        if let Err(error) = &mut pieces {
            assert!(matches!(error, JournalError::Newer { .. }), "{error}");
            continue;
        }
        assert_eq!(disk.read().0, (0..15).collect::<Vec<_>>(), "byte {at}");
    }
}

proptest! {
    #[test]
    fn two_parts_of_a_list_make_what_either_has(
        keep in proptest::collection::vec((any::<bool>(), any::<bool>()), 0..60),
    ) {
        let part = |pick: fn(&(bool, bool)) -> bool, piece| -> Vec<(Place, Item)> {
            (0..)
                .zip(&keep)
                .filter(|(_, both)| pick(both))
                .map(|(n, _)| (Place { piece, byte: 0 }, Item::Record(record(n))))
                .collect()
        };
        let both = merged(part(|k| k.0, 1), part(|k| k.1, 2));
        let times: Vec<i64> = both
            .iter()
            .map(|(_, item)| match item {
                Item::Record(record) => record.t_ns,
                _ => -1,
            })
            .collect();
        let all: Vec<i64> = (0..)
            .zip(&keep)
            .filter(|(_, k)| k.0 || k.1)
            .map(|(n, _)| n)
            .collect();
        prop_assert_eq!(&times, &all);
    }
}

#[test]
fn failing_syncs_and_full_disks_in_any_order_lose_nothing() {
    // Every pattern of eight syncs that fail or not, on a disk that is full for a while or not.
    let mut tried = 0;
    for pattern in 0..256_u32 {
        for full_from in [None, Some(3), Some(6)] {
            let disk = SmallDisk::of(1_000_000);
            let mut writer = Writer::create(disk.clone(), Limits::default()).unwrap();
            let mut n = 0;
            for step in 0..12_u32 {
                let full = full_from.is_some_and(|from| (from..from + 3).contains(&step));
                disk.set(|d| {
                    let used: usize = d.files.values().map(Vec::len).sum();
                    d.room = if full { used + 70 } else { 1_000_000 };
                    d.failing_syncs = if step < 8 { pattern >> step & 1 } else { 0 };
                });
                for _ in 0..3 {
                    writer.push(&record(n));
                    n += 1;
                    let _ = writer.flush();
                }
                let _ = writer.sync();
            }
            let (times, damaged) = disk.read();
            assert_eq!(
                times,
                (0..n).collect::<Vec<_>>(),
                "{pattern:b} {full_from:?}"
            );
            assert_eq!(damaged, 0, "{pattern:b} {full_from:?}");
            tried += 1;
        }
    }
    assert_eq!(tried, 768);
}
