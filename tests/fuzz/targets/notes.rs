//! Any bytes as lens notes.
#![no_main]

use lensmend::notes;

/// Notes longer than this only repeat themselves.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        notes::looks_like_notes(bytes);
        notes::parse("fuzzed.csv", bytes);
    }
});
