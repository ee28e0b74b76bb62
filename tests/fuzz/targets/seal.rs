//! Any bytes as a manifest, a chain, and a plain list of each kind; and as the records of an otherwise good manifest.
#![no_main]

use std::path::Path;

use lensmend::seal::digest::Kind;
use lensmend::seal::{chain, manifest, sums};

/// A list longer than this only repeats itself.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if bytes.len() > MOST {
        return;
    }
    let _ = manifest::parse(bytes);
    let _ = chain::parse(bytes);
    let (before, after): (&[u8], &[u8]) =
        (b"<hashlist xmlns=\"urn:ASC:MHL:v2.0\"><hashes>", b"</hashes></hashlist>");
    if let Ok(read) = manifest::parse(&[before, bytes, after].concat()) {
        for record in read.records {
            let inside = Path::new("/dump").join(&record.path);
            assert!(inside.starts_with("/dump") && !record.path.has_root());
        }
    }
    for kind in Kind::SEALED {
        sums::parse(Path::new("card.list"), kind, bytes);
    }
});
