//! Is "steady" said at the right time, and does the expected wait hold? Invented approaches to a room
//! whose slope is known at every instant.

use duskmark::run::{Steadiness, Verdict};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

/// The limit in °C/min that the program asks for by default.
const LIMIT: f64 = 0.1;

/// What the board is like: interval in s, step in °C, noise in °C, how long noise lasts in s.
const BOARDS: [(f64, f64, f64, f64); 9] = [
    (0.25, 0.001, 0.01, 0.2),
    (0.25, 0.01, 0.02, 3.0),
    (0.25, 0.1, 0.02, 1.0),
    (1.0, 0.0625, 0.03, 0.5),
    (1.0, 0.1, 0.01, 0.5),
    (1.0, 0.1, 0.05, 8.0),
    (5.0, 0.1, 0.03, 2.0),
    (60.0, 0.01, 0.02, 2.0),
    (60.0, 0.1, 0.02, 2.0),
];

/// One channel: rest, start above it, time constant, even drift in °C/min, noise now.
struct Channel {
    rest: f64,
    above: f64,
    tau_s: f64,
    ramp: f64,
    wander: f64,
}

impl Channel {
    fn drawn(random: &mut Pcg64, ramp: f64) -> Self {
        let sign = if random.random_range(0.0..1.0) < 0.5 {
            -1.0
        } else {
            1.0
        };
        Self {
            rest: random.random_range(18.0..24.0),
            above: sign * random.random_range(0.3..6.0),
            tau_s: random.random_range(60.0..900.0),
            ramp: -ramp * sign,
            wander: 0.0,
        }
    }

    fn slope(&self, t_s: f64) -> f64 {
        self.ramp - 60.0 * self.above / self.tau_s * (-t_s / self.tau_s).exp()
    }

    fn read(&mut self, t_s: f64, board: (f64, f64, f64, f64), random: &mut Pcg64) -> f64 {
        let (every_s, step, noise, lasts_s) = board;
        let keep = (-every_s / lasts_s).exp();
        let fresh: f64 = StandardNormal.sample(random);
        self.wander = keep * self.wander + noise * (1.0 - keep * keep).sqrt() * fresh;
        let degc = self.rest + self.above * (-t_s / self.tau_s).exp() + self.ramp * t_s / 60.0;
        ((degc + self.wander) / step).round() * step
    }
}

/// What came of one approach.
#[derive(Default)]
struct Outcome {
    found_s: Option<f64>,
    ideal_s: f64,
    slope: f64,
    /// Time and wait told, while it was not steady.
    told: Vec<(f64, f64)>,
    looks: usize,
    unsettled_s: Option<f64>,
}

fn approach(seed: u64, board: (f64, f64, f64, f64), ramp: f64) -> Outcome {
    let mut random = Pcg64::seed_from_u64(seed ^ 0x5E77);
    let mut channels = [
        Channel::drawn(&mut random, ramp),
        Channel::drawn(&mut random, 0.0),
    ];
    let mut steadiness = Steadiness::new(LIMIT);
    let mut outcome = Outcome::default();
    let mut next_look_s = 60.0;
    for k in 0..(7200.0 / board.0) as u32 {
        let t_s = f64::from(k) * board.0;
        let slope = channels
            .iter()
            .map(|c| c.slope(t_s).abs())
            .fold(0.0, f64::max);
        if slope >= LIMIT {
            outcome.ideal_s = t_s;
        }
        let degc: Vec<f64> = channels
            .iter_mut()
            .map(|c| c.read(t_s, board, &mut random))
            .collect();
        steadiness.push(t_s, &degc);
        let settling = steadiness.settling();
        if settling.verdict == Verdict::Unsettled {
            outcome.unsettled_s.get_or_insert(t_s);
        }
        if settling.verdict == Verdict::Steady {
            outcome.found_s = Some(t_s);
            outcome.slope = slope;
            break;
        }
        if t_s >= next_look_s {
            next_look_s += 30.0_f64.max(board.0);
            outcome.looks += 1;
            outcome
                .told
                .extend(settling.wait_s.map(|wait_s| (t_s, wait_s)));
        }
    }
    outcome
}

fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let index = (share * values.len() as f64) as usize;
    values
        .get(index.min(values.len().saturating_sub(1)))
        .copied()
        .unwrap_or(f64::NAN)
}

/// Both tables.
pub(crate) fn study(runs: u64, from: u64) {
    println!(
        "\nrows every  step  noise lasts   steady   too soon  gross   delay median  95 %   wait told  holds"
    );
    for board in BOARDS {
        let all: Vec<Outcome> = (from..from + runs)
            .map(|seed| approach(seed, board, 0.0))
            .collect();
        let found: Vec<&Outcome> = all.iter().filter(|o| o.found_s.is_some()).collect();
        let soon = found.iter().filter(|o| o.slope >= LIMIT).count();
        let gross = found.iter().filter(|o| o.slope >= 1.5 * LIMIT).count();
        // Nothing is steady before the shortest window is full.
        let least_s = 57.0_f64.max(9.0 * board.0);
        let mut delays: Vec<f64> = found
            .iter()
            .filter_map(|o| Some(o.found_s? - o.ideal_s.max(least_s)))
            .collect();
        let (mut told, mut looks, mut held) = (0, 0, 0);
        for outcome in &found {
            looks += outcome.looks;
            for (t_s, wait_s) in &outcome.told {
                let truth_s = outcome.found_s.unwrap_or(0.0) - t_s;
                told += 1;
                held += usize::from((wait_s - truth_s).abs() <= 60.0_f64.max(0.5 * truth_s));
            }
        }
        let percent = |part: usize, of: usize| 100.0 * part as f64 / of.max(1) as f64;
        println!(
            "{:6} s {:8} {:5} {:4} s {:4} of {runs} {soon:6} {gross:8} {:10.0} s {:7.0} s {:9.0} % {:5.0} %",
            board.0,
            board.1,
            board.2,
            board.3,
            found.len(),
            quantile(&mut delays, 0.5),
            quantile(&mut delays, 0.95),
            percent(told, looks),
            percent(held, told),
        );
    }
    println!("\none sample drifts evenly for two hours, limit {LIMIT} °C/min");
    for board in BOARDS {
        let all: Vec<Outcome> = (from..from + runs)
            .map(|seed| approach(seed, board, LIMIT))
            .collect();
        let steady = all
            .iter()
            .filter(|o| o.found_s.is_some() && o.slope >= LIMIT)
            .count();
        let said = all.iter().filter(|o| o.unsettled_s.is_some()).count();
        println!(
            "{LIMIT} °C/min, {:5} s rows, step {:6}: steady {steady} of {runs}, told that it does not settle {said}",
            board.0, board.1
        );
    }
}
