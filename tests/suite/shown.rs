//! Pictures as they are shown: edit lists, jumps of timecode, several tracks, timed metadata, contradictions.

use lensmend::finding::Code;
use lensmend::recorded::{Recorded, read, read_frames};

use crate::boxes::{Clip, Clock, full, keys, media, packet, part, tkhd, words};
use crate::headers::recorded;

/// An edit list of durations (movie units, 600 a second), media times and speeds.
fn edits(list: &[(u32, i32, u32)]) -> Vec<u8> {
    let mut body = words(&[u32::try_from(list.len()).unwrap()]);
    for (duration, time, rate) in list {
        body.extend(words(&[*duration, time.cast_unsigned(), *rate]));
    }
    part(b"edts", &full(b"elst", 0, 0, &body))
}

const ONE: u32 = 0x10000;

/// A clip of 48 frames at 24 a second, with timecode from 00:00:10:00 on.
fn clip(trak: Vec<u8>) -> Clip {
    Clip {
        timescale: 24000,
        runs: vec![(48, 1000)],
        trak,
        clock: Some(Clock::new(0, 24000, 1000, 24, 240)),
        ..Clip::default()
    }
}

fn told(recorded: &Recorded, findings: &[lensmend::finding::Finding]) -> String {
    let stored = recorded
        .stored
        .as_ref()
        .map(|s| format!(" of {} from {}", s.value.frames, s.value.first_shown));
    let frames = recorded.frames.as_ref().map(|frames| frames.value.to_string());
    let start = recorded.start.as_ref().map(|start| start.value.to_string());
    let codes: Vec<_> = findings.iter().map(|f| f.code.word()).collect();
    format!(
        "{}{} {} {}",
        frames.unwrap_or_default(),
        stored.unwrap_or_default(),
        start.unwrap_or_default(),
        codes.join(" ")
    )
}

/// ISO/IEC 14496-12, 8.6.6. A frame at 24 a second is 25 movie units of 600 a second.
#[test]
fn edit_lists_say_what_is_shown() {
    type Edits<'a> = &'a [(u32, i32, u32)];
    let cases: &[(Edits, &str)] = &[
        (&[(1200, 0, ONE)], "48 00:00:10:00 "),
        (&[(1199, 0, ONE)], "48 00:00:10:00 "),
        (&[(0, 0, ONE)], "48 00:00:10:00 "),
        // Trimmed in front, at the end, on both sides; the timecode is that of the movie, whose start is now later.
        (&[(950, 10_000, ONE)], "38 of 48 from 10 00:00:10:00 media.trimmed"),
        (&[(600, 0, ONE)], "24 of 48 from 0 00:00:10:00 media.trimmed"),
        (&[(600, 12_000, ONE)], "24 of 48 from 12 00:00:10:00 media.trimmed"),
        // Into the middle of a frame: it is shown, if not for long.
        (&[(950, 9_500, ONE)], "39 of 48 from 9 00:00:10:00 media.trimmed"),
        // A gap of half a second in front: the first picture comes at the twelfth frame of the clock.
        (&[(300, -1, ONE), (1200, 0, ONE)], "48 00:00:10:12 "),
        (&[(300, -1, ONE), (600, 12_000, ONE)], "24 of 48 from 12 00:00:10:12 media.trimmed"),
        // Speed, a held picture, and pieces cannot be followed frame by frame.
        (&[(600, 0, 2 * ONE)], "48 00:00:10:00 media.edits"),
        (&[(600, 0, 0)], "48 00:00:10:00 media.edits"),
        (&[(300, 0, ONE), (300, 24_000, ONE)], "24 of 48 from 0 00:00:10:00 media.edits"),
        (&[(600, 96_000, ONE)], "48 00:00:10:00 media.edits"),
    ];
    for (list, wanted) in cases {
        let (r, findings) = recorded(&clip(edits(list)).bytes());
        assert_eq!(told(&r, &findings), *wanted, "{list:?}");
    }
    let many: Vec<_> = (0..40).map(|n| (25, n * 1000, ONE)).collect();
    let (r, findings) = recorded(&clip(edits(&many)).bytes());
    assert_eq!(told(&r, &findings), "48 00:00:10:00 media.edits");
}

