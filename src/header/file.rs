//! The top level of a file: which boxes there are, and whether the file is whole (ISO/IEC 14496-12, 4.2 and 4.3).

use crate::header::cursor::Cursor;
use crate::header::quicktime::Movie;
use crate::header::reader::{Element, Reader};
use crate::header::{edits, fragment, movie, texts, timed};

/// Kinds of box that such a file can begin with; anything else is another kind of file.
const FIRST: [&[u8; 4]; 3] = [b"ftyp", b"moov", b"mdat"];
/// More such kinds, but so common as words or so small that they must also lie inside the file.
const FIRST_WHOLE: [&[u8; 4]; 5] = [b"wide", b"free", b"skip", b"pnot", b"uuid"];

/// Storage of XMP in MP4 (XMP Specification Part 3, "MPEG-4").
const XMP: [u8; 16] = [
    0xBE, 0x7A, 0xCF, 0xCB, 0x97, 0xA9, 0x42, 0xE8, 0x9C, 0x71, 0x99, 0x94, 0x91, 0xE3, 0xAF, 0xAC,
];

/// True where the first bytes are those of a QuickTime or ISO base media file.
pub(super) fn is_quicktime(reader: &mut Reader) -> bool {
    let mut cursor = Cursor::new(reader.bytes(0, 8));
    let (Some(size), Some(kind)) = (cursor.u32(), cursor.array::<4>()) else {
        return false;
    };
    let plausible = !(2..8).contains(&size);
    let fits = u64::from(size) <= reader.size();
    plausible && (FIRST.contains(&&kind) || (fits && FIRST_WHOLE.contains(&&kind)))
}

/// Walks the top level. `None` where it turns out to hold still images instead of a movie (a `meta` in place of the `moov`).
pub(super) fn read(reader: &mut Reader) -> Option<Movie> {
    let root = reader.root();
    let mut file = Movie::default();
    let (mut at, mut left) = (0, reader.limits.top_boxes);
    let (mut described, mut still) = (false, false);
    while let Some(part) = reader.next(&root, &mut at) {
        match &part.kind {
            b"ftyp" if file.brand.is_none() => {
                file.brand = reader.parse(&part, 4, |c| c.take(4)?.try_into().ok());
            }
            b"moov" if !described => {
                described = true;
                movie::moov(reader, &part, &mut file);
            }
            b"meta" => still = true,
            b"moof" if file.fragmented => {
                reader.among_fragments();
                fragment::moof(reader, &part, &mut file);
            }
            b"uuid" => uuid(reader, &part, &mut file),
            _ => {}
        }
        left = left.saturating_sub(1);
        if left == 0 || !reader.in_budget() {
            file.fragments_missed = true;
            break;
        }
    }
    if left == 0 {
        reader.damaged(at, "the file has more parts than any clip needs; the rest was not read");
    }
    if !described {
        if still && reader.is_quiet() {
            return None;
        }
        reader.cut_off(reader.size(), "the part that describes the recording (`moov`) is missing");
    }
    timed::read(reader, &mut file);
    edits::apply(reader, &mut file);
    Some(file)
}

fn uuid(reader: &mut Reader, part: &Element, file: &mut Movie) {
    if reader.bytes(part.body, XMP.len()) == XMP {
        let packet = Element { body: part.body.saturating_add(16).min(part.end), ..part.clone() };
        texts::packet(reader, &packet, &mut file.packets);
    }
}
