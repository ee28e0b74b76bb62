//! Headers that are cut, bent or made to hurt: no panic, bounded time, and never silence about a cut.

use lensmend::finding::{Code, Found};
use lensmend::read_at::{ReadAt, Watched};
use lensmend::recorded::{Recorded, read};
use proptest::prelude::*;

use crate::boxes::{Clip, Clock, full, packet, part, with_packet, words};
use crate::fixtures;
use crate::headers::Sparse;
use crate::workshop::bounded;

/// Reads, and holds the reader to work that no honest header comes near.
fn quick(source: &dyn ReadAt) -> Found<Recorded> {
    let watched = Watched::new(source);
    let found = read(&watched, "A001C003.mov");
    bounded(&watched);
    found
}

fn codes(source: &dyn ReadAt) -> Vec<Code> {
    quick(source).findings.iter().map(|f| f.code).collect()
}

#[test]
fn cut_at_every_byte() {
    let plain = Clip { clock: Some(Clock::new(0, 24, 1, 24, 24)), ..Clip::default() }.bytes();
    for end in 0..plain.len() {
        let wanted = match end {
            0 => Code::MediaEmpty,
            1..8 => Code::MediaDamaged,
            _ => Code::MediaCutOff,
        };
        assert_eq!(codes(&&plain[..end]), [wanted], "cut at {end} of {}", plain.len());
    }
    assert_eq!(codes(&&plain[..]), []);
    let everything = fixtures::movie();
    for end in 0..everything.len() {
        quick(&&everything[..end]);
    }
}

#[test]
fn every_byte_bent() {
    let mut bytes = fixtures::movie();
    for at in 0..bytes.len() {
        let was = bytes[at];
        for is in [0, 1, 0x7F, 0x80, 0xFF, was ^ 1, was ^ 0x20] {
            bytes[at] = is;
            quick(&&bytes[..]);
        }
        bytes[at] = was;
    }
}

/// Tables of samples are cut, bent and made to lie; what is read outside of the header stays small.
#[test]
fn files_with_timed_tracks_cut_and_bent() {
    for bytes in crate::shown::with_everything_timed() {
        cut_and_bend(bytes);
    }
}

fn cut_and_bend(mut bytes: Vec<u8>) {
    for end in 0..bytes.len() {
        quick(&&bytes[..end]);
    }
    for at in 0..bytes.len() {
        let was = bytes[at];
        for is in [0, 1, 0x7F, 0x80, 0xFF] {
            bytes[at] = is;
            let source: &[u8] = &bytes;
            let watched = Watched::new(&source);
            quick(&watched);
            let read: usize = watched.reads().iter().map(|(_, count)| count).sum();
            assert!(read < 128 * 1024, "{read} bytes with {is} at {at}");
        }
        bytes[at] = was;
    }
}

#[test]
fn sizes_that_lie() {
    let ftyp = part(b"ftyp", b"qt  \0\0\0\0");
    let wide = |size: u64| {
        [words(&[1]), b"moov".to_vec(), size.to_be_bytes().to_vec(), vec![0; 64]].concat()
    };
    let cases = [
        [words(&[0]), b"moov".to_vec()].concat(),
        [words(&[1]), b"moov".to_vec()].concat(),
        [words(&[7]), b"moov".to_vec()].concat(),
        [words(&[1 << 31]), b"moov".to_vec(), vec![0xFF; 64]].concat(),
        wide(0),
        wide(15),
        wide(1 << 31),
        wide(1 << 63),
        wide(u64::MAX),
        part(b"moov", &wide(u64::MAX)),
        part(b"moov", &part(b"trak", &wide(1 << 63))),
        part(b"moov", &part(b"trak", &words(&[0, 0, 0, 1, 1, 1]))),
    ];
    for case in cases {
        let codes = codes(&&[&ftyp[..], &case].concat()[..]);
        assert!(!codes.is_empty(), "{case:?}");
    }
}

#[test]
fn counts_that_lie() {
    let all = u32::MAX;
    let clip = |moov: Vec<u8>| Clip { moov, ..Clip::default() }.bytes();
    let keyed =
        [full(b"hdlr", 0, 0, &[0; 20]), full(b"keys", 0, 0, &words(&[all, all, all]))].concat();
    for bytes in [
        clip(full(b"meta", 0, 0, &keyed)),
        clip(part(b"udta", &part(b"\xA9mod", &[0xFF; 6]))),
        clip(part(b"mvex", &full(b"trex", 0, 0, &words(&[all; 5])))),
    ] {
        assert_eq!(quick(&&bytes[..]).value.frames.unwrap().value, 48);
    }
    let mut bytes = Clip::default().bytes();
    let stts = bytes.windows(4).position(|w| w == b"stts").unwrap();
    bytes[stts + 8..stts + 12].fill(0xFF);
    assert_eq!(codes(&&bytes[..]), [Code::MediaDamaged]);
    assert_eq!(quick(&&bytes[..]).value.frames.unwrap().value, 48);
}

#[test]
fn nests_of_ten_thousand() {
    for kind in [b"moov", b"trak", b"meta", b"udta", b"moof", b"free"] {
        let mut nest = Vec::new();
        for depth in (1..=10_000u32).rev() {
            nest.extend([(depth * 8).to_be_bytes(), *kind].concat());
        }
        quick(&&part(b"moov", &nest)[..]);
        quick(&&nest[..]);
    }
    let body = "<rdf:Description><e:Flash>".repeat(10_000);
    assert_eq!(codes(&&with_packet(&packet(&body))[..]), [Code::MediaDamaged]);
}

/// The same eight bytes over and over, for a hundred gigabytes.
struct Endless([u8; 8]);

