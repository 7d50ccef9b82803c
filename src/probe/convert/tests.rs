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
