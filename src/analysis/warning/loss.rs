//! Which doubts say that readings are missing.

use super::{RowsWarning, Warning};

impl Warning {
    /// Whether it says that readings of the input are missing, or that some were left out: beside it nobody
    /// can say that none is.
    #[must_use]
    pub fn is_of_missing_readings(&self) -> bool {
        match self {
            Self::NotNumbers { .. }
            | Self::NoTime { .. }
            | Self::SameTime { .. }
            | Self::TimeSlip { .. }
            | Self::Swapped { .. }
            | Self::RowRepeated { .. }
            | Self::NoValues { .. }
            | Self::Missing { .. }
            | Self::Late { .. }
            | Self::TableBeside { .. }
            | Self::Rows(
                RowsWarning::TableBelow { .. }
                | RowsWarning::Pauses { .. }
                | RowsWarning::NoSample { .. }
                | RowsWarning::Stood { .. }
                | RowsWarning::NoAnswer { .. },
            ) => true,
            Self::Slip { perhaps, .. } => perhaps.is_some(),
            Self::OffCurve { left_out, .. } => *left_out,
            _ => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::analysis::{Warning, read_table};

    #[test]
    fn rows_and_values_that_were_left_out_are_missing() {
        let missing = |text: &str| {
            let table = read_table(text.as_bytes()).unwrap();
            let mut warnings = table.warnings.iter();
            warnings.any(Warning::is_of_missing_readings)
        };
        assert!(missing("min,slate\n0,20\nthen,21\n2,22\n3,23\n"));
        assert!(missing("min,slate\n0,20\n1,21\n1,22\n3,23\n"));
        assert!(missing("min,slate\n0,20\n1,warm\n2,22\n3,23\n"));
        assert!(!missing("time,slate\n0,20\n60,21\n120,22\n180,23\n"));
    }
}
