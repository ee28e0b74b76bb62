//! MXF files built in code: the facts that must come out of them, and that none of them hurts.

use lensmend::finding::{Code, Finding};
use lensmend::read_at::{ReadAt, Watched};
use lensmend::recorded::{Container, Recorded, read, read_frames};
use lensmend::sourced::Origin;
use proptest::prelude::*;

use crate::fixtures::{self, lens};
use crate::headers::Sparse;
use crate::klv::{Mxf, acquisition, ancillary, item, klv, label, set};
use crate::workshop::bounded;

fn quick(source: &dyn ReadAt) -> (Recorded, Vec<Finding>) {
    let watched = Watched::new(source);
    let found = read(&watched, "A001C003.mxf");
    bounded(&watched);
    (found.value, found.findings)
}

fn codes(bytes: &[u8]) -> Vec<Code> {
    quick(&bytes).1.iter().map(|f| f.code).collect()
}

fn told(mxf: &Mxf) -> String {
    let (r, findings) = quick(&&mxf.bytes()[..]);
    let mut told = Vec::new();
    let mut tell =
        |name: &str, fact: Option<String>| told.extend(fact.map(|f| format!("{name} {f}")));
    assert_eq!(r.container, Container::Mxf);
    tell("coded", r.coded.map(|f| f.value.to_string()));
    tell("display", r.display.map(|f| f.value.to_string()));
    tell("aspect", r.pixel_aspect.map(|f| f.value.to_string()));
    tell("rate", r.rate.map(|f| f.value.to_string()));
    tell("frames", r.frames.map(|f| f.value.to_string()));
    tell("start", r.start.map(|f| f.value.to_string()));
    tell("reel", r.reel.map(|f| f.value));
    told.extend(findings.iter().map(|f| f.code.word().to_owned()));
    told.join(", ")
}

const PLAIN: &str = "coded 1920x1080, display 1920x1080, aspect 1, rate 25, frames 50, start 01:00:00:00, reel A001R1";

#[test]
fn where_the_metadata_stands() {
    let early = Mxf { early_rate: Some((1, 1)), ..Mxf::default() };
    let cases = [
        Mxf::default(),
        Mxf { run_in: 1, ..Mxf::default() },
        Mxf { run_in: 65_536, ..Mxf::default() },
        Mxf { status: 1, ..early.clone() },
        Mxf { status: 2, ..early.clone() },
        Mxf { status: 3, run_in: 7, ..early.clone() },
        Mxf { status: 1, footer_told: false, run_in: 9, ..early.clone() },
        // Not finished, but nothing better at the end.
        Mxf { status: 3, ..Mxf::default() },
    ];
    for mxf in cases {
        assert_eq!(told(&mxf), PLAIN, "{} {}", mxf.run_in, mxf.status);
    }
    // A finished header is not asked twice.
    assert!(told(&Mxf { status: 4, ..early }).contains("rate 1,"));
    // The name promises what the content is not.
    assert_eq!(codes(&vec![0x55; 70_000]), [Code::MediaDamaged]);
}

#[test]
fn rasters() {
    let base = Mxf::default();
    let cases = [
        (
            Mxf { sampled: None, display: None, ..base.clone() },
            "coded 1920x1088, display 1920x1088, aspect 1,",
        ),
        (Mxf { sampled: None, ..base.clone() }, "coded 1920x1080, display 1920x1080, aspect 1,"),
        (
            Mxf { display: Some((1888, 1062)), ..base.clone() },
            "coded 1920x1080, display 1888x1062, aspect 1,",
        ),
        // Larger than what is stored is nothing.
        (
            Mxf { display: Some((4000, 4000)), ..base.clone() },
            "coded 1920x1080, display 1920x1080, aspect 1,",
        ),
        (
            Mxf {
                stored: (1920, 544),
                sampled: Some((1920, 540)),
                display: None,
                layout: 1,
                ..base.clone()
            },
            "coded 1920x1080, display 1920x1080, aspect 1,",
        ),
        (
            Mxf {
                stored: (1440, 1088),
                sampled: Some((1440, 1080)),
                display: None,
                ..base.clone()
            },
            "coded 1440x1080, display 1920x1080, aspect 4/3,",
        ),
        (
            Mxf {
                stored: (2048, 1080),
                sampled: None,
                display: None,
                aspect: (17, 9),
                ..base.clone()
            },
            "coded 2048x1080, display 2048x1080, aspect 1,",
        ),
        (Mxf { aspect: (0, 0), ..base.clone() }, "coded 1920x1080, display 1920x1080, rate"),
        (Mxf { aspect: (-16, 9), ..base.clone() }, "coded 1920x1080, display 1920x1080, rate"),
        (Mxf { stored: (0, 1088), ..base }, "rate 25"),
    ];
    for (mxf, wanted) in cases {
        let told = told(&mxf);
        assert!(told.starts_with(wanted), "{told}\n{wanted}");
    }
}

