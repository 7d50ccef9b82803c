//! What an efficient estimator would have on the same records, beside ours: the word `bound`.

use duskmark::lamp::{Kind, find_edges};

use crate::bench_model::bound::{Known, below, bounds_s};
use crate::bench_model::rng;
use crate::families::Family;

/// Bounds and our own errors of the off-edges, in seconds.
#[derive(Default)]
struct Beside {
    with_lags: Vec<f64>,
    with_everything: Vec<f64>,
    ours: Vec<f64>,
}

/// Prints a row for each family that has bounds.
pub(crate) fn table<'a>(families: impl Iterator<Item = &'a Family>, seeds: std::ops::Range<u64>) {
    println!(
        "| family | edges | lags' priors known: median, 95 % | all that is drawn known: median, 95 % | \
         ours: median, 95 %, bias | our rms over either bound |\n|---|---|---|---|---|---|"
    );
    for family in families {
        let mut beside = Beside::default();
        for seed in seeds.clone() {
            beside.add(family, seed);
        }
        if !beside.ours.is_empty() {
            println!("| {} | {} |", family.name, beside.cells());
        }
    }
}

impl Beside {
    fn add(&mut self, family: &Family, seed: u64) {
        let record = (family.make)(&mut rng(seed));
        let lags = bounds_s(&record, Known::Lags);
        let Some((lags, all)) = lags.zip(bounds_s(&record, Known::Everything)) else {
            return;
        };
        let options = family.options(&record, seed);
        let fit = find_edges(&record.t_s, &record.columns(), &options);
        for (index, &off_s) in record.edges_s.iter().enumerate().skip(1).step_by(2) {
            let own = fit.edges.iter().filter(|e| e.edge == Kind::Off);
            let errors = own.map(|e| e.at_s - off_s);
            let error_s = errors.min_by(|a, b| a.abs().total_cmp(&b.abs()));
            self.ours.push(error_s.unwrap_or(f64::INFINITY));
            self.with_lags.push(lags[index]);
            self.with_everything.push(all[index]);
        }
    }

    fn cells(&self) -> String {
        let both = |bounds: &[f64]| {
            format!(
                "{:.2} s, {:.2} s",
                within_s(bounds, 0.5),
                within_s(bounds, 0.95)
            )
        };
        let mut sizes: Vec<f64> = self.ours.iter().map(|e| e.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let at = |percent: usize| sizes[sizes.len() * percent / 100];
        let bias_s = self.ours.iter().sum::<f64>() / self.ours.len() as f64;
        format!(
            "{} | {} | {} | {:.2} s, {:.2} s, {bias_s:+.2} s | {:.2}, {:.2}",
            sizes.len(),
            both(&self.with_lags),
            both(&self.with_everything),
            at(50),
            at(95),
            self.over(&self.with_lags),
            self.over(&self.with_everything),
        )
    }

    /// Root mean square of our errors over their bounds.
    fn over(&self, bounds: &[f64]) -> f64 {
        let ratios = self.ours.iter().zip(bounds).map(|(e, b)| (e / b).powi(2));
        (ratios.sum::<f64>() / bounds.len() as f64).sqrt()
    }
}

/// The error that normal ones of these standard deviations stay below in so large a share, in seconds.
fn within_s(bounds: &[f64], share: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1e4);
    for _ in 0..60 {
        let middle: f64 = 0.5 * (low + high);
        let inside = bounds.iter().map(|b| 2.0 * below(middle / b) - 1.0);
        if inside.sum::<f64>() < share * bounds.len() as f64 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}
