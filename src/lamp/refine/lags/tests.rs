//! What is known of a lag, as the fit takes it.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::tests::near;

fn options(lag_s: &[f64], u_s: Option<&[f64]>) -> LampOptions {
    LampOptions {
        probe_lag_s: Some(lag_s.to_vec()),
        probe_lag_u_s: u_s.map(<[f64]>::to_vec),
        ..LampOptions::default()
    }
}

#[test]
fn a_measured_lag_is_log_normal_with_the_stated_mean_and_deviation() {
    for (mean_s, u_s) in [(6.0, 1.0), (4.0, 4.0), (0.5, 0.1)] {
        let lag = Lag::of(&options(&[mean_s], Some(&[u_s])), 0, 1);
        let Lag::Measured(_, median_s, sigma) = lag else {
            panic!("{lag:?}")
        };
        // Mean and standard deviation of a log-normal variate (Johnson, Kotz and Balakrishnan,
        // Continuous Univariate Distributions, volume 1, 1994, chapter 14).
        near(median_s * (0.5 * sigma * sigma).exp(), mean_s, 1e-9);
        near(mean_s * ((sigma * sigma).exp() - 1.0).sqrt(), u_s, 1e-9);
    }
}

#[test]
fn without_an_uncertainty_it_is_held_and_undeclared_it_is_free() {
    let held = |lag: Lag| match lag {
        Lag::Held(lag_s) => Some(lag_s),
        _ => None,
    };
    for u_s in [None, Some(&[0.0][..]), Some(&[f64::NAN]), Some(&[])] {
        assert_eq!(
            held(Lag::of(&options(&[6.0], u_s), 0, 1)),
            Some(6.0),
            "{u_s:?}"
        );
    }
    assert_eq!(
        held(Lag::of(&options(&[0.0], Some(&[1.0])), 0, 1)),
        Some(0.0)
    );
    assert_eq!(held(Lag::of(&options(&[6.0, 4.0], None), 1, 2)), Some(4.0));
    let free = [
        Lag::of(&LampOptions::default(), 0, 2),
        Lag::of(&options(&[6.0, 4.0], None), 0, 3),
        Lag::of(&options(&[-1.0], None), 0, 1),
    ];
    assert!(
        free.iter().all(|lag| matches!(lag, Lag::Free(_))),
        "{free:?}"
    );
}

#[test]
fn what_nothing_shows_is_held_where_it_is_most_likely() {
    let held = |mut lag: Lag| {
        lag.hold();
        match lag {
            Lag::Held(lag_s) => lag_s,
            _ => f64::NAN,
        }
    };
    assert_eq!(held(Lag::Free(3)), 0.0);
    assert_eq!(held(Lag::Measured(3, 5.5, 0.2)), 5.5);
    assert_eq!(held(Lag::Held(2.0)), 2.0);
    assert_eq!(Lag::Free(3).place(), Some(3));
    assert_eq!(Lag::Measured(4, 5.5, 0.2).place(), Some(4));
    assert_eq!(Lag::Held(2.0).place(), None);
}
