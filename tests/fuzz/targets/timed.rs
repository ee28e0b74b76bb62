//! Any bytes as a sample of timed metadata, or as what follows a movie that goes on in fragments: the first byte
//! chooses sets, keyed values or fragments.
#![no_main]

use lensmend::read_at::ReadAt;
use lensmend::recorded;

/// A sample longer than this only repeats itself.
const MOST: usize = 16 << 10;

fn part(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let size = u32::try_from(body.len() + 8).unwrap_or(u32::MAX);
    [&size.to_be_bytes()[..], kind, body].concat()
}

fn words(words: &[u32]) -> Vec<u8> {
    words.iter().flat_map(|word| word.to_be_bytes()).collect()
}

/// Version and flags 0, and words.
fn full(kind: &[u8; 4], body: &[u32]) -> Vec<u8> {
    part(kind, &words(&[&[0], body].concat()))
}

/// A track (ISO/IEC 14496-12, 8.3): number, kind of media, sample entry, and tables of 48 frames or of none.
fn track(id: u32, media: &[u8; 4], entry: &[u8], samples: u32, size: u32) -> Vec<u8> {
    let stbl = [
        part(b"stsd", &[&words(&[0, 1]), entry].concat()),
        full(b"stts", &[1, samples, 1]),
        full(b"stsc", &[1, 1, samples, 1]),
        full(b"stsz", &[size, samples]),
        full(b"stco", &[1, 8]),
    ];
    let mdia = [
        full(b"mdhd", &[0, 0, 24, samples, 0]),
        part(b"hdlr", &[&[0; 8], &media[..], &[0; 12]].concat()),
        part(b"minf", &part(b"stbl", &stbl.concat())),
    ];
    let header = words(&[1, 0, 0, id, 0, 0, 0, 0, 0, 0, 0x1_0000, 0, 0, 0, 0x1_0000, 0, 0, 0, 0x4000_0000, 0, 0]);
    part(b"trak", &[part(b"tkhd", &header), part(b"mdia", &mdia.concat())].concat())
}

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Some((kind, sample)) = bytes.split_first().filter(|_| bytes.len() <= MOST) else { return };
    let key = |number: u32, name: &[u8], kind: u32| {
        let name = part(b"keyd", &[b"mdta", name].concat());
        part(&number.to_be_bytes(), &[name, part(b"dtyp", &words(&[0, kind]))].concat())
    };
    let keys = [
        key(1, b"com.apple.quicktime.camera.lens_irisfnumber", 1),
        key(3, b"org.smpte.rdd18.lens.irisfnumber", 23),
    ];
    let keyed = part(b"mebx", &[&[0; 8][..], &part(b"keys", &keys.concat())].concat());
    let sets = part(b"rtmd", &[0; 8]);
    let in_fragments = kind % 3 == 2;
    let (entry, count) = match kind % 3 {
        0 => (sets, 1),
        1 => (keyed, 1),
        _ => (if kind & 4 == 0 { sets } else { keyed }, 0),
    };
    let size = u32::try_from(sample.len()).unwrap_or_default();
    let picture = [&[0; 24][..], &[7, 128, 4, 56], &[0; 50]].concat();
    let mut moov = track(1, b"vide", &part(b"test", &picture), 48, 1);
    moov.extend(track(5, b"meta", &entry, count, size));
    if in_fragments {
        moov.extend(part(b"mvex", &full(b"trex", &[5, 1, 1, 0, 0])));
    }
    // The sample stands in front, where the tables say; fragments follow the movie.
    let essence = if in_fragments { vec![] } else { sample.to_vec() };
    let rest = if in_fragments { sample } else { &[] };
    let file = [part(b"mdat", &essence), part(b"moov", &moov), rest.to_vec()].concat();
    let source: &dyn ReadAt = &file.as_slice();
    recorded::read_frames(source, Some(source), "fuzzed.mov");
});
