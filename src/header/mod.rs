//! Bytes to structure: what the header of a media file says, place by place, before any meaning is given to it.
//!
//! Deliberately not read: essence (`mdat`, bar timecode samples and the first sample of timed metadata), tables that grow with the
//! clip (sample sizes, chunks, sync samples; of composition offsets the first few), codec configuration, sound, `meta` outside of `moov`,
//! compressed headers (`cmov`), and files that a reference movie points at.
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
mod file;
mod fragment;
pub mod klv;
mod movie;
pub mod quicktime;
mod reader;
mod samples;
mod texts;
pub mod timed;
mod timing;
mod track;

use std::sync::Arc;

use crate::finding::{Code, Finding, Found, Place};
pub use crate::header::cursor::Limits;
use crate::header::quicktime::Movie;
use crate::header::reader::Reader;
pub use crate::header::reader::kind_text;
use crate::read_at::ReadAt;

/// What kind of file it is, and its structure where lensmend reads the kind.
#[derive(Clone, Debug, PartialEq)]
pub enum Header {
    /// QuickTime or the ISO base media family.
    QuickTime(Box<Movie>),
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
