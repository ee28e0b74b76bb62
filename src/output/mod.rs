//! Annotations become bytes. Nothing here opens or writes a file, and nothing upstream of `annotation` is used.

#![deny(clippy::indexing_slicing)]

pub mod before;
pub mod calm;
pub mod check;
mod drawing;
pub mod findings;
pub mod generation;
mod json;
pub mod kit;
pub mod kit_json;
pub mod last;
pub mod lens_data;
mod lettering;
pub mod measure;
pub mod measure_json;
pub mod measure_kit;
pub mod optics;
pub mod optics_json;
pub mod paper;
mod pdf;
pub mod picture;
pub mod pictures;
pub mod record;
pub mod report;
pub mod residuals;
pub mod rows;
pub mod scenes;
pub mod sheet;
pub mod stamp;
pub mod stamped;
pub mod summary;
mod svg;
pub mod table;
pub mod told;
pub mod turnover;
pub mod values;
mod wrap;
pub mod xmp;

pub use drawing::Drawing;
pub use svg::{STYLE, is_drawing};

/// Date and version, made once at the start of a run and handed down.
#[derive(Clone, Debug, PartialEq)]
pub struct Stamp {
    /// Date and time as RFC 3339, UTC.
    pub date: String,
    /// Name and version of the program.
    pub tool: String,
}
