//! `days.csv`: a long run day by day.

use super::files::RunTime;
use crate::analysis::{self, Place, Series};
use crate::lamp::Edge;

/// The table of days of a run; none where it is too short for one, or nobody knows the time of day.
pub(super) fn days_csv(
    (series, edges): (&Series, &[Edge]),
    time: &RunTime,
    slugs: &[String],
    place: Option<Place>,
) -> Option<String> {
    let (first_s, last_s) = (series.t_s.first()?, series.t_s.last()?);
    if last_s - first_s < analysis::SHORTEST_S {
        return None;
    }
    let first_ns = time.start_ns + (first_s * 1e9) as i64;
    let began_s = (time.start_ns + time.wall.ahead_at_ns(first_ns)?) as f64 / 1e9;
    let days = analysis::days(&series.sure(), edges, began_s, place);
    Some(analysis::days_csv(&days, slugs, began_s))
}
