//! Any bytes as sets of acquisition metadata: as a sample, as the items of one set, and as words beside a picture.
#![no_main]

use lensmend::recorded::acquisition::{Set, Whence, sample, set};

/// A sample longer than this only repeats itself.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        // Places near the end of what can be counted.
        let whence = Whence::pieces("fuzzed.mxf", "essence", vec![(0, 7), (9, u64::MAX - 100)]);
        sample(bytes, &whence);
        for kind in [Set::Lens, Set::Camera, Set::UserDefined] {
            set(kind, bytes, &whence);
        }
    }
});
