//! Short tables that can be read: whatever they hold, they are analysed.
#![no_main]

use duskmark::analysis::{Request, analyse, table};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
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
