//! The laws beside published tables and worked examples, and each law beside its own inverse.

use super::*;
use proptest::prelude::*;

/// R–T tables of three 10 kΩ parts and two curves computed from published constants; sources in
/// the file `tests/data/thermistor-tables.md`.
const TABLES: &str = include_str!("../../../tests/data/thermistor-tables.csv");

/// `(°C, Ω)` of one table.
fn table(name: &str) -> Vec<(f64, f64)> {
    let points: Vec<(f64, f64)> = TABLES
        .lines()
        .filter_map(|line| line.strip_prefix(name)?.strip_prefix(','))
        .map(|rest| {
            let mut cells = rest.split(',');
            let mut number = || cells.next().unwrap().parse().unwrap();
            (number(), number())
        })
        .collect();
    assert!(points.len() >= 10, "{name}");
    points
}

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// Constants of example 1 in A. Kaw et al., Numerical Methods with Applications, chapter 03.04.
const TEXTBOOK: ProbeLaw = ProbeLaw::SteinhartHart {
    a: 1.129_241e-3,
    b: 2.341_077e-4,
    c2: 0.0,
    c: 8.775_468e-8,
};

/// Constants of ln(R/R25) that Vishay's document 29049 prints for a 10 kΩ part of B25/85 = 3977 K.
fn four_constants() -> ProbeLaw {
    let constants = [3.354_016e-3, 2.569_85e-4, 2.620_131e-6, 6.383_091e-8];
    ProbeLaw::about(10e3, constants).checked().unwrap()
}

#[test]
fn steinhart_hart_agrees_with_a_textbook() {
    // Kaw et al.: 18.99 °C as printed; the root 13078.4266 Ω recomputed independently.
    near(TEXTBOOK.signal_at(18.99), 13_078.426_6, 1e-4);
    near(TEXTBOOK.degc_at(13_078.426_6), 18.99, 1e-6);
    // Recomputed with the same constants in Python.
    for (ohm, degc) in [
        (1e3, 87.168_133),
        (5e3, 41.572_577),
        (33e3, -0.208_783),
        (1e5, -20.523_948),
    ] {
        near(TEXTBOOK.degc_at(ohm), degc, 1e-6);
    }
}

#[test]
fn steinhart_hart_agrees_with_three_published_points() {
    // README of the npm package steinhart-hart: EPCOS points, and 307.9031 K at 7000 Ω.
    let law = ProbeLaw::SteinhartHart {
        a: 8.975_539_782_833_848e-4,
        b: 2.501_791_479_471_128e-4,
        c2: 0.0,
        c: 1.948_344_036_705_607_7e-7,
    };
    near(law.degc_at(87_041.0), -25.0, 1e-6);
    near(law.degc_at(27_326.0), 0.0, 1e-6);
    near(law.degc_at(7_000.0), 307.903_1 - ZERO_DEGC_K, 5e-5);
}

#[test]
fn four_constants_agree_with_the_makers_other_formula() {
    // The maker prints constants for both ways; the table holds R(T) by the one, we compute T(R) by
    // the other. They miss each other by at most 0.0115 K from −20 °C to 100 °C (recomputed).
    let law = four_constants();
    for (degc, ohm) in table("VISHAY-NTCLE100E3103-polynomial") {
        if degc >= -20.0 {
            near(law.degc_at(ohm), degc, 0.0125);
        }
    }
    near(law.signal_at(25.0), 10e3, 1.0);
}

#[test]
fn beta_agrees_with_a_published_table_near_room_temperature() {
    // SEMITEC 103AT-2 catalogue table (B25/85 = 3435 K): 10 kΩ at 25 °C, 5827 Ω at 40 °C,
    // 4160 Ω at 50 °C. Two published constants cannot carry the whole curve: 0.5 °C is what
    // the two-constant law costs between its end points.
    let law = ProbeLaw::Beta {
        r25_ohm: 10_000.0,
        beta_k: 3435.43,
    };
    near(law.degc_at(10_000.0), 25.0, 1e-9);
    near(law.degc_at(5_827.0), 40.0, 0.5);
    near(law.degc_at(4_160.0), 50.0, 0.5);
    near(law.degc_at(1_451.0), 85.0, 1e-2);
}

