//! Texts and keys: QuickTime user data, metadata keys, XMP packets
//! (QuickTime, "User Data Atoms" and "Metadata"; XMP Specification Part 3).

use std::collections::BTreeMap;

use crate::header::Placed;
use crate::header::cursor::Cursor;
use crate::header::quicktime::{RawTag, RawValue};
use crate::header::reader::{Element, Reader, kind_text, len};

/// Bytes kept of a value that is not text.
const BINARY: usize = 64;
/// Bytes of `keys` that are read; a hundred long names fit a few times over.
const KEYS: usize = 64 * 1024;

/// Reads `udta`: `©xxx` texts, `meta`, `XMP_`; what is not known is kept as bytes.
pub(super) fn udta(
    reader: &mut Reader,
    udta: &Element,
    texts: &mut Vec<RawTag>,
    packets: &mut Vec<Placed<Vec<u8>>>,
) {
    let mut at = udta.body;
    while let Some(part) = reader.next(udta, &mut at) {
        match &part.kind {
            b"XMP_" => packet(reader, &part, packets),
            b"meta" => meta(reader, &part, texts),
            b"free" | b"skip" => {}
            [0xA9, ..] => {
                if let Some(text) = international(reader, &part) {
                    keep(reader, texts, kind_text(part.kind), part.place(RawValue::Text(text)));
                }
            }
            _ => {
                let bytes = reader.bytes(part.body, clip(part.length(), BINARY)).to_vec();
                if !bytes.is_empty() {
                    let value = part.place(RawValue::Bytes(bytes));
                    keep(reader, texts, kind_text(part.kind), value);
                }
            }
        }
    }
}

/// International text: length, language, characters. `None` where it is empty.
pub(super) fn international(reader: &mut Reader, part: &Element) -> Option<String> {
    let limit = reader.limits.text;
    let length = clip(part.length(), limit);
    let bytes = reader.bytes(part.body, length);
    let mut cursor = Cursor::new(bytes);
    let length = cursor.u16().map(usize::from);
    let language = cursor.u16();
    let text = length.and_then(|length| cursor.take(length));
    match (language, text) {
        (Some(language), Some(text)) => decode(text, language < 0x400),
        // Some writers leave the two words out.
        _ => decode(bytes, false),
    }
}

/// Characters are UTF-8 wherever they can be: many cameras write it under an old language code. Otherwise UTF-16
/// with its mark, or the script of the old code, of which only Roman is known here. Padding is dropped.
fn decode(bytes: &[u8], old: bool) -> Option<String> {
    let utf16 = encoding_rs::Encoding::for_bom(bytes).map(|(encoding, _)| encoding);
    let text = match (std::str::from_utf8(bytes), utf16, old) {
        (Ok(text), _, _) => text.to_owned(),
        (_, Some(encoding), _) => encoding.decode(bytes).0.into_owned(),
        (_, None, true) => encoding_rs::MACINTOSH.decode(bytes).0.into_owned(),
        (_, None, false) => String::from_utf8_lossy(bytes).into_owned(),
    };
    let text = text.trim_matches(|c: char| c == '\0' || c.is_whitespace() || c == '\u{FEFF}');
    (!text.is_empty()).then(|| text.to_owned())
}

/// Reads `meta`: a full box in ISO/IEC 14496-12 (8.11.1), a plain one in QuickTime; the `hdlr` inside tells which.
pub(super) fn meta(reader: &mut Reader, meta: &Element, texts: &mut Vec<RawTag>) {
    let plain = reader.bytes(meta.body, 8).get(4..8) == Some(b"hdlr".as_slice());
    let mut at = meta.body.saturating_add(if plain { 0 } else { 4 });
    let mut keys = BTreeMap::new();
    let mut items = None;
    while let Some(part) = reader.next(meta, &mut at) {
        match &part.kind {
            b"keys" => {
                keys =
                    reader.parse(&part, KEYS, key_names).map(|keys| keys.value).unwrap_or_default();
            }
            b"ilst" => items = Some(part),
            _ => {}
        }
    }
    if let Some(items) = items {
        ilst(reader, &items, &keys, texts);
    }
}

/// Key names by number, from 1 (QuickTime, `keys`). Names past the end of the box are left out.
fn key_names(cursor: &mut Cursor) -> Option<BTreeMap<u32, String>> {
    cursor.full()?;
    let count = cursor.u32()?;
    let mut names = BTreeMap::new();
    for number in 1..=count {
        let Some(size) = cursor.u32().and_then(|size| size.checked_sub(8)) else {
            break;
        };
        let name = cursor.skip(4).and_then(|()| cursor.take(usize::try_from(size).ok()?));
        let Some(name) = name else { break };
        names.insert(number, String::from_utf8_lossy(name).into_owned());
    }
    Some(names)
}

