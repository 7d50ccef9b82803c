//! What `LibreOffice` saves, read by us.

use std::process::Command;

use super::support::program::run;

/// Nine rows, three minutes apart, as a person writes them: 12 min lamp on and 12 min off (common
/// practice, no source). Slate and moss under a work lamp; the numbers are invented.
const HAND: &str = "Bench 3\nTime (min);Slate (°C);Moss (°C)\n0;22,8;21,9\n3;28,3;24,4\n6;31,6;25,8\n\
                    9;33,6;26,6\n12;34,9;27,1\n15;30,3;24,7\n18;27,5;23,4\n21;25,8;22,7\n24;24,8;22,3\n";

#[test]
fn what_libreoffice_saves_is_read_as_the_text_it_came_from() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    put("hand.csv", HAND);
    // The same with a clock beside it, past noon, as dates, and as durations beyond a day's hours.
    let clock = |head: &str, time: fn(u32) -> String| {
        let minutes = std::cell::Cell::new(0);
        let lines = HAND.lines().skip(2).map(|line| {
            let minute = minutes.replace(minutes.get() + 3);
            format!("{};{}\n", time(minute), line.split_once(';').unwrap().1)
        });
        format!("{head};Slate (°C);Moss (°C)\n{}", lines.collect::<String>())
    };
    put(
        "clock.csv",
        &clock("time", |m| {
            format!("{:02}:{:02}:00", 12 + (50 + m) / 60, (50 + m) % 60)
        }),
    );
    put(
        "stamp.csv",
        &clock("time", |m| format!("2026-03-14 10:{m:02}:00")),
    );
    put("typed.csv", &clock("time", |m| format!("{m}:00")));
    let json = |file: &str| -> serde_json::Value {
        let said = run(folder.path(), &["analyse", "--json", "--marks", "3m", file]);
        serde_json::from_str(&said.done().out).unwrap()
    };
    for name in ["hand", "clock", "stamp", "typed"] {
        let text = json(&format!("{name}.csv"));
        for kind in ["xlsx", "ods"] {
            // 59: semicolons, 34: quotation marks, 76: UTF-8; 1031: numbers as in German, 3: cells
            // that look like numbers or times become such.
            let profile = format!(
                "-env:UserInstallation=file://{}/profile",
                folder.path().display()
            );
            let said = Command::new("soffice")
                .args([
                    &profile,
                    "--headless",
                    "--norestore",
                    "--infilter=CSV:59,34,76,1,,1031,false,true",
                ])
                .args(["--convert-to", kind, "--outdir"])
                .arg(folder.path())
                .arg(folder.path().join(format!("{name}.csv")))
                .output()
                .unwrap();
            assert!(said.status.success(), "{said:?}");
            let book = json(&format!("{name}.{kind}"));
            assert_eq!(book["samples"], text["samples"], "{name}.{kind}");
            assert_eq!(
                book["marks"].as_array().unwrap().len(),
                text["marks"].as_array().unwrap().len()
            );
        }
    }
}
