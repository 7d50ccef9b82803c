//! Which calibrations hold, and what they come to together.

use super::*;
use crate::calibrate::{Point, fit_constants};

const PROBE: &str = "°C as printed";
const NOW: &str = "2026-03-20T10:00:00Z";
const YEAR_S: f64 = 365.0 * 86_400.0;

fn calibration(channel: usize, date: &str, found: Found) -> Calibration {
    Calibration {
        board: "K7F2".into(),
        channel,
        date: date.into(),
        method: "in a test".into(),
        program: "0".into(),
        probe: Some(PROBE.into()),
        found,
        conditions: std::collections::BTreeMap::default(),
    }
}

fn ice(reading: f64) -> Found {
    Found::Ice {
        reading_degc: reading,
        correction_degc: -reading,
        u_degc: 0.1,
    }
}

fn matched(reading: f64, difference: f64) -> Found {
    Found::Match {
        reading_degc: reading,
        difference_degc: difference,
        u_degc: 0.01,
    }
}

fn of(all: &[Calibration]) -> (Vec<Applied>, Vec<Remark>) {
    applied(all, "K7F2", &[PROBE.into(), PROBE.into()], (NOW, YEAR_S))
}

fn near(got: f64, want: f64) {
    assert!((got - want).abs() < 1e-9, "{got} is not {want}");
}

#[test]
fn matched_probes_read_the_same_and_their_mean_stays() {
    let date = "2026-03-14T10:00:00Z";
    let all = [
        calibration(1, date, matched(22.1, 0.1)),
        calibration(2, date, matched(21.9, -0.1)),
    ];
    let (out, remarks) = of(&all);
    assert!(remarks.is_empty());
    let line = |i: usize| out[i].correction.unwrap();
    near(line(0).line.corrected(22.1), 22.0);
    near(line(1).line.corrected(21.9), 22.0);
    near(line(0).u_at(40.0), 0.01);
    assert!(!out[0].is_absolute && out[0].from.len() == 1);
}

#[test]
fn a_probe_that_ice_knows_is_what_the_other_is_brought_to() {
    let all = [
        calibration(1, "2026-03-14T09:00:00Z", ice(0.4)),
        calibration(1, "2026-03-14T10:00:00Z", matched(22.1, 0.1)),
        calibration(2, "2026-03-14T10:00:00Z", matched(21.9, -0.1)),
    ];
    let (out, _) = of(&all);
    near(out[0].correction.unwrap().line.corrected(22.1), 21.7);
    near(out[1].correction.unwrap().line.corrected(21.9), 21.7);
    assert!(out[1].is_absolute);
    near(out[1].u_at(20.0).unwrap(), 0.1_f64.hypot(0.01));
}

#[test]
fn ice_and_boiling_make_a_line_and_a_newer_line_stands_over_them() {
    let boil = Found::Boil {
        reading_degc: 98.5,
        correction_degc: 1.0,
        u_degc: 0.2,
    };
    let mut all = vec![
        calibration(1, "2026-03-14T09:00:00Z", ice(0.5)),
        calibration(1, "2026-03-14T10:00:00Z", boil),
    ];
    let (out, _) = of(&all);
    near(out[0].correction.unwrap().line.corrected(0.5), 0.0);
    near(out[0].correction.unwrap().line.corrected(98.5), 99.5);
    near(out[0].u_at(98.5).unwrap(), 0.2);
    assert!(out[1].correction.is_none() && out[1].from.is_empty());
    let line = Found::Line {
        from_degc: 0.0,
        to_degc: 50.0,
        residual_sd_degc: None,
        correction: CorrectionLine::constant(0.7, 0.3),
    };
    all.push(calibration(1, "2026-03-14T11:00:00Z", line));
    near(of(&all).0[0].correction.unwrap().line.at(30.0), 0.7);
    all.push(calibration(1, "2026-03-15T11:00:00Z", ice(0.2)));
    near(of(&all).0[0].correction.unwrap().line.corrected(0.2), 0.0);
}

#[test]
fn stale_and_foreign_ones_are_told_and_not_used() {
    let mut foreign = calibration(1, "2026-03-14T09:00:00Z", ice(0.4));
    foreign.probe = Some("counts of 1024; B 3950".into());
    let mut other = calibration(2, "2026-03-14T09:00:00Z", ice(0.4));
    other.board = "B2".into();
    let stale = calibration(2, "2024-03-14T09:00:00Z", ice(0.3));
    let (out, remarks) = of(&[foreign, other, stale]);
    assert!(
        out.iter()
            .all(|a| a.correction.is_none() && a.from.is_empty())
    );
    assert!(matches!(&remarks[0], Remark::OtherProbe { now, .. } if now == PROBE));
    let Remark::Stale { age_s, .. } = &remarks[1] else {
        panic!("{remarks:?}");
    };
    assert!((age_s / 86_400.0 - 736.0).abs() < 1.0);
    assert_eq!(remarks.len(), 2);
}