/// SMPTE ST 12-1 counts, as in `src/timecode.rs`.
#[test]
fn clocks_and_lengths() {
    let at = |rate, clock| Mxf { rate, clock: Some(clock), ..Mxf::default() };
    let film = (24_000, 1001);
    let cases = [
        (at((30_000, 1001), (107_894, 30, true)), "rate 30000/1001, frames 50, start 01:00:00;02"),
        (at((60_000, 1001), (215_788, 60, true)), "rate 60000/1001, frames 50, start 01:00:00;04"),
        (at(film, (86_400, 24, false)), "rate 24000/1001, frames 50, start 01:00:00:00"),
        (at(film, (86_400, 24, true)), "start 01:00:00:00, reel A001R1, media.timecode-odd"),
        (at(film, (86_400, 25, false)), "reel A001R1, media.timecode-odd"),
        (at((25, 1), (-1, 25, false)), "frames 50, reel A001R1, media.timecode-odd"),
        (at((25, 1), (1, 0, false)), "frames 50, reel A001R1, media.timecode-odd"),
        (Mxf { length: -1, ..Mxf::default() }, "rate 25, start"),
        (Mxf { length: 0, ..Mxf::default() }, "rate 25, start"),
        (Mxf { rate: (0, 0), ..Mxf::default() }, "aspect 1, frames 50"),
        (Mxf { clock: None, reel: None, ..Mxf::default() }, "frames 50"),
        // Two timecodes that differ: neither.
        (
            Mxf { stored_clock: Some((0, 25, false)), ..Mxf::default() },
            "frames 50, reel A001R1, media.contradiction",
        ),
        (
            Mxf { more: item(0x3001, &[]), ..Mxf::default() },
            "rate 25, frames 50, start 01:00:00:00, reel A001R1",
        ),
    ];
    for (mxf, wanted) in cases {
        let told = told(&mxf);
        assert!(told.contains(wanted), "{told}\n{wanted}");
    }
}

#[test]
fn names_dates_and_places() {
    let bytes = Mxf { run_in: 3, ..Mxf::default() }.bytes();
    let (r, _) = quick(&&bytes[..]);
    // A camera or an encoder: the set does not tell, so it names no camera.
    assert_eq!((r.maker, r.model), (None, None));
    let tags: Vec<&str> = r.tags.iter().map(|tag| tag.value.as_str()).collect();
    assert!(tags.contains(&"Sorrel") && tags.contains(&"Kestrel 6"), "{tags:?}");
    assert_eq!(r.created.unwrap().value.to_string(), "2026-03-04 05:06:07.500");
    let Origin::Media { path, offset, .. } = r.rate.unwrap().origin else { panic!() };
    assert_eq!(&path[..], "header/Track[4]/4B01");
    let at = usize::try_from(offset).unwrap();
    assert_eq!(bytes[at..at + 12], [0x4B, 1, 0, 8, 0, 0, 0, 25, 0, 0, 0, 1]);
    assert_eq!(r.tags.iter().filter(|tag| tag.key == "mxf.startTimecode").count(), 2);
}

/// A primer may call an item by another tag, and call something else by the tag that we know (ST 377-1, 9.2).
#[test]
fn the_primer_decides() {
    let aspect = label("060E2B34 01010101 04010101 01000000");
    let other = label("060E2B34 01010101 7F010101 01000000");
    let mxf = Mxf {
        primer: vec![(0x8123, aspect.clone()), (0x320E, other)],
        more: item(0x8123, &[0, 0, 0, 32, 0, 0, 0, 9]),
        ..Mxf::default()
    };
    assert!(told(&mxf).starts_with("coded 1920x1080, display 3840x1080, aspect 2,"));
    let usual = Mxf { primer: vec![(0x320E, aspect)], ..Mxf::default() };
    assert_eq!(told(&usual), PLAIN);
}

