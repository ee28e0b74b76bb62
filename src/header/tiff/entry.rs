//! One entry of a directory: number, type, count, and the values or the way to them (TIFF 6.0, section 2).

use std::sync::Arc;

use crate::header::image::{Field, FieldValue, Role};
use crate::header::reader::{Element, Reader};
use crate::header::{Placed, texts};

use super::{Layout, Order};

/// Numbers kept of a list; the longest that says something of the lens has four.
const NUMBERS: usize = 16;
/// Bytes kept of what is neither text nor number.
const BINARY: usize = 64;
/// Bytes kept of a text.
const TEXT: usize = 4096;

const SUB_DIRECTORIES: u16 = 0x014A;
const EXIF: u16 = 0x8769;
const POSITION: u16 = 0x8825;
/// XMP Specification Part 3, "TIFF".
const XMP: u16 = 0x02BC;

/// Types of values (TIFF 6.0, section 2; `BigTIFF` adds 16 to 18, CIPA DC-008 adds 129).
const BYTE: u16 = 1;
const ASCII: u16 = 2;
const SHORT: u16 = 3;
const LONG: u16 = 4;
const RATIONAL: u16 = 5;
const SIGNED_BYTE: u16 = 6;
const UNDEFINED: u16 = 7;
const SIGNED_SHORT: u16 = 8;
const SIGNED_LONG: u16 = 9;
const SIGNED_RATIONAL: u16 = 10;
const FLOAT: u16 = 11;
const DOUBLE: u16 = 12;
const DIRECTORY: u16 = 13;
const LONG8: u16 = 16;
const SIGNED_LONG8: u16 = 17;
const DIRECTORY8: u16 = 18;
const UTF8: u16 = 129;

/// An entry, its values still unread.
pub(super) struct Entry {
    /// Where it stands.
    start: u64,
    tag: u16,
    kind: u16,
    count: u64,
    /// Where its values stand.
    at: u64,
}

impl Entry {
    /// The entry at a place of the file; `None` where the file ends before.
    pub(super) fn read(reader: &mut Reader, layout: &Layout, start: u64) -> Option<Self> {
        let wide: u64 = if layout.big { 8 } else { 4 };
        let after = |bytes: u64| start.saturating_add(bytes);
        let tag = layout.number(reader, start, 2)?;
        let kind = layout.number(reader, after(2), 2)?;
        let count = layout.number(reader, after(4), wide)?;
        let place = after(wide.saturating_add(4));
        let offset = layout.number(reader, place, wide)?;
        let (tag, kind) = (u16::try_from(tag).ok()?, u16::try_from(kind).ok()?);
        let entry = Self { start, tag, kind, count, at: place };
        // Up to so many bytes stand in the entry itself.
        if entry.size() <= wide {
            return Some(entry);
        }
        Some(Self { at: layout.base.saturating_add(offset), ..entry })
    }

    /// What kind of directory the entry leads to.
    pub(super) fn leads_to(&self) -> Option<(&'static str, Role)> {
        match self.tag {
            SUB_DIRECTORIES => Some(("SubIFD", Role::Picture)),
            EXIF => Some(("Exif", Role::Exif)),
            _ => None,
        }
    }

    /// The directories it leads to.
    pub(super) fn offsets(&self, reader: &mut Reader, layout: &Layout) -> Vec<u64> {
        match self.values(reader, layout) {
            Some(FieldValue::Whole(offsets)) => offsets,
            _ => Vec::new(),
        }
    }

    /// True of an XMP packet.
    pub(super) fn is_packet(&self) -> bool {
        self.tag == XMP
    }

    /// Keeps the packet that the entry holds.
    pub(super) fn packet(
        &self,
        reader: &mut Reader,
        layout: &Layout,
        within: &str,
        packets: &mut Vec<Placed<Vec<u8>>>,
    ) {
        let end = self.at.saturating_add(self.size());
        if end > layout.end {
            layout.short(reader, self.start);
        }
        let path = format!("{within}/XMP").into();
        let end = end.min(layout.end);
        let element = Element {
            kind: *b"XMP ",
            start: self.start,
            body: self.at.min(end),
            end,
            cut: false,
            path,
        };
        texts::packet(reader, &element, packets);
    }

