//! Headers of pictures: the facts that must come out of them, and what hostile ones must not do.

use lensmend::finding::Code;
use lensmend::read_at::{ReadAt, Watched};
use lensmend::recorded::{Container, Recorded, read};
use lensmend::sourced::Origin;

use crate::fixtures::{CODE, GUID, extended, pictures};
use crate::frames::{
    LITTLE, Put, Values, WAYS, attribute, attributes, dng, exif_segment, exr, heif, jpeg, taken,
    tiff,
};
use crate::workshop::bounded;

/// Facts and codes in one line.
fn told(bytes: &[u8]) -> String {
    let found = read(&bytes, "frame");
    let codes = found.findings.iter().map(|finding| finding.code.word().to_owned());
    let r = found.value;
    let facts = [
        r.coded.map(|f| format!("coded {}", f.value)),
        r.display.map(|f| format!("display {}", f.value)),
        r.pixel_aspect.map(|f| format!("aspect {}", f.value)),
        r.rate.map(|f| format!("rate {}", f.value)),
        r.start.map(|f| format!("start {}", f.value)),
        r.reel.map(|f| format!("reel {}", f.value)),
        r.created.map(|f| format!("created {}", f.value)),
        r.maker.map(|f| f.value),
        r.model.map(|f| f.value),
        r.serial.map(|f| f.value),
        r.lens.map(|f| f.value),
        r.focal_length.map(|f| format!("{} mm ({})", f.value.get(), f.raw)),
        r.f_number.map(|f| format!("f/{:.4}", f.value.get())),
        r.t_number.map(|f| format!("T{:.4}", f.value.get())),
        r.focus_distance.map(|f| format!("{} m", f.value.get())),
    ];
    facts.into_iter().flatten().chain(codes).collect::<Vec<_>>().join(", ")
}

fn recorded(bytes: &[u8]) -> Recorded {
    read(&bytes, "frame").value
}

const TAKEN: &str = "created 2026-11-14 10:02:11, K-0042, Sorrel 35, 35 mm (35/1), f/2.8000, 1.5 m";

#[test]
fn a_dng_frame_in_every_byte_order() {
    for way in WAYS {
        let bytes = dng(way, CODE, taken());
        assert_eq!(
            told(&bytes),
            "coded 2048x1152, display 4000x1100, aspect 2, rate 24000/1001, start 01:02:03:04, reel A003, \
             created 2026-11-14 10:02:11, Kestrel, K1, K-0042, Sorrel 35, 35 mm (35/1), f/2.8000, 1.5 m",
            "{way:?}"
        );
        let read = recorded(&bytes);
        assert_eq!(read.container, Container::Dng);
        let tag = |key: &str| read.tags.iter().find(|tag| tag.key == key).unwrap().value.clone();
        assert_eq!(tag("LensSpecification"), "24/1 70/1 28/10 0/0");
        assert_eq!(tag("FocalLengthIn35mmFilm"), "50");
        assert_eq!(tag("MakerNote"), format!("{} ...", "ab".repeat(64)));
    }
}

#[test]
fn the_same_fields_in_jpeg_and_heif() {
    let fields = tiff(LITTLE, &[vec![Put(0x8769, Values::Directories(vec![1]))], taken()]);
    let picture = jpeg(&[(0xE0, b"JFIF\0".to_vec()), exif_segment(&fields)]);
    assert_eq!(told(&picture), format!("coded 1920x1080, display 1920x1080, {TAKEN}"));
    assert_eq!(told(&heif(&fields)), TAKEN);
    let kinds = [picture, heif(&fields)].map(|bytes| recorded(&bytes).container);
    assert_eq!(kinds, [Container::Jpeg, Container::Heif]);
}