fn lens_facts(beside: Vec<u8>) -> String {
    let bytes = Mxf { beside, ..Mxf::default() }.bytes();
    let (r, findings) = quick(&&bytes[..]);
    if let Some(Origin::Media { offset, .. }) = r.focal_length.as_ref().map(|f| &f.origin) {
        let at = usize::try_from(*offset).unwrap();
        assert!(bytes[at..].starts_with(&[0x80, 5]) || bytes[at..].len() > 4, "{at}");
    }
    let number = |value: Option<f64>| value.map_or("-".to_owned(), |v| format!("{v:.5}"));
    let told = [
        number(r.focal_length.map(|f| f.value.get())),
        number(r.f_number.map(|f| f.value.get())),
        number(r.t_number.map(|f| f.value.get())),
        number(r.focus_distance.map(|f| f.value.get())),
    ];
    let codes: Vec<_> = findings.iter().map(|f| f.code.word()).collect();
    format!("{} {}", told.join(" "), codes.join(" ")).trim().to_owned()
}

/// Check values of RDD 18 that two public parsers agree on.
#[test]
fn acquisition_metadata_survives() {
    let wanted = "35.50000 2.80009 4.00000 1.50000";
    for (part, lead) in [(255, 0), (200, 0), (100, 1), (252, 3)] {
        for ten in [false, true] {
            assert_eq!(lens_facts(ancillary(&lens(), part, lead, ten)), wanted, "{part} {lead}");
        }
    }
    assert_eq!(lens_facts(lens()), wanted);
    let data = label("060E2B34 01020101 0D010301 17010101");
    assert_eq!(lens_facts(klv(&data, &lens())), wanted);
    assert_eq!(lens_facts(vec![]), "- - - -");
    // Twice the same in two codings is no contradiction; two numbers are.
    let again = |word: [u8; 2]| [lens(), acquisition(1, &[item(0x8005, &word)])].concat();
    assert_eq!(lens_facts(again([0xC1, 0x63])), wanted);
    assert_eq!(lens_facts(again([0xFF, 0xFF])), wanted);
    assert_eq!(lens_facts(again([0xC1, 0xF4])), "- 2.80009 4.00000 1.50000 media.contradiction");
    // What stands beside the second frame is not looked at.
    let next = klv(&label("060E2B34 01020101 0D010301 15010500"), &[0; 8]);
    assert_eq!(lens_facts([next, lens()].concat()), "- - - -");
}

#[test]
fn cut_at_every_byte() {
    let whole = Mxf { beside: lens(), ..Mxf::default() }.bytes();
    let footer = label("060E2B34 02050101 0D010201 01040400");
    let last = whole.windows(16).position(|bytes| bytes == footer).unwrap();
    for end in 0..whole.len() {
        let met = codes(&whole[..end]);
        match end {
            0 => assert_eq!(met, [Code::MediaEmpty]),
            1..14 => assert_eq!(met, [Code::MediaDamaged]),
            _ if end <= last => assert!(met.contains(&Code::MediaCutOff), "{end}: {met:?}"),
            // The facts are all there; only the index is gone.
            _ => assert_eq!(met, [], "{end}"),
        }
    }
    let never_closed = fixtures::mxf().bytes();
    let last = never_closed.windows(16).position(|bytes| bytes == footer).unwrap();
    for end in 14..never_closed.len() {
        let met = codes(&never_closed[..end]);
        assert!(end > last || met.contains(&Code::MediaCutOff), "{end}: {met:?}");
    }
}

#[test]
fn every_byte_bent() {
    for mut bytes in [fixtures::mxf().bytes(), Mxf::default().bytes()] {
        for at in 0..bytes.len() {
            let was = bytes[at];
            for is in [0, 1, 0x7F, 0x80, 0xFF, was ^ 1] {
                bytes[at] = is;
                quick(&&bytes[..]);
            }
            bytes[at] = was;
        }
    }
}

#[test]
fn lengths_and_counts_that_lie() {
    let bytes = fixtures::mxf().bytes();
    for at in (0..bytes.len() - 9).step_by(3) {
        for wide in [0_u64, 1, 1 << 31, 1 << 63, u64::MAX] {
            let mut bytes = bytes.clone();
            bytes[at..at + 8].copy_from_slice(&wide.to_be_bytes());
            quick(&&bytes[..]);
            let mut long = bytes.clone();
            long[at] = 0x88;
            long[at + 1..at + 9].copy_from_slice(&wide.to_be_bytes());
            quick(&&long[..]);
        }
    }
}

