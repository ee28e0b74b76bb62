//! One file of every kind that tests build: what is cut, bent and lied about in the tests of hostile input, and what
//! fuzzing begins with.
#![expect(clippy::unwrap_used, reason = "a builder that cannot build is a failed test")]

use crate::boxes::{Clip, Clock, full, international, keys, packet, part, with_packet, words};
use crate::frames::{
    LITTLE, Put, Values, WAYS, attributes, dng, exif_segment, exr, heif, jpeg, taken, tiff,
};
use crate::klv::{Mxf, acquisition, ancillary, item};
use crate::tracks::{Fragment, entry, fragmented, set, track, value};

/// 01:02:03:04 as pictures store it (SMPTE ST 12-1).
pub(crate) const CODE: [u8; 8] = [4, 3, 2, 1, 0, 0, 0, 0];

/// One file with something of everything.
pub(crate) fn movie() -> Vec<u8> {
    let user = [
        part(b"\xA9mod", &international("Kestrel", 0)),
        part(
            b"XMP_",
            &packet(
                "<rdf:Description e:FNumber='28/10'><tiff:Make>Sorrel</tiff:Make></rdf:Description>",
            ),
        ),
        keys(true, &[("com.apple.quicktime.make", "Sorrel")]),
    ];
    let clip = Clip {
        created: 3_000_000_000,
        runs: vec![(10, 1001), (1, 1000)],
        entry: [
            part(b"pasp", &words(&[2, 1])),
            part(b"clap", &words(&[1900, 1, 1000, 1, 0, 1, 0, 1])),
        ]
        .concat(),
        trak: [
            part(b"tapt", &full(b"clef", 0, 0, &words(&[1888 << 16, 1062 << 16]))),
            keys(false, &[("com.example.lens", "35")]),
        ]
        .concat(),
        moov: [
            part(b"udta", &user.concat()),
            part(b"mvex", &full(b"trex", 0, 0, &words(&[1, 1, 1001, 0, 0]))),
        ]
        .concat(),
        clock: Some(Clock {
            reel: Some("A001"),
            edit: Some(0),
            ..Clock::new(1, 30000, 1001, 30, 107_894)
        }),
        ..Clip::default()
    };
    let traf = [
        full(b"tfhd", 0, 0, &words(&[1])),
        full(b"trun", 0, 0x301, &words(&[2, 0, 1001, 9, 1001, 9])),
    ]
    .concat();
    [clip.bytes(), part(b"moof", &part(b"traf", &traf))].concat()
}

/// Everything that a picture can be, one of each.
pub(crate) fn pictures() -> Vec<Vec<u8>> {
    let mut main = taken();
    main.push(Put(0x02BC, Values::Bytes(packet("<rdf:Description e:FNumber='4/1'/>"))));
    let fields = tiff(LITTLE, &[vec![Put(0x8769, Values::Directories(vec![1]))], main.clone()]);
    let mut all: Vec<Vec<u8>> = WAYS.iter().map(|way| dng(*way, CODE, main.clone())).collect();
    all.push(jpeg(&[exif_segment(&fields)]));
    all.push(heif(&fields));
    all.push(exr(&[attributes()]));
    all.push(exr(&[attributes(), attributes()]));
    all
}

/// A main packet that asks for `guid`, and segments of the rest: place, length of the whole, text.
pub(crate) fn extended(guid: &str, pieces: &[(&str, usize, usize, &str)]) -> Vec<u8> {
    const NAME: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
    let main = format!(
        "<rdf:Description xmlns:xmpNote='http://ns.adobe.com/xmp/note/' xmpNote:HasExtendedXMP='{guid}' e:FNumber='28/10'/>"
    );
    let mut segments = vec![(0xE1, [NAME, &packet(&main)].concat())];
    for (guid, at, whole, text) in pieces {
        let word = |number: usize| u32::try_from(number).unwrap().to_be_bytes();
        let name = b"http://ns.adobe.com/xmp/extension/\0";
        let head = [&name[..], guid.as_bytes(), &word(*whole), &word(*at)].concat();
        segments.push((0xE1, [&head[..], text.as_bytes()].concat()));
    }
    jpeg(&segments)
}

/// A lens set with a text that is longer than a packet.
pub(crate) fn lens() -> Vec<u8> {
    let text = vec![b'x'; 300];
    let items = [
        item(0x8007, &text),
        item(0x8005, &[0xBD, 0xDE]),
        item(0x8000, &[0xD0, 0x77]),
        item(0x8008, &[0xC0, 0]),
        item(0x8001, &[0xE0, 0x96]),
        item(0x8006, &[0, 140]),
    ];
    acquisition(1, &items)
}

/// An MXF file whose header was left open, with lens data beside its picture in two forms.
pub(crate) fn mxf() -> Mxf {
    Mxf {
        status: 1,
        early_rate: Some((30, 1)),
        footer_told: false,
        beside: [ancillary(&lens(), 100, 1, false), lens()].concat(),
        ..Mxf::default()
    }
}

/// The GUID of [`extended`].
pub(crate) const GUID: &str = "0123456789ABCDEF0123456789ABCDEF";

/// All of them, by name; the ending tells what they claim to be.
pub(crate) fn all() -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    let mut add = |name: &str, bytes: Vec<u8>| all.push((name.to_owned(), bytes));
    add("everything.mov", movie());
    let clock = Clock { samples: 3, ..Clock::new(1, 30_000, 1001, 30, 107_894) };
    add("clock.mov", Clip { clock: Some(clock), ..Clip::default() }.bytes());
    add("packet.mov", with_packet(&packet("<rdf:Description e:FNumber='28/10'/>")));
    let zoom: Vec<Vec<u8>> = (0..12).map(|frame| set(24 + frame / 3)).collect();
    let rtmd = part(b"rtmd", &[0; 8]);
    add("sets.mov", track(&rtmd, &zoom, &[]));
    let stops = [value(1, b"F2.8"), value(2, b"Sorrel 35"), value(3, &4f32.to_be_bytes())];
    add("keyed.mov", track(&entry(), &stops, &[]));
    add("text.mov", track(&part(b"mett", &[0; 8]), &[b"iris open".to_vec()], &[]));
    let split = Fragment { split: true, time: Some(12), ..Fragment::of(&zoom) };
    let even = Fragment { even: true, ..Fragment::of(&zoom) };
    add("fragments.mp4", fragmented(&rtmd, &[even, split]));
    add("keyed-fragments.mp4", fragmented(&entry(), &[Fragment::of(&stops)]));
    let later = (0..8).map(|frame| ancillary(&set(24 + frame), 60, 1, frame % 2 == 0)).collect();
    add("open.mxf", Mxf { later, length: 9, ..mxf() }.bytes());
    let played = Some((1, 3));
    let later = vec![set(25), set(26)];
    add(
        "closed.mxf",
        Mxf { run_in: 700, beside: set(24), later, played, ..Mxf::default() }.bytes(),
    );
    for (number, picture) in pictures().into_iter().enumerate() {
        add(&format!("picture-{number}.dng"), picture);
    }
    let rest = String::from_utf8(packet("<rdf:Description e:FocalLength='35/1'/>")).unwrap();
    let (front, back) = rest.split_at(200);
    let pieces = [(GUID, 0, rest.len(), front), (GUID, 200, rest.len(), back)];
    add("extended.jpg", extended(GUID, &pieces));
    all
}
