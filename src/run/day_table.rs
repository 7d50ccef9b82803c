//! `days.csv`: a long run day by day.

use super::table::Table;
use crate::analysis::{self, Place, Series};
use crate::lamp::Edge;

/// The table of days of a run that began at `start_ns` of its boot clock; none where it is too
/// short for one, or nobody knows the time of day.
pub(super) fn days_csv(
    (series, edges): (&Series, &[Edge]),
    table: &Table,
    slugs: &[String],
    start_ns: i64,
    place: Option<Place>,
) -> Option<String> {
    let (first_s, last_s) = (series.t_s.first()?, series.t_s.last()?);
    if last_s - first_s < analysis::SHORTEST_S {
        return None;
    }
    let (_, ahead_ns) = table.wall.first()?;
    let began_s = (start_ns + ahead_ns) as f64 / 1e9;
    let days = analysis::days(&series.sure(), edges, began_s, place);
    Some(analysis::days_csv(&days, slugs, began_s))
}
