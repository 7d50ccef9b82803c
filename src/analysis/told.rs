//! Missing values are told once: with their own reason, where there is one.

use super::{Series, Summary, Warning};

impl Summary {
    /// Puts what is to be told first, such as how a table was read, before the rest. `missing`: how many
    /// values of each channel are missing for a reason that is told there.
    pub fn tell_first(&mut self, series: &Series, told: Vec<Warning>, missing: &[usize]) {
        for (channel, count) in series.channels.iter().zip(missing) {
            less_missing(&mut self.warnings, &channel.name, *count);
        }
        self.warnings.splice(0..0, told);
    }
}

/// So many of a sample's missing values have a reason that is told elsewhere.
fn less_missing(warnings: &mut Vec<Warning>, name: &str, told: usize) {
    warnings.retain_mut(|doubt| match doubt {
        Warning::Missing {
            sample, missing, ..
        } if sample == name => {
            *missing = missing.saturating_sub(told);
            *missing > 0
        }
        _ => true,
    });
}

/// How many values of each channel are there in one series and not in the other.
pub(super) fn taken_out(before: &Series, after: &Series) -> Vec<usize> {
    let known = |degc: &[f64]| degc.iter().filter(|v| v.is_finite()).count();
    let both = before.channels.iter().zip(&after.channels);
    both.map(|(b, a)| known(&b.degc).saturating_sub(known(&a.degc)))
        .collect()
}

#[cfg(test)]
mod tests {
    use crate::analysis::{Request, analyse, read_table};

    /// What is said of slate's readings, beside a moss that warms on.
    fn said(slate: impl Fn(usize) -> String) -> Vec<String> {
        let row = |i: usize| format!("{}.013,{},20.{i:02}\n", 4 * i, slate(i));
        let rows: String = (0..60).map(row).collect();
        let text = format!("elapsed_s,slate_degc,moss_degc\n{rows}");
        let table = read_table(text.as_bytes()).unwrap();
        let mut summary = analyse(&table.series, &Request::default());
        summary.tell_first(&table.series, table.warnings, &table.told_missing);
        let all = summary.warnings.iter().map(ToString::to_string);
        all.filter(|text| text.starts_with("slate")).collect()
    }

    #[test]
    fn what_a_probe_without_an_answer_writes_is_told_once() {
        let told = said(|i| match i {
            20..25 => "-127.0".into(),
            40 => String::new(),
            _ => format!("{:.2}", 20.0 + 0.1 * i as f64),
        });
        let missing = "slate: 1 of 60 values is missing.";
        assert!(told.iter().any(|text| text == missing), "{told:?}");
        assert_eq!(told.iter().filter(|t| t.contains("-127")).count(), 1);
    }

    #[test]
    fn what_a_stuck_probe_showed_is_told_once() {
        let told = said(|i| match i {
            20..40 => "22.00".into(),
            _ => format!("{:.2}", 20.0 + 0.1 * i as f64),
        });
        assert!(told.iter().any(|text| text.contains("one and the same")));
        assert!(
            !told.iter().any(|text| text.contains("missing")),
            "{told:?}"
        );
    }
}
