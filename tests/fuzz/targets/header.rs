//! Any bytes as a media file: container, tags, packets.
#![no_main]

use lensmend::read_at::ReadAt;
use lensmend::recorded;

/// A header longer than this holds nothing new for the fuzzer.
const MOST: usize = 64 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        let source: &dyn ReadAt = &bytes;
        // Once more as essence, so that tables of samples are followed frame by frame.
        recorded::read_frames(source, Some(source), "fuzzed.mov");
    }
});
