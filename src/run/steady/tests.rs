//! The verdict on rows that are known.

use super::*;

fn after(seconds: u32, degc: impl Fn(f64) -> Vec<f64>) -> Steadiness {
    let mut steadiness = Steadiness::new(0.1);
    for k in 0..seconds * 4 {
        let t_s = f64::from(k) / 4.0;
        steadiness.push(t_s, &degc(t_s));
    }
    steadiness
}

#[test]
fn a_drifting_sample_is_not_steady_and_a_flat_one_is() {
    let wobble = |t: f64| 0.01 * (t * 7.0).sin();
    let flat = after(70, |t| vec![23.0 + wobble(t), 22.9 - wobble(t)]);
    assert!(flat.is_steady(), "{:?}", flat.settling());
    let drifting = after(70, |t| vec![23.0 + wobble(t), 22.9 + 0.2 * t / 60.0]);
    assert_eq!(drifting.settling().verdict, Verdict::Drifting);
    let (channel, drift, expanded) = drifting.settling().worst.unwrap();
    assert_eq!(channel, 1);
    assert!(
        (drift - 0.2).abs() < 0.01 && expanded < 0.01,
        "{drift} ± {expanded}"
    );
}

#[test]
fn a_board_that_reads_once_a_minute_settles_in_some_ten_rows() {
    let mut steadiness = Steadiness::new(0.1);
    let steady: Vec<bool> = (0..14)
        .map(|k| {
            steadiness.push(f64::from(k) * 60.0, &[23.0, 22.9]);
            steadiness.is_steady()
        })
        .collect();
    assert_eq!(steady.iter().position(|s| *s), Some(9));
}

#[test]
fn too_little_is_not_steady_and_a_dead_channel_does_not_count() {
    assert!(!after(30, |_| vec![23.0, 23.0]).is_steady());
    assert!(after(70, |_| vec![23.0, f64::NAN]).is_steady());
    assert!(!after(70, |_| vec![f64::NAN, f64::NAN]).is_steady());
    // One that died while it was far off is not waited for either, after half a minute.
    let died = |t: f64| if t < 40.0 { 30.0 - t / 10.0 } else { f64::NAN };
    assert!(!after(60, |t| vec![23.0, died(t)]).is_steady());
    assert!(after(75, |t| vec![23.0, died(t)]).is_steady());
}

#[test]
fn coarse_rounding_needs_longer_and_is_not_fooled() {
    let round = |degc: f64| (degc * 10.0).round() / 10.0;
    // 0.12 °C/min moves by one digit in 50 s: it must never pass for steady.
    for offset in 0..10 {
        let start = 22.0 + f64::from(offset) / 100.0;
        let mut steadiness = Steadiness::new(0.1);
        for k in 0..2400 {
            let t_s = f64::from(k) / 4.0;
            steadiness.push(t_s, &[round(start + 0.12 * t_s / 60.0), 23.0]);
            assert!(!steadiness.is_steady(), "offset {offset}, {t_s} s");
        }
    }
    let still = after(300, |_| vec![round(22.04), 23.0]);
    assert!(still.is_steady());
}

#[test]
fn what_never_settles_is_said_after_a_while() {
    let ramp = |t: f64| vec![23.0 + 0.15 * t / 60.0 + 0.004 * (t * 9.1).sin()];
    assert_eq!(after(1190, ramp).settling().verdict, Verdict::Drifting);
    let late = after(1210, ramp).settling();
    assert_eq!(late.verdict, Verdict::Unsettled);
    assert_eq!(late.wait_s, None);
}

#[test]
fn probes_that_never_read_are_not_waited_for_without_a_word() {
    let silent = |_: f64| vec![f64::NAN, f64::NAN];
    assert_eq!(after(59, silent).settling().verdict, Verdict::TooEarly);
    let mut late = after(61, silent);
    assert_eq!(late.settling().verdict, Verdict::Unread);
    for k in 0..8 {
        late.push(62.0 + f64::from(k), &[23.0, f64::NAN]);
    }
    assert_eq!(late.settling().verdict, Verdict::TooEarly);
}

#[test]
fn nothing_but_rows_that_go_on_is_taken() {
    let mut steadiness = after(70, |_| vec![23.0]);
    let before = steadiness.settling();
    steadiness.push(f64::NAN, &[23.0]);
    steadiness.push(3.0, &[99.0]);
    assert_eq!(steadiness.settling(), before);
    steadiness.forget();
    assert_eq!(steadiness.settling().verdict, Verdict::TooEarly);
}