    /// The field; `None` where it has no values, leads to what is not read, or lies outside.
    pub(super) fn field(
        &self,
        reader: &mut Reader,
        layout: &Layout,
        within: &Arc<str>,
    ) -> Option<Field> {
        if self.tag == POSITION || self.count == 0 {
            return None;
        }
        let value = self.values(reader, layout)?;
        let cut = self.kept() < self.size();
        let path = Arc::clone(within);
        Some(Field { tag: self.tag, value: Placed { value, path, offset: self.start }, cut })
    }

    /// Bytes of one value; 1 for types that are not known.
    fn width(&self) -> u64 {
        match self.kind {
            SHORT | SIGNED_SHORT => 2,
            LONG | SIGNED_LONG | FLOAT | DIRECTORY => 4,
            RATIONAL | SIGNED_RATIONAL | DOUBLE | LONG8 | SIGNED_LONG8 | DIRECTORY8 => 8,
            _ => 1,
        }
    }

    /// Bytes of all values.
    fn size(&self) -> u64 {
        self.count.saturating_mul(self.width())
    }

    /// Bytes of the values that are kept.
    fn kept(&self) -> u64 {
        let most = match self.kind {
            ASCII | UTF8 => TEXT,
            BYTE | SIGNED_BYTE | UNDEFINED => BINARY,
            _ => NUMBERS.saturating_mul(usize::try_from(self.width()).unwrap_or(1)),
        };
        self.size().min(u64::try_from(most).unwrap_or(u64::MAX))
    }

    fn values(&self, reader: &mut Reader, layout: &Layout) -> Option<FieldValue> {
        let length = usize::try_from(self.kept()).ok()?;
        let bytes = reader.bytes(self.at, length).to_vec();
        let whole = usize::try_from(self.size()).is_ok_and(|size| layout.holds(self.at, size));
        if !whole || bytes.len() < length {
            layout.short(reader, self.start);
            return None;
        }
        Some(decode(self.kind, &bytes, layout.order))
    }
}

fn decode(kind: u16, bytes: &[u8], order: Order) -> FieldValue {
    let four = || bytes.as_chunks().0.iter().map(|bytes| order.u32(*bytes));
    let eight = || bytes.as_chunks().0.iter().map(|bytes| order.u64(*bytes));
    let two = || {
        let numbers = bytes.as_chunks::<2>().0.iter();
        numbers.filter_map(|bytes| u16::try_from(order.number(bytes)?).ok())
    };
    let pairs = || {
        let pairs = bytes.as_chunks::<8>().0.iter();
        pairs.filter_map(|pair| {
            let [num, den]: [[u8; 4]; 2] = pair.as_chunks().0.try_into().ok()?;
            Some((order.u32(num), order.u32(den)))
        })
    };
    match kind {
        ASCII | UTF8 => FieldValue::Text(text(bytes)),
        BYTE => FieldValue::Whole(bytes.iter().map(|b| u64::from(*b)).collect()),
        SHORT => FieldValue::Whole(two().map(u64::from).collect()),
        LONG | DIRECTORY => FieldValue::Whole(four().map(u64::from).collect()),
        LONG8 | DIRECTORY8 => FieldValue::Whole(eight().collect()),
        SIGNED_BYTE => {
            FieldValue::Signed(bytes.iter().map(|b| i64::from(b.cast_signed())).collect())
        }
        SIGNED_SHORT => FieldValue::Signed(two().map(|n| i64::from(n.cast_signed())).collect()),
        SIGNED_LONG => FieldValue::Signed(four().map(|n| i64::from(n.cast_signed())).collect()),
        SIGNED_LONG8 => FieldValue::Signed(eight().map(u64::cast_signed).collect()),
        RATIONAL => FieldValue::Ratios(pairs().collect()),
        SIGNED_RATIONAL => FieldValue::SignedRatios(
            pairs().map(|(num, den)| (num.cast_signed(), den.cast_signed())).collect(),
        ),
        FLOAT => FieldValue::Floats(four().map(|bits| f64::from(f32::from_bits(bits))).collect()),
        DOUBLE => FieldValue::Floats(eight().map(f64::from_bits).collect()),
        _ => FieldValue::Bytes(bytes.to_vec()),
    }
}

/// ASCII by the letter, UTF-8 or the Western code page in practice. Several texts of one field are parted by zeros.
fn text(bytes: &[u8]) -> String {
    let end =
        bytes.iter().rposition(|b| *b != 0 && *b != b' ').map_or(0, |at| at.saturating_add(1));
    let bytes = bytes.get(..end).unwrap_or_default();
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => encoding_rs::WINDOWS_1252.decode(bytes).0.into_owned(),
    };
    text.replace('\0', " ")
}
