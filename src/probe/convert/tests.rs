//! Fields of every kind, and setups that cannot work.

use super::*;

fn number(value: f64) -> Field {
    Field::Number { value, decimals: 1 }
}

fn counts_board(full_scale: u32) -> Converter {
    let setup = ProbeSetup {
        unit: Some(Unit::Adc),
        full_scale: Some(full_scale),
        ..ProbeSetup::default()
    };
    Converter::new(&setup, None, 2).unwrap()
}

#[test]
fn counts_at_half_scale_are_25_degc_for_equal_resistors() {
    let Reading::Degc { value, decimals } = counts_board(65_536).reading(0, number(32_768.0), None)
    else {
        panic!("no temperature");
    };
    assert!((value - 25.0).abs() < 1e-9);
    assert_eq!(decimals, 3);
}

#[test]
fn a_coarse_converter_earns_fewer_decimals() {
    let board = counts_board(1024);
    // 4 · T² / (B · full) = 0.0879 °C per count at 25 °C, from the divider's derivative.
    let step = board.resolution_degc(0).unwrap();
    assert!((step - 4.0 * 298.15 * 298.15 / (3950.0 * 1024.0)).abs() < 1e-3);
    assert!(matches!(
        board.reading(1, number(500.0), None),
        Reading::Degc { decimals: 2, .. }
    ));
}

#[test]
fn a_digital_probe_that_does_not_answer_has_no_reading() {
    // What sketches print then: common practice, no source.
    let board = Converter::new(&ProbeSetup::default(), None, 2).unwrap();
    let none = Reading::Fault(ProbeFault::NoReading);
    assert_eq!(board.reading(0, number(-127.0), None), none);
    assert_eq!(board.reading(0, number(-127.0), Some(Unit::Degc)), none);
    assert_eq!(board.reading(0, number(-196.6), Some(Unit::Degf)), none);
    assert_eq!(board.reading(0, number(146.15), Some(Unit::Kelvin)), none);
    let cold = board.reading(0, number(-126.9), None);
    assert!(matches!(cold, Reading::Degc { .. }), "{cold:?}");
}

#[test]
fn open_shorted_and_impossible_readings_have_names() {
    let board = counts_board(65_536);
    // 64 sums of a ten-bit converter at its rail: not quite full scale, yet an open lead.
    let cases = [
        (number(65_472.0), ProbeFault::Open),
        (number(65_536.0), ProbeFault::Open),
        (number(0.0), ProbeFault::Short),
        (number(64.0), ProbeFault::Short),
        (number(65_537.0), ProbeFault::OutOfRange),
        (number(f64::NAN), ProbeFault::NotANumber),
        (Field::NotANumber, ProbeFault::NotANumber),
        (Field::Empty, ProbeFault::NoReading),
    ];
    for (field, fault) in cases {
        assert_eq!(
            board.reading(0, field, None),
            Reading::Fault(fault),
            "{field:?}"
        );
    }
}

#[test]
fn what_cannot_be_stated_is_refused_at_its_very_bound() {
    let counts = |full_scale: u32| ProbeSetup {
        unit: Some(Unit::Adc),
        full_scale: Some(full_scale),
        ..ProbeSetup::default()
    };
    let refused = |setup: ProbeSetup| Converter::new(&setup, None, 1).err();
    assert_eq!(refused(counts(0)), Some(SetupFault::NoFullScale));
    assert_eq!(refused(counts(254)), Some(SetupFault::FullScale(254)));
    assert_eq!(refused(counts(255)), None);
    let tolerance = |share: f64| ProbeSetup {
        fixed_tolerance: Some(share),
        ..counts(1024)
    };
    for (share, good) in [(0.0, false), (0.01, true), (0.999, true), (1.0, false)] {
        let fault = refused(tolerance(share));
        assert_eq!(fault.is_none(), good, "{share}: {fault:?}");
    }
    assert!(refused(tolerance(f64::NAN)).is_some());
}

