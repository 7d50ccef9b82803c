//! Columns that people worked out from others: they are no samples.

use super::column::Column;
use crate::analysis::Warning;
use crate::analysis::series::printed_step_degc;

/// Words for a difference in a heading, in lower case.
const WORDS: [&str; 9] = [
    "difference",
    "differenz",
    "différence",
    "diff",
    "diff.",
    "unterschied",
    "delta",
    "δ",
    "Δ",
];

/// Of so many rows in ten the numbers must be the difference: people also miscalculate.
const ROWS_IN_TEN: usize = 8;

/// Leaves out columns that are named a difference and hold that of two others, saying so.
pub(super) fn differences(columns: &mut Vec<Column>, warnings: &mut Vec<Warning>) {
    let named: Vec<usize> = (0..columns.len())
        .filter(|i| columns.get(*i).is_some_and(|c| is_named_so(&c.heading)))
        .collect();
    let mut left_out = Vec::new();
    for at in named {
        let others = || (0..columns.len()).filter(|i| *i != at);
        let mut pairs = others().flat_map(|a| others().map(move |b| (a, b)));
        let found = pairs.find_map(|(a, b)| {
            let (of, from, column) = (columns.get(a)?, columns.get(b)?, columns.get(at)?);
            is_difference(column, of, from).then(|| Warning::Difference {
                column: column.heading.clone(),
                of: of.name.clone(),
                from: from.name.clone(),
            })
        });
        if let Some(found) = found {
            left_out.push(at);
            warnings.push(found);
        }
    }
    let mut at = 0..;
    columns.retain(|_| !at.next().is_some_and(|at| left_out.contains(&at)));
}

fn is_named_so(heading: &str) -> bool {
    let lower = heading.to_lowercase();
    let mut words = lower.split(|c: char| c.is_whitespace() || "_-/()[]:,".contains(c));
    words.any(|w| WORDS.contains(&w)) || lower.starts_with(['δ', 'Δ'])
}

/// Whether a column holds what one of two others is above the other.
fn is_difference(column: &Column, of: &Column, from: &Column) -> bool {
    let step = |c: &Column| printed_step_degc(&c.degc).unwrap_or(0.1);
    // In other units than kelvins a difference has no zero to take off.
    let value = |v: f64| column.scale.of_degc(v);
    let within = 0.5 * step(column) + step(of).max(step(from)) + 1e-6;
    let rows = || column.degc.iter().zip(of.degc.iter().zip(&from.degc));
    let scale = |v: f64| of.scale.of_degc(v) - of.scale.of_degc(0.0);
    let known = || rows().filter(|(d, (a, b))| (*d + *a + *b).is_finite());
    let off = |(d, (a, b)): &(&f64, (&f64, &f64))| (value(**d) - scale(**a - **b)).abs();
    let same = known().filter(|row| off(row) <= within).count();
    let rows = known().count();
    rows >= 3 && same * 10 >= rows * ROWS_IN_TEN
}

#[cfg(test)]
mod tests {
    use super::super::read_table;

    #[test]
    fn a_difference_is_no_sample() {
        let names = |text: &str| {
            let table = read_table(text.as_bytes()).unwrap();
            let names = table.series.channels.iter().map(|c| c.name.clone());
            let said = table.warnings.iter().map(ToString::to_string);
            (
                names.collect::<Vec<_>>(),
                said.collect::<Vec<_>>().join(" "),
            )
        };
        for heading in ["difference", "Differenz (°C)", "Δ", "slate - moss diff"] {
            let (found, said) = names(&format!(
                "min,slate,moss,{heading}\n0,22.0,21.0,1.0\n1,25.1,23.1,2.0\n2,27.5,24.4,3.1\n"
            ));
            assert_eq!(found, ["slate", "moss"], "{heading}");
            assert!(said.contains("is slate less moss"), "{said}");
        }
        // In degrees Fahrenheit too, and the other way round.
        let (found, _) = names(
            "min,slate °F,moss °F,Δ °F\n0,71.6,69.8,-1.8\n1,77.2,73.2,-4.0\n2,81.5,75.9,-5.6\n",
        );
        assert_eq!(found, ["slate", "moss"]);
        // What is called so and is none stays.
        let (found, _) = names("min,slate,difference\n0,22.0,21.0\n1,25.1,23.1\n2,27.5,24.4\n");
        assert_eq!(found, ["slate", "difference"]);
    }
}
