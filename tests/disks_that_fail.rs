//! Logging on disks that are full or do not answer: no row is lost, and people are told.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(target_os = "linux")]

mod support;

use std::os::unix::net::UnixDatagram;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

/// A file system of its own, as only the root user may make one.
struct Mounted(PathBuf);

impl Mounted {
    /// None where this may not be done.
    #[expect(clippy::print_stdout, reason = "a test that cannot run says so")]
    fn new(at: PathBuf, words: &[&str]) -> Option<Self> {
        std::fs::create_dir(&at).unwrap();
        let mut command = Command::new("mount");
        let status = command.args(words).arg(&at).stderr(Stdio::null()).status();
        if status.is_ok_and(|status| status.success()) {
            return Some(Self(at));
        }
        println!("not run: needs the root user and mount {words:?}");
        None
    }

    /// A disk of 16 MB in a file, mounted with these options.
    #[expect(clippy::print_stdout, reason = "a test that cannot run says so")]
    fn image(folder: &Path, options: &str) -> Option<Self> {
        let image = folder.join("image");
        let file = std::fs::File::create(&image).unwrap();
        file.set_len(16 << 20).unwrap();
        let made = Command::new("mkfs.ext4").arg("-q").arg(&image).status();
        if !made.is_ok_and(|status| status.success()) {
            println!("not run: needs mkfs.ext4");
            return None;
        }
        let source = image.to_str().unwrap();
        Self::new(folder.join("disk"), &["-o", options, source])
    }

    fn freeze(&self, how: &str) -> bool {
        let mut command = Command::new("fsfreeze");
        command.arg(how).arg(&self.0).stderr(Stdio::null());
        command.status().is_ok_and(|status| status.success())
    }
}

/// Thaws a frozen disk whatever happens: what waits for it cannot even be killed.
struct Thaw<'a>(&'a Mounted);

impl Drop for Thaw<'_> {
    fn drop(&mut self) {
        self.0.freeze("--unfreeze");
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        self.freeze("--unfreeze");
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

/// Sequence numbers of the sample lines in a run's rows: none may be missing.
#[track_caller]
fn assert_no_row_is_missing(run_folder: &Path, least: usize) {
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert_times_rise(&rows);
    assert!(rows.rows.len() >= least, "{} rows", rows.rows.len());
    for flags in rows.column("flags") {
        assert!(!flags.contains("lost") && !flags.contains("gap"), "{flags}");
    }
}

#[test]
fn a_full_disk_is_bridged_in_memory_until_there_is_room() {
    let folder = tempfile::tempdir().unwrap();
    let Some(disk) = Mounted::new(
        folder.path().join("small"),
        &["-t", "tmpfs", "-o", "size=600k", "none"],
    ) else {
        return;
    };
    let out = disk.0.join("runs");
    let board = "virtual:seed=4,speed=10,period=50ms";
    let mut command = duskmark(
        folder.path(),
        &["log", "--board", board, "--view", "plain", "--out"],
    );
    command.arg(&out);
    let mut log = Running::start(command);
    let run_folder = log.wait_for_run(folder.path());
    // Somebody else fills the disk.
    let ballast = disk.0.join("ballast");
    let _ = std::fs::write(&ballast, vec![0; 1 << 20]);
    log.wait_for("DISK: the disk is full but for");
    log.wait_for("DISK: the disk takes nothing");
    let written = || {
        std::fs::metadata(run_folder.join("journal.dmj"))
            .unwrap()
            .len()
    };
    let at_full = written();
    std::fs::remove_file(&ballast).unwrap();
    log.wait_for("DISK: the disk takes readings again");
    wait_until("more in the journal", || written() > at_full + 5000);
    log.signal("INT");
    let said = log.end();
    assert!(
        said.code == 0 || said.err.contains("cannot be written"),
        "{said:#?}"
    );
    // The derived files may find no room beside it; on a larger disk they do.
    let copy = folder.path().join("copy");
    std::fs::create_dir(&copy).unwrap();
    std::fs::copy(run_folder.join("journal.dmj"), copy.join("journal.dmj")).unwrap();
    run(folder.path(), &["rebuild", "copy"]).done();
    assert_no_row_is_missing(&copy, 500);
}

#[test]
fn a_run_that_cannot_begin_leaves_no_folder() {
    let folder = tempfile::tempdir().unwrap();
    // Room for the folder of runs and a run's, but for no file.
    let options = ["-t", "tmpfs", "-o", "size=64k,nr_inodes=3", "none"];
    let Some(disk) = Mounted::new(folder.path().join("small"), &options) else {
        return;
    };
    let out = disk.0.join("runs");
    let words = ["log", "--board", "virtual:speed=60", "--for", "1m", "--out"];
    let words = [&words[..], &[out.to_str().unwrap()]].concat();
    run(folder.path(), &words).failed_with(1, &["cannot be made", "Make room"]);
    assert_eq!(std::fs::read_dir(&out).unwrap().count(), 0);
}

#[test]
fn a_disk_that_does_not_answer_is_told_of_and_costs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    // Dropped after the program that writes to it, but thawed before that is waited for.
    let Some(disk) = Mounted::image(folder.path(), "loop") else {
        return;
    };
    let socket = folder.path().join("notify");
    let heard = UnixDatagram::bind(&socket).unwrap();
    heard.set_nonblocking(true).unwrap();
    let board = "virtual:seed=4,period=50ms";
    let mut command = duskmark(
        folder.path(),
        &["log", "--board", board, "--view", "plain", "--out"],
    );
    command.arg(disk.0.join("runs"));
    command
        .env("NOTIFY_SOCKET", &socket)
        .env("WATCHDOG_USEC", "900000");
    let mut log = Running::start(command);
    let run_folder = log.wait_for_run(folder.path());
    if !disk.freeze("--freeze") {
        println!("not run: needs fsfreeze");
        return;
    }
    let thaw = Thaw(&disk);
    log.wait_for("DISK: the disk has not answered for");
    // Nobody feeds the watchdog any more, once the disk counts as stuck.
    let fed = || {
        let mut buffer = [0; 400];
        let mut n = 0;
        while let Ok(length) = heard.recv(&mut buffer) {
            n += usize::from(buffer[..length].starts_with(b"WATCHDOG=1"));
        }
        n
    };
    // What it was fed before waits in the socket.
    fed();
    let mut quiet_since = Instant::now();
    wait_until("the watchdog to go hungry", || {
        if fed() > 0 {
            quiet_since = Instant::now();
        }
        quiet_since.elapsed() > Duration::from_millis(1500)
    });
    drop(thaw);
    wait_until("food for the watchdog", || fed() > 0);
    log.signal("INT");
    log.end().done();
    assert_no_row_is_missing(&run_folder, 100);
}