/// Pictures that lean on later ones are decoded early, and the edit begins where the first is shown (8.6.1.3): nothing is hidden.
#[test]
fn composition_offsets_are_no_trim() {
    let plain = clip(edits(&[(1200, 2000, ONE)])).bytes();
    assert_eq!(recorded(&plain).0.frames.unwrap().value, 46);
    let at = plain.windows(4).position(|w| w == b"stsz").unwrap();
    // `ctts` in place of `stsz`: the first three pictures are shown at 2000, 5000, 3000.
    let mut reordered = plain.clone();
    reordered[at..at + 4].copy_from_slice(b"ctts");
    let body = words(&[0, 2, 1, 2000, 1, 4000]);
    reordered[at + 4..at + 4 + body.len()].copy_from_slice(&body);
    let (r, _) = recorded(&reordered);
    assert_eq!((r.frames.unwrap().value, r.stored), (48, None));
}

#[test]
fn uneven_clips_are_cut_by_their_own_durations() {
    let mut uneven = clip(edits(&[(600, 10_000, ONE)]));
    uneven.runs = vec![(10, 1000), (10, 2000), (28, 500)];
    let (r, findings) = recorded(&uneven.bytes());
    // From the eleventh frame on for one second: ten frames of a twelfth, and eight of a forty-eighth.
    assert_eq!(
        told(&r, &findings),
        "18 of 48 from 10 00:00:10:00 media.trimmed media.rate-varies media.timecode-odd"
    );
    assert!(
        findings[1].message.contains("48 frames last 1.833 s, at 12.000 to 48.000 a second"),
        "{}",
        findings[1].message
    );
    uneven.trak = Vec::new();
    let duration = recorded(&uneven.bytes()).0.duration.unwrap().value;
    assert_eq!((duration.units, duration.timescale), (44_000, 24_000));
}

/// A timecode track of several samples, each with its length in frames of a 24th and its count.
fn clock(id: u32, samples: &[(u32, i32)], trak: &[u8], before: usize) -> (Vec<u8>, Vec<u8>) {
    let count = u32::try_from(samples.len()).unwrap();
    let mut entry = vec![0; 12];
    entry.extend(words(&[0, 24, 1]));
    entry.extend([24, 0]);
    let runs: Vec<u32> = samples.iter().flat_map(|(frames, _)| [1, *frames]).collect();
    let stbl = [
        full(b"stsd", 0, 0, &[words(&[1]), part(b"tmcd", &entry)].concat()),
        full(b"stts", 0, 0, &words(&[&[count], &runs[..]].concat())),
        full(b"stsc", 0, 0, &words(&[1, 1, count, 1])),
        full(b"stsz", 0, 0, &words(&[4, count])),
        full(b"stco", 0, 0, &words(&[1, u32::try_from(before + 8).unwrap()])),
    ];
    let track = [
        tkhd(id, true, [1, 0, 0, 1], (0, 0)),
        trak.to_vec(),
        media(24, 48, b"tmcd", &stbl.concat()),
    ];
    let counts: Vec<u8> = samples.iter().flat_map(|(_, count)| count.to_be_bytes()).collect();
    (part(b"trak", &track.concat()), part(b"mdat", &counts))
}

/// 48 frames at 24 a second; essence of the clocks first, so that their places are known.
/// Samples of a timecode track, each with its frames and its count, and the boxes of its `trak`.
type Counts<'a> = (&'a [(u32, i32)], &'a [u8]);

fn clocked(clocks: &[Counts], picture: Vec<u8>) -> Vec<u8> {
    let mut file = part(b"ftyp", b"qt  \0\0\0\0");
    let mut tracks = Vec::new();
    for (id, (samples, trak)) in (2..).zip(clocks) {
        let (track, essence) = clock(id, samples, trak, file.len());
        file.extend(essence);
        tracks.extend(track);
    }
    let clip =
        Clip { timescale: 24, runs: vec![(48, 1)], trak: picture, tracks, ..Clip::default() };
    [file, clip.movie(0)].concat()
}

