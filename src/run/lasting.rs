//! What resistors, references and self-heating leave uncertain in a run's readings.

use crate::analysis::Series;
use crate::probe::Conditions;
use crate::sampler::Sampler;

/// Gives each channel what is uncertain in all of its readings alike, as far as people stated it: the
/// largest over its temperatures, at an end of them. A calibration, which is there already, has that
/// in it. `samplers` are the run's boards in the order of its channels.
pub(super) fn add_lasting<'a>(series: &mut Series, samplers: impl Iterator<Item = &'a Sampler>) {
    let probes = samplers.flat_map(|sampler| {
        let channels = 0..sampler.names().len();
        channels.map(move |channel| (sampler.converter(), channel))
    });
    for (column, (converter, channel)) in series.channels.iter_mut().zip(probes) {
        let finite = || column.degc.iter().copied().filter(|v| v.is_finite());
        let ends = [finite().reduce(f64::min), finite().reduce(f64::max)];
        let lasting = ends.into_iter().flatten().filter_map(|degc| {
            let at = Conditions {
                degc,
                ..Conditions::default()
            };
            converter?.budget(channel, &at).lasting_degc()
        });
        column.u_common_degc = column.u_common_degc.or(lasting.reduce(f64::max));
    }
}