impl ReadAt for Endless {
    fn size(&self) -> u64 {
        100_000_000_000
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> std::io::Result<usize> {
        for (at, slot) in (offset..).zip(buffer.iter_mut()) {
            *slot = self.0[usize::try_from(at % 8).unwrap_or_default()];
        }
        Ok(buffer.len())
    }
}

#[test]
fn endless_files_end() {
    for kind in [b"free", b"moov", b"uuid", b"mdat"] {
        let mut unit = [0, 0, 0, 8, 0, 0, 0, 0];
        unit[4..].copy_from_slice(kind);
        let endless = Endless(unit);
        let watched = Watched::new(&endless);
        assert!(!codes(&watched).is_empty());
        assert!(watched.reads().len() < 100);
    }
    // A movie box of 100 GB: full of zeros, and with a frame table of 80 GB.
    for inside in [vec![], {
        let clip = Clip::default().movie(0);
        let stts = clip.windows(4).position(|w| w == b"stts").unwrap() - 4;
        let mut clip = clip[8..stts].to_vec();
        clip.extend(
            [
                words(&[1]),
                b"stts".to_vec(),
                80_000_000_000u64.to_be_bytes().to_vec(),
                words(&[0, u32::MAX]),
            ]
            .concat(),
        );
        clip
    }] {
        let head =
            [words(&[1]), b"moov".to_vec(), 100_000_000_000u64.to_be_bytes().to_vec(), inside]
                .concat();
        let source = Sparse { size: 100_000_000_000, parts: vec![(0, head)] };
        let watched = Watched::new(&source);
        assert!(!codes(&watched).is_empty());
        assert!(watched.reads().len() < 100);
    }
}

fn numbered(count: u32, write: impl Fn(u32) -> String) -> String {
    (0..count).map(write).collect()
}

#[test]
fn packets_made_to_hurt() {
    let bomb = b"<!DOCTYPE x [<!ENTITY a 'ha'><!ENTITY b '&a;&a;&a;'>]><rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#' xmlns:tiff='http://ns.adobe.com/tiff/1.0/'><rdf:Description><tiff:Make>&b;</tiff:Make></rdf:Description></rdf:RDF>";
    let found = quick(&&with_packet(bomb)[..]);
    assert_eq!(found.value.maker, None);
    assert_eq!(found.findings.len(), 1);
    let attributes = numbered(100_000, |n| format!(" fake:a{n}='1'"));
    let spaces = numbered(50_000, |n| format!(" xmlns:n{n}='u{n}'"));
    let long = format!(
        "<rdf:Description xmlns:l='http://{}'>{}</rdf:Description>",
        "x".repeat(1_000_000),
        "<l:a>1</l:a>".repeat(100_000)
    );
    let bodies = [
        format!("<rdf:Description{attributes}/>"),
        format!("<rdf:Description{spaces}/>"),
        long,
        "<rdf:Description>".to_owned(),
        "</rdf:RDF>".to_owned(),
        "<rdf:Description tiff:Make='a' tiff:Make='b'/>".to_owned(),
        "<rdf:Description \u{0}".to_owned(),
    ];
    for body in bodies {
        let found = quick(&&with_packet(&packet(&body))[..]);
        assert!(found.value.tags.len() <= 1024);
    }
    let whole = packet(
        "<rdf:Description e:FNumber='28/10'><tiff:Make>Sorrel</tiff:Make></rdf:Description>",
    );
    for end in 0..whole.len() {
        quick(&&with_packet(&whole[..end])[..]);
    }
    // Larger than any lens record: said, and not read.
    assert_eq!(codes(&&with_packet(&vec![b' '; 5_000_000])[..]), [Code::MediaDamaged]);
}

/// A drive that fails is said once, and the rest of the file is not called damaged.
struct Failing;

impl ReadAt for Failing {
    fn size(&self) -> u64 {
        1000
    }

    fn read_at(&self, _: u64, _: &mut [u8]) -> std::io::Result<usize> {
        Err(std::io::Error::other("gone"))
    }
}

#[test]
fn a_failing_drive_is_not_a_broken_clip() {
    assert_eq!(codes(&Failing), [Code::DumpUnreadable]);
}

fn tree() -> impl Strategy<Value = Vec<u8>> {
    let kinds: &[&[u8; 4]] = &[
        b"moov", b"trak", b"mdia", b"minf", b"stbl", b"udta", b"meta", b"mvex", b"moof", b"traf",
        b"edts", b"tref", b"tapt", b"stsd", b"stts", b"tkhd", b"mdhd", b"hdlr", b"elst", b"keys",
        b"ilst", b"data", b"trun", b"tfhd", b"stco", b"uuid", b"XMP_", b"\xA9mak", b"clef",
        b"pasp", b"clap", b"tmcd", b"name", b"dref",
    ];
    let leaf = proptest::collection::vec(any::<u8>(), 0..80);
    leaf.prop_recursive(6, 64, 6, move |inner| {
        proptest::collection::vec((proptest::sample::select(kinds), inner), 0..6)
            .prop_map(|parts| parts.iter().flat_map(|(kind, body)| part(kind, body)).collect())
    })
}

proptest! {
    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        quick(&&bytes[..]);
        quick(&&[part(b"ftyp", b"qt  "), part(b"moov", &bytes)].concat()[..]);
        quick(&&with_packet(&bytes)[..]);
    }

    #[test]
    fn random_trees_never_panic(tree in tree()) {
        quick(&&[part(b"ftyp", b"isom"), tree.clone()].concat()[..]);
        quick(&&Clip { moov: tree.clone(), trak: tree.clone(), entry: tree, ..Clip::default() }.bytes()[..]);
    }
}
