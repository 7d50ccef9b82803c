//! The writer on a disk that is full, fails, or both.

use super::super::Kind;
use super::super::testing::{SmallDisk, record};
use super::*;

fn writer(disk: &SmallDisk) -> Writer<SmallDisk> {
    Writer::create(disk.clone(), Limits::default()).unwrap()
}

fn put<D: Disk>(writer: &mut Writer<D>, n: i64) -> Result<(), Trouble> {
    writer.push(&record(n));
    writer.flush()
}

#[test]
fn a_full_disk_holds_records_back_and_takes_them_when_there_is_room() {
    for cannot_cut in [false, true] {
        for room in 20..150 {
            let disk = SmallDisk::of(room);
            disk.set(|d| d.cannot_cut = cannot_cut);
            let mut writer = writer(&disk);
            let held = (0..6).filter(|&n| put(&mut writer, n).is_err()).count();
            assert!(held >= 2, "room {room}");
            disk.set(|d| d.room = d.files["journal.dmj"].len() + 20);
            let _ = put(&mut writer, 6);
            disk.set(|d| d.room = 10_000);
            put(&mut writer, 7).unwrap();
            let (found, damaged) = disk.read();
            assert_eq!(found, [0, 1, 2, 3, 4, 5, 6, 7], "room {room}");
            assert!(cannot_cut || damaged == 0, "room {room}");
        }
    }
}

#[test]
fn what_neither_disk_nor_memory_takes_is_marked_where_it_is_missing() {
    let disk = SmallDisk::of(200);
    let limits = Limits {
        most_held: 300,
        ..Limits::default()
    };
    let mut writer = Writer::create(disk.clone(), limits).unwrap();
    let mut lost = 0;
    for n in 0..40 {
        if let Err(Trouble::Holding { lost: so_far, .. }) = put(&mut writer, n) {
            lost = so_far;
        }
    }
    assert!(lost > 20, "{lost}");
    disk.set(|d| d.room = 100_000);
    put(&mut writer, 40).unwrap();
    put(&mut writer, 41).unwrap();
    let text = String::from_utf8(disk.0.borrow().files["journal.dmj"].clone()).unwrap();
    let marks: Vec<Missing> = text
        .lines()
        .filter_map(|line| Missing::of(&Record::decode(line.as_bytes()).ok()??))
        .collect();
    // What came before the bound was passed is there, and what came after; between them the mark.
    assert_eq!(marks.len(), 1);
    assert_eq!(marks[0].records, lost + 1);
    let (times, damaged) = disk.read();
    assert_eq!(damaged, 0);
    assert_eq!(times.last(), Some(&41));
    let before: Vec<i64> = (0..marks[0].from_ns).collect();
    assert_eq!(times[..before.len()], before);
}

#[test]
fn what_happened_finds_room_in_memory_where_speech_does_not() {
    let disk = SmallDisk::of(200);
    let limits = Limits {
        most_held: 300,
        ..Limits::default()
    };
    let mut writer = Writer::create(disk.clone(), limits).unwrap();
    for n in 0..40 {
        let _ = put(&mut writer, n);
    }
    let mut note = record(40);
    note.kind = Kind::Note;
    writer.push(&note);
    disk.set(|d| d.room = 100_000);
    writer.flush().unwrap();
    let (times, _) = disk.read();
    assert_eq!(times.last(), Some(&40), "{times:?}");
}

#[test]
fn a_sync_is_wanted_when_half_of_the_memory_is_used_and_makes_clean() {
    let disk = SmallDisk::of(100_000);
    let one = {
        let mut line = Vec::new();
        record(1).encode(&mut line);
        line.len()
    };
    let limits = Limits {
        most_held: 8 * one,
        ..Limits::default()
    };
    let mut writer = Writer::create(disk.clone(), limits).unwrap();
    writer.sync().unwrap();
    assert!(!writer.is_dirty() && !writer.wants_sync());
    for n in 1..=4 {
        put(&mut writer, n).unwrap();
        assert!(writer.is_dirty() && !writer.wants_sync(), "record {n}");
    }
    put(&mut writer, 5).unwrap();
    assert!(writer.wants_sync());
    writer.sync().unwrap();
    assert!(!writer.is_dirty() && !writer.wants_sync());
    // A record that waits for room is not safe either.
    disk.set(|d| d.room = d.files["journal.dmj"].len());
    put(&mut writer, 6).unwrap_err();
    assert!(writer.is_dirty());
}