#[test]
fn what_stands_in_flags_columns_stays() {
    use ProbeFault::{Absent, NoReading, NotANumber, Open, OtherBoard, OutOfRange, PowerOn, Short};
    let faults = [
        NoReading, PowerOn, NotANumber, Open, Short, OutOfRange, OtherBoard, Absent,
    ];
    let codes = faults.map(ProbeFault::code);
    let promised = [
        "no-reading",
        "power-on",
        "not-a-number",
        "open",
        "short",
        "out-of-range",
        "other-board",
        "absent",
    ];
    assert_eq!(codes, promised);
    assert_eq!(Open.words(), "open: broken lead or loose plug");
    assert!(faults.iter().all(|fault| fault.words().len() > 20));
}

#[test]
fn a_temperature_has_the_decimals_that_its_line_printed() {
    let board = Converter::new(&ProbeSetup::default(), None, 1).unwrap();
    for (unit, printed, shown) in [
        (Unit::Degc, 1, 1),
        (Unit::Degc, 5, 3),
        // A step of 0.1 °F is 0.06 °C.
        (Unit::Degf, 0, 1),
        (Unit::Degf, 1, 2),
        (Unit::Degf, 3, 3),
        // Zero Celsius has two decimals in kelvin.
        (Unit::Kelvin, 0, 2),
        (Unit::Kelvin, 3, 3),
    ] {
        let field = Field::Number {
            value: 290.0,
            decimals: printed,
        };
        let field = match unit {
            Unit::Degc => Field::Number {
                value: 23.4,
                decimals: printed,
            },
            _ => field,
        };
        let Reading::Degc { decimals, .. } = board.reading(0, field, Some(unit)) else {
            panic!("no temperature in {unit:?}");
        };
        assert_eq!(decimals, shown, "{printed} decimals in {unit:?}");
    }
}

#[test]
fn a_line_may_state_its_own_unit() {
    let board = Converter::new(&ProbeSetup::default(), None, 1).unwrap();
    // NIST SP 811, appendix B.8: 32 °F is 0 °C, 212 °F is 100 °C.
    for (value, unit, degc) in [
        (23.4, Unit::Degc, 23.4),
        (212.0, Unit::Degf, 100.0),
        (32.0, Unit::Degf, 0.0),
        (273.15, Unit::Kelvin, 0.0),
    ] {
        let Reading::Degc { value, .. } = board.reading(0, number(value), Some(unit)) else {
            panic!("no temperature");
        };
        assert!((value - degc).abs() < 1e-9);
    }
    assert_eq!(
        board.reading(0, number(-300.0), None),
        Reading::Fault(ProbeFault::OutOfRange)
    );
}

#[test]
fn a_setup_that_cannot_work_says_why() {
    let adc = ProbeSetup {
        unit: Some(Unit::Adc),
        ..ProbeSetup::default()
    };
    assert_eq!(Converter::new(&adc, None, 2), Err(SetupFault::NoFullScale));
    let three = ProbeSetup {
        laws: vec![ProbeLaw::USUAL; 3],
        ..ProbeSetup::default()
    };
    assert!(matches!(
        Converter::new(&three, None, 2),
        Err(SetupFault::LawCount {
            given: 3,
            channels: 2
        })
    ));
    let zero = ProbeSetup {
        fixed_ohm: Some(0.0),
        full_scale: Some(1024),
        ..adc
    };
    assert_eq!(
        Converter::new(&zero, None, 2),
        Err(SetupFault::FixedResistor(0.0))
    );
}

#[test]
fn a_voltage_sensor_behind_a_converter_needs_a_reference() {
    let mut setup = ProbeSetup {
        unit: Some(Unit::Adc),
        full_scale: Some(4096),
        laws: vec![ProbeLaw::Linear {
            v0_volt: 0.5,
            volt_per_degc: 0.01,
        }],
        ..ProbeSetup::default()
    };
    let fault = Converter::new(&setup, None, 2).unwrap_err();
    assert_eq!(fault, SetupFault::NoReference { channel: 1 });
    setup.reference_volt = Some(3.3);
    let board = Converter::new(&setup, None, 2).unwrap();
    let Reading::Degc { value, .. } = board.reading(0, number(1000.0), None) else {
        panic!("no temperature");
    };
    assert!((value - (1000.0 / 4096.0 * 3.3 - 0.5) / 0.01).abs() < 1e-9);
    for end in [0.0, 4095.0, 4096.0] {
        let fault = Reading::Fault(ProbeFault::OutOfRange);
        assert_eq!(board.reading(0, number(end), None), fault);
    }
}

