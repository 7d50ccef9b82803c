//! From a series to its summary.

use std::borrow::Cow;

use super::ahead::Ahead;
use super::compare::compare;
use super::correlation::correlation;
use super::exchanged::{exchanged, put_right};
use super::marks::{Source, at_moments, in_order, marks};
use super::moved::{Moved, moved};
use super::pauses::pauses;
use super::planned::{Cued, planned};
use super::sample::{Instants, Judge, tidy};
use super::stuck::without_stuck;
use super::told::taken_out;
use super::unlike::unlike;
use super::{FORMAT, Guess, Mark, RowsWarning, Series, Summary, Warning};
use crate::lamp::{self, Curve, Edge, Kind, LampFit, LampOptions};

/// Lag in seconds taken for probe and lamp where none is declared: the medians of the priors.
const USUAL_LAG_S: f64 = 7.0;

/// An interval wider than this (half, in seconds) and mostly lag is worth a word.
const WIDE_S: f64 = 5.0;

/// How long heating and cooling were planned to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhasePlan {
    /// Planned heating in seconds.
    pub heat_s: f64,
    /// Planned cooling in seconds.
    pub cool_s: f64,
}

/// What is asked of [`analyse`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Request {
    /// Where the data came from, in the caller's words.
    pub source: String,
    /// Interval of the marks in seconds; no marks without it.
    pub marks_s: Option<f64>,
    /// Instants in seconds that people marked: they have rows of their own in the table at the marks.
    pub moments_s: Vec<f64>,
    /// Instant in seconds from which marks count; without it the first on-edge, or the first row.
    pub zero_s: Option<f64>,
    /// Time in seconds from the first mark to the last one that was planned.
    pub planned_s: Option<f64>,
    /// The plan, where there was one: only compared with what is seen.
    pub plan: Option<PhasePlan>,
    /// What is known about the lags.
    pub lamp: LampOptions,
    /// Name of the sample that was predicted to warm more.
    pub prediction: Option<String>,
    /// What each group predicted.
    pub predictions: Vec<Guess>,
    /// When people were told to switch the lamp, in order of time.
    pub cues: Vec<Cued>,
}

/// Finds the edges and says what each sample did. Never fails: what the data cannot support is
/// none, with a warning.
#[must_use]
pub fn analyse(series: &Series, request: &Request) -> Summary {
    let sure = series.sure();
    let placed = put_right(Cow::Borrowed(sure.as_ref()));
    let (sound, stuck) = without_stuck(&placed);
    let mut summary = of_sure(&sound, request);
    let odd = exchanged(series).into_iter().chain(pauses(&series.t_s));
    let odd = odd.chain(stuck).collect();
    summary.tell_first(series, odd, &taken_out(&placed, &sound));
    let rows = series.t_s.len() - sure.t_s.len();
    if rows > 0 {
        summary.rows += rows;
        summary.warnings.insert(0, Warning::Late { rows });
    }
    summary
}

/// The same of rows whose times are sure, or all that there is.
fn of_sure(series: &Series, request: &Request) -> Summary {
    let mut warnings = Vec::new();
    let (mut curves, fit, taken) = seen(series, request);
    correlate(&mut curves, &fit);
    let edges: Vec<Edge> = fit.edges.iter().map(|e| tidy_edge(*e)).collect();
    warn_of_gaps(series, &mut warnings);
    let instants = |channel| {
        let all = instants(series, &edges, &request.lamp, channel);
        without(all, taken.iter().find(|one| one.channel == channel))
    };
    warn_of_edges(&fit, request, &mut warnings);
    warnings.extend(unlike(&edges, &curves, series));
    warn_of_moves(series, &taken, &mut warnings);
    let sd = |i: usize, curve: &Curve| {
        let step = series.channels.get(i).and_then(|c| c.resolution_degc);
        sd_degc(fit.noise_degc.get(i).copied().flatten(), step, curve)
    };
    let both = || series.channels.iter().zip(&curves).enumerate();
    let samples: Vec<_> = both()
        .map(|(i, (channel, curve))| {
            Judge::new(channel, curve, sd(i, curve), instants(i)).sample(&mut warnings)
        })
        .collect();
    // A table shows what was read, wherever the sample was.
    for one in &taken {
        uncut(&mut curves, series, *one);
    }
    let sources = sources(series, &curves, sd);
    let first_s = series.t_s.first().copied().unwrap_or(0.0);
    let interval_s = interval(&series.t_s);
    let zero_s = written_zero_s(series, request, &edges, interval_s)
        .unwrap_or_else(|| zero_s(request.zero_s, &edges, first_s));
    let marks = marked(series, request, (&sources, &edges), zero_s, &mut warnings);
    let asked = (
        request.prediction.as_deref(),
        request.predictions.as_slice(),
    );
    let comparison = compare(&samples, asked, &mut warnings);
    Summary {
        format: FORMAT,
        source: request.source.clone(),
        rows: series.t_s.len(),
        interval_s: interval_s.map(tidy),
        planned: planned(&request.cues, &edges),
        lamp: edges,
        samples,
        marks,
        comparison,
        warnings,
        zero_s,
        first_s,
    }
}