#[test]
fn a_sync_that_fails_is_never_retried_on_its_file() {
    let disk = SmallDisk::of(100_000);
    let mut writer = writer(&disk);
    put(&mut writer, 1).unwrap();
    writer.sync().unwrap();
    put(&mut writer, 2).unwrap();
    disk.set(|d| d.failing_syncs = 1);
    let told = writer.sync().unwrap_err();
    let Trouble::Moved { records, piece, .. } = &told else {
        panic!("{told:?}");
    };
    assert_eq!((*records, *piece), (1, 2));
    assert!(told.to_string().contains("journal-0002.dmj"), "{told}");
    put(&mut writer, 3).unwrap();
    writer.sync().unwrap();
    assert_eq!(
        disk.0.borrow().syncs,
        [
            "journal.dmj",
            "journal.dmj",
            "journal-0002.dmj",
            "journal-0002.dmj"
        ]
    );
    assert_eq!(disk.read(), (vec![1, 2, 3], 0));
    // The page that the failed sync was about is gone after a power cut; nothing else is.
    disk.set(|d| {
        let old = d.files.get_mut("journal.dmj").unwrap();
        let len = old.len();
        old[len - 30..].fill(0);
    });
    assert_eq!(disk.read().0, [1, 2, 3]);
}

#[test]
fn a_disk_that_confirms_nothing_is_told_of_until_it_does() {
    let disk = SmallDisk::of(100_000);
    let mut writer = writer(&disk);
    writer.sync().unwrap();
    disk.set(|d| d.failing_syncs = 4);
    let mut told = Vec::new();
    for n in 0..60 {
        let _ = put(&mut writer, n);
        told.push(match writer.sync() {
            Ok(()) => "ok",
            Err(Trouble::NotSynced { .. }) => "not",
            Err(Trouble::Moved { .. }) => "moved",
            Err(other) => panic!("{other:?}"),
        });
    }
    assert_eq!(told[0], "not");
    assert_eq!(told.iter().filter(|t| **t == "moved").count(), 1);
    assert_eq!(told.last(), Some(&"ok"));
    // No file was asked again after it had failed.
    let state = disk.0.borrow();
    let failed = &state.syncs[1..5];
    assert_eq!(
        failed,
        [
            "journal.dmj",
            "journal-0002.dmj",
            "journal-0003.dmj",
            "journal-0004.dmj"
        ]
    );
    assert!(
        state.syncs[5..]
            .iter()
            .all(|name| name == "journal-0005.dmj")
    );
    drop(state);
    assert_eq!(disk.read(), ((0..60).collect(), 0));
}

#[test]
fn a_journal_that_cannot_begin_a_new_piece_goes_on_in_the_old_one_and_says_so() {
    let disk = SmallDisk::of(100_000);
    let mut writer = writer(&disk);
    writer.sync().unwrap();
    put(&mut writer, 1).unwrap();
    disk.set(|d| {
        d.failing_syncs = 1;
        d.cannot_create = true;
    });
    for n in 2..9 {
        assert!(matches!(writer.sync(), Err(Trouble::NotSynced { .. })));
        assert!(matches!(
            put(&mut writer, n),
            Err(Trouble::NotSynced { .. })
        ));
    }
    assert_eq!(disk.read(), ((1..9).collect(), 0));
    let (name, rest) = writer.rest();
    assert_eq!(name, "journal-0002.dmj");
    // What is not confirmed can be put beside it, and is read once.
    disk.set(|d| drop(d.files.insert(name, rest)));
    assert_eq!(disk.read(), ((1..9).collect(), 0));
}

#[test]
fn long_journals_come_in_pieces() {
    let disk = SmallDisk::of(1_000_000);
    let limits = Limits {
        piece_bytes: 400,
        ..Limits::default()
    };
    let mut writer = Writer::create(disk.clone(), limits).unwrap();
    for n in 0..50 {
        put(&mut writer, n).unwrap();
        writer.sync().unwrap();
    }
    let state = disk.0.borrow();
    assert!(state.files.len() > 5, "{}", state.files.len());
    assert!(state.files.values().all(|bytes| bytes.len() < 600));
    drop(state);
    assert_eq!(disk.read(), ((0..50).collect(), 0));
    // A piece that is lost is damage, and the rest is read.
    disk.set(|d| drop(d.files.remove("journal-0003.dmj")));
    let (times, damaged) = disk.read();
    assert_eq!(damaged, 1);
    assert!(times.len() > 30 && times.last() == Some(&49), "{times:?}");
}

#[test]
fn a_day_is_a_piece_if_it_is_worth_one() {
    let disk = SmallDisk::of(1_000_000);
    let limits = Limits {
        day_ns: 100,
        day_bytes: 300,
        ..Limits::default()
    };
    let mut writer = Writer::create(disk.clone(), limits).unwrap();
    for n in 0..400 {
        put(&mut writer, n).unwrap();
        writer.sync().unwrap();
    }
    assert_eq!(disk.0.borrow().files.len(), 4);
    assert_eq!(disk.read(), ((0..400).collect(), 0));
}

