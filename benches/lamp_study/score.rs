//! How near each tool came to the truth, as a table.

use crate::folder::{Answer, Off, Truth};
use crate::reach;

/// Errors beyond this are gross, in seconds.
const GROSS_S: f64 = 60.0;

/// How our own answers are named.
pub(crate) const OURS: &str = "duskmark";

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

    /// The error that so many percent of the off-edges stay below, in seconds.
    fn within_s(&self, percent: usize) -> Option<f64> {
        sorted(&self.errors_s)
            .get(self.errors_s.len() * percent / 100)
            .copied()
    }

    fn gross(&self) -> usize {
        self.errors_s.iter().filter(|e| **e > GROSS_S).count()
    }

    /// Root mean square of error over bound, where there are bounds.
    fn over_bound(&self) -> Option<f64> {
        let mean = self.ratios.iter().sum::<f64>() / self.ratios.len() as f64;
        (!self.ratios.is_empty()).then_some(mean.sqrt())
    }

    /// Share of intervals that hold the truth, in percent; one that was not stated where it could
    /// have been does not.
    fn coverage(&self) -> Option<f64> {
        let covered = self.covered.iter().filter(|c| **c).count();
        let share = covered as f64 / self.errors_s.len() as f64;
        (!self.covered.is_empty()).then_some(100.0 * share)
    }

    /// The row after family and tool.
    fn cells(&self) -> String {
        let at = |percent: usize| match self.within_s(percent) {
            Some(error_s) if error_s.is_finite() => format!("{error_s:.2} s"),
            Some(_) => "none found".to_owned(),
            None => "–".to_owned(),
        };
        let or_dash = |cell: Option<String>| cell.unwrap_or("–".to_owned());
        let asked = self.errors_s.len();
        let gross = (asked > 0).then(|| format!("{} of {asked}", self.gross()));
        let halves_s = sorted(&self.halves_s);
        let half_s = halves_s.get(halves_s.len() / 2);
        format!(
            "{} | {} | {} | {} of {} | {} | {} | {} | {:.1} ms",
            at(50),
            at(95),
            or_dash(gross),
            self.wrong_count,
            self.records,
            or_dash(self.over_bound().map(|ratio| format!("{ratio:.2}"))),
            or_dash(self.coverage().map(|percent| format!("{percent:.1} %"))),
            or_dash(half_s.map(|half_s| format!("{half_s:.2} s"))),
            1e3 * self.spent_s / self.records as f64,
        )
    }

    /// Says whether our own answers reach what they must: beside the bound where there is one, else
    /// as on a bench.
    fn judge(&self, family: &str) {
        let (Some(median_s), Some(most_s)) = (self.within_s(50), self.within_s(95)) else {
            return;
        };
        let coverage = self.coverage().unwrap_or(0.0);
        let asked = self.errors_s.len();
        if let Some(ratio) = self.over_bound() {
            reach::told(
                &format!("lamp off, {family}, {asked} edges"),
                format!("rms {ratio:.2} of the bound, coverage {coverage:.1} %"),
                "1.05, 93 to 97 %",
                ratio <= 1.05 && (93.0..=97.0).contains(&coverage),
            );
        } else {
            let gross = self.gross();
            reach::told(
                &format!("lamp off, {family}, {asked} edges"),
                format!(
                    "median {median_s:.2} s, 95 % {most_s:.2} s, gross {gross}, coverage {coverage:.1} %"
                ),
                "2.5 s, 10 s, 0, 90 %",
                median_s <= 2.5 && most_s <= 10.0 && gross == 0 && coverage >= 90.0,
            );
        }
    }
}

fn sorted(list: &[f64]) -> Vec<f64> {
    let mut list = list.to_vec();
    list.sort_by(f64::total_cmp);
    list
}

/// The scores of one family, one for each tool, in the order of the answers.
fn scores<'a>(family: &str, truths: &[Truth], answers: &'a [Answer]) -> Vec<(&'a str, Score)> {
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
}

/// The rows of one family, one for each tool.
pub(crate) fn rows(family: &str, truths: &[Truth], answers: &[Answer]) -> Vec<String> {
    scores(family, truths, answers)
        .iter()
        .map(|(tool, score)| format!("| {family} | {tool} | {} |", score.cells()))
        .collect()
}

/// Says what our own answers to one family reach.
pub(crate) fn judge(family: &str, truths: &[Truth], answers: &[Answer]) {
    for (tool, score) in scores(family, truths, answers) {
        if tool == OURS {
            score.judge(family);
        }
    }
}
