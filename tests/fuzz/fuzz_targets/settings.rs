//! duskmark.toml as anybody may have written it: used, or refused with its line.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Some(fault) = duskmark::cli::settings_fault(text) {
        assert!(fault.contains("duskmark.toml:"), "{fault}");
    }
});
