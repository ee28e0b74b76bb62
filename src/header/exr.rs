//! OpenEXR: the attributes of the header (OpenEXR, "File Layout"; little-endian throughout).
//!
//! The attributes of the first part are kept; the headers of further parts are only counted.

use std::sync::Arc;

use crate::header::Placed;
use crate::header::reader::Reader;

/// Attributes walked over in all; a header of the standard attributes has some sixty.
const ATTRIBUTES: u32 = 20_000;
/// Bytes of a name or a type, its zero left out (OpenEXR, "Long names").
const NAME: usize = 255;
/// Bytes kept of a value that is no text.
const BINARY: usize = 64;

const MULTIPART: u32 = 0x1000;

/// An OpenEXR file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Exr {
    /// Attributes of the first part in file order.
    pub attributes: Vec<Attribute>,
    /// Headers in the file.
    pub parts: u32,
}

/// One attribute.
#[derive(Clone, Debug, PartialEq)]
pub struct Attribute {
    /// Name.
    pub name: Arc<str>,
    /// Type as written.
    pub kind: String,
    /// Value and place.
    pub value: Placed<AttributeValue>,
    /// True where only the beginning of the value is kept.
    pub cut: bool,
}

/// The value of an [`Attribute`] by its type; a size that does not fit the type makes it bytes.
#[derive(Clone, Debug, PartialEq)]
pub enum AttributeValue {
    /// `string`.
    Text(String),
    /// `int`.
    Int(i32),
    /// `float`.
    Float(f32),
    /// `double`.
    Double(f64),
    /// `rational`.
    Rational(i32, u32),
    /// `v2f`.
    Pair([f32; 2]),
    /// `box2i`: left, top, right, bottom, all inside.
    Box([i32; 4]),
    /// `timecode`: time and flags, user bits.
    Timecode(u32, u32),
    /// Anything else.
    Bytes(Vec<u8>),
}

/// True where the first bytes are those of an OpenEXR file.
pub(super) fn is_exr(reader: &mut Reader) -> bool {
    reader.bytes(0, 4) == [0x76, 0x2F, 0x31, 0x01]
}

/// Reads the headers.
pub(super) fn read(reader: &mut Reader) -> Exr {
    let mut exr = Exr::default();
    let Some(version) = word(reader, 4) else {
        reader.cut_off(reader.size(), ENDS);
        return exr;
    };
    let multipart = version & MULTIPART != 0;
    let mut at: u64 = 8;
    let mut empty = true;
    for _ in 0..ATTRIBUTES {
        let name = name(reader, at);
        match name.as_deref() {
            None => return exr,
            // An empty name ends a header, a second one the headers of a file of several parts.
            Some("") if empty && exr.parts > 0 => return exr,
            Some("") => {
                exr.parts = exr.parts.saturating_add(1);
                if !multipart {
                    return exr;
                }
                (at, empty) = (at.saturating_add(1), true);
            }
            Some(name) => {
                let Some(next) = attribute(reader, at, name, multipart, &mut exr) else {
                    return exr;
                };
                (at, empty) = (next, false);
            }
        }
    }
    reader.damaged(at, "the header has more attributes than any picture needs");
    exr
}

const ENDS: &str = "the file ends inside its header";

/// Reads one attribute and says where the next begins.
fn attribute(
    reader: &mut Reader,
    start: u64,
    called: &str,
    multipart: bool,
    exr: &mut Exr,
) -> Option<u64> {
    let after = |at: u64, text: &str| {
        at.saturating_add(u64::try_from(text.len()).unwrap_or_default()).saturating_add(1)
    };
    let kind_at = after(start, called);
    let kind = name(reader, kind_at)?;
    let size_at = after(kind_at, &kind);
    let Some(size) = word(reader, size_at) else {
        reader.cut_off(size_at, ENDS);
        return None;
    };
    // A signed number in the file: a negative size is none.
    let Ok(size) = u32::try_from(size.cast_signed()) else {
        reader.damaged(start, format!("`{called}` claims a size below zero"));
        return None;
    };
    let body = size_at.saturating_add(4);
    let end = body.saturating_add(size.into());
    if end > reader.size() {
        reader.cut_off(start, ENDS);
        return None;
    }
    if exr.parts == 0 {
        if exr.attributes.len() >= reader.limits.texts {
            reader.damaged(start, "more attributes than lensmend keeps; the rest was left out");
            return Some(end);
        }
        let most = if kind == "string" { reader.limits.text } else { BINARY };
        let whole = usize::try_from(size).ok()?;
        let bytes = reader.bytes(body, whole.min(most)).to_vec();
        if bytes.len() < whole.min(most) {
            reader.cut_off(start, ENDS);
            return None;
        }
        let path = if multipart { format!("part[1]/{called}") } else { called.to_owned() };
        let value = Placed { value: value(&kind, &bytes), path: path.into(), offset: start };
        let cut = whole > most;
        exr.attributes.push(Attribute { name: called.into(), kind, value, cut });
    }
    Some(end)
}

fn value(kind: &str, bytes: &[u8]) -> AttributeValue {
    let words: Vec<[u8; 4]> = bytes.as_chunks().0.to_vec();
    let int = |word: [u8; 4]| i32::from_le_bytes(word);
    match (kind, words.as_slice(), bytes.len()) {
        ("string", ..) => {
            let text = String::from_utf8_lossy(bytes);
            AttributeValue::Text(text.trim_end_matches('\0').trim().to_owned())
        }
        ("int", [one], 4) => AttributeValue::Int(int(*one)),
        ("float", [one], 4) => AttributeValue::Float(f32::from_le_bytes(*one)),
        ("double", _, 8) => match bytes.try_into() {
            Ok(eight) => AttributeValue::Double(f64::from_le_bytes(eight)),
            Err(_) => AttributeValue::Bytes(bytes.to_vec()),
        },
        ("rational", [num, den], 8) => {
            AttributeValue::Rational(int(*num), u32::from_le_bytes(*den))
        }
        ("v2f", [x, y], 8) => {
            AttributeValue::Pair([f32::from_le_bytes(*x), f32::from_le_bytes(*y)])
        }
        ("box2i", [left, top, right, bottom], 16) => {
            AttributeValue::Box([*left, *top, *right, *bottom].map(int))
        }
        ("timecode", [time, user], 8) => {
            AttributeValue::Timecode(u32::from_le_bytes(*time), u32::from_le_bytes(*user))
        }
        _ => AttributeValue::Bytes(bytes.to_vec()),
    }
}

fn word(reader: &mut Reader, at: u64) -> Option<u32> {
    reader.bytes(at, 4).try_into().ok().map(u32::from_le_bytes)
}

/// A name or type that ends in a zero; `None`, and said, where there is none.
fn name(reader: &mut Reader, at: u64) -> Option<String> {
    let bytes = reader.bytes(at, NAME.saturating_add(1));
    let (here, end) = (bytes.len(), bytes.iter().position(|b| *b == 0));
    let text = end.and_then(|end| std::str::from_utf8(bytes.get(..end)?).ok()).map(str::to_owned);
    if text.is_none() {
        if end.is_none() && here <= NAME {
            reader.cut_off(reader.size(), ENDS);
        } else {
            reader.damaged(at, "what stands here is no name of an attribute");
        }
    }
    text
}
