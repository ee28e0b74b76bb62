//! Timed metadata by key and in fragments: what its samples say, first and frame by frame.

use lensmend::finding::Code;
use lensmend::recorded::read_frames;

use crate::boxes::{Clip, full, media, part, tkhd, words};
use crate::headers::recorded;
use crate::tracks::{Fragment, entry, fragmented, key, set, track, value};

/// Pieces and codes of a file read frame by frame.
fn pieces(bytes: &[u8]) -> String {
    let found = read_frames(&bytes, Some(&bytes), "A.mov");
    let pieces = found.value.per_frame.iter().map(|(frame, data)| {
        let stop = data.f_number.as_ref().map(|f| format!(" f/{:.1}", f.value.get()));
        let focal = data.focal_length.as_ref().map(|f| format!(" {:.0} mm", f.value.get()));
        let lens = data.lens.as_ref().map(|lens| format!(" {}", lens.value));
        let said = [stop, focal, lens].into_iter().flatten().collect::<String>();
        format!("{frame}{said}")
    });
    let codes = found.findings.iter().map(|f| f.code.word().to_owned());
    pieces.chain(codes).collect::<Vec<_>>().join(", ")
}

/// QuickTime, "Timed Metadata Media": the keys that have a meaning in `recorded/keys.rs` have it here too.
#[test]
fn keys_of_timed_metadata_have_their_meaning() {
    let first = [value(1, b"F2.8"), value(2, b"Sorrel 35"), value(4, b"F9"), value(9, b"?")];
    let (r, findings) = recorded(&track(&entry(), &[first.concat()], &[]));
    assert_eq!(findings, []);
    assert_eq!(
        (r.f_number.unwrap().raw, r.lens.unwrap().value),
        ("F2.8".into(), "Sorrel 35".into())
    );
    assert_eq!(r.tags.len(), 3);
    // The same stop as a floating-point number, under the other key.
    let (r, _) = recorded(&track(&entry(), &[value(3, &2.8f32.to_be_bytes())], &[]));
    assert_eq!(r.f_number.unwrap().raw, "2.8");
    for unknown in
        [&0f32.to_be_bytes()[..], &f32::NAN.to_be_bytes(), &f32::INFINITY.to_be_bytes(), &[]]
    {
        let (r, findings) = recorded(&track(&entry(), &[value(3, unknown)], &[]));
        assert_eq!((r.f_number, findings), (None, vec![]), "{unknown:?}");
    }
    // Two that contradict each other cancel out.
    let two = [value(1, b"F2.8"), value(3, &5.6f32.to_be_bytes())].concat();
    let (r, findings) = recorded(&track(&entry(), &[two], &[]));
    assert_eq!((r.f_number, findings[0].code), (None, Code::MediaContradiction));
    // A track that describes another one than the picture is not about the picture.
    let of_other = part(b"tref", &part(b"cdsc", &words(&[77])));
    let (r, _) = recorded(&track(&entry(), &[value(1, b"F2.8")], &of_other));
    assert_eq!((r.f_number, r.tags.len()), (None, 1));
}

#[test]
fn keyed_values_of_every_frame_become_pieces() {
    let stop = |frame: usize| match frame {
        0..4 => value(1, b"F2.8"),
        4..6 => [value(1, b"F4"), value(2, b"Sorrel 50")].concat(),
        6 => vec![],
        _ => value(3, &4f32.to_be_bytes()),
    };
    let samples: Vec<Vec<u8>> = (0..10).map(stop).collect();
    let bytes = track(&entry(), &samples, &[]);
    assert_eq!(pieces(&bytes), "0 f/2.8, 4 f/4.0 Sorrel 50, 6, 7 f/4.0");
    // A maker's own keys say nothing of the lens, and nothing is walked through.
    let own = part(b"mebx", &[vec![0; 8], part(b"keys", &key(1, "com.example.zoom", 1))].concat());
    assert_eq!(pieces(&track(&own, &samples, &[])), "");
    for end in (0..bytes.len()).step_by(5) {
        pieces(&bytes[..end]);
    }
}

