//! Headers built in code, and the facts that must come out of them.

use lensmend::finding::{Code, Finding, Spot};
use lensmend::read_at::{ReadAt, Watched};
use lensmend::recorded::{Container, Recorded, Rotation, read};
use lensmend::sourced::Origin;

use crate::boxes::{Clip, Clock, full, international, keys, media, part, tkhd, words};

/// What is read from `bytes`.
pub(crate) fn recorded(bytes: &[u8]) -> (Recorded, Vec<Finding>) {
    let found = read(&bytes, "A001C003.mov");
    (found.value, found.findings)
}

/// Facts and codes in one line, so that a table can say what is wanted.
fn told(bytes: &[u8]) -> String {
    let (r, findings) = recorded(bytes);
    let mut told = Vec::new();
    let mut tell =
        |name: &str, fact: Option<String>| told.extend(fact.map(|f| format!("{name} {f}")));
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

/// Runs of frames: how many, how long each.
type Runs<'a> = &'a [(u32, u32)];

const PLAIN: &str = "coded 1920x1080, display 1920x1080";

#[test]
fn rates_and_frames() {
    let cases: &[(u32, Runs, &str)] = &[
        (24000, &[(48, 1001)], "rate 24000/1001, frames 48"),
        (90000, &[(50, 1800)], "rate 50, frames 50"),
        (30000, &[(10, 1001), (20, 1001)], "rate 30000/1001, frames 30"),
        // A single last frame of another length is the end of the clip, not a change of rate.
        (24000, &[(47, 1000), (1, 999)], "rate 24, frames 48"),
        (24, &[(1, 1)], "rate 24, frames 1"),
        (24, &[(20, 1), (10, 2)], "rate 18, frames 30, media.rate-varies"),
        (24, &[(1, 2), (20, 1)], "rate 252/11, frames 21, media.rate-varies"),
        // Broken clocks leave the rate out and keep the count.
        (0, &[(48, 1001)], "frames 48"),
        (24000, &[(48, 0)], "frames 48"),
        (24000, &[], ""),
    ];
    for (timescale, runs, wanted) in cases {
        let clip = Clip { timescale: *timescale, runs: runs.to_vec(), ..Clip::default() };
        let wanted = [PLAIN, wanted].map(str::to_owned).join(", ");
        assert_eq!(told(&clip.bytes()), wanted.trim_end_matches(", "), "{runs:?}");
    }
}

#[test]
fn rasters() {
    let pasp = |w, h| part(b"pasp", &words(&[w, h]));
    let clap = |w, h| part(b"clap", &words(&[w, 1, h, 1, 0, 1, 0, 1]));
    let clef = part(b"tapt", &full(b"clef", 0, 0, &words(&[1888 << 16, 1062 << 16])));
    let cases = [
        (pasp(2, 1), vec![], (0, 0), "coded 1920x1080, display 3840x1080, aspect 2"),
        (pasp(97, 73), vec![], (0, 0), "coded 1920x1080, display 2551x1080, aspect 97/73"),
        (pasp(0, 1), vec![], (0, 0), PLAIN),
        (clap(1888, 1062), vec![], (0, 0), "coded 1920x1080, display 1888x1062"),
        // A clean aperture larger than the picture is none.
        (clap(4000, 1062), vec![], (0, 0), PLAIN),
        (
            [pasp(2, 1), clap(1800, 1000)].concat(),
            vec![],
            (0, 0),
            "coded 1920x1080, display 3600x1000, aspect 2",
        ),
        (pasp(2, 1), clef, (0, 0), "coded 1920x1080, display 1888x1062, aspect 2"),
        // Squeezed without `pasp`: the track header tells; a merely scaled track is not a squeeze.
        (vec![], vec![], (2554, 1080), "coded 1920x1080, display 2554x1080"),
        (vec![], vec![], (960, 540), PLAIN),
    ];
    for (entry, trak, shown, wanted) in cases {
        let clip = Clip { shown, entry, trak, ..Clip::default() };
        assert_eq!(told(&clip.bytes()), format!("{wanted}, rate 24000/1001, frames 48"));
    }
}

/// ISO/IEC 14496-12, 8.2.2; 0, 1, -1, 0 is a quarter clockwise (`ffprobe` says -90).
#[test]
fn rotations() {
    let cases = [
        ([1, 0, 0, 1], Some(Rotation::None)),
        ([0, 1, -1, 0], Some(Rotation::Quarter)),
        ([-1, 0, 0, -1], Some(Rotation::Half)),
        ([0, -1, 1, 0], Some(Rotation::ThreeQuarters)),
        ([-1, 0, 0, 1], None),
        ([0, 0, 0, 0], None),
    ];
    for (matrix, wanted) in cases {
        let clip = Clip { matrix, ..Clip::default() };
        let rotation = recorded(&clip.bytes()).0.rotation;
        assert_eq!(rotation.map(|r| r.value), wanted, "{matrix:?}");
    }
}

/// What is told of a clip behind its frames, which is all about `clock`.
fn clocked(rate: (u32, u32), clock: Clock) -> String {
    let clip =
        Clip { timescale: rate.0, runs: vec![(48, rate.1)], clock: Some(clock), ..Clip::default() };
    let told = told(&clip.bytes());
    let after = told.split_once("frames 48").map(|(_, after)| after);
    after.unwrap_or(&told).trim_start_matches(", ").to_owned()
}

const NTSC: (u32, u32) = (30000, 1001);
const FILM: (u32, u32) = (24000, 1001);
const FAST: (u32, u32) = (60000, 1001);
const PAL: (u32, u32) = (25, 1);

/// SMPTE ST 12-1 counts; the drop-frame ones are those of `src/timecode.rs`.
#[test]
fn timecodes() {
    let clock = Clock::new;
    let cases = [
        (NTSC, clock(1, 30000, 1001, 30, 107_894), "start 01:00:00;02"),
        // Some cameras write 29 labels: the exact rate decides.
        (NTSC, clock(1, 30000, 1001, 29, 107_894), "start 01:00:00;02"),
        (FAST, clock(1, 60000, 1001, 60, 215_788), "start 01:00:00;04"),
        (FILM, clock(2, 24000, 1001, 24, 86_400), "start 01:00:00:00"),
        (PAL, clock(0, 25, 1, 25, 2_159_995), "start 23:59:59:20"),
        (PAL, clock(0, 0, 0, 25, 25), "start 00:00:01:00"),
        (PAL, clock(2, 25, 1, 25, 2_160_000), "start 00:00:00:00"),
        // A counter tells no time.
        (PAL, clock(8, 25, 1, 25, 25), ""),
    ];
    for (rate, clock, wanted) in cases {
        assert_eq!(clocked(rate, clock), wanted);
    }
    let plain = Clock::new(0, 25, 1, 25, 1);
    let edited = Clock { edit: Some(10), ..plain.clone() };
    assert_eq!(clocked(PAL, edited), "start 00:00:00:11");
    let named = Clock { reel: Some("A001R1"), ..plain.clone() };
    assert_eq!(clocked(PAL, named), "start 00:00:00:01, reel A001R1");
    let every_frame = Clock { samples: 48, ..plain };
    assert_eq!(clocked(PAL, every_frame), "start 00:00:00:01");
}

/// Contradictions are told; a start that cannot be is left out.
#[test]
fn timecodes_that_contradict() {
    let clock = Clock::new;
    let jumps = Clock { samples: 3, ..Clock::new(0, 25, 1, 25, 1) };
    let cases = [
        (PAL, clock(1, 25, 1, 25, 25), "start 00:00:01:00, "),
        (FAST, clock(0, 30000, 1001, 30, 30), "start 00:00:01:00, "),
        (PAL, jumps, "start 00:00:00:01, "),
        (PAL, clock(0, 25, 1, 25, -1), ""),
        (PAL, clock(0, 25, 1, 25, 2_160_000), ""),
        (PAL, clock(0, 90000, 1, 25, 1), ""),
    ];
    for (rate, clock, start) in cases {
        assert_eq!(clocked(rate, clock), format!("{start}media.timecode-odd"));
    }
}

#[test]
fn containers_are_told_by_content() {
    let with = |brand| Clip { brand, ..Clip::default() }.bytes();
    let cases: [(Vec<u8>, Container, &[Code]); 11] = [
        (with(Some(b"qt  ")), Container::QuickTime, &[]),
        (with(None), Container::QuickTime, &[]),
        (with(Some(b"isom")), Container::Mp4, &[]),
        (with(Some(b"mp42")), Container::Mp4, &[]),
        (vec![], Container::Opaque, &[Code::MediaEmpty]),
        // The name promises a QuickTime file.
        (b"The skip is full".to_vec(), Container::Opaque, &[Code::MediaDamaged]),
        (b"abc".to_vec(), Container::Opaque, &[Code::MediaDamaged]),
        (b"RIFF....WAVEfmt ".to_vec(), Container::Opaque, &[Code::MediaDamaged]),
        (b"\0\0\0\x04ftypqt  ".to_vec(), Container::Opaque, &[Code::MediaDamaged]),
        // Still images of the same family hold `meta` in place of `moov`.
        ([part(b"ftyp", b"mif1\0\0\0\0"), full(b"meta", 0, 0, &[])].concat(), Container::Heif, &[]),
        (part(b"ftyp", b"mif1\0\0\0\0"), Container::Heif, &[Code::MediaCutOff]),
    ];
    for (bytes, container, codes) in cases {
        let (recorded, findings) = recorded(&bytes);
        let met: Vec<_> = findings.iter().map(|f| f.code).collect();
        assert_eq!((recorded.container, &met[..]), (container, codes));
    }
}

#[test]
fn the_main_picture_is_the_one_shown_moving_and_large() {
    let track = |enabled, raster: (u16, u16), frames, more: Vec<u8>| {
        let clip =
            Clip { enabled, runs: vec![(frames, 1001)], raster, trak: more, ..Clip::default() };
        // The track as the clip builder makes it: behind the movie's own heading and header.
        clip.movie(0)[8 + 108..].to_vec()
    };
    let chapters = part(b"tref", &part(b"thmb", &words(&[1])));
    let cases = [
        (track(true, (640, 360), 48, vec![]), "1920x1080"),
        (track(true, (3840, 2160), 48, vec![]), "3840x2160"),
        (track(false, (3840, 2160), 48, vec![]), "1920x1080"),
        (track(true, (3840, 2160), 1, vec![]), "1920x1080"),
        (track(true, (3840, 2160), 48, chapters), "1920x1080"),
    ];
    for (tracks, wanted) in cases {
        let clip = Clip { tracks, ..Clip::default() };
        let coded = recorded(&clip.bytes()).0.coded.unwrap();
        assert_eq!(coded.value.to_string(), wanted);
    }
    let sound = Clip { handler: b"soun", ..Clip::default() };
    assert_eq!(told(&sound.bytes()), "media.no-picture");
}

#[test]
fn creation_time_counts_from_1904() {
    let at = |created| {
        let clip = Clip { created, ..Clip::default() };
        recorded(&clip.bytes()).0.created.map(|c| c.value.to_string())
    };
    // 2082844800 seconds lie between 1904-01-01 and 1970-01-01.
    assert_eq!(at(2_082_844_800).as_deref(), Some("1970-01-01 00:00:00"));
    assert_eq!(at(2_082_844_800 + 1_000_000_000).as_deref(), Some("2001-09-09 01:46:40"));
    assert_eq!(at(0), None);
}

#[test]
fn camera_keys_and_user_data() {
    let pairs = [
        ("com.apple.quicktime.make", "Sorrel"),
        ("com.apple.quicktime.camera.lens_irisfnumber", "F1.78"),
        ("com.example.lens", "35"),
        ("com.apple.quicktime.model", ""),
    ];
    let user = [
        part(b"\xA9mod", &international("Kestrel 6", 0)),
        part(b"\xA9mak", &international("Other", 0x55C4)),
        part(b"LENS", &[1, 2, 0xFF]),
        words(&[0]),
    ]
    .concat();
    for iso in [false, true] {
        let lens = [("com.apple.quicktime.camera.lens_model", "Marlow 35")];
        let clip = Clip {
            moov: [keys(iso, &pairs), part(b"udta", &user)].concat(),
            trak: keys(iso, &lens),
            ..Clip::default()
        };
        let (r, findings) = recorded(&clip.bytes());
        assert!(findings.is_empty(), "{findings:?}");
        assert_eq!(r.maker.unwrap().value, "Sorrel");
        assert_eq!(r.model.unwrap().value, "Kestrel 6");
        assert_eq!(r.lens.unwrap().value, "Marlow 35");
        let stop = r.f_number.unwrap();
        assert_eq!(format!("{} {}", stop.value.get(), stop.raw), "1.78 F1.78");
        assert!((stop.half_step - 0.005).abs() < 1e-12);
        let tags: Vec<_> = r.tags.iter().map(|t| (&t.key[..], &t.value[..])).collect();
        assert_eq!(
            tags,
            [
                ("com.apple.quicktime.camera.lens_model", "Marlow 35"),
                ("com.apple.quicktime.make", "Sorrel"),
                ("com.apple.quicktime.camera.lens_irisfnumber", "F1.78"),
                ("com.example.lens", "35"),
                ("\u{A9}mod", "Kestrel 6"),
                ("\u{A9}mak", "Other"),
                ("LENS", "0102ff"),
            ]
        );
    }
}

#[test]
fn origins_name_the_box_and_its_byte() {
    let clip = Clip { clock: Some(Clock::new(0, 24000, 1001, 24, 24)), ..Clip::default() };
    let bytes = clip.bytes();
    let (r, _) = recorded(&bytes);
    let place = |origin: Origin| match origin {
        Origin::Media { path, offset, .. } => (path.to_string(), usize::try_from(offset).unwrap()),
        other => panic!("{other:?}"),
    };
    let find = |kind: &[u8]| bytes.windows(4).position(|w| w == kind).unwrap();
    let (path, offset) = place(r.rate.unwrap().origin);
    assert_eq!((&path[..], offset), ("moov/trak[1]/mdia/minf/stbl/stts", find(b"stts") - 4));
    let (_, offset) = place(r.start.unwrap().origin);
    assert_eq!(offset, find(b"mdat") + 4);
}

#[test]
fn fragments_are_counted() {
    let trex = full(b"trex", 0, 0, &words(&[1, 1, 1001, 0, 0]));
    let tfhd = full(b"tfhd", 0, 0, &words(&[1]));
    let own = full(b"tfhd", 0, 0x8, &words(&[1, 2002]));
    let plain = full(b"trun", 0, 0, &words(&[12]));
    let sized = full(b"trun", 0, 0x1 | 0x200, &words(&[2, 100, 7, 7]));
    let timed = full(b"trun", 0, 0x100, &words(&[3, 1001, 1001, 1001]));
    let lying = full(b"trun", 0, 0x100, &words(&[u32::MAX, 1001]));
    let moof = |traf: &[&[u8]]| part(b"moof", &part(b"traf", &traf.concat()));
    let cases: [(Vec<u8>, &str); 5] = [
        (moof(&[&tfhd, &plain]), "rate 24000/1001, frames 12"),
        (
            [moof(&[&tfhd, &plain]), moof(&[&tfhd, &sized, &timed])].concat(),
            "rate 24000/1001, frames 17",
        ),
        (
            [moof(&[&tfhd, &plain]), moof(&[&own, &plain])].concat(),
            "rate 16000/1001, frames 24, media.rate-varies",
        ),
        (moof(&[&tfhd, &lying]), "rate 24000/1001, media.damaged"),
        (vec![], ""),
    ];
    for (fragments, wanted) in cases {
        let clip = Clip { runs: vec![], moov: part(b"mvex", &trex), ..Clip::default() };
        let told = told(&[clip.bytes(), fragments].concat());
        let wanted = format!("{PLAIN}, {wanted}");
        assert_eq!(told, wanted.trim_end_matches(", "));
    }
}

/// A file that is only made up when it is read: a hundred gigabytes cost nothing.
pub(crate) struct Sparse {
    pub(crate) size: u64,
    pub(crate) parts: Vec<(u64, Vec<u8>)>,
}

impl ReadAt for Sparse {
    fn size(&self) -> u64 {
        self.size
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> std::io::Result<usize> {
        let left = usize::try_from(self.size.saturating_sub(offset));
        let count = buffer.len().min(left.unwrap_or(usize::MAX));
        buffer.fill(0);
        for (start, bytes) in &self.parts {
            for (at, byte) in (*start..).zip(bytes) {
                let place = at.checked_sub(offset).and_then(|i| usize::try_from(i).ok());
                if let Some(slot) = place.and_then(|i| buffer[..count].get_mut(i)) {
                    *slot = *byte;
                }
            }
        }
        Ok(count)
    }
}

/// `moov` behind 100 GB of essence, with four sound tracks and sample tables of a megabyte each.
#[test]
fn a_hundred_gigabytes_cost_a_handful_of_reads() {
    let mdat = 100_000_000_000u64;
    let table = full(b"stsz", 0, 0, &[words(&[0, 250_000]), vec![7; 1_000_000]].concat());
    let sound = part(
        b"trak",
        &[tkhd(3, true, [1, 0, 0, 1], (0, 0)), media(48000, 48000, b"soun", &table)].concat(),
    );
    let clip = Clip {
        tracks: sound.repeat(4),
        clock: Some(Clock::new(0, 24000, 1001, 24, 86_400)),
        ..Clip::default()
    };
    let head = [
        part(b"ftyp", b"qt  \0\0\0\0qt  "),
        words(&[1]),
        b"mdat".to_vec(),
        mdat.to_be_bytes().to_vec(),
        words(&[86_400]),
    ]
    .concat();
    let movie = clip.movie(36);
    let source = Sparse {
        size: 20 + mdat + u64::try_from(movie.len()).unwrap(),
        parts: vec![(0, head), (20 + mdat, movie)],
    };
    let watched = Watched::new(&source);
    let found = read(&watched, "A001C003.mov");
    assert_eq!(found.findings, []);
    assert_eq!(found.value.start.unwrap().value.to_string(), "01:00:00:00");
    assert_eq!(found.value.frames.unwrap().value, 48);
    let reads = watched.reads();
    let bytes: usize = reads.iter().map(|(_, count)| count).sum();
    assert!(reads.len() <= 12 && bytes < 64 * 1024, "{} reads, {bytes} bytes", reads.len());
}

#[test]
fn findings_point_at_the_byte() {
    let bytes = Clip::default().bytes();
    let (r, findings) = recorded(&bytes[..bytes.len() - 40]);
    let moov = bytes.windows(4).position(|w| w == b"moov").unwrap() - 4;
    let [finding] = &findings[..] else { panic!("{findings:?}") };
    assert_eq!(finding.code, Code::MediaCutOff);
    let place = finding.place.as_ref().unwrap();
    assert_eq!(place.spot, Spot::Byte(u64::try_from(moov).unwrap()));
    assert_eq!(&place.file[..], "A001C003.mov");
    assert_eq!(r.coded.unwrap().value.to_string(), "1920x1080");
}