#[test]
fn jumps_of_the_timecode_name_their_frame() {
    let tref = || part(b"tref", &part(b"tmcd", &words(&[2])));
    let cases: &[(&[(u32, i32)], &str)] = &[
        (&[(48, 24)], ""),
        (&[(24, 24), (24, 48)], ""),
        (
            &[(24, 24), (24, 240)],
            "at frame 24 of the clip (counted from 0) from 00:00:02:00 to 00:00:10:00;",
        ),
        (
            &[(10, 24), (10, 240), (28, 0)],
            "at frame 10 of the clip (counted from 0) from 00:00:01:10 to 00:00:10:00, and 1 times more after that;",
        ),
    ];
    for (samples, wanted) in cases {
        let (r, findings) = recorded(&clocked(&[(samples, &[])], tref()));
        assert_eq!(r.start.unwrap().value.to_string(), "00:00:01:00");
        match findings.as_slice() {
            [] => assert_eq!(*wanted, ""),
            [finding] => {
                assert_eq!(finding.code, Code::MediaTimecodeOdd);
                assert!(
                    !wanted.is_empty() && finding.message.contains(wanted),
                    "{}",
                    finding.message
                );
            }
            more => panic!("{more:?}"),
        }
    }
    // Both tracks trimmed by ten frames: the clock is ten frames on, and the jump ten frames earlier.
    let trimmed = edits(&[(950, 10, ONE)]);
    let (r, findings) = recorded(&clocked(
        &[(&[(24, 24), (24, 240)], &trimmed)],
        [tref(), edits(&[(950, 10, ONE)])].concat(),
    ));
    assert_eq!(
        told(&r, &findings),
        "38 of 48 from 10 00:00:01:10 media.trimmed media.timecode-odd"
    );
    assert!(findings[1].message.contains("at frame 14 of the clip"), "{}", findings[1].message);
}

#[test]
fn of_several_clocks_the_one_named_by_the_picture_counts() {
    let clocks: [Counts; 2] = [(&[(48, 24)], &[]), (&[(48, 240)], &[])];
    let named = part(b"tref", &part(b"tmcd", &words(&[3])));
    let (r, findings) = recorded(&clocked(&clocks, named));
    assert_eq!(told(&r, &findings), "48 00:00:10:00 ");
    assert_eq!(
        (&r.tags[0].key[..], &r.tags[0].value[..]),
        ("timecode track 2", "00:00:01:00, not taken")
    );
    let (r, findings) = recorded(&clocked(&clocks, Vec::new()));
    assert_eq!(told(&r, &findings), "48 00:00:01:00 media.timecode-odd");
}

#[test]
fn picture_tracks_not_taken_are_tags_with_the_reason() {
    let other = Clip { enabled: false, raster: (3840, 2160), ..Clip::default() };
    let tracks = other.movie(0)[8 + 108..].to_vec();
    let (r, findings) = recorded(&Clip { tracks, ..Clip::default() }.bytes());
    assert_eq!((r.coded.unwrap().value.to_string(), findings.len()), ("1920x1080".to_owned(), 0));
    let tags: Vec<_> = r.tags.iter().map(|t| format!("{}: {}", t.key, t.value)).collect();
    assert_eq!(
        tags,
        [
            "picture track 1: taken, it is enabled, 1920x1080 test, 48 frames",
            "picture track 2: not taken, track 1 is the picture, because it is enabled, 3840x2160 test, 48 frames, disabled",
        ]
    );
}

/// A timed-metadata track whose one sample is `sample`.
fn timed(entry: &[u8], sample: &[u8]) -> Vec<u8> {
    let mut file = part(b"ftyp", b"qt  \0\0\0\0");
    let at = u32::try_from(file.len() + 8).unwrap();
    file.extend(part(b"mdat", sample));
    let size = u32::try_from(sample.len()).unwrap();
    let stbl = [
        full(b"stsd", 0, 0, &[words(&[1]), entry.to_vec()].concat()),
        full(b"stts", 0, 0, &words(&[1, 1, 48])),
        full(b"stsc", 0, 0, &words(&[1, 1, 1, 1])),
        full(b"stsz", 0, 0, &words(&[0, 1, size])),
        full(b"stco", 0, 0, &words(&[1, at])),
    ];
    let track = [tkhd(5, true, [1, 0, 0, 1], (0, 0)), media(24, 48, b"meta", &stbl.concat())];
    let clip = Clip { tracks: part(b"trak", &track.concat()), ..Clip::default() };
    [file, clip.movie(0)].concat()
}

