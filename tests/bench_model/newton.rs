//! Exact Newton exchange with white noise, no lag, one node: one fixed bench of that kind, and the
//! Cramér–Rao bound for any.

use nalgebra::DMatrix;
use rand_pcg::Pcg64;

use super::{Node, Record, normal};

pub const ON_S: f64 = 120.37;
pub const OFF_S: f64 = 720.81;
pub const NOISE_DEGC: f64 = 0.05;
const ROWS: usize = 1300;

const NODES: [Node; 2] = [
    Node {
        air_degc: 21.0,
        ahead_degc: 0.6,
        rise_degc: 14.0,
        tau_s: 420.0,
    },
    Node {
        air_degc: 21.5,
        ahead_degc: -0.3,
        rise_degc: 9.0,
        tau_s: 310.0,
    },
];

/// Step of the numerical derivatives, in seconds or degrees.
const H: f64 = 1e-4;

/// Unknowns of a node.
const OWN: usize = 4;

fn step(u_s: f64, tau_s: f64) -> f64 {
    if u_s > 0.0 {
        1.0 - (-u_s / tau_s).exp()
    } else {
        0.0
    }
}

fn value(t_s: f64, node: &Node, edges_s: &[f64]) -> f64 {
    let lamp: f64 = edges_s
        .iter()
        .zip([1.0, -1.0].iter().cycle())
        .map(|(edge, sign)| sign * step(t_s - edge, node.tau_s))
        .sum();
    node.air_degc + node.ahead_degc * (-t_s / node.tau_s).exp() + node.rise_degc * lamp
}

/// The fixed bench, with noise drawn anew.
pub fn record(rng: &mut Pcg64) -> Record {
    let t_s: Vec<f64> = (0..ROWS).map(|i| i as f64).collect();
    let edges_s = vec![ON_S, OFF_S];
    let channels = NODES
        .iter()
        .map(|node| {
            let noisy = |t: &f64| value(*t, node, &edges_s) + NOISE_DEGC * normal(rng);
            t_s.iter().map(noisy).collect()
        })
        .collect();
    Record {
        t_s,
        channels,
        on_s: ON_S,
        off_s: OFF_S,
        edges_s,
        nodes: NODES.to_vec(),
        lags_s: vec![0.0; NODES.len()],
        made: None,
    }
}

/// The bound for the fixed bench's off-edge, in seconds.
pub fn bound_s() -> f64 {
    let t_s: Vec<f64> = (0..ROWS).map(|i| i as f64).collect();
    bounds_s(&t_s, &NODES, &[ON_S, OFF_S], NOISE_DEGC)[1]
}

/// Cramér–Rao bound for the standard deviation of each edge in seconds, every other parameter (the
/// other edges, and all channels' four) unknown: from the Fisher information with exact model
/// values and central differences. Holds for nodes without lag whose readings have white noise.
pub fn bounds_s(t_s: &[f64], nodes: &[Node], edges_s: &[f64], noise_degc: f64) -> Vec<f64> {
    let edges = edges_s.len();
    let all = edges + OWN * nodes.len();
    let mut fisher = DMatrix::<f64>::zeros(all, all);
    for (channel, node) in nodes.iter().enumerate() {
        // Only the edges and this node's own parameters move this channel.
        let first = edges + OWN * channel;
        let places: Vec<usize> = (0..edges).chain(first..first + OWN).collect();
        for &t in t_s {
            let slopes = slopes(t, node, edges_s);
            for (&row, a) in places.iter().zip(&slopes) {
                for (&column, b) in places.iter().zip(&slopes) {
                    fisher[(row, column)] += a * b / (noise_degc * noise_degc);
                }
            }
        }
    }
    let covariance = fisher.try_inverse().unwrap();
    (0..edges).map(|j| covariance[(j, j)].sqrt()).collect()
}

/// Derivatives of one value: by each edge, then by the node's parameters.
fn slopes(t_s: f64, node: &Node, edges_s: &[f64]) -> Vec<f64> {
    let by_edge = (0..edges_s.len()).map(|j| {
        let moved = |by: f64| {
            let mut edges_s = edges_s.to_vec();
            edges_s[j] += by;
            value(t_s, node, &edges_s)
        };
        (moved(H) - moved(-H)) / (2.0 * H)
    });
    let by_own = (0..OWN).map(|k| {
        let moved = |by: f64| {
            let mut node = *node;
            match k {
                0 => node.air_degc += by,
                1 => node.ahead_degc += by,
                2 => node.rise_degc += by,
                _ => node.tau_s += by,
            }
            value(t_s, &node, edges_s)
        };
        (moved(H) - moved(-H)) / (2.0 * H)
    });
    by_edge.chain(by_own).collect()
}
