//! The structure of a still picture or a frame of a sequence (TIFF, DNG, JPEG, HEIF): fields as written, each with its place.

use std::sync::Arc;

use crate::header::Placed;

/// A picture file.
#[derive(Clone, Debug, PartialEq)]
pub struct Image {
    /// Kind, told by content.
    pub kind: Kind,
    /// Width and height in pixels where the kind itself says them (JPEG, `SOF`).
    pub size: Option<Placed<(u32, u32)>>,
    /// Directories of fields in the order they are met.
    pub directories: Vec<Directory>,
    /// XMP packets, as stored.
    pub packets: Vec<Placed<Vec<u8>>>,
    /// What did not fit into the first packet, put together from the segments that it was spread over.
    pub extended: Option<Extended>,
}

/// A packet of XMP in pieces.
#[derive(Clone, Debug, PartialEq)]
pub struct Extended {
    /// The packet.
    pub packet: Vec<u8>,
    /// Where each piece begins, in the packet and in the file; in order.
    pub pieces: Vec<(u64, u64)>,
}

impl Extended {
    /// Place in the file of the byte `at` of the packet.
    pub fn place(&self, at: u64) -> u64 {
        let piece = self.pieces.iter().rev().find(|(start, _)| *start <= at);
        let (start, offset) = piece.copied().unwrap_or_default();
        offset.saturating_add(at.saturating_sub(start))
    }
}

/// Kinds of picture file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// TIFF 6.0, or the same with 64-bit offsets (`BigTIFF`).
    Tiff,
    /// TIFF with the field `DNGVersion` (DNG specification, "DNG Tags").
    Dng,
    /// JPEG (ISO/IEC 10918-1) with Exif or without.
    Jpeg,
    /// HEIF (ISO/IEC 23008-12).
    Heif,
}

/// One directory of fields (TIFF 6.0, section 2).
#[derive(Clone, Debug, PartialEq)]
pub struct Directory {
    /// What it holds.
    pub role: Role,
    /// `IFD0`, `IFD0/SubIFD[1]`, `IFD0/Exif`; in front of it the segment or item that holds it.
    pub path: Arc<str>,
    /// Its fields in file order.
    pub fields: Vec<Field>,
}

/// What a directory holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A picture.
    Picture,
    /// How it was taken (CIPA DC-008, 4.6.3).
    Exif,
}

/// One field.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// Its number.
    pub tag: u16,
    /// Value and place of the entry.
    pub value: Placed<FieldValue>,
    /// True where more values stand in the file than are kept.
    pub cut: bool,
}

/// The values of a [`Field`] by its type (TIFF 6.0, section 2; CIPA DC-008, 4.6.2).
#[derive(Clone, Debug, PartialEq)]
pub enum FieldValue {
    /// ASCII or UTF-8, without padding.
    Text(String),
    /// Whole numbers from 0.
    Whole(Vec<u64>),
    /// Whole numbers.
    Signed(Vec<i64>),
    /// Ratios from 0.
    Ratios(Vec<(u32, u32)>),
    /// Ratios.
    SignedRatios(Vec<(i32, i32)>),
    /// Floating-point numbers.
    Floats(Vec<f64>),
    /// Undefined or of an unknown type.
    Bytes(Vec<u8>),
}

impl Image {
    /// A picture of which nothing but the kind is known.
    pub(super) fn new(kind: Kind) -> Self {
        Self { kind, size: None, directories: Vec::new(), packets: Vec::new(), extended: None }
    }
}

impl Directory {
    /// The field with the number `tag`; of several the first.
    pub fn field(&self, tag: u16) -> Option<&Field> {
        self.fields.iter().find(|field| field.tag == tag)
    }

    /// The whole number that a field holds, if it holds one.
    pub fn whole(&self, tag: u16) -> Option<u64> {
        match &self.field(tag)?.value.value {
            FieldValue::Whole(values) => values.first().copied(),
            _ => None,
        }
    }
}
