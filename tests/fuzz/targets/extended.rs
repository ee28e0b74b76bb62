//! Any bytes as segments of a JPEG whose first packet asks for extended XMP.
#![no_main]

use lensmend::read_at::ReadAt;
use lensmend::recorded;

/// Segments longer than this hold nothing new for the fuzzer.
const MOST: usize = 64 << 10;

/// The packet that asks for the rest (XMP Specification Part 3, "Extended XMP in JPEG").
const ASKS: &[u8] = b"http://ns.adobe.com/xap/1.0/\0<x xmpNote:HasExtendedXMP='0123456789ABCDEF0123456789ABCDEF'/>";

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() > MOST {
        return;
    }
    let Ok(length) = u16::try_from(ASKS.len() + 2) else { return };
    let rest = bytes.strip_prefix(b"\xFF\xD8").unwrap_or(bytes);
    let file = [b"\xFF\xD8\xFF\xE1", &length.to_be_bytes()[..], ASKS, rest].concat();
    let source: &dyn ReadAt = &file.as_slice();
    recorded::read(source, "fuzzed.jpg");
});
