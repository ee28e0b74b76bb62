//! Any bytes as a kit file.
#![no_main]

use lensmend::kit;

/// A kit longer than this only repeats itself.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        kit::parse("fuzzed.toml", bytes);
    }
});