/// The table at the marks and at the moments that people marked; empty where there are none or rows tell
/// no interval.
fn marked(
    series: &Series,
    request: &Request,
    (sources, edges): (&[Source<'_>], &[Edge]),
    zero_s: f64,
    warnings: &mut Vec<Warning>,
) -> Vec<Mark> {
    let Some(spacing) = interval(&series.t_s) else {
        return Vec::new();
    };
    let end = |t: Option<&f64>| t.copied().unwrap_or(0.0);
    let ends = (end(series.t_s.first()), end(series.t_s.last()));
    let zero = (zero_s, request.planned_s);
    let told = |every| marks(sources, edges, ends, zero, every, spacing, warnings);
    let planned = request.marks_s.map(told).unwrap_or_default();
    let by_hand = at_moments(sources, edges, ends, &request.moments_s, spacing);
    in_order(planned, by_hand)
}

/// The edges, the curves that tell them, and which samples were taken from under the lamp: their curves end
/// there, and the others say when the lamp went off.
fn seen(series: &Series, request: &Request) -> (Vec<Curve>, LampFit, Vec<Moved>) {
    let logged = request.lamp.logged;
    let mut curves = curves(series, logged);
    let mut fit = lamp::find_edges_in(&mut curves, &request.lamp);
    let mut taken = Vec::new();
    while taken.len() + 1 < curves.len()
        && let Some(one) = moved(&curves, &fit.edges)
        && let Some(channel) = series.channels.get(one.channel)
    {
        let until = series.t_s.partition_point(|t| *t < one.until_s);
        let (t_s, degc) = (series.t_s.get(..until), channel.degc.get(..until));
        let (t_s, degc) = (t_s.unwrap_or_default(), degc.unwrap_or_default());
        if let Some(curve) = curves.get_mut(one.channel) {
            *curve = lamp::curve(one.channel, t_s, degc, logged);
        }
        taken.push(one);
        fit = lamp::find_edges_in(&mut curves, &request.lamp);
    }
    (curves, fit, taken)
}

/// Gives a moved sample's curve back whole.
fn uncut(curves: &mut [Curve], series: &Series, moved: Moved) {
    let channel = series.channels.get(moved.channel);
    if let (Some(curve), Some(channel)) = (curves.get_mut(moved.channel), channel) {
        let inflation = curve.inflation;
        *curve = lamp::curve(moved.channel, &series.t_s, &channel.degc, false);
        curve.inflation = inflation;
    }
}

/// What a sample's numbers hang on, if it was moved before the lamp went off: nothing after that.
fn without(all: Instants, moved: Option<&Moved>) -> Instants {
    match moved {
        Some(one) if all.off.is_none_or(|off| one.at_s < off.0) => Instants {
            off: None,
            end_s: one.until_s,
            moved: true,
            ..all
        },
        _ => all,
    }
}

/// The channels without gaps and strange values.
fn curves(series: &Series, logged: bool) -> Vec<Curve> {
    let channels = series.channels.iter().enumerate();
    channels
        .map(|(i, c)| lamp::curve(i, &series.t_s, &c.degc, logged))
        .collect()
}

/// The channels as the marks need them.
fn sources<'a>(
    series: &'a Series,
    curves: &'a [Curve],
    sd_degc: impl Fn(usize, &Curve) -> f64,
) -> Vec<Source<'a>> {
    let both = series.channels.iter().zip(curves).enumerate();
    both.map(|(i, (channel, curve))| Source {
        channel,
        curve: (!curve.t_s.is_empty()).then_some(curve),
        sd_degc: sd_degc(i, curve),
    })
    .collect()
}

