//! Any bytes as a sheet of chart shots, sorted into series and solved.
#![no_main]

use lensmend::measure::series;
use lensmend::measure::shots::{self, Usual};
use lensmend::units::{Millimeters, Unit};

/// A sheet longer than this only repeats itself.
const MOST: usize = 8 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() <= MOST {
        let usual = Usual {
            width: Millimeters::new(600.0),
            pitch: Millimeters::new(0.006),
            pitch_high: None,
            no_pitch: None,
        };
        let shots = shots::parse("fuzzed.csv", bytes, &usual).value;
        series::sort(shots, None);
    }
});
