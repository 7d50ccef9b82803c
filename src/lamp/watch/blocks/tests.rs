//! Where blocks end among the rows.

use crate::lamp::tests::{near, newton, normal, rng};
use crate::lamp::{Kind, LampOptions, Watcher};

/// A lesson of rows so many seconds apart, but for those within a gap; `check` looks at the watcher after each row.
fn lesson(every_s: f64, gap_s: (f64, f64), check: impl Fn(&Watcher, f64)) -> Vec<Kind> {
    let mut draw = rng(61);
    let mut watcher = Watcher::new(2, &LampOptions::default());
    let mut seen = Vec::new();
    for i in 0..(500.0 / every_s) as usize {
        let t_s = every_s * i as f64;
        let degc = [(14.0, 350.0), (11.0, 300.0)].map(|(rise, tau_s)| {
            let lamp = newton(t_s - 123.0, tau_s) - newton(t_s - 423.0, tau_s);
            21.0 + rise * lamp + 0.01 * normal(&mut draw)
        });
        if (gap_s.0..gap_s.1).contains(&t_s) {
            continue;
        }
        seen.extend(watcher.push(t_s, &degc).map(|e| e.edge));
        if watcher.width_s > 0.0 {
            check(&watcher, t_s);
        }
    }
    seen
}

#[test]
fn blocks_end_midway_between_two_rows_whatever_is_told_or_missing() {
    for every_s in [0.1, 0.25, 1.0, 3.0] {
        for gap_s in [(0.0, 0.0), (200.0, 203.0), (300.0, 340.0)] {
            let seen = lesson(every_s, gap_s, |watcher, t_s| {
                let left_s = watcher.block_end_s - t_s;
                // The open block waits for one row at least, and for no more than a block has.
                assert!(left_s > 0.5 * every_s - 1e-6, "{every_s}: {t_s} {left_s}");
                assert!(
                    left_s < watcher.width_s + every_s,
                    "{every_s}: {t_s} {left_s}"
                );
                let rows = left_s / every_s;
                near(rows - rows.floor(), 0.5, 1e-6);
            });
            assert_eq!(seen, [Kind::On, Kind::Off], "{every_s} {gap_s:?}");
        }
    }
}
