//! Any bytes as a clip list.
#![no_main]

use lensmend::lists;

/// A list longer than this only repeats itself.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        lists::looks_like_list(bytes);
        lists::parse("fuzzed.csv", bytes);
    }
});
