//! No line is too strange for a dialect; what a native line says comes back when it is written.
#![no_main]

use duskmark::wire::{
    Dialect, Field, Frame, Json, Labelled, MAX_LINE, Native, Plain, encode_sample,
};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let line = &data[..data.len().min(MAX_LINE)];
    for dialect in [&Plain as &dyn Dialect, &Labelled, &Json, &Native] {
        if let Ok(Frame::Sample(sample)) = dialect.parse(line) {
            for field in &sample.fields {
                if let Field::Number { value, .. } = field {
                    assert!(value.is_finite(), "{value}");
                }
            }
        }
    }
    if let Ok(Frame::Sample(sample)) = Native.parse(line)
        && let (Some(seq), Some(ms)) = (sample.seq, sample.board_ms)
    {
        let mut again = Vec::new();
        encode_sample(&mut again, seq, ms, &sample.fields);
        assert_eq!(
            Native.parse(again.trim_ascii_end()),
            Ok(Frame::Sample(sample))
        );
    }
});
