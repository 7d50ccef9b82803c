//! Doubts about how rows follow each other.

use crate::analysis::{RowsWarning, Warning};

/// One of each kind.
pub(super) fn of_rows() -> Vec<Warning> {
    let pauses = |count| RowsWarning::Pauses {
        count,
        longest_s: 66.0,
        at_s: 652.0,
        usual_s: 2.0,
    };
    let changed = |back| RowsWarning::ClockChanged { line: 3, back };
    let no_sample = |count| RowsWarning::NoSample {
        column: "slate".into(),
        line: 31,
        count,
        written: -127.0,
    };
    let all = [
        RowsWarning::TableBelow { line: 3 },
        changed(true),
        changed(false),
        pauses(1),
        pauses(3),
        RowsWarning::Moved {
            sample: "slate".into(),
            at_s: 298.0,
        },
        no_sample(1),
        no_sample(25),
        RowsWarning::Stood {
            sample: "slate".into(),
            at_s: 109.0,
            until_s: 333.0,
            leap_degc: 3.2,
        },
        RowsWarning::NoAnswer {
            sample: "slate".into(),
            at_s: 0.0,
            until_s: 333.0,
            degc: 85.0,
        },
        RowsWarning::UnlikeOneLamp {
            sample: "slate".into(),
            rise_degc: 8.0,
        },
        RowsWarning::ChangedPlaces {
            one: "slate".into(),
            other: "moss".into(),
            at_s: 494.0,
            row: 248,
        },
        RowsWarning::Groups {
            samples: 4,
            groups: 2,
        },
    ];
    all.map(Warning::Rows).into()
}

/// Fails to compile when a kind of doubt is added, so that it is not forgotten above.
pub(super) fn is_in_of_rows(doubt: &RowsWarning) -> bool {
    match doubt {
        RowsWarning::TableBelow { .. }
        | RowsWarning::ClockChanged { .. }
        | RowsWarning::Pauses { .. }
        | RowsWarning::Moved { .. }
        | RowsWarning::NoSample { .. }
        | RowsWarning::Stood { .. }
        | RowsWarning::NoAnswer { .. }
        | RowsWarning::UnlikeOneLamp { .. }
        | RowsWarning::Groups { .. }
        | RowsWarning::ChangedPlaces { .. } => true,
    }
}
