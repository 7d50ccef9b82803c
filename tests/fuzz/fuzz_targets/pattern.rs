//! A pattern from people and a line from a board: neither can do harm together.
#![no_main]

use duskmark::wire::{Dialect, LinePattern, Own};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: (&str, &[u8])| {
    let (pattern, line) = data;
    let lines = LinePattern {
        pattern: pattern.to_owned(),
        ..LinePattern::default()
    };
    if let Ok(own) = Own::new(lines) {
        let fits = own.parse(line).is_ok();
        let misfit = own.misfit(line);
        assert!(!fits || misfit.is_none() || line.starts_with(b"#"));
    }
});
