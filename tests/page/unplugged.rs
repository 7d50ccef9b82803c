//! A board that is unplugged: nobody takes old numbers for the samples' own, on the page or at the
//! terminal.

use super::*;
use support::program::log_on;

#[test]
fn an_unplugged_board_is_told_and_its_numbers_are_taken_away() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("port");
    let mut port = Port::open_as(&link);
    let words = "--samples slate,moss --view plain --heat 1h --settle off --page --page-port 0";
    let words: Vec<&str> = words.split(' ').collect();
    let mut log = log_on(folder.path(), "port", &words);
    port.say(&support::bench::hello());
    let run = log.wait_for_run(folder.path());
    let here = support::watched::here(&mut log);
    let lines: Vec<String> = (0..10).map(|seq| sample(seq, "23.40,21.10")).collect();
    port.play(&lines);
    let path = format!("/run/{}", id(&run));
    wait_until("the run's page", || get(&here, &path, &[]).code == 200);
    let mut events = Events::open(&here, &format!("{path}/live"));
    let mut until = |is_it: &dyn Fn(&serde_json::Value) -> bool| loop {
        let now = events.next("now");
        if is_it(&now) {
            return now;
        }
    };
    until(&|now| now["samples"][0]["degc"] == "23.40");

    drop(port);
    let unplugged = "The board is unplugged: plug it in again, the run goes on.";
    let now = until(&|now| now["cue"] == unplugged);
    let sample_now = &now["samples"][0];
    assert_eq!(sample_now["degc"], "");
    let flag = sample_now["flag"].as_str().unwrap();
    assert!(flag.starts_with("no reading for 0:0"), "{flag}");
    log.wait_for("port-lost");
    log.wait_for(&format!(">>> {unplugged}"));
    // The page says for how long, and its clock goes on.
    let later = until(&|now| now["samples"][0]["flag"] != flag);
    assert_ne!(later["clock"], now["clock"]);
    let wall = get(&here, "/", &[]).body;
    assert!(
        wall.contains(unplugged) && !wall.contains("23.40"),
        "{wall}"
    );

    let mut port = Port::open_as(&link);
    log.wait_for("port-open");
    port.say(&support::bench::hello());
    let lines: Vec<String> = (50..60).map(|seq| sample(seq, "24.50,21.20")).collect();
    port.play(&lines);
    let now = until(&|now| now["samples"][0]["degc"] == "24.50");
    assert_eq!(now["cue"], "Switch the lamp ON now.");
    assert_eq!(now["samples"][0]["flag"], "");
    log.signal("INT");
    log.wait_for_end();
}