#[test]
fn room_is_set_aside_so_that_a_full_disk_still_takes_the_end() {
    let disk = SmallDisk::of(600 << 10);
    disk.set(|d| d.cannot_reserve = false);
    let mut writer = writer(&disk);
    let mut first_told = None;
    let mut n = 0;
    loop {
        match put(&mut writer, n) {
            Ok(()) => {}
            Err(Trouble::Nearly { .. }) => {
                first_told.get_or_insert(n);
            }
            Err(Trouble::Holding { .. }) => break,
            Err(other) => panic!("{other:?}"),
        }
        n += 1;
    }
    // Told while there was still room, and the end fits.
    assert!(
        first_told.is_some_and(|told| told < n),
        "{first_told:?} {n}"
    );
    let mut end = record(n + 1);
    end.kind = Kind::End;
    writer.push(&end);
    let _ = writer.finish();
    let (times, damaged) = disk.read();
    assert_eq!(damaged, 0);
    assert_eq!(times, (0..=n + 1).collect::<Vec<_>>());
    assert!(disk.0.borrow().files["journal.dmj"].len() > 590 << 10);
}

#[test]
fn an_end_without_any_room_elsewhere_says_what_is_missing() {
    let disk = SmallDisk::of(300 << 10);
    disk.set(|d| d.cannot_reserve = false);
    let mut writer = writer(&disk);
    for n in 0..20_000 {
        let _ = put(&mut writer, n);
    }
    let mut end = record(20_000);
    end.kind = Kind::End;
    writer.push(&end);
    assert!(matches!(writer.finish(), Err(Trouble::Holding { .. })));
    writer.give_up(&end).unwrap();
    let text = String::from_utf8(disk.0.borrow().files["journal.dmj"].clone()).unwrap();
    let last: Vec<&str> = text.lines().rev().take(2).collect();
    assert!(
        last[0].contains(" end ") && last[1].contains(" missing "),
        "{last:?}"
    );
}

#[test]
fn an_existing_journal_is_never_touched() {
    let folder = tempfile::tempdir().unwrap();
    let open = || Writer::create(Folder::new(folder.path()), Limits::default());
    let mut writer = open().unwrap();
    put(&mut writer, 1).unwrap();
    writer.sync().unwrap();
    let before = std::fs::read(folder.path().join("journal.dmj")).unwrap();
    assert_eq!(open().unwrap_err().kind(), io::ErrorKind::AlreadyExists);
    let last = writer.place();
    drop(writer);
    // Going on leaves the old piece as it is, torn or not.
    let disk = Folder::new(folder.path());
    let mut writer = Writer::resume(disk, Limits::default(), last, 2).unwrap();
    put(&mut writer, 2).unwrap();
    writer.sync().unwrap();
    assert_eq!(
        std::fs::read(folder.path().join("journal.dmj")).unwrap(),
        before
    );
    assert!(folder.path().join("journal-0002.dmj").exists());
}

/// Answers each call as it was told to.
#[derive(Debug)]
struct Told(Vec<Result<usize, io::ErrorKind>>);

impl Store for Told {
    fn append(&mut self, _bytes: &[u8]) -> io::Result<usize> {
        Ok(self.0.remove(0)?)
    }

    fn cut(&mut self, _len: u64) -> io::Result<()> {
        Ok(())
    }

    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }

    fn reserve(&mut self, _len: u64) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_write_goes_on_after_a_signal_and_ends_at_a_refusal() {
    use io::ErrorKind::{Interrupted, StorageFull, WriteZero};
    for (answers, done, error) in [
        (
            vec![Err(Interrupted), Ok(3), Err(Interrupted), Ok(4)],
            7,
            None,
        ),
        (vec![Ok(3), Err(StorageFull)], 3, Some(StorageFull)),
        (vec![Ok(2), Ok(0)], 2, Some(WriteZero)),
    ] {
        let (n, result) = write_all(&mut Told(answers), b"1234567");
        assert_eq!((n, result.err().map(|e| e.kind())), (done, error));
    }
}

#[test]
fn a_run_that_ends_lets_go_of_its_room_and_what_is_clean_is_not_synced_again() {
    let disk = SmallDisk::of(1_000_000);
    disk.set(|d| d.cannot_reserve = false);
    let mut writer = writer(&disk);
    put(&mut writer, 1).unwrap();
    assert!(!disk.0.borrow().reserved.is_empty());
    writer.sync().unwrap();
    let syncs = disk.0.borrow().syncs.len();
    writer.sync().unwrap();
    assert_eq!(disk.0.borrow().syncs.len(), syncs);
    writer.finish().unwrap();
    assert!(disk.0.borrow().reserved.is_empty());
}