#[test]
fn the_first_sample_of_timed_metadata_becomes_tags() {
    let key = |number: u32, name: &str, kind: u32| {
        let declared = [
            part(b"keyd", &[b"mdta", name.as_bytes()].concat()),
            part(b"dtyp", &words(&[0, kind])),
        ];
        part(&number.to_be_bytes(), &declared.concat())
    };
    let table =
        part(b"keys", &[key(1, "com.example.zoom", 23), key(2, "com.example.note", 1)].concat());
    let entry = part(b"mebx", &[vec![0; 8], table].concat());
    let sample = [
        part(&1u32.to_be_bytes(), &35.5f32.to_be_bytes()),
        part(&2u32.to_be_bytes(), b"hello"),
        part(&9u32.to_be_bytes(), b"unknown"),
    ];
    let (r, findings) = recorded(&timed(&entry, &sample.concat()));
    assert_eq!(findings, []);
    let tags: Vec<_> = r.tags.iter().map(|t| (&t.key[..], &t.value[..])).collect();
    assert_eq!(tags, [("com.example.zoom", "35.5"), ("com.example.note", "hello")]);
    let text = part(b"mett", &[0; 8]);
    let (r, _) = recorded(&timed(&text, b"iris open"));
    assert_eq!((&r.tags[0].key[..], &r.tags[0].value[..]), ("mett", "iris open"));
}

/// SMPTE RDD 18: iris 0xE000 is f/2, zoom 0xBDDE is 35.5 mm.
#[test]
fn acquisition_metadata_of_a_timed_track_is_recorded() {
    let items = [&[0x80, 0x00, 0, 2, 0xE0, 0x00][..], &[0x80, 0x05, 0, 2, 0xBD, 0xDE]].concat();
    let key =
        [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0C, 0x02, 0x01, 0x01, 0x01, 0x01, 0, 0];
    let sample = [&[0; 28][..], &key, &[u8::try_from(items.len()).unwrap()], &items].concat();
    let (r, findings) = recorded(&timed(&part(b"rtmd", &[0; 8]), &sample));
    assert_eq!(findings, []);
    assert!((r.f_number.unwrap().value.get() - 2.0).abs() < 1e-9);
    assert!((r.focal_length.unwrap().value.get() - 35.5).abs() < 1e-9);
    for end in 0..sample.len() {
        recorded(&timed(&part(b"rtmd", &[0; 8]), &sample[..end]));
    }
}

#[test]
fn carriers_that_contradict_each_other_are_not_taken() {
    let with = |key: &str, xmp: &str| {
        let pairs = [("com.apple.quicktime.camera.lens_irisfnumber", key)];
        let body = format!("<rdf:Description e:FNumber='{xmp}' e:FocalLength='35/1'/>");
        let moov = [keys(false, &pairs), part(b"udta", &part(b"XMP_", &packet(&body)))].concat();
        recorded(&Clip { moov, ..Clip::default() }.bytes())
    };
    let (r, findings) = with("F2.8", "4/1");
    assert_eq!((r.f_number, r.tags.len()), (None, 3));
    assert_eq!(r.focal_length.unwrap().raw, "35/1");
    let [finding] = findings.as_slice() else { panic!("{findings:?}") };
    assert_eq!(finding.code, Code::MediaContradiction);
    assert!(
        finding.message.contains("says 2.8, ") && finding.message.contains("says 4;"),
        "{}",
        finding.message
    );
    let (r, findings) = with("F1.78", "18/10");
    assert_eq!((r.f_number.unwrap().raw, findings.len()), ("F1.78".to_owned(), 0));
}

#[test]
fn names_that_promise_and_files_of_zeros() {
    let codes = |bytes: &[u8], name: &str| {
        let found = read(&bytes, name);
        found.findings.iter().map(|f| (f.code.word(), f.message.clone())).collect::<Vec<_>>()
    };
    assert!(codes(&[0; 5000], "A.mov")[0].1.contains("nothing but zeros"));
    assert_eq!(codes(&[0; 5000], "A.avi")[0].0, "media.damaged");
    assert!(codes(b"RIFF....AVI LIST", "A.MP4")[0].1.contains("it looks like a RIFF file"));
    assert_eq!(codes(b"RIFF....AVI LIST", "A.avi")[0].0, "media.opaque");
    let sound = [&[0; 600][..], b"something"].concat();
    assert_eq!(codes(&sound, "A.bin")[0].0, "media.opaque");
}