/// Sets that refer to themselves and to each other, in great number.
#[test]
fn references_in_circles() {
    let many: Vec<u8> = std::iter::repeat_n([7; 16], 4000).flatten().collect();
    let batch = [&4000_u32.to_be_bytes()[..], &16_u32.to_be_bytes(), &many].concat();
    for kind in [0x36, 0x37, 0x3B, 0x0F, 0x44] {
        let tags = [0x4403, 0x4803, 0x1001, 0x4701, 0x3F01, 0x3B06, 0x1901];
        let items: Vec<_> = tags.iter().map(|tag| item(*tag, &batch)).collect();
        let circle = [item(0x0201, &label("060E2B34 04010101 01030202 01000000")), items.concat()];
        let sets = set(kind, 7, &circle).repeat(10);
        let mxf = Mxf { more: sets[..60_000].to_vec(), ..Mxf::default() };
        quick(&&mxf.bytes()[..]);
        let mut bytes = Mxf::default().bytes();
        bytes.splice(104 + 21 + 60 + 21.., sets);
        bytes[21 + 32..21 + 40].copy_from_slice(&[0xFF; 8]);
        quick(&&bytes[..]);
    }
}

#[test]
fn a_hundred_gigabytes_cost_little() {
    let size = 100_000_000_000_u64;
    let whole = fixtures::mxf();
    let bytes = whole.bytes();
    let footer = label("060E2B34 02050101 0D010201 01040400");
    let last = bytes.windows(16).position(|bytes| bytes == footer).unwrap();
    let gap = size - u64::try_from(bytes.len()).unwrap();
    // The last frame fills the gap; the index gives the footer its new place.
    let mut tail = bytes[last..].to_vec();
    let entry = tail.len() - 12;
    tail[entry..entry + 8].copy_from_slice(&(u64::try_from(last).unwrap() + gap).to_be_bytes());
    let place = u64::try_from(last).unwrap() + gap;
    let source = Sparse { size, parts: vec![(0, bytes[..last].to_vec()), (place, tail)] };
    let watched = Watched::new(&source);
    let (r, findings) = quick(&watched);
    assert_eq!(findings, []);
    assert_eq!(
        (r.rate.unwrap().value.to_string(), r.focal_length.is_some()),
        ("25".to_owned(), true)
    );
    let reads = watched.reads();
    let sum: usize = reads.iter().map(|(_, count)| count).sum();
    assert!(reads.len() <= 24 && sum < 256 * 1024, "{} reads, {sum} bytes", reads.len());
}

proptest! {
    #[test]
    fn random_data_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        quick(&&Mxf { more: bytes.clone(), beside: bytes.clone(), ..fixtures::mxf() }.bytes()[..]);
        let data = label("060E2B34 01020101 0D010301 17010201");
        quick(&&Mxf { beside: klv(&data, &bytes), ..fixtures::mxf() }.bytes()[..]);
    }
}

fn pieces(bytes: &[u8]) -> String {
    let found = read_frames(&bytes, Some(&bytes), "A.mxf");
    let pieces = found.value.per_frame.iter().map(|(frame, data)| {
        let focal = data.focal_length.as_ref().map_or(0.0, |f| f.value.get());
        let extender =
            data.extender.as_ref().map(|by| format!(" x{}", by.value.get())).unwrap_or_default();
        format!("{frame} {focal:.0}{extender}")
    });
    let codes = found.findings.iter().map(|f| f.code.word().to_owned());
    pieces.chain(codes).collect::<Vec<_>>().join(", ")
}

/// A set beside one picture: millimetres (DISTANCE with a power of -3), and percent of an extender.
fn zoomed(focal: u16, extender: u16) -> Vec<u8> {
    let items =
        [item(0x8005, &(0xD000 | focal).to_be_bytes()), item(0x8006, &extender.to_be_bytes())];
    acquisition(1, &items)
}

