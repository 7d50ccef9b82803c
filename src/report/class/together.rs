//! The quantities of a class over all its benches, as a table.

use crate::analysis::class::{BenchRow, Class, ClassRatio, Pooled, Quantity, Spread};
use crate::analysis::rounded;
use crate::report::{Cell, Scale, Table, Value, Words};

/// Key of a quantity's name.
pub(super) fn quantity_key(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Start => "class-start",
        Quantity::Rise => "class-rise",
        Quantity::Fall => "class-fall",
        Quantity::HeatingRate => "class-heating",
        Quantity::CoolingRate => "class-cooling",
        Quantity::TimeConstant => "class-constant",
        Quantity::RiseRatio => "class-ratio-rise",
        Quantity::InitialRateRatio => "class-ratio-rate",
    }
}

/// What a quantity measures.
pub(super) fn scale_of(quantity: Quantity) -> Scale {
    match quantity {
        Quantity::Start => Scale::Temperature,
        Quantity::Rise | Quantity::Fall | Quantity::HeatingRate | Quantity::CoolingRate => {
            Scale::Difference
        }
        Quantity::TimeConstant | Quantity::RiseRatio | Quantity::InitialRateRatio => Scale::Other,
    }
}

/// Finer than this, in the quantity's own unit, no bench is built like another.
pub(super) fn finest(quantity: Quantity) -> f64 {
    match quantity {
        Quantity::RiseRatio | Quantity::InitialRateRatio => 0.01,
        Quantity::TimeConstant => 1.0,
        _ => 0.1,
    }
}

/// What benches have together is known that many times finer than what one has.
const FINER: f64 = 10.0;

/// A number of the benches together and an uncertainty of it, as digits: rounded to the latter, but no
/// finer than such benches can be told apart, however alike they are.
pub(super) fn rounded_together(quantity: Quantity, value: f64, u: f64) -> (String, String) {
    let least = finest(quantity) / FINER;
    if u >= least {
        return rounded(value, u);
    }
    let (value, digits) = rounded(value, least);
    let places = digits.split_once('.').map_or(0, |(_, after)| after.len());
    // What is above nought is not told as nought.
    let last = libm::pow(10.0, -(places as f64));
    (value, format!("{:.places$}", u.max(last)))
}

/// A bench's own ratio with its standard uncertainty.
pub(super) fn ratio_of(class: &Class, row: &BenchRow, ratio: &ClassRatio) -> Option<(f64, f64)> {
    let place = |name: &str| class.samples.iter().position(|s| s.name == name);
    row.ratio(
        place(&ratio.upper)?,
        place(&ratio.lower)?,
        ratio.ratio.quantity,
    )
}

/// All quantities of all samples, then the ratios.
pub(super) fn table(words: &Words, class: &Class) -> Table {
    let heads = [
        "class-quantity",
        "class-n",
        "class-median",
        "class-range",
        "class-robust",
        "class-pooled",
        "class-within",
        "class-between",
    ];
    let mut rows = Vec::new();
    for sample in &class.samples {
        for spread in sample.quantities.iter().filter(|s| s.n > 0) {
            let quantity = words.say(quantity_key(spread.quantity));
            let title = words.tell(
                "class-of",
                &[
                    ("quantity", Value::Text(&quantity)),
                    ("sample", Value::Name(&sample.name)),
                ],
            );
            rows.push(row(words, &title, spread));
        }
    }
    for ratio in class.ratios.iter().filter(|r| r.ratio.n > 0) {
        let names = [
            ("upper", Value::Name(&ratio.upper)),
            ("lower", Value::Name(&ratio.lower)),
        ];
        let title = words.tell(quantity_key(ratio.ratio.quantity), &names);
        rows.push(row(words, &title, &ratio.ratio));
    }
    Table {
        caption: String::new(),
        name: words.say("class-together"),
        head: vec![
            heads
                .iter()
                .map(|key| Cell::heading(words.say(key)))
                .collect(),
        ],
        rows,
    }
}

fn row(words: &Words, title: &str, spread: &Spread) -> Vec<Cell> {
    let scale = scale_of(spread.quantity);
    let size = |x: f64| words.scaled(scale.of_uncertainty(), x);
    // Few benches, or benches that are all but alike, say nothing of the digits that matter.
    let sd = spread.robust_sd.unwrap_or(0.0).max(finest(spread.quantity));
    let sd = size(sd);
    let number = |x: Option<f64>| {
        let shown = |x| words.number(&rounded(words.scaled(scale, x), sd).0);
        x.map_or("–".to_owned(), shown)
    };
    let alone = |x: f64| match x {
        x if x > 0.0 => words.number(&rounded_together(spread.quantity, 0.0, size(x)).1),
        _ => "0".to_owned(),
    };
    let (low, high) = (number(spread.lowest), number(spread.highest));
    let range = words.tell(
        "class-range-value",
        &[("low", Value::Text(&low)), ("high", Value::Text(&high))],
    );
    let pooled =
        |pick: &dyn Fn(&Pooled) -> String| spread.pooled.as_ref().map_or("–".to_owned(), pick);
    vec![
        Cell::heading(title),
        Cell::number(spread.n.to_string()),
        Cell::number(number(spread.median)),
        Cell::number(range),
        Cell::number(spread.robust_sd.map_or("–".to_owned(), alone)),
        Cell::number(pooled(&|p| {
            let value = words.scaled(scale, p.value);
            let (value, half) = rounded_together(spread.quantity, value, size(p.half()));
            words.within(&value, &half)
        })),
        Cell::number(pooled(&|p| alone(p.within_u))),
        Cell::number(pooled(&|p| alone(p.between_sd))),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn benches_that_are_all_but_alike_have_no_digits_that_say_nothing() {
        let told = |quantity, value, u| {
            let (value, u) = rounded_together(quantity, value, u);
            format!("{value} ± {u}")
        };
        let ratio = Quantity::RiseRatio;
        assert_eq!(told(ratio, 1.930_370_4, 0.000_06), "1.9304 ± 0.0001");
        assert_eq!(told(ratio, 1.930_37, 0.0123), "1.930 ± 0.012");
        assert_eq!(told(Quantity::TimeConstant, 288.969, 0.0), "288.97 ± 0.01");
    }
}
