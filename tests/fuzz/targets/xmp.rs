//! Any bytes as the XMP packet of an otherwise empty movie, so that none of them are spent on guessing boxes.
#![no_main]

use lensmend::read_at::ReadAt;
use lensmend::recorded;

/// A packet longer than this only repeats itself.
const MOST: usize = 16 << 10;

/// An empty `moov` (ISO/IEC 14496-12, 8.2.1).
const MOVIE: &[u8] = b"\0\0\0\x08moov";

/// The `uuid` box of XMP in MP4 (XMP Specification Part 3, "MPEG-4").
const XMP: [u8; 16] = [
    0xBE, 0x7A, 0xCF, 0xCB, 0x97, 0xA9, 0x42, 0xE8, 0x9C, 0x71, 0x99, 0x94, 0x91, 0xE3, 0xAF, 0xAC,
];

libfuzzer_sys::fuzz_target!(|packet: &[u8]| {
    let Ok(size) = u32::try_from(8 + XMP.len() + packet.len()) else { return };
    if packet.len() <= MOST {
        let file = [MOVIE, &size.to_be_bytes(), b"uuid", &XMP, packet].concat();
        let source: &dyn ReadAt = &file.as_slice();
        recorded::read(source, "fuzzed.mp4");
    }
});
