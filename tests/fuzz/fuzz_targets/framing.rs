//! Any bytes, cut anywhere, give the same lines; and a sampler takes in whatever a port says.
#![no_main]

use duskmark::sampler::{Sampler, SamplerSetup};
use duskmark::wire::Framer;
use libfuzzer_sys::fuzz_target;

fn lines(parts: &[&[u8]]) -> Vec<(Vec<u8>, bool)> {
    let (mut framer, mut found) = (Framer::new(), Vec::new());
    for part in parts {
        framer.push(part, |raw| {
            found.push((raw.bytes.to_vec(), raw.fault.is_some()))
        });
    }
    framer.cut(|raw| found.push((raw.bytes.to_vec(), raw.fault.is_some())));
    found
}

fuzz_target!(|data: &[u8]| {
    let Some((&at, bytes)) = data.split_first() else {
        return;
    };
    let at = usize::from(at).min(bytes.len());
    let (a, b) = bytes.split_at(at);
    assert_eq!(lines(&[bytes]), lines(&[a, b]));
    let mut products = Vec::new();
    let mut sampler = Sampler::new(SamplerSetup::default());
    sampler.opened(0, "a port", &mut products);
    sampler.bytes(1_000_000, a, &mut products);
    sampler.lost(2_000_000, "pulled", &mut products);
    sampler.opened(3_000_000, "a port", &mut products);
    sampler.bytes(4_000_000, b, &mut products);
    sampler.finish(5_000_000, &mut products);
});