/// What an ext4 does that finds itself damaged: it takes nothing more until it is mounted anew. A
/// `mount -o remount,ro` is refused by the system while a file is open for writing.
fn becomes_read_only(disk: &Mounted) -> bool {
    let mut command = Command::new("findmnt");
    let found = command.args(["-no", "SOURCE"]).arg(&disk.0).output();
    let name = found.map(|found| String::from_utf8(found.stdout).unwrap());
    let name = name.unwrap_or_default();
    let name = name.trim().rsplit('/').next().unwrap_or_default();
    let trigger = format!("/sys/fs/ext4/{name}/trigger_fs_error");
    std::fs::write(trigger, "1").is_ok()
}

#[test]
fn a_disk_that_becomes_read_only_costs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let Some(disk) = Mounted::image(folder.path(), "loop,errors=remount-ro") else {
        return;
    };
    let board = "virtual:seed=4,period=50ms";
    let mut command = duskmark(
        folder.path(),
        &["log", "--board", board, "--view", "plain", "--out"],
    );
    command.arg(disk.0.join("runs"));
    command.env("TMPDIR", folder.path());
    let mut log = Running::start(command);
    let run_folder = log.wait_for_run(folder.path());
    let live = run_folder.join("readings.csv");
    let rows = || std::fs::read_to_string(&live).map_or(0, |text| text.lines().count());
    wait_until("the first rows", || rows() > 40);
    if !becomes_read_only(&disk) {
        println!("not run: needs trigger_fs_error of ext4");
        return;
    }
    log.wait_for("DISK: the disk");
    // Some seconds more, which no disk takes.
    let begun = Instant::now();
    wait_until("three seconds", || begun.elapsed() > Duration::from_secs(3));
    log.signal("INT");
    let said = log.end();
    said.failed_with(1, &["-rest.dmj", "duskmark rebuild"]);
    // What the system only held in memory goes with the disk: it is taken out, and put in again.
    drop(disk);
    let again = folder.path().join("again");
    let image = folder.path().join("image");
    let Some(disk) = Mounted::new(again, &["-o", "loop", image.to_str().unwrap()]) else {
        panic!("it was mounted before");
    };
    let name = run_folder.file_name().unwrap().to_str().unwrap();
    let copy = folder.path().join("copy");
    std::fs::create_dir(&copy).unwrap();
    let journal = disk.0.join("runs").join(name).join("journal.dmj");
    std::fs::copy(journal, copy.join("journal.dmj")).unwrap();
    let rest = folder.path().join(format!("{name}-rest.dmj"));
    std::fs::rename(rest, copy.join("journal-0002.dmj")).unwrap();
    run(folder.path(), &["rebuild", "copy"]).done();
    assert_no_row_is_missing(&copy, 40 + 50);
    let events = Table::read(&copy.join("events.csv"));
    assert_eq!(events.of_kind("end").len(), 1, "{events:?}");
}