#[test]
fn generic_thermistors_are_laws_and_two_are_one_published_curve() {
    for part in GENERIC {
        let law = ProbeLaw::Beta {
            r25_ohm: part.r25_ohm,
            beta_k: part.beta_k,
        };
        assert!(law.checked().is_ok());
    }
    // The published table of 103AT-2 by both of its B values: each meets the point that it is
    // stated for within the rounding of B to 1 K (0.02 °C at 50 °C, 0.04 °C at 85 °C).
    let at = |degc: f64| {
        let found = table("SEMITEC-103AT-2")
            .into_iter()
            .find(|(t, _)| (*t - degc).abs() < 1e-9);
        found.unwrap().1
    };
    for part in &GENERIC[..2] {
        let law = ProbeLaw::Beta {
            r25_ohm: part.r25_ohm,
            beta_k: part.beta_k,
        };
        let (_, upper_degc) = part.between_degc;
        near(law.degc_at(at(upper_degc)), upper_degc, 0.04);
    }
}

#[test]
fn a_curve_through_half_a_published_table_meets_the_other_half() {
    // Points are 5 °C apart in the one table (−40 °C to 125 °C), 10 °C in the other; the printed
    // resistances are rounded by up to 0.1 %, 0.03 °C.
    for (name, tolerance_degc) in [("EPCOS-B57330V2103", 0.06), ("SEMITEC-103AT-2", 0.12)] {
        let all = table(name);
        let kept: Vec<(f64, f64)> = all.iter().step_by(2).map(|&(t, r)| (r, t)).collect();
        let law = ProbeLaw::Points(PointTable::new(Quantity::Ohm, &kept).unwrap());
        let (coldest, hottest) = law.range_degc();
        let between = all.iter().skip(1).step_by(2);
        for &(degc, ohm) in between.filter(|(t, _)| (coldest..=hottest).contains(t)) {
            near(law.degc_at(ohm), degc, tolerance_degc);
        }
    }
}

#[test]
fn platinum_agrees_with_iec_60751() {
    // Constants of IEC 60751:2008; the table's two decimals as published, its four computed with
    // other software. Sources beside the file in tests/data.
    let points = include_str!("../../../tests/data/platinum-points.csv");
    let law = ProbeLaw::Platinum { r0_ohm: 100.0 };
    let mut compared = 0;
    for line in points.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (degc, ohm): (f64, f64) = (cells[0].parse().unwrap(), cells[1].parse().unwrap());
        near(law.signal_at(degc), ohm, 5.1e-5);
        near(law.degc_at(ohm), degc, 2e-4);
        if let Ok(published) = cells[3].parse::<f64>() {
            near(law.signal_at(degc), published, 0.005_1);
            compared += 1;
        }
    }
    assert_eq!(compared, 9);
}

#[test]
fn a_linear_sensor_is_a_straight_line() {
    // 0.5 V at 0 °C and 10 mV/°C: 0.75 V at 25 °C.
    let law = ProbeLaw::Linear {
        v0_volt: 0.5,
        volt_per_degc: 0.01,
    };
    near(law.degc_at(0.75), 25.0, 1e-12);
    near(law.signal_at(-40.0), 0.1, 1e-12);
    assert!(law.degc_at(-5.0).is_nan(), "below absolute zero");
}

#[test]
fn constants_that_no_probe_has_are_refused() {
    for (r25_ohm, beta_k) in [
        (0.0, 3950.0),
        (-1.0, 3950.0),
        (f64::NAN, 3950.0),
        (1e4, 0.0),
    ] {
        assert!(ProbeLaw::Beta { r25_ohm, beta_k }.checked().is_err());
    }
    let bent = |a, b, c2, c| ProbeLaw::SteinhartHart { a, b, c2, c }.checked();
    assert!(matches!(
        bent(0.5, 2e-4, 0.0, 1e-7),
        Err(LawFault::Implausible { .. })
    ));
    assert_eq!(bent(1e-3, 2e-4, -9e-6, 1e-7), Err(LawFault::TurnsBack));
    assert!(bent(1e-3, 2e-4, f64::NAN, 1e-7).is_err());
    for r0_ohm in [0.0, -100.0, f64::NAN, 1e6] {
        assert!(ProbeLaw::Platinum { r0_ohm }.checked().is_err());
    }
    for volt_per_degc in [0.0, f64::NAN, f64::INFINITY] {
        let law = ProbeLaw::Linear {
            v0_volt: 0.5,
            volt_per_degc,
        };
        assert!(law.checked().is_err());
    }
    assert!(ProbeLaw::USUAL.checked().is_ok());
    assert!(TEXTBOOK.checked().is_ok());
}