/// Clocks of several samples and edits in one file, keyed metadata in another.
pub(crate) fn with_everything_timed() -> [Vec<u8>; 2] {
    let key = [part(b"keyd", b"mdtazoom"), part(b"dtyp", &words(&[0, 23]))].concat();
    let table = part(b"keys", &part(&1u32.to_be_bytes(), &key));
    let entry = part(b"mebx", &[vec![0; 8], table].concat());
    let sample = part(&1u32.to_be_bytes(), &35.5f32.to_be_bytes());
    let keyed = timed(&entry, &sample);
    let clocks: [Counts; 2] = [(&[(24, 24), (24, 240)], &[]), (&[(48, 240)], &[])];
    let picture = [
        part(b"tref", &part(b"tmcd", &words(&[2]))),
        edits(&[(300, -1, ONE), (950, 10, ONE), (25, 30, ONE)]),
    ];
    let file = clocked(&clocks, picture.concat());
    [file, keyed]
}

/// A clip of 48 frames with a track of acquisition metadata, a sample a frame: each a focal length in millimetres
/// (RDD 18 DISTANCE: mantissa times ten to the power of minus three, in metres).
fn zoomed(focal: impl Fn(u16) -> u16, trak: Vec<u8>) -> Vec<u8> {
    let key =
        [0x06, 0x0E, 0x2B, 0x34, 0x02, 0x53, 0x01, 0x01, 0x0C, 0x02, 0x01, 0x01, 0x01, 0x01, 0, 0];
    let sample = |frame: u16| {
        let word = (0xD000 | focal(frame)).to_be_bytes();
        [&key[..], &[6, 0x80, 0x05, 0, 2], &word].concat()
    };
    let essence: Vec<u8> = (0..48).flat_map(sample).collect();
    let size = u32::try_from(essence.len() / 48).unwrap();
    let mut file = part(b"ftyp", b"qt  \0\0\0\0");
    let at = u32::try_from(file.len() + 8).unwrap();
    file.extend(part(b"mdat", &essence));
    // Twenty samples in each of two chunks, eight in the third.
    let chunks = words(&[3, at, at + 20 * size, at + 40 * size]);
    let stbl = [
        full(b"stsd", 0, 0, &[words(&[1]), part(b"rtmd", &[0; 8])].concat()),
        full(b"stts", 0, 0, &words(&[1, 48, 1001])),
        full(b"stsc", 0, 0, &words(&[2, 1, 20, 1, 3, 8, 1])),
        full(b"stsz", 0, 0, &words(&[size, 48])),
        full(b"stco", 0, 0, &chunks),
    ];
    let track = [tkhd(5, true, [1, 0, 0, 1], (0, 0)), media(24000, 48048, b"meta", &stbl.concat())];
    let clip = Clip { tracks: part(b"trak", &track.concat()), trak, ..Clip::default() };
    [file, clip.movie(0)].concat()
}

#[test]
fn lens_data_of_every_frame_becomes_pieces() {
    let pieces = |bytes: &[u8]| {
        let found = read_frames(&bytes, Some(&bytes), "A.mov");
        let pieces = found.value.per_frame.iter().map(|(frame, data)| {
            let focal = data.focal_length.as_ref().map_or(0.0, |f| f.value.get());
            format!("{frame} {focal:.0}")
        });
        let codes: Vec<_> = found.findings.iter().map(|f| f.code.word()).collect();
        (pieces.collect::<Vec<_>>().join(", "), codes.join(" "))
    };
    let ramp = |frame: u16| match frame {
        0..10 => 24,
        10..12 => 25 + frame,
        _ => 70,
    };
    assert_eq!(pieces(&zoomed(|_| 50, vec![])), ("0 50".to_owned(), String::new()));
    let wanted = "0 24, 10 35, 11 36, 12 70";
    assert_eq!(pieces(&zoomed(ramp, vec![])), (wanted.to_owned(), String::new()));
    // An edit hides the first eleven frames: the pieces move, and the first shown has what held there.
    let trimmed = edits(&[(1200, 11 * 1001, ONE)]);
    assert_eq!(pieces(&zoomed(ramp, trimmed)).0, "0 36, 1 70");
    // Not asked for, not read.
    let bytes = zoomed(ramp, vec![]);
    assert_eq!(recorded(&bytes).0.per_frame, []);
    for end in (0..bytes.len()).step_by(7) {
        pieces(&bytes[..end]);
    }
}
