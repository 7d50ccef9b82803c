//! Tables and workbooks from anywhere: read and analysed, or refused in words.
#![no_main]

use duskmark::analysis::{Request, analyse, is_workbook, read_table, read_workbook, table};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    if is_workbook(data) {
        let _ = read_workbook(data, None);
        return;
    }
    if let Err(fault) = read_table(data) {
        assert!(!fault.to_string().is_empty());
    }
    // Longer ones take their time in the search for edges.
    if data.len() < 2000
        && let Ok((series, _)) = table(data)
    {
        let summary = analyse(&series, &Request::default());
        for edge in &summary.lamp {
            assert!(edge.low_s <= edge.at_s && edge.at_s <= edge.high_s);
        }
    }
});
