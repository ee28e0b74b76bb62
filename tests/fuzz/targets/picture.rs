//! Any bytes as a picture: the first byte chooses which kind they claim to be.
#![no_main]

use lensmend::read_at::ReadAt;
use lensmend::recorded;

/// A header longer than this holds nothing new for the fuzzer.
const MOST: usize = 64 << 10;

const BEGINNINGS: &[&[u8]] = &[
    b"II\x2A\0\x08\0\0\0",
    b"MM\0\x2A\0\0\0\x08",
    b"II\x2B\0\x08\0\0\0\x10\0\0\0\0\0\0\0",
    b"\xFF\xD8\xFF\xE1\x7F\xFFExif\0\0II\x2A\0\x08\0\0\0",
    b"\xFF\xD8",
    b"\x76\x2F\x31\x01\x02\0\0\0",
    b"\x76\x2F\x31\x01\x02\x10\0\0",
    b"\0\0\0\x0Cftypheic",
];

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Some((kind, rest)) = bytes.split_first().filter(|_| bytes.len() <= MOST) {
        let beginning = BEGINNINGS[usize::from(*kind) % BEGINNINGS.len()];
        let picture = [beginning, rest].concat();
        let source: &dyn ReadAt = &&picture[..];
        recorded::read(source, "fuzzed.dng");
    }
});