#[test]
fn a_table_goes_on_along_its_ends_to_where_such_probes_can_be() {
    let table = PointTable::new(Quantity::Ohm, &[(138.5, 100.0), (100.0, 0.0)]).unwrap();
    assert_eq!(table.points(), [(100.0, 0.0), (138.5, 100.0)]);
    let (least, most) = ProbeLaw::Points(table).limits();
    let (coldest, hottest) = platinum::RANGE_DEGC;
    near(least, 100.0 + 0.385 * coldest, 1e-9);
    near(most, 100.0 + 0.385 * hottest, 1e-9);
    // Each end goes on along its own tangent: the square of the signal has 2 at 1 and 8 at 4.
    let bent = PointTable::new(Quantity::Ohm, &[(1.0, 1.0), (2.0, 4.0), (4.0, 16.0)]).unwrap();
    let (least, most) = ProbeLaw::Points(bent).limits();
    near(least, 1.0 + (coldest - 1.0) / 2.0, 1e-9);
    near(most, 4.0 + (hottest - 16.0) / 8.0, 1e-9);
}

#[test]
fn the_tangent_at_a_point_is_the_parabolas_through_its_neighbours() {
    // x² + 2x has the slope 2 at 0 and 4 at 1, and 0.4 of the way to the next point it is steeper still.
    let points = [(0.0, 0.0), (1.0, 3.0), (3.0, 15.0)];
    let table = PointTable::new(Quantity::Volt, &points).unwrap();
    near(table.slope_at(1.0), 4.0, 1e-9);
    near(table.slope_at(0.0), 2.0, 1e-9);
    assert!(table.slope_at(1.8) > 4.0);
}

#[test]
fn points_that_no_one_probe_has_are_refused_by_their_number() {
    let new = |points: &[(f64, f64)]| PointTable::new(Quantity::Ohm, points);
    assert_eq!(new(&[(1e4, 25.0)]), Err(TableFault::Count { given: 1 }));
    assert_eq!(
        new(&[(1e4, 25.0), (3e4, 0.0), (1e4, 20.0)]),
        Err(TableFault::Twice {
            first: 1,
            second: 3,
            what: "signal"
        })
    );
    assert_eq!(
        new(&[(1e4, 25.0), (3e4, 0.0), (4e4, 0.0)]),
        Err(TableFault::Twice {
            first: 2,
            second: 3,
            what: "temperature"
        })
    );
    assert_eq!(
        new(&[(5e3, 40.0), (3e4, 0.0), (4e4, 5.0)]),
        Err(TableFault::TurnsBack {
            at: 3,
            signal: 4e4,
            degc: 5.0
        })
    );
    for wrong in [
        (-1.0, 5.0),
        (f64::NAN, 5.0),
        (1e3, -300.0),
        (1e3, f64::INFINITY),
    ] {
        let fault = new(&[(1e4, 25.0), wrong]).unwrap_err();
        assert!(
            matches!(fault, TableFault::Impossible { at: 2, .. }),
            "{fault}"
        );
    }
}

#[test]
fn laws_stand_in_files_as_they_always_did() {
    let read = |text: &str| serde_json::from_str::<ProbeLaw>(text);
    let beta = r#"{"beta":{"r25_ohm":10000.0,"beta_k":3435.0}}"#;
    let three = r#"{"steinhart-hart":{"a":0.001,"b":0.0002,"c":1e-7}}"#;
    for text in [
        beta,
        three,
        r#"{"steinhart-hart":{"a":0.001,"b":0.0002,"c2":1e-6,"c":1e-7}}"#,
        r#"{"platinum":{"r0_ohm":100.0}}"#,
        r#"{"linear":{"v0_volt":0.5,"volt_per_degc":0.01}}"#,
        r#"{"points":{"quantity":"ohm","points":[[1451.0,85.0],[10000.0,25.0]]}}"#,
    ] {
        let law = read(text).unwrap();
        assert_eq!(serde_json::to_string(&law).unwrap(), text);
        assert!(law.checked().is_ok());
    }
    let broken = r#"{"points":{"quantity":"ohm","points":[[1451.0,85.0]]}}"#;
    assert!(
        read(broken)
            .unwrap_err()
            .to_string()
            .contains("2 to 2048 points")
    );
}

