use super::*;

fn lesson() -> Seen {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/lesson");
    let mut seen = Seen::new(&folder);
    while seen.look().unwrap() {}
    seen.look().unwrap();
    seen
}

#[test]
fn a_finished_run_is_read_whole() {
    let seen = lesson();
    assert_eq!(seen.names, ["slate", "moss"]);
    let results = seen.results.as_ref().unwrap();
    assert_eq!(seen.stage(), Stand::Cooling);
    assert_eq!(seen.table().len(), results.marks_s().len());
    assert_eq!(seen.began(), "2026-03-14 10:32 UTC");
    let (from, to) = seen.place_of(600.0, 610.0);
    assert!(from < to.unwrap_or(u64::MAX));
}

#[test]
fn a_run_that_grows_is_followed_from_cue_to_cue() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut seen = Seen::new(folder.path());
    seen.setup.plan.heat_s = Some(60.0);
    seen.setup.plan.marks_s = Some(30.0);
    seen.stage = Stand::Settling;
    assert!(!seen.look().unwrap());
    let head = "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n";
    let mut rows = String::from(head);
    for s in 0..40 {
        rows += &format!("{s}.000,2026-03-14T10:32:{s:02}.000Z,20.00,21.00,settling,\n");
    }
    std::fs::write(path(name::READINGS), &rows).unwrap();
    std::fs::write(
        path(name::EVENTS),
        "elapsed_s,time_utc,kind,channel,detail\n39.000,x,cue-lamp-on,,\n",
    )
    .unwrap();
    while seen.look().unwrap() {}
    assert_eq!((seen.rows, seen.stage()), (40, Stand::AwaitOn));
    assert!(seen.table().is_empty());
    for s in 40..90 {
        rows += &format!(
            "{s}.000,2026-03-14T10:33:00.000Z,2{}.00,21.00,heating,\n",
            s % 10
        );
    }
    std::fs::write(path(name::READINGS), &rows).unwrap();
    while seen.look().unwrap() {}
    assert_eq!((seen.rows, seen.stage()), (90, Stand::Heating));
    assert_eq!(seen.table().len(), 2);
    assert!((seen.next_mark_in_s().unwrap() - 10.0).abs() < 1e-9);
    assert_eq!(seen.last.as_ref().unwrap().cells[0], "29.00");
}

#[test]
fn an_edge_that_is_noticed_stands_over_the_rows_and_marks_are_counted_from_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut seen = Seen::new(folder.path());
    seen.setup.plan.heat_s = Some(60.0);
    seen.setup.plan.marks_s = Some(10.0);
    seen.stage = Stand::Settling;
    let mut rows = String::from("elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n");
    for s in 0..60 {
        let phase = if s < 45 { "settling" } else { "heating" };
        rows += &format!("{s}.000,x,{s}.00,21.00,{phase},\n");
    }
    std::fs::write(path(name::READINGS), &rows).unwrap();
    let mut events = String::from(
        "elapsed_s,time_utc,kind,channel,detail\n20.000,x,prediction,moss,group 3\n\
         30.000,x,cue-lamp-on,,\n",
    );
    std::fs::write(path(name::EVENTS), &events).unwrap();
    while seen.look().unwrap() {}
    // Not seen yet by any event: the cue counts.
    assert_eq!(
        (seen.stage(), seen.lamp_on_s()),
        (Stand::Heating, Some(30.0))
    );
    assert!(!seen.takes_predictions());
    events +=
        "38.500,x,lamp-on,,\"36.0 s to 41.0 s; noticed at 45.0 s\"\n50.000,x,hand-lamp-on,,\n";
    std::fs::write(path(name::EVENTS), &events).unwrap();
    while seen.look().unwrap() {}
    assert_eq!(seen.lamp_on_s(), Some(38.5));
    // The next row fills the table anew.
    rows += "60.000,x,60.00,21.00,heating,\n";
    std::fs::write(path(name::READINGS), &rows).unwrap();
    while seen.look().unwrap() {}
    let table = seen.table();
    let cells: Vec<_> = table.iter().map(|m| m.cells[0].as_str()).collect();
    assert_eq!(cells, ["38.50", "48.50", "58.50"]);
    let guess = &seen.setup.plan.predictions[0];
    assert_eq!((&*guess.group, &*guess.sample), ("3", "moss"));
}
