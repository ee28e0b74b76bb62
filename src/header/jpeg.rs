//! JPEG: the segments in front of the picture (ISO/IEC 10918-1, annex B), of which Exif, XMP and the frame header speak
//! of what is asked here.

use crate::header::cursor::Cursor;
use crate::header::extended::Piece;
use crate::header::image::{Image, Kind};
use crate::header::reader::{Element, Reader};
use crate::header::{Placed, extended, texts, tiff};

/// Segments of one file; a picture has some ten, a large colour profile fills some more.
const SEGMENTS: u32 = 1024;

/// CIPA DC-008, 4.7.2.
const EXIF: &[u8] = b"Exif\0";
/// XMP Specification Part 3, "JPEG".
const XMP: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";

/// The same, for what did not fit into one segment.
const EXTENDED: &[u8] = b"http://ns.adobe.com/xmp/extension/\0";

const START_OF_SCAN: u8 = 0xDA;
const END: u8 = 0xD9;
const APP1: u8 = 0xE1;

/// True where the first bytes are those of a JPEG.
pub(super) fn is_jpeg(reader: &mut Reader) -> bool {
    reader.bytes(0, 3) == [0xFF, 0xD8, 0xFF]
}

/// Reads the segments up to the picture.
pub(super) fn read(reader: &mut Reader) -> Image {
    let mut image = Image::new(Kind::Jpeg);
    let mut pieces = Vec::new();
    segments(reader, &mut image, &mut pieces);
    extended::join(reader, &pieces, &mut image);
    image
}

fn segments(reader: &mut Reader, image: &mut Image, pieces: &mut Vec<Piece>) {
    let mut at = 2;
    for _ in 0..SEGMENTS {
        let heading = reader.bytes(at, 4).to_vec();
        match *heading.as_slice() {
            // Any number of fill bytes may stand in front of a marker.
            [0xFF, 0xFF, ..] => at = at.saturating_add(1),
            [0xFF, START_OF_SCAN | END, ..] => return,
            // Markers without a segment.
            [0xFF, 0x01 | 0xD0..=0xD8, ..] => at = at.saturating_add(2),
            [0xFF, marker, high, low] => {
                let body = at.saturating_add(4);
                let length = u64::from(u16::from_be_bytes([high, low]));
                let end = at.saturating_add(2).saturating_add(length);
                if length < 2 {
                    reader.damaged(at, "a segment claims to be smaller than its own length");
                    return;
                }
                if end > reader.size() {
                    reader.cut_off(at, "the file ends inside a segment in front of the picture");
                }
                segment(reader, marker, (at, body, end.min(reader.size())), image, pieces);
                at = end;
            }
            [_, _, _, _] => {
                reader.damaged(at, "what stands here is no segment of a picture");
                return;
            }
            _ => {
                reader.cut_off(at, "the file ends before the picture");
                return;
            }
        }
    }
    reader.damaged(at, "the file has more segments than any picture needs");
}

fn segment(
    reader: &mut Reader,
    marker: u8,
    (start, body, end): (u64, u64, u64),
    image: &mut Image,
    pieces: &mut Vec<Piece>,
) {
    match marker {
        APP1 if reader.bytes(body, EXIF.len()) == EXIF => {
            // The second zero is padding.
            tiff::read(reader, body.saturating_add(6), end, "APP1/", image);
        }
        APP1 if reader.bytes(body, XMP.len()) == XMP => {
            let skip = u64::try_from(XMP.len()).unwrap_or_default();
            let body = body.saturating_add(skip).min(end);
            let path = "APP1/XMP".into();
            let element = Element { kind: *b"XMP ", start, body, end, cut: false, path };
            texts::packet(reader, &element, &mut image.packets);
        }
        APP1 if reader.bytes(body, EXTENDED.len()) == EXTENDED => {
            let skip = u64::try_from(EXTENDED.len()).unwrap_or_default();
            let body = body.saturating_add(skip).min(end);
            pieces.extend(extended::piece(reader, (start, body, end)));
        }
        // Frame headers (B.2.2); C4, C8 and CC are tables.
        0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF if image.size.is_none() => {
            let mut cursor = Cursor::new(reader.bytes(body, 5));
            let size = cursor.skip(1).and_then(|()| {
                let (height, width) = (cursor.u16()?, cursor.u16()?);
                Some((u32::from(width), u32::from(height)))
            });
            image.size = size.map(|value| Placed { value, path: "SOF".into(), offset: start });
        }
        _ => {}
    }
}