#[test]
fn samples_in_fragments_are_found() {
    let rtmd = part(b"rtmd", &[0; 8]);
    let zoom =
        |range: std::ops::Range<u16>| -> Vec<Vec<u8>> { range.map(|f| set(24 + f / 3)).collect() };
    let plain = || vec![Fragment::of(&zoom(0..6)), Fragment::of(&zoom(6..12))];
    let wanted = "0 24 mm, 3 25 mm, 6 26 mm, 9 27 mm";
    let (r, findings) = recorded(&fragmented(&rtmd, &plain()));
    assert_eq!(findings, []);
    assert!((r.focal_length.unwrap().value.get() - 24.0).abs() < 1e-9);
    assert_eq!(pieces(&fragmented(&rtmd, &plain())), wanted);
    for (even, split) in [(true, false), (false, true), (true, true)] {
        let fragments: Vec<_> =
            plain().into_iter().map(|fragment| Fragment { even, split, ..fragment }).collect();
        assert_eq!(pieces(&fragmented(&rtmd, &fragments)), wanted, "{even} {split}");
    }
    // A fragment that says when it begins: a hole of twelve frames is one.
    let mut later = plain();
    later[1].time = Some(18);
    assert_eq!(pieces(&fragmented(&rtmd, &later)), "0 24 mm, 3 25 mm, 18 26 mm, 21 27 mm");
    let keyed =
        [Fragment::of(&[value(1, b"F2.8"), value(1, b"F2.8")]), Fragment::of(&[value(1, b"F4")])];
    assert_eq!(pieces(&fragmented(&entry(), &keyed)), "0 f/2.8, 2 f/4.0");
}

#[test]
fn fragments_cut_bent_and_lying() {
    let rtmd = part(b"rtmd", &[0; 8]);
    let samples: Vec<Vec<u8>> = (0..6).map(|f| set(24 + f)).collect();
    let split = Fragment { split: true, time: Some(3), ..Fragment::of(&samples) };
    let whole = fragmented(&rtmd, &[Fragment::of(&samples), split]);
    for end in 0..whole.len() {
        pieces(&whole[..end]);
    }
    let mut bytes = whole.clone();
    for at in 0..bytes.len() {
        for is in [0, 1, 0x7F, 0x80, 0xFF] {
            bytes[at] = is;
            pieces(&bytes);
        }
        bytes[at] = whole[at];
    }
    // Cut inside the data of the second fragment, what was read until then stands, and it is said.
    let told = pieces(&whole[..whole.len() - 40]);
    assert!(told.starts_with("0 24 mm, 1 25 mm,") && told.contains("media.per-frame"), "{told}");
    // Four thousand million samples without a byte of their own.
    let mut lying = fragmented(&rtmd, &[Fragment { even: true, ..Fragment::of(&samples) }]);
    let run = lying.windows(4).rposition(|w| w == b"trun").unwrap();
    lying[run + 8..run + 12].fill(0xFF);
    let told = pieces(&lying);
    assert!(told.contains("media.per-frame"), "{told}");
}

/// Timecode samples in fragments: the first starts the clip, the next is a jump.
#[test]
fn timecode_in_fragments() {
    let mut entry = vec![0; 12];
    entry.extend(words(&[0, 24, 1]));
    entry.extend([24, 0]);
    let entry = part(b"tmcd", &entry);
    let empty = [
        full(b"stsd", 0, 0, &[words(&[1]), entry].concat()),
        full(b"stts", 0, 0, &words(&[0])),
        full(b"stsc", 0, 0, &words(&[0])),
        full(b"stsz", 0, 0, &words(&[0, 0])),
        full(b"stco", 0, 0, &words(&[0])),
    ];
    let track = [tkhd(5, true, [1, 0, 0, 1], (0, 0)), media(24, 0, b"tmcd", &empty.concat())];
    let clip = Clip {
        timescale: 24,
        runs: vec![(48, 1)],
        tracks: part(b"trak", &track.concat()),
        trak: part(b"tref", &part(b"tmcd", &words(&[5]))),
        moov: part(b"mvex", &full(b"trex", 0, 0, &words(&[5, 1, 24, 4, 0]))),
        ..Clip::default()
    };
    let fragment = |count: i32| {
        let make = |behind: u32| {
            let traf = [
                full(b"tfhd", 0, 0x2_0000, &words(&[5])),
                full(b"trun", 0, 1, &words(&[1, behind])),
            ];
            part(b"moof", &part(b"traf", &traf.concat()))
        };
        let behind = u32::try_from(make(0).len() + 8).unwrap();
        [make(behind), part(b"mdat", &count.to_be_bytes())].concat()
    };
    let told = |counts: &[i32]| {
        let fragments: Vec<u8> = counts.iter().flat_map(|count| fragment(*count)).collect();
        let (r, findings) = recorded(&[clip.bytes(), fragments].concat());
        let said: Vec<String> = findings.iter().map(|f| f.message.clone()).collect();
        format!("{} {}", r.start.unwrap().value, said.join(", "))
    };
    assert_eq!(told(&[24, 48]), "00:00:01:00 ");
    let jump = told(&[24, 240]);
    assert!(
        jump.contains("at frame 24 of the clip (counted from 0) from 00:00:02:00 to 00:00:10:00"),
        "{jump}"
    );
}
