//! The picture of an analysed series.

use std::borrow::Cow;

use super::{Curve, EdgeKind, LampEdge, Picture};
use crate::analysis::{Channel, Series, Summary};
use crate::lamp::Kind;

/// A pause this many times the usual interval is drawn as a gap.
const GAP_FACTOR: f64 = 4.0;

/// The double line graph of a series.
#[must_use]
pub fn of_series<'a>(title: String, series: &'a Series, summary: &Summary) -> Picture<'a> {
    let curves = match series.sure() {
        Cow::Borrowed(series) => {
            let both = |c| curve(&series.t_s, c);
            series.channels.iter().map(both).collect()
        }
        Cow::Owned(Series { t_s, channels, .. }) => {
            let own = |c: Channel| Curve {
                name: c.name.into(),
                t_s: t_s.clone().into(),
                degc: c.degc.into(),
                band: None,
            };
            channels.into_iter().map(own).collect()
        }
    };
    Picture {
        title: title.into(),
        curves,
        edges: summary
            .lamp
            .iter()
            .map(|edge| LampEdge {
                kind: match edge.edge {
                    Kind::On => EdgeKind::On,
                    Kind::Off => EdgeKind::Off,
                },
                at_s: edge.at_s,
                low_s: edge.low_s,
                high_s: edge.high_s,
            })
            .collect(),
        marks_s: summary
            .marks
            .iter()
            .map(|mark| mark.at_s)
            .collect::<Vec<_>>()
            .into(),
        zero_s: summary.zero_s,
        gap_s: summary.interval_s.map(|interval_s| interval_s * GAP_FACTOR),
        is_invented: false,
    }
}

fn curve<'a>(t_s: &'a [f64], channel: &'a Channel) -> Curve<'a> {
    Curve {
        name: channel.name.as_str().into(),
        t_s: t_s.into(),
        degc: channel.degc.as_slice().into(),
        band: None,
    }
}
