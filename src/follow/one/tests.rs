//! Runs whose files grow, are replaced and have holes.

use super::*;

const HEAD: &str = "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n";
const LOG: &str = "elapsed_s,time_utc,kind,channel,detail\n";

fn row(s: u32) -> String {
    format!(
        "{s}.000,2026-03-14T10:32:{:02}.000Z,20.50,21.00,,\n",
        s % 60
    )
}

fn rows(range: impl Iterator<Item = u32>) -> String {
    HEAD.to_owned() + &range.map(row).collect::<String>()
}

fn all(follow: &mut Follow) -> Vec<Heard> {
    let mut heard = Vec::new();
    for _ in 0..4 {
        follow.look().unwrap();
        while let Some(one) = follow.take() {
            heard.push(one);
        }
    }
    heard
}

fn times(heard: &[Heard]) -> Vec<i64> {
    let time = |heard: &Heard| match heard {
        Heard::Row(ms, _) => Some(*ms / 1000),
        _ => None,
    };
    heard.iter().filter_map(time).collect()
}

#[test]
fn a_finished_run_is_heard_in_the_order_of_its_times() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/lesson");
    let copy = tempfile::tempdir().unwrap();
    for file in [name::READINGS, name::EVENTS, name::SUMMARY] {
        std::fs::copy(folder.join(file), copy.path().join(file)).unwrap();
    }
    let mut follow = Follow::new(copy.path(), Place::default());
    let mut heard = Vec::new();
    while !follow.is_over() {
        follow.look().unwrap();
        heard.extend(std::iter::from_fn(|| follow.take()));
    }
    assert_eq!(heard.first(), Some(&Heard::Begin));
    assert!(matches!(
        heard.last(),
        Some(Heard::End(State::Finished, Some(_)))
    ));
    assert_eq!(follow.columns, ["slate", "moss"]);
    let readings = std::fs::read_to_string(folder.join(name::READINGS)).unwrap();
    assert_eq!(times(&heard).len(), readings.lines().count() - 1);
    let mut last_ms = 0;
    for one in &heard {
        let ms = match one {
            Heard::Row(ms, _) => *ms,
            Heard::Event(_, event) => (event.t_s * 1000.0).round() as i64,
            _ => continue,
        };
        assert!(ms >= last_ms, "{one:?}");
        last_ms = ms;
    }
}

#[test]
fn what_was_heard_does_not_come_again_from_the_final_files() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| {
        std::fs::write(folder.path().join("aside"), text).unwrap();
        std::fs::rename(folder.path().join("aside"), folder.path().join(name)).unwrap();
    };
    put(name::READINGS, &rows(1..5));
    put(
        name::EVENTS,
        &format!("{LOG}2.000,u,note,,a\n2.000,u,note,,b\n"),
    );
    let mut follow = Follow::new(folder.path(), Place::default());
    let heard = all(&mut follow);
    assert_eq!((times(&heard), heard.len()), (vec![1, 2, 3, 4], 7));
    assert!(!follow.is_over());
    // The final files: an event in between, more rows, and other phases of those that were heard.
    put(name::READINGS, &rows(1..7).replace(",,\n", ",cooling,\n"));
    put(
        name::EVENTS,
        &format!("{LOG}1.500,u,lamp-on,,1 s to 2 s\n2.000,u,note,,a\n2.000,u,note,,b\n"),
    );
    put(name::SUMMARY, "{\n\"rows\": 6\n}\n");
    let place = follow.place().clone();
    let heard = all(&mut follow);
    assert_eq!(times(&heard), [5, 6]);
    let end = Heard::End(State::Finished, Some("{\"rows\":6}".into()));
    assert_eq!((heard.len(), heard.last()), (4, Some(&end)));
    assert!(follow.is_over());
    // The same after a restart from a place that was kept as text.
    let kept = serde_json::to_string(&place).unwrap();
    let mut again = Follow::new(folder.path(), serde_json::from_str(&kept).unwrap());
    assert_eq!(all(&mut again), heard);
    assert_eq!(follow.place(), again.place());
    // And nothing more after the end, until the results are others.
    assert_eq!(all(&mut again), []);
    put(name::SUMMARY, "{\"rows\": 7}");
    assert!(matches!(all(&mut again).as_slice(), [Heard::End(..)]));
}

#[test]
fn rows_that_a_full_disk_kept_out_come_in_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name::READINGS);
    let holed = rows((1..10).filter(|s| *s != 5));
    std::fs::write(&path, holed).unwrap();
    let mut follow = Follow::new(folder.path(), Place::default());
    assert_eq!(times(&all(&mut follow)).len(), 8);
    std::fs::write(folder.path().join("aside"), rows(1..12)).unwrap();
    std::fs::rename(folder.path().join("aside"), &path).unwrap();
    let heard = times(&all(&mut follow));
    assert_eq!(heard, (1..12).collect::<Vec<i64>>());
}

#[test]
fn a_run_that_is_gone_on_with_is_running_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name::READINGS);
    std::fs::write(&path, rows(1..3)).unwrap();
    std::fs::write(folder.path().join(name::SUMMARY), "{\"rows\": 2}").unwrap();
    let mut follow = Follow::new(folder.path(), Place::default());
    assert!(matches!(
        all(&mut follow).last(),
        Some(Heard::End(State::Finished, _))
    ));
    let file = std::fs::File::options().append(true).open(&path).unwrap();
    std::io::Write::write_all(&mut &file, row(3).as_bytes()).unwrap();
    assert_eq!(times(&all(&mut follow)), [3]);
    assert_eq!((follow.state(), follow.is_over()), (State::Running, false));
}
