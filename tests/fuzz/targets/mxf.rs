//! Any bytes as an MXF file, and as the data that stands beside its first picture.
#![no_main]

use lensmend::read_at::ReadAt;
use lensmend::recorded;
use lensmend::recorded::acquisition::{Set, Whence, sample, set};

/// A header longer than this holds nothing new for the fuzzer.
const MOST: usize = 64 << 10;
/// Header partition pack, finished: without it the fuzzer would look for an MXF file for hours.
const PACK: [u8; 16] = [6, 14, 43, 52, 2, 5, 1, 1, 13, 1, 2, 1, 1, 2, 4, 0];

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() > MOST {
        return;
    }
    let whence = Whence::at("fuzzed.mxf", "essence", u64::MAX - 100);
    sample(bytes, &whence);
    set(Set::Lens, bytes, &whence);
    let file =
        if bytes.starts_with(&PACK[..13]) { bytes.to_vec() } else { [&PACK, bytes].concat() };
    let source: &dyn ReadAt = &&file[..];
    recorded::read(source, "fuzzed.mxf");
});
