//! Pictures of a made-up lesson, as text. After a wanted change `DUSKMARK_NEW_SCREENS=1` writes them
//! anew; look at the difference.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::style::Color;

use super::*;

/// Slate and moss under the lamp from 80 s to 680 s, up to `now_s`; invented.
fn bench(now_s: f64) -> Bench {
    let mut bench = Bench {
        name: "2026-03-14T103205-bench-1".into(),
        now_s,
        rows: (now_s * 4.0) as u64,
        phase: if now_s < 80.0 { "settling" } else { "heating" }.into(),
        strip: Strip {
            spans: [
                (Stretch::Settling, None),
                (Stretch::Heating, Some(600.0)),
                (Stretch::Cooling, Some(600.0)),
            ]
            .map(|(stretch, length_s)| Span { stretch, length_s })
            .to_vec(),
            zero_s: (now_s >= 80.0).then_some(80.0),
            marks_s: Some(60.0),
        },
        next: "next mark in 0:41 · lamp OFF in 2:10".into(),
        health: Health {
            alarm: false,
            text: "board ok, a row every 0.25 s".into(),
        },
        ..Bench::default()
    };
    let rise = |since_s: f64, most: f64, tau_s: f64| most * (1.0 - (-since_s / tau_s).exp());
    let degc = |t_s: f64, most: f64, tau_s: f64| {
        let on = rise((t_s - 80.0).max(0.0), most, tau_s);
        22.0 + on - rise((t_s - 680.0).max(0.0), most, tau_s)
    };
    for k in 0..=(now_s * 4.0) as u32 {
        let t_s = f64::from(k) / 4.0;
        bench
            .history
            .push(t_s, &[degc(t_s, 14.0, 420.0), degc(t_s, 7.0, 500.0)]);
    }
    for (name, most, tau_s) in [("slate", 14.0, 420.0), ("moss", 7.0, 500.0)] {
        bench.samples.push(Sample {
            name: name.into(),
            degc: degc(now_s, most, tau_s),
            decimals: 2,
            health: Health {
                alarm: false,
                text: "probe ok".into(),
            },
        });
    }
    bench
}

fn state(benches: Vec<Bench>) -> State {
    let mut state = State {
        benches,
        look: Look {
            unicode: true,
            colours: Colours::Many,
        },
        ..State::default()
    };
    state.say("lamp seen on at 1:20, about 6 s after the plan");
    state
}

fn drawn(state: &State, width: u16, height: u16) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal
        .draw(|frame| draw(frame, &state.snapshot()))
        .unwrap();
    terminal.backend().buffer().clone()
}