/// Standard uncertainty of a single reading of each channel in °C: scatter from row to row, no less
/// than the resolution leaves open, and what all readings have in common (calibration); none for a
/// channel without readings.
#[must_use]
pub fn reading_uncertainty(series: &Series) -> Vec<Option<f64>> {
    let series = series.sure();
    let channels = series.channels.iter().enumerate();
    channels
        .map(|(i, channel)| {
            let curve = lamp::curve(i, &series.t_s, &channel.degc, false);
            let sd = sd_degc(None, channel.resolution_degc, &curve);
            let u = sd.hypot(channel.u_common_degc.unwrap_or(0.0));
            (!curve.t_s.is_empty() && u.is_finite()).then_some(u)
        })
        .collect()
}

/// A channel's scatter: that of the fit, else the curve's own; not less than its resolution's.
fn sd_degc(fitted: Option<f64>, step_degc: Option<f64>, curve: &Curve) -> f64 {
    let least = step_degc.unwrap_or(0.0) / 12.0_f64.sqrt();
    fitted.unwrap_or(curve.sd_degc).max(least)
}

/// Tells each curve what correlation there is in its errors.
fn correlate(curves: &mut [Curve], fit: &LampFit) {
    for (curve, noise_degc) in curves.iter_mut().zip(&fit.noise_degc) {
        // Without a model of the whole record there is nothing to compare neighbours with.
        if let Some(noise_degc) = noise_degc {
            curve.inflation = correlation(curve, *noise_degc);
        }
    }
}

/// The instant in seconds that marks count from: as asked ([`Request::zero_s`]), else the first on-edge,
/// else the first row.
#[must_use]
pub fn zero_s(asked_s: Option<f64>, edges: &[Edge], first_s: f64) -> f64 {
    let on = edges.iter().find(|e| e.edge == Kind::On);
    let asked = asked_s.filter(|z| z.is_finite());
    asked.or(on.map(|e| e.at_s)).unwrap_or(first_s)
}

/// The row that marks of a table by hand count from, where its rows are the marks themselves and one
/// may have been written as the lamp went on: it is within the edge's interval. Between its own rows such
/// a table tells little, and what was written is what its readers look for.
fn written_zero_s(
    series: &Series,
    request: &Request,
    edges: &[Edge],
    interval_s: Option<f64>,
) -> Option<f64> {
    let sparse = interval_s? >= 0.5 * request.marks_s?;
    if request.lamp.logged || request.zero_s.is_some() || !sparse {
        return None;
    }
    let on = edges.iter().find(|e| e.edge == Kind::On)?;
    let may_be = |t: &&f64| (on.low_s..=on.high_s).contains(*t);
    let rows = series.t_s.iter().filter(may_be);
    let off = |t: &f64| (t - on.at_s).abs();
    rows.min_by(|a, b| off(a).total_cmp(&off(b))).copied()
}

/// Milliseconds are finer than any edge is known.
fn tidy_edge(edge: Edge) -> Edge {
    let round = |x: f64| (x * 1e3).round() / 1e3;
    Edge {
        at_s: round(edge.at_s),
        low_s: round(edge.low_s),
        high_s: round(edge.high_s),
        ..edge
    }
}