#[test]
fn values_that_mean_unknown_or_infinity() {
    let with =
        |tag, num, den| told(&tiff(LITTLE, &[vec![Put(tag, Values::Ratios(vec![(num, den)]))]]));
    let all = u32::MAX;
    for (num, den) in [(0, 1000), (0, 0), (35, 0), (all, 1), (all, all), (0, 1)] {
        for tag in [0x920A, 0x829D, 0x9202, 0xC772] {
            assert_eq!(with(tag, num, den), "", "{tag:#x} {num}/{den}");
        }
    }
    assert_eq!(with(0x9206, all, 1), "inf m");
    assert_eq!(with(0x9206, 0, 1), "");
    assert_eq!(with(0x9202, 297085, 100000), "f/2.8000");
    assert_eq!(with(0xC772, 31, 10), "T3.1000");
    for text in ["", "----", "   ", "\0\0"] {
        assert_eq!(told(&tiff(LITTLE, &[vec![Put(0xA434, Values::Text(text))]])), "");
    }
    for date in ["0000:00:00 00:00:00", "    :  :     :  :  ", "2026:13:14 10:02:11"] {
        assert_eq!(told(&tiff(LITTLE, &[vec![Put(0x9003, Values::Text(date))]])), "");
    }
}

#[test]
fn an_exif_field_wins_over_xmp_and_xmp_fills_the_rest() {
    let packet = crate::boxes::packet("<rdf:Description e:FNumber='4/1' e:FocalLength='99/1'/>");
    let main = vec![
        Put(0x02BC, Values::Bytes(packet.clone())),
        Put(0x920A, Values::Ratios(vec![(35, 1)])),
    ];
    assert_eq!(told(&tiff(LITTLE, &[main])), "35 mm (35/1), f/4.0000");
    let segment = (0xE1, [b"http://ns.adobe.com/xap/1.0/\0", &packet[..]].concat());
    let told = told(&jpeg(&[segment]));
    assert_eq!(told, "coded 1920x1080, display 1920x1080, 99 mm (99/1), f/4.0000");
}

#[test]
fn an_openexr_frame_of_one_part_or_many() {
    let wanted = "coded 2048x1152, display 4000x1100, aspect 2, rate 24000/1001, start 01:02:03:04, reel A003, \
        created 2026-11-14 10:02:11, Kestrel, K1, K-0042, Sorrel 50, 50 mm (50), f/2.8000, T3.1000, 1.5 m";
    assert_eq!(told(&exr(&[attributes()])), wanted);
    let second = vec![attribute("aperture", "float", &8f32.to_le_bytes())];
    assert_eq!(told(&exr(&[attributes(), second])), wanted);
    let float = |name: &str, value: f32| attribute(name, "float", &value.to_le_bytes());
    let of = |list: &[Vec<u8>]| told(&exr(&[list.to_vec()]));
    // The focal length of the whole optics before the engraved one; the pinhole is another thing.
    let lengths = [float("nominalFocalLength", 50.0), float("effectiveFocalLength", 35.5)];
    assert_eq!(of(&lengths), "35.5 mm (35.5)");
    assert_eq!(of(&[float("pinholeFocalLength", 35.5)]), "");
    assert_eq!(of(&[float("focus", f32::INFINITY)]), "inf m");
    for value in [0.0, -1.0, f32::NAN] {
        assert_eq!(of(&[float("focus", value), float("aperture", value)]), "");
    }
    // A type that does not fit its size is no number.
    assert_eq!(of(&[attribute("aperture", "float", &[0; 3])]), "");
    assert_eq!(recorded(&exr(&[attributes()])).tags.len(), attributes().len());
}