fn text(buffer: &Buffer) -> String {
    let mut out = String::new();
    for y in 0..buffer.area.height {
        let line: String = (0..buffer.area.width)
            .map(|x| buffer[(x, y)].symbol())
            .collect();
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

#[track_caller]
fn same(name: &str, buffer: &Buffer) {
    let path = format!(
        "{}/src/live/terminal/screens/{name}.txt",
        env!("CARGO_MANIFEST_DIR")
    );
    let shown = text(buffer);
    if std::env::var_os("DUSKMARK_NEW_SCREENS").is_some() {
        std::fs::write(&path, &shown).unwrap();
    }
    let wanted = std::fs::read_to_string(&path).unwrap();
    assert!(
        shown == wanted,
        "{name} is\n{shown}\nand should be\n{wanted}"
    );
}

#[test]
fn a_lesson_on_a_usual_terminal() {
    same("heating-80x24", &drawn(&state(vec![bench(500.0)]), 80, 24));
}

#[test]
fn a_lesson_on_a_large_terminal() {
    same(
        "cooling-200x60",
        &drawn(&state(vec![bench(1100.0)]), 200, 60),
    );
}

#[test]
fn what_to_do_now_stands_out() {
    let mut one = bench(70.0);
    one.cue = Some("Switch the lamp ON now".into());
    one.next = "l: done, or it is seen".into();
    let buffer = drawn(&state(vec![one]), 80, 24);
    same("cue-80x24", &buffer);
    let cell = &buffer[(40, 1)];
    assert!(cell.modifier.contains(ratatui::style::Modifier::REVERSED));
}

#[test]
fn without_unicode_and_colour_nothing_is_lost() {
    let mut plain = state(vec![bench(500.0)]);
    plain.look = Look::default();
    let buffer = drawn(&plain, 80, 24);
    same("plain-80x24", &buffer);
    assert!(text(&buffer).is_ascii());
    assert!(
        buffer
            .content
            .iter()
            .all(|cell| cell.fg == Color::Reset && cell.bg == Color::Reset)
    );
}

#[test]
fn two_benches_a_note_and_a_broken_lead() {
    let mut second = bench(500.0);
    second.cue = Some("Switch the lamp OFF now".into());
    let mut first = bench(500.0);
    if let Some(moss) = first.samples.get_mut(1) {
        moss.degc = f64::NAN;
        moss.health = Health {
            alarm: true,
            text: "probe open".into(),
        };
    }
    let mut state = state(vec![first, second]);
    state.note = Some("bumped the tab".into());
    same("two-80x24", &drawn(&state, 80, 24));
}

#[test]
fn where_the_page_is_stands_there_all_the_time() {
    let page = "page http://192.0.2.7:8470/  code ABCDEF";
    let mut state = state(vec![bench(500.0)]);
    state.page = Some(page.into());
    for (width, height) in [(80, 24), (200, 60)] {
        let shown = text(&drawn(&state, width, height));
        for part in [page, "board ok, a row every", "n note  m mark now"] {
            assert!(shown.contains(part), "{part} at {width}×{height}:\n{shown}");
        }
        assert!(!shown.contains("c code"), "{shown}");
        state.code = Some("ABCDEF-GHJKLM".into());
        let shown = text(&drawn(&state, width, height));
        assert!(shown.contains("e end the run  c code"), "{shown}");
        assert!(!shown.contains("GHJKLM"), "{shown}");
        state.code = None;
    }
}

#[test]
fn eight_samples_and_small_windows_fit() {
    let mut one = bench(500.0);
    let moss = one.samples[1].clone();
    one.samples.resize(8, moss);
    same("eight-80x24", &drawn(&state(vec![one.clone()]), 80, 24));
    same("small-40x10", &drawn(&state(vec![bench(500.0)]), 40, 10));
    // No size makes it panic.
    let state = state(vec![one]);
    for (width, height) in
        (1..100).flat_map(|width| [1, 2, 3, 7, 15, 16, 17, 24].map(|h| (width, h)))
    {
        drawn(&state, width, height);
    }
}

#[test]
fn times_and_values_that_make_no_sense_are_drawn_somehow() {
    let mut odd = bench(10.0);
    odd.now_s = f64::NAN;
    odd.strip.marks_s = Some(1e-9);
    odd.strip.spans.clear();
    odd.history.push(1e12, &[1e300, -1e300]);
    odd.name = "\u{1b}[2J".into();
    let buffer = drawn(&state(vec![odd]), 80, 24);
    assert!(!text(&buffer).contains('\u{1b}'));
}

#[test]
fn a_cue_goes_once_it_was_answered_and_that_of_another_bench_stays() {
    let mut state = State::default();
    let tell = |state: &mut State, text: &str, about: About| {
        let text = text.to_owned();
        state.tell(&Said { text, about });
    };
    // A note that says the same as a cue is none, and a cue in two lines is one.
    state.say(">>> Switch the lamp OFF now.");
    tell(&mut state, "bench 1: off,\nnow", About::Cue(0));
    tell(&mut state, "bench 2: off", About::Cue(1));
    state.say("bench 2: this moment is marked, lamp seen off");
    tell(&mut state, "bench 1: off at 12:41", About::Answer(0));
    let said: Vec<&str> = state.messages.iter().map(|m| m.text.as_str()).collect();
    assert_eq!(
        said,
        [
            ">>> Switch the lamp OFF now.",
            "bench 2: off",
            "bench 2: this moment is marked, lamp seen off",
            "bench 1: off at 12:41"
        ]
    );
}