#[test]
fn constants_hold_for_their_divider_whatever_the_law_was() {
    let constants = Constants::Beta {
        r25_ohm: 10_000.0,
        beta_k: 3435.0,
    };
    let mut one = calibration(
        1,
        "2026-03-14T09:00:00Z",
        Found::Constants {
            constants,
            covariance: vec![vec![1e-12, 0.0], vec![0.0, 1e-14]],
            from_degc: 0.0,
            to_degc: 60.0,
            residual_sd_degc: None,
        },
    );
    one.probe = Some("counts of 1024".into());
    let lag = Found::Lag {
        tau_s: 5.0,
        u_s: 0.1,
    };
    let lag = calibration(1, "2026-03-14T09:00:00Z", lag);
    let probes = ["counts of 1024; B 3435 K".to_owned()];
    let (out, remarks) = applied(&[one, lag], "K7F2", &probes, (NOW, YEAR_S));
    assert!(remarks.is_empty());
    assert_eq!(out[0].constants, Some(constants));
    assert_eq!(out[0].lag.map(|l| l.tau_s), Some(5.0));
    assert!(out[0].u_at(25.0).is_some_and(|u| u > 0.0));
}

#[test]
fn the_newest_of_a_kind_counts_wherever_it_stands() {
    let all = [
        calibration(1, "2026-03-15T09:00:00Z", ice(0.2)),
        calibration(1, "2026-03-14T09:00:00Z", ice(0.4)),
        calibration(2, "2026-03-14T09:00:00Z", ice(0.4)),
    ];
    let held = newest(&all, "K7F2", 1);
    assert_eq!((held.len(), held[0]), (1, &all[0]));
}

/// Constants whose two points at 0 and 50 °C were each known to 0.2 °C.
fn constants() -> (Constants, Found) {
    let points = [(0.0, 32_650.0), (50.0, 3600.0)].map(|(reference_degc, value)| Point {
        reference_degc,
        value,
    });
    let fit = fit_constants(&points, false, 0.2).unwrap();
    let found = Found::Constants {
        constants: fit.constants,
        covariance: fit.covariance,
        from_degc: 0.0,
        to_degc: 50.0,
        residual_sd_degc: None,
    };
    (fit.constants, found)
}

/// What a law is off by all probes of it share: probes that agree are not nearer to the truth
/// (JCGM 100:2008, 5.2.2, note 1).
#[test]
fn a_match_leaves_all_that_the_constants_leave_open() {
    let date = "2026-03-14T10:00:00Z";
    let (_, found) = constants();
    let mut all = vec![
        calibration(1, "2026-03-14T09:00:00Z", found.clone()),
        calibration(2, "2026-03-14T09:00:00Z", found),
    ];
    let before = of(&all).0;
    all.push(calibration(1, date, matched(22.1, 0.1)));
    all.push(calibration(2, date, matched(21.9, -0.1)));
    let after = of(&all).0;
    for degc in [0.0, 22.0, 60.0] {
        let (was, is) = (before[0].u_at(degc), after[0].u_at(degc));
        // Within what the law is known differently at the two readings of the bath.
        let apart = is.unwrap() - was.unwrap().hypot(0.01);
        assert!(apart.abs() < 2e-4, "{degc} °C: {apart}");
    }
    assert!(after.iter().all(|one| one.is_absolute));
    near(after[0].correction.unwrap().line.corrected(22.1), 22.0);
}

/// A probe whose own constants are good is brought to the mean with one whose are not.
#[test]
fn a_match_takes_over_what_the_mean_leaves_open() {
    let date = "2026-03-14T10:00:00Z";
    let (_, found) = constants();
    let mut poor = ice(0.4);
    if let Found::Ice { u_degc, .. } = &mut poor {
        *u_degc = 1.0;
    }
    let all = [
        calibration(1, "2026-03-14T09:00:00Z", found),
        calibration(2, "2026-03-14T09:00:00Z", poor),
        calibration(1, date, matched(22.1, 0.1)),
        calibration(2, date, matched(21.9, -0.1)),
    ];
    let own = of(&all[..1]).0[0].u_at(22.1).unwrap();
    let out = of(&all).0;
    near(out[0].u_at(22.1).unwrap(), (0.5 * (own + 1.0)).hypot(0.01));
}

/// With one covariance of the law's errors (JCGM 100:2008, 5.2.2): at the ice the law's own is gone, away
/// from it that of its slope is left.
#[test]
fn an_ice_point_takes_the_laws_error_away_where_it_was_met() {
    let (law, found) = constants();
    let Found::Constants { covariance, .. } = &found else {
        panic!("constants");
    };
    let all = [
        calibration(1, "2026-03-14T09:00:00Z", found.clone()),
        calibration(1, "2026-03-14T10:00:00Z", ice(0.4)),
    ];
    let out = of(&all).0;
    near(out[0].u_at(0.4).unwrap(), 0.1);
    let away = out[0].u_at(25.0).unwrap();
    // Errors of the two points as they go half and half into 25 °C, that of 0 °C taken off again.
    assert!((0.15..0.2).contains(&away), "{away}");
    assert!(out[0].u_at(50.0).unwrap() > away && law.u_at(covariance, 25.0) > 0.0);
}
