//! Any bytes as a cut.
#![no_main]

use lensmend::cut;

/// Cuts longer than this only repeat themselves.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        cut::parse("fuzzed", bytes);
    }
});
