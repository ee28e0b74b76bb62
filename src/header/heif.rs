//! HEIF stills (ISO/IEC 23008-12): the Exif and XMP items, found through `iinf` and `iloc` (ISO/IEC 14496-12, 8.11).
//!
//! Items in one piece of the file are read; items put together of several pieces, or kept in `idat`, are left out.
//! The size of the picture stays with the item properties, which are not read.

use std::collections::BTreeMap;

use crate::header::cursor::Cursor;
use crate::header::image::{Image, Kind};
use crate::header::reader::{Element, Reader, len};
use crate::header::{texts, tiff};

/// Bytes of `iloc` that are looked at; thousands of items fit.
const PLACES: usize = 64 * 1024;
/// Items looked at.
const ITEMS: usize = 1024;

/// Reads the items of the first `meta` of the file.
pub(super) fn read(reader: &mut Reader) -> Image {
    let mut image = Image::new(Kind::Heif);
    let root = reader.root();
    let (mut at, mut left) = (0, reader.limits.top_boxes);
    while let Some(part) = reader.next(&root, &mut at) {
        left = left.saturating_sub(1);
        if part.kind == *b"meta" || left == 0 {
            meta(reader, &part, &mut image);
            return image;
        }
    }
    reader.cut_off(reader.size(), "the part that describes the picture (`meta`) is missing");
    image
}

fn meta(reader: &mut Reader, meta: &Element, image: &mut Image) {
    let mut at = meta.body.saturating_add(4);
    let (mut kinds, mut places) = (Vec::new(), BTreeMap::new());
    while let Some(part) = reader.next(meta, &mut at) {
        match &part.kind {
            b"iinf" => kinds = items(reader, &part),
            b"iloc" => {
                let found = reader.parse(&part, PLACES, |cursor| Some(locations(cursor)));
                places = found.map(|found| found.value).unwrap_or_default();
            }
            _ => {}
        }
    }
    for (id, kind) in kinds {
        let Some((start, length)) = places.get(&id).copied() else { continue };
        let end = start.saturating_add(length);
        if end > reader.size() {
            reader.cut_off(start, "the file ends before the fields it announces");
        }
        let end = end.min(reader.size());
        if kind == *b"Exif" {
            // Bytes between the length word and the fields (ISO/IEC 23008-12, A.2.1).
            let Some(skip) = Cursor::new(reader.bytes(start, 4)).u32() else { continue };
            let base = start.saturating_add(4).saturating_add(u64::from(skip));
            if base < end {
                tiff::read(reader, base, end, "meta/Exif/", image);
            } else {
                reader.damaged(start, "the Exif item claims to begin behind its own end");
            }
        } else {
            let path = "meta/XMP".into();
            let body = start.min(end);
            let element = Element { kind, start, body, end, cut: false, path };
            texts::packet(reader, &element, &mut image.packets);
        }
    }
}

/// Numbers of the items that hold Exif or XMP (8.11.6).
fn items(reader: &mut Reader, iinf: &Element) -> Vec<(u32, [u8; 4])> {
    let version = reader.bytes(iinf.body, 1).first().copied().unwrap_or_default();
    let mut at = iinf.body.saturating_add(if version == 0 { 6 } else { 8 });
    let mut found = Vec::new();
    while let Some(part) = reader.next(iinf, &mut at) {
        if part.kind != *b"infe" || found.len() >= ITEMS {
            continue;
        }
        let item = reader.parse(&part, 128, |cursor| {
            let (version, _) = cursor.full()?;
            // Before version 2 an item has no kind.
            let id = match version {
                2 => cursor.u16().map(u32::from)?,
                3 => cursor.u32()?,
                _ => return Some(None),
            };
            cursor.skip(2)?;
            let kind: [u8; 4] = cursor.array()?;
            let packet = || is_packet(cursor.rest());
            let wanted = kind == *b"Exif" || (kind == *b"mime" && packet());
            Some(wanted.then_some((id, kind)))
        });
        found.extend(item.and_then(|item| item.value));
    }
    found
}

/// True where name and type of a `mime` item say that it is XMP.
fn is_packet(rest: &[u8]) -> bool {
    rest.split(|b| *b == 0).nth(1) == Some(b"application/rdf+xml".as_slice())
}

/// Place and length of the items that lie in one piece of the file (8.11.3); what does not fit is left out.
fn locations(cursor: &mut Cursor) -> BTreeMap<u32, (u64, u64)> {
    let mut found = BTreeMap::new();
    // The loop ends where the bytes do; what was found until then counts.
    let _ = (|| {
        let (version, _) = cursor.full()?;
        let sizes = cursor.u16()?.to_be_bytes();
        let [offset, length, base, index] =
            [sizes[0] >> 4, sizes[0] & 15, sizes[1] >> 4, sizes[1] & 15];
        let index = if version == 0 { 0 } else { index };
        let count = if version < 2 { cursor.u16().map(u32::from)? } else { cursor.u32()? };
        for _ in 0..count.min(u32::try_from(ITEMS).unwrap_or_default()) {
            let id = if version < 2 { cursor.u16().map(u32::from)? } else { cursor.u32()? };
            let method = if version == 0 { 0 } else { cursor.u16()? & 15 };
            let reference = cursor.u16()?;
            let base = sized(cursor, base)?;
            let extents = cursor.u16()?;
            let mut place = None;
            for _ in 0..extents {
                sized(cursor, index)?;
                let (offset, length) = (sized(cursor, offset)?, sized(cursor, length)?);
                place = Some((base.saturating_add(offset), length));
            }
            if let (1, 0, 0, Some(place)) = (extents, method, reference, place) {
                found.insert(id, place);
            }
        }
        Some(())
    })();
    found
}

/// A number of 0, 4 or 8 bytes.
fn sized(cursor: &mut Cursor, size: u8) -> Option<u64> {
    match size {
        0 => Some(0),
        4 => cursor.u32().map(u64::from),
        8 => cursor.u64(),
        _ => None,
    }
}

/// True where the first bytes are the brand of stills rather than of a movie.
pub(super) fn is_heif(reader: &mut Reader) -> bool {
    let bytes = reader.bytes(0, 12);
    let brands: [&[u8]; 5] = [b"heic", b"heix", b"mif1", b"heim", b"avif"];
    len(bytes) == 12
        && bytes.get(4..8) == Some(b"ftyp".as_slice())
        && bytes.get(8..12).is_some_and(|brand| brands.contains(&brand))
}