/// Items of `ilst`: the kind of each is the number of its key, or a four-character name where there are no keys.
fn ilst(
    reader: &mut Reader,
    ilst: &Element,
    keys: &BTreeMap<u32, String>,
    texts: &mut Vec<RawTag>,
) {
    let mut at = ilst.body;
    while let Some(item) = reader.next(ilst, &mut at) {
        let mut key = keys
            .get(&u32::from_be_bytes(item.kind))
            .cloned()
            .unwrap_or_else(|| kind_text(item.kind));
        let mut inside = item.body;
        while let Some(part) = reader.next(&item, &mut inside) {
            match &part.kind {
                // A name of the writer's own stands beside the value, as `mean` and `name`.
                b"mean" | b"name" => {
                    let bytes = reader.bytes(part.body, clip(part.length(), 256));
                    let text = bytes.get(4..).map(String::from_utf8_lossy);
                    if let Some(text) = text {
                        key = if part.kind == *b"mean" {
                            text.into_owned()
                        } else {
                            format!("{key}.{text}")
                        };
                    }
                }
                b"data" => {
                    let limit = reader.limits.text;
                    let value = reader.parse(&part, limit, |c| {
                        let kind = c.u32()?;
                        c.skip(4)?;
                        Some(data(kind & 0x00FF_FFFF, c.rest()))
                    });
                    if let Some(value) = value.and_then(flatten) {
                        let path = item.path.rsplit_once('/').map_or("", |(path, _)| path);
                        let value = Placed { path: format!("{path}/{key}").into(), ..value };
                        keep(reader, texts, key.clone(), value);
                    }
                }
                _ => {}
            }
        }
    }
}

fn flatten(value: Placed<Option<RawValue>>) -> Option<Placed<RawValue>> {
    Some(Placed { value: value.value?, path: value.path, offset: value.offset })
}

/// A value by its well-known type (QuickTime, "Well-Known Types"); `None` where it is empty.
pub(super) fn data(kind: u32, bytes: &[u8]) -> Option<RawValue> {
    let mut cursor = Cursor::new(bytes);
    let number = match (kind, bytes.len()) {
        (1, _) => return decode(bytes, false).map(RawValue::Text),
        (2, _) => {
            let text = encoding_rs::UTF_16BE.decode(bytes).0;
            return decode(text.as_bytes(), false).map(RawValue::Text);
        }
        (21 | 65, 1) => cursor.array().map(|b| i8::from_be_bytes(b).to_string()),
        (21 | 66, 2) => cursor.array().map(|b| i16::from_be_bytes(b).to_string()),
        (21 | 67, 4) => cursor.i32().map(|n| n.to_string()),
        (21 | 74, 8) => cursor.i64().map(|n| n.to_string()),
        (22 | 75, 1) => cursor.u8().map(|n| n.to_string()),
        (22 | 76, 2) => cursor.u16().map(|n| n.to_string()),
        (22 | 77, 4) => cursor.u32().map(|n| n.to_string()),
        (22 | 78, 8) => cursor.u64().map(|n| n.to_string()),
        (23, 4) => cursor.array().map(|b| f32::from_be_bytes(b).to_string()),
        (24, 8) => cursor.array().map(|b| f64::from_be_bytes(b).to_string()),
        _ => None,
    };
    let kept = bytes.get(..bytes.len().min(BINARY)).unwrap_or_default();
    match number {
        Some(number) => Some(RawValue::Number(number)),
        None => (!kept.is_empty()).then(|| RawValue::Bytes(kept.to_vec())),
    }
}

/// Keeps an XMP packet whole, or not at all.
pub(super) fn packet(reader: &mut Reader, element: &Element, packets: &mut Vec<Placed<Vec<u8>>>) {
    let kept = packets.iter().fold(0, |sum: u64, p| sum.saturating_add(len(&p.value)));
    let limit = u64::try_from(reader.limits.packets).unwrap_or(u64::MAX);
    if kept.saturating_add(element.length()) > limit || packets.len() >= 64 {
        let message =
            format!("`{}` is too large to be a lens record and was not read", element.path);
        reader.damaged(element.start, message);
        return;
    }
    let length = clip(element.length(), reader.limits.packets);
    let bytes = reader.bytes(element.body, length).to_vec();
    if !bytes.is_empty() {
        packets.push(Placed { value: bytes, path: element.path.clone(), offset: element.body });
    }
}

fn keep(reader: &mut Reader, texts: &mut Vec<RawTag>, key: String, value: Placed<RawValue>) {
    if texts.len() < reader.limits.texts {
        texts.push(RawTag { key, value });
    } else {
        reader.damaged(value.offset, "more texts than lensmend keeps; the rest was left out");
    }
}

fn clip(length: u64, limit: usize) -> usize {
    usize::try_from(length).map_or(limit, |length| length.min(limit))
}
