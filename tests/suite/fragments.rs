//! Fragmented files as they come from encoders and streams: many fragments, little read of each.

use lensmend::read_at::{ReadAt, Watched};
use lensmend::recorded;

use crate::boxes::{Clip, full, part, words};

/// A movie of so many fragments, each with its own durations and followed by its essence.
fn movie(fragments: u32, samples: u32) -> Vec<u8> {
    let trex = full(b"trex", 0, 0, &words(&[1, 1, 1001, 0, 0]));
    let tfhd = full(b"tfhd", 0, 0, &words(&[1]));
    let each: Vec<u32> = (0..samples).flat_map(|_| [1001, 300]).collect();
    let trun = full(b"trun", 0, 0x100 | 0x200, &words(&[&[samples], &each[..]].concat()));
    let moof = part(b"moof", &part(b"traf", &[tfhd, trun].concat()));
    let one = [moof, part(b"mdat", &vec![0xAB; 30_000])].concat();
    let clip = Clip { runs: vec![], moov: part(b"mvex", &trex), ..Clip::default() };
    [clip.bytes(), one.repeat(fragments as usize)].concat()
}

#[test]
fn many_fragments_cost_little_and_large_ones_are_counted_whole() {
    // A minute in seconds; and fragments whose tables do not fit what is fetched at a time.
    for (fragments, samples, most) in [(60, 24, 128 << 10), (4, 2_000, 128 << 10)] {
        let bytes = movie(fragments, samples);
        let source: &dyn ReadAt = &&bytes[..];
        let watched = Watched::new(source);
        let found = recorded::read(&watched, "clip");
        assert_eq!(found.findings, []);
        let frames = found.value.frames.unwrap().value;
        assert_eq!(frames, u64::from(fragments * samples));
        let reads = watched.reads();
        let sum: usize = reads.iter().map(|(_, count)| count).sum();
        assert!(sum < most, "{sum} bytes in {} reads", reads.len());
        // A stream that goes on for an hour has its fragments read once each, not again and again.
        assert!(reads.len() <= 10 + 3 * fragments as usize, "{} reads", reads.len());
    }
}