/// ST 379: an edit unit begins where an element comes again.
#[test]
fn lens_data_of_every_frame_becomes_pieces() {
    let ramp = |frame: u16| match frame {
        0..3 => (24, 100),
        3..5 => (24 + frame, 100),
        5..7 => (70, 100),
        _ => (70, 140),
    };
    let shot = |beside: &dyn Fn(u16) -> Vec<u8>| Mxf {
        beside: beside(0),
        later: (1..10).map(beside).collect(),
        length: 10,
        ..Mxf::default()
    };
    let wanted = "0 24 x1, 3 27 x1, 4 28 x1, 5 70 x1, 7 70 x1.4";
    let set = |frame: u16| zoomed(ramp(frame).0, ramp(frame).1);
    let packets = |frame: u16| ancillary(&set(frame), 100, 1, true);
    for mxf in [shot(&set), shot(&packets)] {
        assert_eq!(pieces(&mxf.bytes()), wanted);
        let front = Mxf { run_in: 99, status: 1, early_rate: Some((1, 1)), ..mxf.clone() };
        assert_eq!(pieces(&front.bytes()), wanted);
        // What is played begins at the fourth picture: pieces move, and what held there stands.
        let part =
            Mxf { played: Some((4, 5)), stored_clock: Some((89_996, 25, false)), ..mxf.clone() };
        assert_eq!(pieces(&part.bytes()), "0 28 x1, 1 70 x1, 3 70 x1.4, media.trimmed");
        // Not asked for, not read.
        assert_eq!(quick(&&mxf.bytes()[..]).0.per_frame, []);
    }
    // A picture without data says nothing, and a clip without any has no pieces.
    let hole = shot(&|frame| if frame == 4 { vec![] } else { zoomed(24, 100) });
    assert_eq!(pieces(&hole.bytes()), "0 24 x1, 4 0, 5 24 x1");
    assert_eq!(pieces(&shot(&|_| vec![]).bytes()), "");
    let long = shot(&|_| acquisition(1, &[item(0x8005, &[0xD0, 24])]).repeat(400));
    assert_eq!(pieces(&long.bytes()), "0 24");
    // Cut off inside of the essence, the last that was read goes on, and it is said.
    let whole = shot(&set).bytes();
    let footer = label("060E2B34 02050101 0D010201 01040400");
    let end = whole.windows(16).position(|bytes| bytes == footer).unwrap();
    assert_eq!(
        pieces(&whole[..end - 200]),
        "0 24 x1, 3 27 x1, 4 28 x1, 5 70 x1, media.cut-off, media.per-frame"
    );
    // More moves than anybody wants in a table.
    let many = Mxf {
        later: (0..1200).map(|frame| zoomed(24 + frame % 2, 100)).collect(),
        length: 1201,
        ..Mxf::default()
    };
    let told = pieces(&many.bytes());
    assert!(told.ends_with("500 25 x1, 501 0, media.per-frame"), "{told}");
}

/// Pictures and data in two containers, one behind the other: each counts its own edit units.
#[test]
fn a_container_of_data_behind_that_of_pictures() {
    let picture = klv(&label("060E2B34 01020101 0D010301 15010500"), &[0xAB; 16]);
    let pack = |body: u32| {
        let value = [
            &[0, 1, 0, 3, 0, 0, 0, 1][..],
            &[0; 52],
            &body.to_be_bytes(),
            &label("060E2B34 04010101 0D010201 01010900"),
            &[0, 0, 0, 0, 0, 0, 0, 16],
        ];
        klv(&label("060E2B34 02050101 0D010201 01030400"), &value.concat())
    };
    let data: Vec<u8> = (0..10_u16)
        .flat_map(|frame| ancillary(&zoomed(24 + frame / 5, 100), 100, 1, false))
        .collect();
    let beside = [pack(1), picture.repeat(10), pack(2), data, pack(3)].concat();
    let mxf = Mxf { beside, length: 10, ..Mxf::default() };
    assert_eq!(pieces(&mxf.bytes()), "0 24 x1, 5 25 x1");
}

/// A walk over a hundred gigabytes reads keys and lengths, not pictures.
#[test]
fn a_walk_over_all_frames_reads_little_of_each() {
    let whole = Mxf {
        beside: zoomed(24, 100),
        later: (0..99).map(|_| zoomed(24, 100)).collect(),
        length: 100,
        ..Mxf::default()
    };
    let bytes = whole.bytes();
    let source: &dyn ReadAt = &&bytes[..];
    let watched = Watched::new(source);
    read_frames(&source, Some(&watched), "A.mxf");
    let sum: usize = watched.reads().iter().map(|(_, count)| count).sum();
    assert!(sum <= bytes.len() + 4096 * 4, "{sum} of {}", bytes.len());
    // Blocks that are nothing but keys and lengths, without end.
    let empty = klv(&label("060E2B34 01020101 0D010301 15010500"), &[]);
    let endless = Mxf { beside: empty.repeat(200_000), ..Mxf::default() };
    assert_eq!(pieces(&endless.bytes()), "");
}
