//! How near each tool came to the truth, as a table.

use crate::folder::{Answer, Off, Truth};

/// Errors beyond this are gross, in seconds.
const GROSS_S: f64 = 60.0;

/// Head of the table that [`rows`] fills.
pub(crate) const HEAD: &str = "\
| family | tool | median | 95 % | gross | wrong number of edges | rms / bound | coverage of 95 % | half-width, median | CPU time a run |
|---|---|---|---|---|---|---|---|---|---|";

/// What a tool's answers to one family come to.
#[derive(Default)]
struct Score {
    records: usize,
    /// One for each true off-edge; infinite where none was named.
    errors_s: Vec<f64>,
    /// Squares of error over bound.
    ratios: Vec<f64>,
    /// Whether the interval covers, where one was stated.
    covered: Vec<bool>,
    halves_s: Vec<f64>,
    wrong_count: usize,
    spent_s: f64,
}

impl Score {
    fn add(&mut self, truth: &Truth, answer: &Answer) {
        self.records += 1;
        self.spent_s += answer.spent_s;
        self.wrong_count += usize::from(answer.edges != truth.edges_s.len());
        for (index, &off_s) in truth.edges_s.iter().skip(1).step_by(2).enumerate() {
            let away = |off: &Off| (off.at_s - off_s).abs();
            let near = answer.off.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
            let error_s = near.map_or(f64::INFINITY, away);
            self.errors_s.push(error_s);
            if let Some(bound_s) = truth.bound_s.get(index) {
                self.ratios.push((error_s / bound_s).powi(2));
            }
            if let Some((low_s, high_s)) = near.and_then(|off| off.low_s.zip(off.high_s)) {
                self.covered.push(low_s <= off_s && off_s <= high_s);
                self.halves_s.push(0.5 * (high_s - low_s));
            }
        }
    }

    /// The row after family and tool.
    fn cells(&self) -> String {
        let sorted = |list: &[f64]| {
            let mut list = list.to_vec();
            list.sort_by(f64::total_cmp);
            list
        };
        let errors_s = sorted(&self.errors_s);
        let halves_s = sorted(&self.halves_s);
        let at = |percent: usize| match errors_s.get(errors_s.len() * percent / 100) {
            Some(error_s) if error_s.is_finite() => format!("{error_s:.2} s"),
            Some(_) => "none found".to_owned(),
            None => "–".to_owned(),
        };
        let gross = errors_s.iter().filter(|e| **e > GROSS_S).count();
        let when = |any: bool, text: String| if any { text } else { "–".to_owned() };
        let mean = |sum: f64, count: usize| sum / count as f64;
        let covered = self.covered.iter().filter(|c| **c).count();
        // An interval that was not stated where it could have been does not cover.
        let asked = self.errors_s.len();
        let stated = !self.covered.is_empty();
        format!(
            "{} | {} | {} | {} of {} | {} | {} | {} | {:.1} ms",
            at(50),
            at(95),
            when(asked > 0, format!("{gross} of {asked}")),
            self.wrong_count,
            self.records,
            when(
                !self.ratios.is_empty(),
                format!(
                    "{:.2}",
                    mean(self.ratios.iter().sum(), self.ratios.len()).sqrt()
                )
            ),
            when(
                stated,
                format!("{:.1} %", 100.0 * mean(covered as f64, asked))
            ),
            halves_s
                .get(halves_s.len() / 2)
                .map_or("–".to_owned(), |half_s| format!("{half_s:.2} s")),
            1e3 * mean(self.spent_s, self.records),
        )
    }
}

/// The rows of one family, one for each tool, in the order of the answers.
pub(crate) fn rows(family: &str, truths: &[Truth], answers: &[Answer]) -> Vec<String> {
    let mut scores: Vec<(&str, Score)> = Vec::new();
    let of_family: std::collections::BTreeMap<&str, &Truth> = truths
        .iter()
        .filter(|truth| truth.family == family)
        .map(|truth| (truth.file.as_str(), truth))
        .collect();
    for answer in answers {
        let Some(truth) = of_family.get(answer.file.as_str()) else {
            continue;
        };
        let place = scores.iter().position(|(tool, _)| *tool == answer.tool);
        let place = place.unwrap_or_else(|| {
            scores.push((&answer.tool, Score::default()));
            scores.len() - 1
        });
        scores[place].1.add(truth, answer);
    }
    scores
        .iter()
        .map(|(tool, score)| format!("| {family} | {tool} | {} |", score.cells()))
        .collect()
}