/// Median time between rows; none for fewer than two.
fn interval(t_s: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = t_s
        .iter()
        .zip(t_s.iter().skip(1))
        .map(|(a, b)| b - a)
        .collect();
    steps.retain(|s| s.is_finite());
    let middle = steps.len() / 2;
    (!steps.is_empty()).then(|| *steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// The first heating and the cooling after it.
fn instants(series: &Series, edges: &[Edge], options: &LampOptions, channel: usize) -> Instants {
    let last_s = series.t_s.last().copied().unwrap_or(0.0);
    let half = |e: &Edge| (e.at_s, (e.high_s - e.low_s) / (2.0 * 1.96));
    let starts_on = edges.first().is_some_and(|e| e.edge == Kind::Off);
    let on = edges
        .iter()
        .find(|e| e.edge == Kind::On)
        .filter(|_| !starts_on);
    let off = edges.iter().find(|e| e.edge == Kind::Off);
    let next = edges
        .iter()
        .find(|e| off.is_some_and(|off| e.at_s > off.at_s));
    let declared = |lags: &Vec<f64>| {
        let sum: f64 = lags.iter().filter(|l| l.is_finite() && **l >= 0.0).sum();
        sum / lags.len().max(1) as f64
    };
    let lag_s = match (&options.probe_lag_s, options.lamp_lag_s) {
        (None, None) => USUAL_LAG_S,
        (Some(probe), lamp) => declared(probe) + lamp.unwrap_or(1.6).max(0.0),
        (None, Some(lamp)) => 5.4 + lamp.max(0.0),
    };
    Instants {
        on: on.map(half),
        off: off.map(half),
        end_s: next.map_or(last_s, |e| e.at_s),
        moved: false,
        ahead: Ahead::of(options, channel, series.channels.len()),
        lag_s: if lag_s.is_finite() {
            lag_s
        } else {
            USUAL_LAG_S
        },
    }
}

fn warn_of_gaps(series: &Series, warnings: &mut Vec<Warning>) {
    let rows = series.t_s.len();
    if rows < 3 {
        warnings.push(Warning::FewRows { rows });
    }
    for channel in &series.channels {
        let missing = channel.degc.iter().filter(|v| !v.is_finite()).count();
        let sample = channel.name.clone();
        if missing == channel.degc.len() {
            warnings.push(Warning::NoValues { sample });
        } else if missing > 0 {
            warnings.push(Warning::Missing {
                sample,
                missing,
                rows,
            });
        }
    }
}

fn warn_of_moves(series: &Series, taken: &[Moved], warnings: &mut Vec<Warning>) {
    warnings.extend(taken.iter().filter_map(|one| {
        let sample = series.channels.get(one.channel)?.name.clone();
        let at_s = one.at_s;
        Some(RowsWarning::Moved { sample, at_s }.into())
    }));
}

fn warn_of_edges(fit: &LampFit, request: &Request, warnings: &mut Vec<Warning>) {
    let edges = &fit.edges;
    let ons = edges.iter().filter(|e| e.edge == Kind::On).count();
    match edges.first().map(|e| e.edge) {
        None => warnings.push(Warning::NoEdge),
        Some(Kind::Off) => warnings.push(Warning::OnFromStart),
        Some(Kind::On) if edges.len() == 1 => warnings.push(Warning::NeverOff),
        Some(Kind::On) => {}
    }
    if ons > 1 {
        warnings.push(Warning::ManyHeatings { count: ons });
    }
    let wide = |(e, share): (&Edge, &f64)| *share > 0.5 && e.high_s - e.low_s > 2.0 * WIDE_S;
    if edges.iter().zip(&fit.lag_share).any(wide) {
        warnings.push(Warning::LagUnknown);
    }
    if let (Some(plan), [on, off, ..]) = (request.plan, edges.as_slice())
        && on.edge == Kind::On
    {
        let seen_s = off.at_s - on.at_s;
        // A lag delays both edges alike, so their distance is known better than either.
        let doubt = 0.5 * (on.high_s - on.low_s).hypot(off.high_s - off.low_s) + 2.0;
        if (seen_s - plan.heat_s).abs() > doubt {
            let (planned_s, seen_s) = (plan.heat_s, seen_s.round());
            warnings.push(Warning::NotAsPlanned { planned_s, seen_s });
        }
    }
}
