//! Tables and workbooks from anywhere: read, or refused in words.
#![no_main]

use duskmark::analysis::{is_workbook, read_table, read_workbook};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    if is_workbook(data) {
        let _ = read_workbook(data, None);
        return;
    }
    match read_table(data) {
        Err(fault) => assert!(!fault.to_string().is_empty()),
        Ok(table) => {
            let series = table.series;
            assert!(series.t_s.iter().all(|t_s| t_s.is_finite()));
            assert!(series.t_s.is_sorted(), "{:?}", series.t_s);
            let rows = series.t_s.len();
            assert!(series.channels.iter().all(|c| c.degc.len() == rows));
        }
    }
});
