//! Numbers as printed, against the standard library's correctly rounded reading.

use proptest::prelude::*;

use super::{Field, decimal, digits, loose, with_comma};

#[expect(
    clippy::unnecessary_wraps,
    reason = "the expected side of tables that also hold None"
)]
fn number(value: f64, decimals: u8) -> Option<Field> {
    Some(Field::Number { value, decimals })
}

#[test]
fn strict_numbers() {
    let table: [(&str, Option<Field>); 24] = [
        ("0", number(0.0, 0)),
        ("23.4", number(23.4, 1)),
        ("-3.25", number(-3.25, 2)),
        ("+0.50", number(0.5, 2)),
        ("007.5", number(7.5, 1)),
        ("12345678", number(12_345_678.0, 0)),
        ("123456789012", number(123_456_789_012.0, 0)),
        // 2^64 + 1: a mantissa that wraps around must not be believed.
        (
            "18446744073709551617",
            number(18_446_744_073_709_551_616.0, 0),
        ),
        ("1844674407.3709551617", number(1_844_674_407.370_955_2, 10)),
        ("4294967295.123456789", number(4_294_967_295.123_457, 9)),
        ("", None),
        ("-", None),
        ("+", None),
        (".5", None),
        ("5.", None),
        ("--5", None),
        ("1.2.3", None),
        ("1e5", None),
        ("0x7F", None),
        ("1,5", None),
        (" 1", None),
        ("1 ", None),
        ("nan", None),
        ("1:", None),
    ];
    for (text, expected) in table {
        assert_eq!(decimal(text.as_bytes()), expected, "{text:?}");
    }
}

#[test]
fn loose_numbers() {
    let nan = Some(Field::NotANumber);
    let table: [(&str, Option<Field>); 19] = [
        ("", Some(Field::Empty)),
        (".5", number(0.5, 1)),
        ("5.", number(5.0, 0)),
        ("2.50e-1", number(0.25, 3)),
        ("2.5e1", number(25.0, 0)),
        ("-1E3", number(-1000.0, 0)),
        ("1e999", nan),
        ("-1e999", nan),
        ("NaN", nan),
        ("-inf", nan),
        ("+Infinity", nan),
        ("---", nan),
        ("ovf", nan),
        ("-", None),
        ("--5", None),
        ("e5", None),
        ("1e", None),
        ("slate", None),
        ("1_000", None),
    ];
    for (text, expected) in table {
        assert_eq!(loose(text.as_bytes()), expected, "{text:?}");
    }
    assert_eq!(with_comma(b"23,40"), number(23.4, 2));
    assert_eq!(with_comma(b"1.023,5"), None);
    assert_eq!(with_comma(b"1,023,5"), None);
}

#[test]
fn a_number_as_long_as_a_line_is_still_exact() {
    let long = format!("{}.{}", "9".repeat(120), "3".repeat(120));
    assert_eq!(decimal(long.as_bytes()), number(long.parse().unwrap(), 120));
}

proptest! {
    #[test]
    fn numbers_agree_with_the_standard_library(text in "[+-]?[0-9]{1,25}(\\.[0-9]{1,25})?") {
        let decimals = text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        let expected = number(text.parse().unwrap(), u8::try_from(decimals).unwrap());
        prop_assert_eq!(decimal(text.as_bytes()), expected);
        prop_assert_eq!(loose(text.as_bytes()), expected);
    }

    #[test]
    fn digits_stop_where_a_slow_look_says(bytes in "[0-9]{0,12}", tail in prop::collection::vec(any::<u8>(), 0..12)) {
        let all = [bytes.as_bytes(), &tail].concat();
        let count = all.iter().take_while(|byte| byte.is_ascii_digit()).count();
        let (value, found) = digits(&all);
        prop_assert_eq!(found, count);
        if (1..20).contains(&count) {
            let text = std::str::from_utf8(&all[..count]).unwrap();
            prop_assert_eq!(Ok(value), text.parse());
        }
    }

    #[test]
    fn nothing_but_finite_numbers_comes_out(bytes in prop::collection::vec(any::<u8>(), 0..30)) {
        for field in [decimal(&bytes), loose(&bytes), with_comma(&bytes)].into_iter().flatten() {
            if let Field::Number { value, .. } = field {
                prop_assert!(value.is_finite());
            }
        }
    }
}