#[test]
fn platinum_breaks_and_shorts_the_other_way_round() {
    let setup = ProbeSetup {
        unit: Some(Unit::Ohm),
        laws: vec![ProbeLaw::Platinum { r0_ohm: 100.0 }],
        ..ProbeSetup::default()
    };
    let board = Converter::new(&setup, None, 1).unwrap();
    // IEC 60751 ends at 18.52 Ω (−200 °C) and 390.48 Ω (850 °C).
    for (ohm, fault) in [(391.0, ProbeFault::Open), (18.0, ProbeFault::Short)] {
        assert_eq!(board.reading(0, number(ohm), None), Reading::Fault(fault));
    }
    // 0.1 Ω is 0.26 °C there: one decimal.
    let Reading::Degc { value, decimals } = board.reading(0, number(109.7), None) else {
        panic!("no temperature");
    };
    assert!((value - 24.911).abs() < 1e-3, "{value}");
    assert_eq!(decimals, 1);
}

#[test]
fn beyond_a_table_is_out_of_range_and_far_beyond_is_a_broken_lead() {
    let points = [(27_326.0, 0.0), (10_000.0, 25.0), (1451.0, 85.0)];
    let table = crate::probe::PointTable::new(Quantity::Ohm, &points).unwrap();
    let setup = ProbeSetup {
        unit: Some(Unit::Ohm),
        laws: vec![ProbeLaw::Points(table)],
        ..ProbeSetup::default()
    };
    let board = Converter::new(&setup, None, 1).unwrap();
    for (ohm, fault) in [
        (30_000.0, ProbeFault::OutOfRange),
        (1e7, ProbeFault::Open),
        (1400.0, ProbeFault::OutOfRange),
        (5.0, ProbeFault::Short),
    ] {
        assert_eq!(board.reading(0, number(ohm), None), Reading::Fault(fault));
    }
    assert!(matches!(
        board.reading(0, number(1451.0), None),
        Reading::Degc { .. }
    ));
}

#[test]
fn what_the_board_sends_must_be_what_the_law_takes() {
    let volts = ProbeLaw::Linear {
        v0_volt: 0.5,
        volt_per_degc: 0.01,
    };
    let new = |unit, law: &ProbeLaw| {
        let setup = ProbeSetup {
            unit: Some(unit),
            laws: vec![law.clone()],
            ..ProbeSetup::default()
        };
        Converter::new(&setup, None, 2)
    };
    let fault = new(Unit::Ohm, &volts).unwrap_err().to_string();
    assert_eq!(
        fault,
        "probe 1: the board sends Ω, but the probe's law takes V"
    );
    assert!(new(Unit::Volt, &ProbeLaw::USUAL).is_err());
    let board = new(Unit::Volt, &volts).unwrap();
    assert!(matches!(
        board.reading(1, number(0.75), None),
        Reading::Degc { .. }
    ));
}

#[test]
fn stated_values_that_cannot_be_are_refused() {
    let with = |edit: &dyn Fn(&mut ProbeSetup)| {
        let mut setup = ProbeSetup {
            unit: Some(Unit::Adc),
            full_scale: Some(1024),
            ..ProbeSetup::default()
        };
        edit(&mut setup);
        Converter::new(&setup, None, 1).map_err(|fault| fault.to_string())
    };
    assert!(with(&|_| {}).is_ok());
    for (wrong, part) in [
        (with(&|s| s.full_scale = Some(100)), "eight bits"),
        (
            with(&|s| s.reference_volt = Some(-1.0)),
            "reference voltage",
        ),
        (with(&|s| s.supply_volt = Some(f64::NAN)), "supply voltage"),
        (with(&|s| s.fixed_tolerance = Some(1.5)), "tolerance"),
        (with(&|s| s.dissipation_mw_per_k = Some(0.0)), "dissipation"),
    ] {
        let text = wrong.unwrap_err();
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn setups_of_runs_of_before_are_read() {
    let text = r#"{"unit":"adc","full_scale":1024,"thermistors":[{"beta":{"r25_ohm":10000.0,"beta_k":3435.0}}]}"#;
    let setup: ProbeSetup = serde_json::from_str(text).unwrap();
    assert_eq!(setup.laws.len(), 1);
}