/// Reads, and holds the reader to work that no honest header comes near.
fn quick(bytes: &[u8]) -> Vec<Code> {
    let source: &dyn ReadAt = &bytes;
    let watched = Watched::new(source);
    let found = read(&watched, "frame");
    bounded(&watched);
    found.findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn cut_at_every_byte() {
    for bytes in pictures() {
        assert_eq!(quick(&bytes), []);
        for end in 0..bytes.len() {
            quick(&bytes[..end]);
        }
    }
    // Of a TIFF and an OpenEXR file that ends with its header, every cut is seen.
    for bytes in
        [dng(LITTLE, CODE, taken()), exr(&[attributes()]), exr(&[attributes(), attributes()])]
    {
        for end in 8..bytes.len() {
            assert_eq!(
                quick(&bytes[..end]),
                [Code::MediaCutOff],
                "cut at {end} of {}",
                bytes.len()
            );
        }
    }
}

#[test]
fn a_picture_behind_the_end_of_the_file_is_cut_off() {
    let strips = |count| {
        let fields =
            vec![Put(0x0111, Values::Longs(vec![8])), Put(0x0117, Values::Longs(vec![count]))];
        quick(&tiff(LITTLE, &[fields]))
    };
    assert_eq!(strips(16), []);
    assert_eq!(strips(1 << 20), [Code::MediaCutOff]);
}

#[test]
fn every_byte_bent() {
    for mut bytes in pictures() {
        for at in 0..bytes.len() {
            let was = bytes[at];
            for is in [0, 1, 0x7F, 0x80, 0xFF, was ^ 1, was ^ 0x20] {
                bytes[at] = is;
                quick(&bytes);
            }
            bytes[at] = was;
        }
    }
}

#[test]
fn counts_and_offsets_that_lie() {
    let word = u32::to_le_bytes;
    let head = |offset: u32| [b"II\x2A\0", &word(offset)[..]].concat();
    let entry = |tag: u16, kind: u16, count: u32, at: u32| {
        [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &word(count), &word(at)].concat()
    };
    for lie in [0, 1, 7, 1 << 31, u32::MAX] {
        assert!(!quick(&head(lie)).is_empty(), "{lie}");
        for kind in [0, 1, 2, 4, 5, 7, 12, 13, 129, u16::MAX] {
            for tag in [0x014A, 0x8769, 0x02BC, 0x920A] {
                let one =
                    [&head(8), &1u16.to_le_bytes()[..], &entry(tag, kind, lie, lie), &word(8)];
                quick(&one.concat());
            }
        }
    }
    let wide = |offset: u64| [&b"II\x2B\0\x08\0\0\0"[..], &offset.to_le_bytes()].concat();
    for lie in [0, 1, 1 << 31, 1 << 63, u64::MAX] {
        assert!(!quick(&wide(lie)).is_empty(), "{lie}");
        quick(&[&wide(16)[..], &lie.to_le_bytes(), &[0xFF; 40]].concat());
    }
    for size in [0, -1, i32::MIN, i32::MAX] {
        let mut bytes = exr(&[vec![attribute("aperture", "float", &[0; 4])]]);
        bytes[23..27].copy_from_slice(&size.to_le_bytes());
        quick(&bytes);
    }
}

/// Directories that lead in circles, or without end, are read once each and then refused.
#[test]
fn loops_and_endless_chains() {
    let circle = tiff(LITTLE, &[vec![Put(0x014A, Values::Directories(vec![0, 0, 0]))]]);
    assert_eq!(quick(&circle), [Code::MediaDamaged]);
    let mut chain = b"II\x2A\0\x08\0\0\0".to_vec();
    for next in 0..10_000u32 {
        chain.extend([0, 0]);
        chain.extend((8 + (next + 1) * 6).to_le_bytes());
    }
    assert_eq!(quick(&chain), [Code::MediaDamaged]);
    let nested: Vec<Vec<Put>> =
        (1..=10_000).map(|next| vec![Put(0x014A, Values::Directories(vec![next]))]).collect();
    assert_eq!(quick(&tiff(LITTLE, &nested)), [Code::MediaDamaged]);
    let mut many = b"\x76\x2F\x31\x01\x02\x10\0\0".to_vec();
    for _ in 0..50_000 {
        many.extend(attribute("a", "x", &[]));
        many.push(0);
    }
    assert_eq!(quick(&many), [Code::MediaDamaged]);
    let fills = [&[0xFF, 0xD8][..], &vec![0xFF; 100_000][..]].concat();
    quick(&fills);
}

/// However large the file, only its header is read.
#[test]
fn little_is_read_of_a_large_file() {
    for mut bytes in pictures() {
        bytes.resize(64 << 20, 0);
        let source: &dyn ReadAt = &&bytes[..];
        let watched = Watched::new(source);
        read(&watched, "frame");
        let sum: usize = watched.reads().iter().map(|(_, count)| count).sum();
        assert!(sum <= 128 << 10, "{sum} bytes in {:?}", watched.reads());
    }
}

/// XMP Specification Part 3, "Extended XMP in JPEG": GUID, length of the whole, place of the piece.
#[test]
fn xmp_over_several_segments() {
    const OTHER: &str = "FEDCBA9876543210FEDCBA9876543210";
    let body = "<rdf:Description><e:FocalLength>355/10</e:FocalLength></rdf:Description>";
    let packet = String::from_utf8(crate::boxes::packet(body)).unwrap();
    let (whole, cut) = (packet.len(), packet.find("355").unwrap() + 1);
    let (front, rest) = packet.split_at(cut);
    let (middle, back) = rest.split_at(20);
    let pieces = [
        (GUID, 0, whole, front),
        (GUID, cut, whole, middle),
        (GUID, cut + middle.len(), whole, back),
    ];
    let wanted = "35.5 mm (355/10), f/2.8000";
    let told_of = |pieces: &[(&str, usize, usize, &str)]| {
        told(&extended(GUID, pieces)).replace("coded 1920x1080, display 1920x1080, ", "")
    };
    assert_eq!(told_of(&pieces), wanted);
    // In any order, with another packet's pieces among them, and one of them twice.
    let [a, b, c] = pieces;
    let strange = (OTHER, 0, 5, "hello");
    assert_eq!(told_of(&[c, strange, a, b, a]), wanted);
    // The place is that in the file, whichever piece it stands in.
    let bytes = extended(GUID, &pieces);
    let read = recorded(&bytes);
    let Origin::Media { path, offset, .. } = &read.focal_length.unwrap().origin else { panic!() };
    assert_eq!(&path[..], "APP1/extended XMP/exif:FocalLength");
    let at = usize::try_from(*offset).unwrap();
    let met = String::from_utf8_lossy(&bytes[at..at + 8]).into_owned();
    assert!("</e:FocalLength>".contains(met.trim()), "{met}");
    // Nothing that does not fit together is used, and what is used says where it ends.
    let broken = "f/2.8000, media.damaged";
    let huge = 1 << 31;
    for (pieces, wanted) in [
        (vec![strange], "f/2.8000"),
        (vec![], "f/2.8000"),
        (vec![b, c], broken),
        (vec![a], "f/2.8000, media.damaged, media.damaged"),
        (vec![(GUID, 0, huge, front)], broken),
        (vec![(GUID, huge, whole, front)], broken),
        (vec![(GUID, 0, 10, front)], broken),
        (vec![a, (GUID, cut + 1, whole, middle), c], "f/2.8000, media.damaged, media.damaged"),
        (vec![a, (GUID, cut, whole + 1, middle), c], "f/2.8000, media.damaged, media.damaged"),
        (vec![("0123", 0, 0, "")], broken),
    ] {
        assert_eq!(told_of(&pieces), wanted, "{pieces:?}");
    }
    for end in 0..bytes.len() {
        quick(&bytes[..end]);
    }
    let mut bent = bytes.clone();
    for at in 0..bent.len() {
        for is in [0, 0x7F, 0x80, 0xFF] {
            bent[at] = is;
            quick(&bent);
        }
        bent[at] = bytes[at];
    }
}
