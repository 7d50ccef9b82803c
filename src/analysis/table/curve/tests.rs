//! Slips in invented lessons: named, told, or rightly not.

use super::{Curve, Odd, Scale, odd};

/// Newton's law of cooling in closed form, every two minutes, in tenths: lit for ten minutes.
fn lesson(most: f64, tau_min: f64) -> Vec<f64> {
    let degc = |t_min: f64| {
        let lit = 1.0 - (-t_min.min(10.0) / tau_min).exp();
        21.0 + most * lit * (-(t_min - 10.0).max(0.0) / tau_min).exp()
    };
    let rows = (0..11).map(|row| degc(2.0 * f64::from(row)));
    rows.map(|v| (v * 10.0).round() / 10.0).collect()
}

fn found(change: impl Fn(&mut [Vec<f64>; 2])) -> Vec<Odd> {
    let t_s: Vec<f64> = (0..11).map(|row| 120.0 * f64::from(row)).collect();
    let mut columns = [lesson(13.0, 4.0), lesson(7.0, 3.0)];
    change(&mut columns);
    let scale = Scale::Celsius;
    odd(&t_s, columns.map(|degc| Curve { scale, degc }).to_vec())
}

#[test]
fn neither_the_lamp_nor_its_begin_and_end_are_slips() {
    assert_eq!(found(|_| {}), []);
    // A cloud over both, for one row.
    assert_eq!(found(|c| c.iter_mut().for_each(|degc| degc[3] -= 4.0)), []);
    // Half degrees.
    let half = |v: &mut f64| *v = (*v * 2.0).round() / 2.0;
    assert_eq!(found(|c| c.iter_mut().flatten().for_each(half)), []);
}

#[test]
fn a_wrong_ten_is_named_in_every_row_but_the_outer_ones() {
    for row in 1..10 {
        for (column, by) in [(0, 10.0), (0, -10.0), (1, 10.0), (1, -10.0)] {
            let seen = found(|c| c[column][row] += by);
            let [
                Odd::Value {
                    column: of,
                    row: at,
                    perhaps: Some(perhaps),
                    left_out: true,
                },
            ] = seen[..]
            else {
                panic!("{column} {row} {by}: {seen:?}");
            };
            assert_eq!((of, at), (column, row));
            let meant = [lesson(13.0, 4.0), lesson(7.0, 3.0)][column][row];
            assert!((perhaps - meant).abs() < 1e-6, "{perhaps}, not {meant}");
        }
    }
}

#[test]
fn a_slip_that_has_no_plain_meaning_is_told() {
    let seen = found(|c| c[0][7] += 5.0);
    let value = |odd: &Odd| {
        matches!(
            odd,
            Odd::Value {
                column: 0,
                row: 7,
                perhaps: None,
                ..
            }
        )
    };
    assert!(seen.len() == 1 && seen.iter().all(value), "{seen:?}");
}

#[test]
fn swapped_columns_and_rows_written_twice_are_known() {
    let swap = |row: usize| {
        move |c: &mut [Vec<f64>; 2]| {
            let [one, other] = c;
            std::mem::swap(&mut one[row], &mut other[row]);
        }
    };
    let columns = (0, 1);
    assert_eq!(found(swap(3)), [Odd::Swapped { columns, row: 3 }]);
    assert_eq!(found(swap(7)), [Odd::Swapped { columns, row: 7 }]);
    let twice = found(|c| c.iter_mut().for_each(|degc| degc[2] = degc[1]));
    assert_eq!(twice, [Odd::Repeated { row: 2 }]);
}

#[test]
fn what_is_no_curve_is_not_judged() {
    let saw = |c: &mut [Vec<f64>; 2]| {
        for (row, degc) in c[0].iter_mut().enumerate() {
            *degc += if row % 2 == 0 { 8.0 } else { -8.0 };
        }
    };
    assert_eq!(found(saw), []);
}