/// Laws of every kind, with constants as widely spread as they are met.
fn any_law() -> impl Strategy<Value = ProbeLaw> {
    let beta = (1e2..1e6f64, 2500.0..5000.0f64)
        .prop_map(|(r25_ohm, beta_k)| ProbeLaw::Beta { r25_ohm, beta_k });
    let cubic = (0.9..1.1f64, 0.9..1.1f64, -1.0..1.0f64).prop_map(|(b, c, bend)| {
        let (b, c) = (2.3e-4 * b, 1e-7 * c);
        // As near to turning back as 90 %, about 10 kΩ: steep where it bends most.
        let c2 = 0.9 * bend * (3.0 * b * c).sqrt();
        ProbeLaw::about(10e3, [1.0 / T25_K, b, c2, c])
    });
    let platinum = (10.0..1e4f64).prop_map(|r0_ohm| ProbeLaw::Platinum { r0_ohm });
    let linear = (0.0..3.0f64, 1e-3..0.05f64, any::<bool>()).prop_map(|(v0_volt, s, falls)| {
        let volt_per_degc = if falls { -s } else { s };
        ProbeLaw::Linear {
            v0_volt,
            volt_per_degc,
        }
    });
    prop_oneof![beta, cubic, platinum, linear, any_points()]
}

fn any_points() -> impl Strategy<Value = ProbeLaw> {
    let steps = proptest::collection::vec((0.5..20.0f64, 0.01..0.5f64), 1..40);
    (steps, any::<bool>(), any::<bool>()).prop_map(|(steps, falls, volt)| {
        let (mut degc, mut lns) = (-50.0, 9.0);
        let mut points = vec![];
        for (step_degc, step) in steps {
            let signal = if volt { lns } else { f64::exp(lns) };
            points.push((signal, degc));
            degc += step_degc.min((145.0 - degc) / 2.0);
            lns += if falls { -step } else { step };
        }
        points.push((if volt { lns } else { f64::exp(lns) }, degc));
        let quantity = if volt { Quantity::Volt } else { Quantity::Ohm };
        ProbeLaw::Points(PointTable::new(quantity, &points).unwrap())
    })
}

proptest! {
    #[test]
    fn every_law_goes_there_and_back(law in any_law(), share in 0.0..=1.0f64) {
        let (cold, hot) = law.range_degc();
        let degc = (cold + share * (hot - cold)).clamp(cold + 1e-6, hot - 1e-6);
        let signal = law.signal_at(degc);
        let back = law.degc_at(signal);
        prop_assert!((back - degc).abs() < 1e-9, "{law:?}: {degc} {signal} {back}");
        let again = law.signal_at(back);
        prop_assert!((again / signal - 1.0).abs() < 1e-9 || (again - signal).abs() < 1e-9);
    }

    #[test]
    fn every_law_only_rises_or_only_falls(law in any_law(), one in 0.0..=1.0f64, step in 1e-6..0.1f64) {
        let (cold, hot) = law.range_degc();
        let degc = |share: f64| (cold + share.min(1.0) * (hot - cold)).clamp(cold + 1e-6, hot - 1e-6);
        let (lower, higher) = (degc(one), degc(one + step));
        prop_assume!(higher - lower > 1e-6);
        let falls = law.signal_at(hot - 1e-6) < law.signal_at(cold + 1e-6);
        let (at_lower, at_higher) = (law.signal_at(lower), law.signal_at(higher));
        prop_assert_eq!(at_higher < at_lower, falls);
        prop_assert!((at_higher - at_lower).abs() > 0.0);
        prop_assert_eq!(law.slope_at(at_lower) < 0.0, falls);
    }

    #[test]
    fn the_slope_is_that_of_the_law(law in any_law(), share in 0.05..0.95f64) {
        let (cold, hot) = law.range_degc();
        let degc = cold + share * (hot - cold);
        let signal = law.signal_at(degc);
        // Central difference: its own error is of the second order in the step, and the cubic's
        // second derivative jumps at a point of a table.
        let h = 1e-7 * (1.0 + signal.abs());
        let difference = (law.degc_at(signal + h) - law.degc_at(signal - h)) / (2.0 * h);
        let slope = law.slope_at(signal);
        prop_assert!((difference / slope - 1.0).abs() < 1e-3, "{difference} {slope}");
    }

    #[test]
    fn the_limits_hold_the_whole_range(law in any_law(), share in 0.0..=1.0f64) {
        let (least, most) = law.limits();
        let (cold, hot) = law.range_degc();
        let signal = law.signal_at(cold + share * (hot - cold));
        prop_assert!(signal.is_nan() || (least..=most).contains(&signal), "{least} {signal} {most}");
    }

    #[test]
    fn no_signal_makes_a_law_panic(law in any_law(), signal in proptest::num::f64::ANY) {
        let degc = law.degc_at(signal);
        prop_assert!(degc.is_nan() || degc > -ZERO_DEGC_K - 1e-9);
        let _ = (law.slope_at(signal), law.signal_at(signal));
    }
}
