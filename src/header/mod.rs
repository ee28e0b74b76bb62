//! Bytes to structure: what the header of a media file says, place by place, before any meaning is given to it.
//!
//! Deliberately not read: essence (bar timecode samples and timed metadata in `mdat`, and the data beside the first picture of MXF), tables that grow with the
//! clip (sample sizes, chunks, sync samples; of composition offsets the first few), codec configuration, sound, `meta` outside of `moov`,
//! compressed headers (`cmov`), and files that a reference movie points at; of pictures the position (GPS)
//! and makers' notes.
//! Nothing here knows a camera, and nothing here calls itself: boxes are entered by name, so nesting costs nothing.
#![deny(
    clippy::indexing_slicing,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::as_conversions,
    clippy::arithmetic_side_effects
)]

mod cursor;
mod edits;
mod entry;
pub mod exr;
mod extended;
mod file;
mod fragment;
mod heif;
pub mod image;
mod jpeg;
pub mod klv;
mod movie;
pub mod mxf;
pub mod quicktime;
mod reader;
mod runs;
mod samples;
mod texts;
mod tiff;
pub mod timed;
mod timing;
mod track;

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place};
pub use crate::header::cursor::Limits;
use crate::header::exr::Exr;
use crate::header::image::Image;
use crate::header::mxf::Mxf;
use crate::header::quicktime::Movie;
use crate::header::reader::Reader;
pub use crate::header::reader::kind_text;
use crate::read_at::ReadAt;

/// What kind of file it is, and its structure where lensmend reads the kind.
#[derive(Clone, Debug, PartialEq)]
pub enum Header {
    /// QuickTime or the ISO base media family.
    QuickTime(Box<Movie>),
    /// MXF (SMPTE ST 377-1).
    Mxf(Box<Mxf>),
    /// A picture: TIFF, DNG, JPEG, HEIF.
    Image(Box<Image>),
    /// OpenEXR.
    Exr(Box<Exr>),
    /// Another container, or no container, or no bytes at all (then with a finding).
    Opaque,
}

/// A value with the element it stands in.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Path of the element; tracks count from 1: `moov/trak[1]/mdia/mdhd`.
    pub path: Arc<str>,
    /// First byte of the element in the file.
    pub offset: u64,
}

/// Reads the header of `source`; `file` is its name in findings. The kind is told by content, never by name.
pub fn read(source: &dyn ReadAt, file: &str, limits: &Limits) -> Found<Header> {
    let mut reader = Reader::new(source, file, limits);
    if let Some(value) = picture(&mut reader) {
        return Found { value, findings: reader.into_findings() };
    }
    let place = || Place::file(file);
    if source.size() == 0 {
        reader.report(
            Finding::new(Code::MediaEmpty, "the file holds no bytes")
                .at(place())
                .hint("copy it again; if it is empty on the card too, nothing was recorded"),
        );
    } else if file::is_quicktime(&mut reader)
        && let Some(movie) = file::read(&mut reader)
    {
        return Found {
            value: Header::QuickTime(Box::new(movie)),
            findings: reader.into_findings(),
        };
    } else if let Some(run_in) = mxf::begins_at(&mut reader) {
        let value = Header::Mxf(Box::new(mxf::read(&mut reader, run_in)));
        return Found { value, findings: reader.into_findings() };
    }
    if reader.is_quiet() {
        reader.report(
            Finding::new(Code::MediaOpaque, "the container is not one that lensmend reads")
                .at(place())
                .hint("note its lens, stop, attachment and recording mode in the lens notes"),
        );
    }
    Found { value: Header::Opaque, findings: reader.into_findings() }
}

/// The header of a picture or a frame; `None` where the file is neither.
fn picture(reader: &mut Reader) -> Option<Header> {
    if exr::is_exr(reader) {
        return Some(Header::Exr(Box::new(exr::read(reader))));
    }
    let image = if tiff::is_tiff(reader) {
        tiff::file(reader)
    } else if jpeg::is_jpeg(reader) {
        jpeg::read(reader)
    } else if heif::is_heif(reader) {
        heif::read(reader)
    } else {
        return None;
    };
    Some(Header::Image(Box::new(image)))
}
